"""A plan as it was written down: text in trials.csv, and the attempts it stands for."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from functools import cached_property, reduce
from typing import Any

from benchproof.keeping.trials.wording import (
    JOINED,
    STEPS,
    check_words,
    condition_of,
    condition_text,
    outcome_keys,
)
from benchproof.reasoning.plans import (
    Candidates,
    Condition,
    Forbidden,
    StopRule,
    TrialPlan,
    chosen_levels,
    contact_sets,
    crossed,
    factor_levels,
    separate_groups,
    sequences,
)
from benchproof.reasoning.plans.trialplan import MOST_LISTED
from benchproof.values.errors import FileError, InputError

_EACH = re.compile(r"\b(\d+) (?:of|for|per) each\b")
_UNTIL = re.compile(r"\b(until|as soon as|at the first|first (loss|failure|time))\b")


@dataclass(frozen=True)
class PlanSpec:
    """All that decides what is tried, how often, in which order, until when.

    Attributes
    ----------
    name : str
        A plain name, e.g. ``power``.
    factors : tuple of (str, tuple of str)
        Each factor with its levels; states of the device are a factor ``state``.
    contacts : tuple of str
        Contacts that are joined; empty if none are.
    joined : str
        ``pairs``, ``sets`` or ``groups`` of them.
    largest : int or None
        Of sets: how many contacts at most.
    actions : tuple of str
        Done one after the other; `length` of them, again if `repeated`.
    outcomes : tuple of str
        What may be seen; the first is the one that is looked for.
    repetitions : int
    control : tuple of (str, str) or None
        Names and values of the condition that should show nothing.
    no_control : str
        Why there is none.
    stop : str
        The stop rule in the person's words.
    stop_at : int or None
        At which occurrence the attempts of a condition end; None if the number of
        attempts does not depend on what they show.
    seed : int
        Of the order.
    forbidden : tuple of Forbidden
    blind : bool
        Whether the bench sees codes instead of conditions until a key is opened.
    hours : float or None
        How long one attempt is watched; None if its length is of no interest.
    rows : tuple of tuple of int
        Level numbers of the combinations that are tried; empty if all are. Kept, so
        that a plan stays what it was if a later version chooses otherwise.

    Raises
    ------
    InputError
        If it is no plan: nothing to try, no control and no reason, no outcomes.
    """

    name: str
    outcomes: tuple[str, ...]
    factors: tuple[tuple[str, tuple[str, ...]], ...] = ()
    contacts: tuple[str, ...] = ()
    joined: str = "pairs"
    largest: int | None = None
    actions: tuple[str, ...] = ()
    length: int | None = None
    repeated: bool = False
    repetitions: int = 1
    control: tuple[tuple[str, str], ...] | None = None
    no_control: str = ""
    stop: str = ""
    stop_at: int | None = None
    seed: int = 0
    forbidden: tuple[Forbidden, ...] = ()
    blind: bool = False
    hours: float | None = None
    rows: tuple[tuple[int, ...], ...] = ()

    def __post_init__(self) -> None:
        outcome_keys(self.outcomes)
        names = [factor for factor, _ in self.factors]
        check_words(names, f"{self.name}: factors", ";=")
        for factor, levels in self.factors:
            check_words(levels, f"{self.name}: levels of {factor}", ";")
        check_words(self.contacts, f"{self.name}: contacts", ";+|")
        check_words(self.actions, f"{self.name}: actions", ";>")
        if {JOINED, STEPS} & {*names}:
            raise InputError(
                f"{self.name}: {JOINED!r} and {STEPS!r} stand for contacts and "
                "actions; give that factor another name."
            )
        if self.joined not in ("pairs", "sets", "groups"):
            raise InputError(
                f"{self.name}: joined={self.joined!r}; use pairs, sets or groups."
            )
        self._check_stop()
        if self.blind and self.stop_at is not None:
            raise InputError(
                f"{self.name}: who does not know the condition cannot stop at its "
                "occurrences. Leave out stop_at, or blind=True."
            )
        if self.hours is not None and not 0 < self.hours < math.inf:
            raise InputError(f"{self.name}: hours={self.hours}; give a number above 0.")
        _ = self.trial_plan  # its own checks come first, before anything is written

    def _check_stop(self) -> None:
        if not self.stop.strip():
            raise InputError(
                f"{self.name}: say beforehand when attempts end: stop='10 of each, "
                "whatever happens'."
            )
        said = _EACH.search(self.stop)
        if said and int(said[1]) != self.repetitions:
            raise InputError(
                f"{self.name}: stop={self.stop!r}, but repetitions={self.repetitions}. "
                "Make the two agree."
            )
        if self.stop_at is None and _UNTIL.search(self.stop.lower()):
            raise InputError(
                f"{self.name}: stop={self.stop!r} reads as if attempts ended at an "
                "occurrence; such a count is analysed otherwise. Give stop_at=1, or "
                "word it differently."
            )

    def text(self) -> str:
        """Return the plan as one line of text; the same plan gives the same text."""
        plain = {f.name: f.default for f in fields(self)}
        data = {k: v for k, v in asdict(self).items() if v != plain[k]}
        return json.dumps(data, ensure_ascii=False, sort_keys=True)

    def digest(self) -> str:
        """Return the SHA-256 of `text`, in hexadecimal."""
        return hashlib.sha256(self.text().encode()).hexdigest()

    @cached_property
    def trial_plan(self) -> TrialPlan:
        """What is tried, counted but not listed."""
        control = None
        if self.control is not None:
            control = self._in_order(condition_of(dict(self.control)))
        fixed = self.repetitions
        watched = None if self.hours is None else self.hours * fixed
        return TrialPlan(
            self.name,
            self._candidates(control),
            control,
            StopRule(fixed, self.stop_at, watched),
            fixed,
            self.seed,
            self.forbidden,
            self.no_control,
        )

    @cached_property
    def places(self) -> tuple[str, ...]:
        """The condition of each attempt, in the order they are to be made.

        Of a blind plan its code; the seed is printed, so a key decides the rest.

        Raises
        ------
        InputError
            If there are too many to list.
        """
        attempts = self.trial_plan.attempts()
        if self.blind:
            return tuple(f"run {a.number}" for a in attempts)
        return tuple(condition_text(a.condition) for a in attempts)

    @cached_property
    def treatments(self) -> tuple[str, ...]:
        """The condition of each run of a blind plan, in no particular order."""
        return self.conditions * self.repetitions

    @cached_property
    def conditions(self) -> tuple[str, ...]:
        """Each condition once, the control last."""
        tried = dict.fromkeys(map(condition_text, self.trial_plan.conditions()))
        if control := self.trial_plan.control:
            tried[condition_text(control)] = None
        return tuple(tried)

    def named(self, said: dict[str, str]) -> str:
        """Return the text of a condition given by names and values.

        Raises
        ------
        InputError
            If a name or a level is not declared, or a factor is left out.
        """
        levels = dict(self.factors)
        for name, value in said.items():
            if name in (JOINED, STEPS):
                continue
            if value not in levels.get(name, ()):
                known = "; ".join(f"{f}: {', '.join(v)}" for f, v in self.factors)
                raise InputError(
                    f"{self.name}: {name}={value!r} is not in the plan (there: "
                    f"{known or 'no factors'}). Correct it; a condition outside the "
                    "plan is recorded with planned=False and because=."
                )
        missing = [f for f in levels if f not in said]
        if missing:
            raise InputError(
                f"{self.name}: say {' and '.join(missing)} too; a condition names the "
                "level of every factor."
            )
        return condition_text(self._in_order(condition_of(said)))

    def _in_order(self, condition: Condition) -> Condition:
        """Put settings, and contacts of a group, in the order of the plan."""
        settings = dict(condition.settings)
        known = [f for f, _ in self.factors if f in settings]
        rest = [f for f in settings if f not in known]
        known_contacts = {c: i for i, c in enumerate(self.contacts)}
        groups = (
            tuple(sorted(g, key=lambda c: known_contacts.get(c, len(known_contacts))))
            for g in condition.groups
        )
        return Condition(
            tuple(groups),
            tuple((f, settings[f]) for f in (*known, *rest)),
            condition.steps,
        )

    def _candidates(self, control: Condition | None) -> Candidates:
        parts = []
        if self.contacts and self.joined == "groups":
            parts.append(separate_groups(self.contacts))
        elif self.contacts:
            most = 2 if self.joined == "pairs" else self.largest
            parts.append(contact_sets(self.contacts, 2, most))
        if self.factors and self.rows:
            parts.append(chosen_levels(dict(self.factors), self.rows))
        elif self.factors:
            parts.append(factor_levels(dict(self.factors)))
        if self.actions:
            parts.append(sequences(self.actions, self.length, self.repeated))
        if not parts:
            raise InputError(
                f"{self.name}: nothing to try. Give factors=, contacts= or actions=."
            )
        return _without(reduce(crossed, parts), control)


def _without(candidates: Candidates, control: Condition | None) -> Candidates:
    """Take the control out of the conditions of the test arm, if it is one of them."""
    if control is None or candidates.count > MOST_LISTED:
        return candidates  # nothing is generated of a plan that is refused anyway
    if control not in candidates:
        return candidates

    def make() -> Iterator[Condition]:
        return (c for c in candidates if c != control)

    what = f"{candidates.what}, without the control"
    return Candidates(what, candidates.count - 1, make)


def spec_read(text: str, where: str) -> PlanSpec:
    """Read a plan back from its text.

    Parameters
    ----------
    where : str
        Named in the message.

    Raises
    ------
    FileError
        If it is no plan, or one of a newer version.

    Examples
    --------
    >>> spec = PlanSpec("drop", ("blank", "fine"), (("liquid", ("brine", "tap")),),
    ...     control=(("liquid", "tap"),), stop="once each")
    >>> spec_read(spec.text(), "here") == spec
    True
    """
    try:
        data: dict[str, Any] = json.loads(text)
        known = {f.name for f in fields(PlanSpec)}
        if unknown := sorted({*data} - known):
            raise InputError(f"{unknown[0]!r} is not known")
        forbidden = [
            Forbidden(f["reason"], *(_tuples(f[k]) for k in ("joined", "settings")))
            for f in data.pop("forbidden", [])
        ]
        said = {k: _tuples(v) for k, v in data.items()}
        return PlanSpec(**said, forbidden=tuple(forbidden))
    except (ValueError, TypeError, KeyError, AttributeError) as problem:
        raise FileError(
            f"{where}, column 'condition': not a plan that can be read ({problem}). "
            "Restore the row from a copy, or install a newer benchproof."
        ) from None


def _tuples(value: Any) -> Any:
    """Turn JSON's lists back into tuples, all the way down."""
    return tuple(map(_tuples, value)) if isinstance(value, list) else value

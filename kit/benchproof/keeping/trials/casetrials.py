"""The trials of a case: ``case.trials`` plans them, finds them and judges them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchproof.keeping.trials import entering
from benchproof.keeping.trials.arms import Arm, arms_of
from benchproof.keeping.trials.casetables import plans_table
from benchproof.keeping.trials.ledger import Ledger, ledger_beside
from benchproof.keeping.trials.planspec import PlanSpec
from benchproof.keeping.trials.provocation import Provocation
from benchproof.keeping.trials.rates import Rate, RateCriterion, judge_rate
from benchproof.keeping.trials.rows import PlanRows
from benchproof.keeping.trials.wording import condition_words
from benchproof.reasoning.plans import Forbidden, forbidden_pairs, pairwise_levels
from benchproof.reasoning.verdicts import (
    Judged,
    Prediction,
)
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True, repr=False)
class Trials(Tabular):
    """Plans and attempts of a case, in trials.csv beside its readings."""

    case: Case

    @property
    def ledger(self) -> Ledger:
        """trials.csv, and everything it says so far."""
        return ledger_beside(self.case.book, self.case.folder)

    @property
    def up_to(self) -> int | None:
        """The round this view stops at; None for the case itself."""
        return self.case._view

    def names(self) -> list[str]:
        """Return the plans, in the order they were written."""
        self.ledger.refresh()
        return [
            name
            for name, rows in self.ledger.record.plans.items()
            if self.up_to is None or rows.versions[0].round <= self.up_to
        ]

    def rows(self, name: str) -> PlanRows:
        """Return everything the ledger says of one plan.

        Raises
        ------
        InputError
            If there is no such plan.
        """
        if name not in self.names():
            listed = ", ".join(self.names()) or "none"
            raise InputError(
                f"there is no trial plan {name!r} (there: {listed}). Write it with "
                f"case.trials.plan({name!r}, …)."
            )
        return self.ledger.record.plans[name]

    def __getitem__(self, name: str) -> Provocation:
        """Return a plan as it stands now, or as it stood in this view's round."""
        versions = [
            v
            for v in self.rows(name).versions
            if self.up_to is None or v.round <= self.up_to
        ]
        latest = versions[-1]
        return Provocation(self.case, name, latest.number, latest.round)

    def named(self, name: str) -> Rate:
        """Return a rate by the name that tables and predictions give it.

        Parameters
        ----------
        name : str
            ``power: lost with supply brick, axes both``.

        Raises
        ------
        InputError
            If there is no such plan, outcome or condition.
        """
        plan, _, said = name.partition(":")
        outcome, _, words = said.strip().partition(" with ")
        power = self[plan]
        tried = [*power.spec.conditions, *arms_of(power.rows, outcome, self.up_to)]
        found = {condition_words(condition): condition for condition in tried}
        if outcome not in power.spec.outcomes or words not in found:
            outcomes = ", ".join(power.spec.outcomes)
            raise InputError(
                f"there is no rate {name!r}. Write '{plan}: outcome with condition'; "
                f"outcomes: {outcomes}; conditions: {'; '.join(found)}."
            )
        return Rate(self.case, plan, outcome, found[words])

    def plan(
        self,
        name: str,
        *,
        outcomes: Sequence[str],
        stop: str = "",
        repetitions: int,
        seed: int | None = None,
        factors: Mapping[str, Sequence[str]] | None = None,
        states: Sequence[str] = (),
        contacts: Sequence[str] | str = (),
        joined: str = "pairs",
        largest: int | None = None,
        actions: Sequence[str] = (),
        length: int | None = None,
        repeated: bool = False,
        control: Mapping[str, str] | None = None,
        no_control: str = "",
        stop_at: int | None = None,
        forbidden: Sequence[Forbidden] = (),
        blind: bool = False,
        hours: float | None = None,
        pairwise: bool = False,
        because: str = "",
    ) -> Provocation:
        """Write down what is tried, before the first attempt; again is harmless.

        Conditions are counted before any is generated: too many are refused with
        their number. Contacts, factors and actions are crossed with one another.

        Parameters
        ----------
        name : str
            A plain name, e.g. ``power``.
        outcomes : sequence of str
            What may be seen, one word each; the one that is looked for first.
        stop : str
            When attempts end, in your words; readers see it. Asked for.
        repetitions : int
            Of each condition, and of the control.
        seed : int
            Of the shuffled order; printed. Asked for, so that others get the same.
        factors : mapping
            Factor to its levels.
        states : sequence of str
            A factor ``state``, e.g. ``case.contacts.plan.states``.
        contacts : sequence of str, or "survey"
            Contacts that are joined; ``survey``: those of case.toml. Pairs that
            case.toml forbids are excluded, with their reason.
        joined : {"pairs", "sets", "groups"}
            Which of them: two at a time, sets up to `largest`, or separate groups.
        actions : sequence of str
            Done one after the other in every order; `length` of them, again if
            `repeated`.
        control : mapping
            The condition that should show nothing, by its levels; no contact is
            joined unless ``joined="P1+P2"`` says so.
        no_control : str
            Why there is none.
        stop_at : int, optional
            At which occurrence the attempts of a condition end.
        forbidden : sequence of Forbidden
            More that is not tried, with reasons.
        blind : bool
            The bench sees codes; see `Provocation.seal`.
        hours : float, optional
            How long one attempt is watched, at most one occurrence counted in it;
            rates per hour are then shown too.
        pairwise : bool
            Of the factors try few combinations, in which every two levels meet; a
            symptom that takes three together may be missed.
        because : str
            Why a plan changes after attempts were made; it becomes a new version.

        Raises
        ------
        InputError
            If it is no plan, or too many attempts to list.
        RecordingRefusedError
            If attempts were made and the plan now differs, without a reason.
        """
        if not name.isidentifier():
            raise InputError(f"{name!r} is no plain name for a plan; use e.g. 'power'.")
        if seed is None:
            raise InputError(
                f"{name}: give the seed of the shuffled order, any whole number: "
                "seed=20261125. It is printed, so that others get the same order."
            )
        chosen, barred = self._contacts(name, contacts)
        levels = {**(factors or {}), **({"state": states} if states else {})}
        spec = PlanSpec(
            name, tuple(outcomes), tuple((f, tuple(ls)) for f, ls in levels.items()),
            chosen, joined, largest, tuple(actions), length, repeated, repetitions,
            tuple(control.items()) if control is not None else None, no_control,
            stop, stop_at, seed, (*barred, *forbidden), blind, hours,
            pairwise_levels(levels, forbidden).rows if pairwise else (),
        )  # fmt: skip
        return self._written(self._as_chosen_before(spec), because)

    def _as_chosen_before(self, spec: PlanSpec) -> PlanSpec:
        """Return the plan as it stands there, if only other rows were chosen now."""
        known = self.rows(spec.name).versions if spec.name in self.names() else []
        same = (v.spec for v in reversed(known) if spec.rows and v.spec.rows)
        return next((s for s in same if replace(s, rows=spec.rows) == spec), spec)

    def _contacts(
        self, name: str, contacts: Sequence[str] | str
    ) -> tuple[tuple[str, ...], tuple[Forbidden, ...]]:
        """Return the contacts that are joined, and what case.toml forbids of them."""
        survey = self.case.file.survey
        if isinstance(contacts, str) and contacts != "survey":
            raise InputError(f"{name}: contacts={contacts!r}; give a list or 'survey'.")
        chosen = survey.names if isinstance(contacts, str) else tuple(contacts)
        if isinstance(contacts, str) and not chosen:
            raise InputError(
                f"{name}: case.toml declares no contacts. Add a [[contact]] for each, "
                "or give their names here."
            )
        return chosen, forbidden_pairs(survey.forbidden) if chosen else ()

    def _written(self, spec: PlanSpec, because: str) -> Provocation:
        _ = spec.places  # too many attempts are refused before anything is written
        self.case.book.refresh()  # another kernel may have opened a round
        current = self.case.book.record.current_round
        if self.up_to is None:
            self.case.foretold.begin(self.case)
            self.ledger.append(
                current, lambda record: entering.plan_rows(record, spec, because)
            )
        versions = self.rows(spec.name).versions
        found = [v for v in versions if v.spec == spec]
        if not found:
            raise InputError(
                f"{spec.name}: in round {self.up_to} it was not planned like this. "
                "Plan in the case itself."
            )
        return Provocation(self.case, spec.name, found[0].number, found[0].round)

    # Judging --------------------------------------------------------------------

    def judge(self, prediction: Prediction, level: float = 0.95) -> Judged:
        """Judge a prediction, on a rate by its attempts, else by the readings."""
        criterion = prediction.criterion
        if not isinstance(criterion, RateCriterion):
            return self.case.state().judge(prediction, level)
        found: dict[str, Arm] = {}
        if criterion.plan in self.names():
            rows = self.rows(criterion.plan)
            found = arms_of(rows, criterion.outcome, self.up_to)

        def arm(condition: str) -> Arm:
            return found.get(condition, Arm(condition, criterion.outcome))

        other = arm(criterion.against) if criterion.against else None
        return judge_rate(prediction, arm(criterion.condition), other, level)

    def table(self) -> Table:
        """Return every plan, and how far it is."""
        return plans_table(self.case)

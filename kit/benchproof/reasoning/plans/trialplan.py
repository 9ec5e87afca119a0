"""A plan of trials: counted, then split by reasons, then put in order."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from benchproof.reasoning.plans.conditions import Candidates, Condition, Forbidden
from benchproof.reasoning.plans.order import shuffled_in_blocks
from benchproof.reasoning.plans.stoprules import StopRule
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns

MOST_LISTED = 100_000
"""More conditions than this are not put in order unless a larger limit is given."""


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A condition that is not tried, and why."""

    condition: Condition
    reason: str


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt to be made.

    Attributes
    ----------
    number : int
        In the order they are to be made, from 1.
    repetition : int
        From 1.
    condition : Condition
    control : bool
        Whether it belongs to the control arm.
    """

    number: int
    repetition: int
    condition: Condition
    control: bool


@dataclass(frozen=True, slots=True, repr=False)
class TrialPlan(Tabular):
    """What is to be tried, how often, in which order, and when to stop.

    Attributes
    ----------
    title : str
    candidates : Candidates
        Conditions of the test arm, before any is excluded.
    control : Condition or None
        The condition that should show nothing; None only with `no_control`.
    stop : StopRule
        When the attempts of one condition end.
    repetitions : int
        Attempts of each condition, >= 1; the control is repeated as often.
    seed : int
        Of the order.
    forbidden : tuple of Forbidden
        What is not tried, with reasons.
    no_control : str
        Why there is no control arm; it is printed.

    Raises
    ------
    InputError
        If there is neither a control nor a reason for having none, if the control
        is forbidden, or if stop rule and repetitions disagree.

    Examples
    --------
    >>> from benchproof.reasoning.plans.contactsets import contact_pairs
    >>> plan = TrialPlan("Bridges", contact_pairs(["P1", "P2", "P3"]), Condition(),
    ...     StopRule(attempts=2), repetitions=2, seed=5,
    ...     forbidden=(Forbidden("shorts the pack", ("P1", "P2")),))
    >>> plan
    Bridges: planned before any attempt
    Conditions counted │ pairs of contacts: 3
    Control            │ nothing changed
    Repetitions        │ 2 of each condition, the control too
    Attempts           │ 6; 2 left out as forbidden
    Order              │ shuffled in blocks of one repetition, seed 5
    Stop rule          │ stop after 2 attempts of a condition
    Not tried          │ contacts P1–P2: shorts the pack
    >>> [a.number for a in plan.attempts()]
    [1, 2, 3, 4, 5, 6]
    """

    title: str
    candidates: Candidates
    control: Condition | None
    stop: StopRule
    repetitions: int = 1
    seed: int = 0
    forbidden: tuple[Forbidden, ...] = ()
    no_control: str = ""

    def __post_init__(self) -> None:
        if self.control is None and not self.no_control.strip():
            raise InputError(
                f"{self.title}: no control arm. Give the condition that should show "
                "nothing, or write in no_control why there is none."
            )
        if self.repetitions < 1:
            raise InputError(
                f"{self.title}: {self.repetitions} repetitions; give 1 or more."
            )
        ends = self.stop.attempts
        if ends not in (None, self.repetitions):
            raise InputError(
                f"{self.title}: {self.repetitions} repetitions, but {self.stop}. "
                "Make the two agree."
            )
        if self.control is not None and self.why_not(self.control):
            raise InputError(
                f"{self.title}: the control, {self.control}, is itself forbidden: "
                f"{self.why_not(self.control)}. Choose another."
            )

    @property
    def most_attempts(self) -> int:
        """How many attempts there are before exclusions; nothing is generated."""
        return self._attempts_of(self.candidates.count)

    def _attempts_of(self, conditions: int) -> int:
        return (conditions + (self.control is not None)) * self.repetitions

    def counted(self) -> tuple[int, bool]:
        """Count the attempts, and say whether exclusions are looked through.

        Where the candidates are more than `MOST_LISTED` they are not generated, and
        the number is what there is at most.

        Examples
        --------
        >>> from benchproof.reasoning.plans.contactsets import contact_pairs
        >>> plan = TrialPlan("Bridges", contact_pairs(["P1", "P2"]), Condition(),
        ...     StopRule(attempts=1))
        >>> plan.counted()
        (2, True)
        """
        if not self.forbidden or self.candidates.count > MOST_LISTED:
            return self.most_attempts, not self.forbidden
        return self._attempts_of(sum(1 for _ in self.conditions())), True

    def why_not(self, condition: Condition) -> str:
        """Return why a condition is not tried; "" if it is.

        Examples
        --------
        >>> from benchproof.reasoning.plans.contactsets import contact_pairs
        >>> plan = TrialPlan("Bridges", contact_pairs(["P1", "P2"]), Condition(),
        ...     StopRule(attempts=1))
        >>> plan.why_not(Condition((("P1", "P2"),)))
        ''
        """
        return "; ".join(f.reason for f in self.forbidden if f.forbids(condition))

    def conditions(self) -> Iterator[Condition]:
        """Yield the conditions that are tried, one by one."""
        return (c for c in self.candidates if not self.why_not(c))

    def exclusions(self, looked_through: int | None = None) -> Iterator[Exclusion]:
        """Yield the conditions that are not tried and why, one by one.

        Parameters
        ----------
        looked_through : int, optional
            Of the candidates, only the first so many; all if left out.
        """
        for condition in itertools.islice(self.candidates, looked_through):
            if reason := self.why_not(condition):
                yield Exclusion(condition, reason)

    def attempts(self, most: int = MOST_LISTED) -> tuple[Attempt, ...]:
        """Return all attempts in the order they are to be made.

        Parameters
        ----------
        most : int
            The longest list that is made.

        Raises
        ------
        InputError
            If there are more: the count comes first, the list is not begun.
        """
        if self.most_attempts > most:
            raise InputError(
                f"{self.title}: {self.candidates}, {self.most_attempts} attempts with "
                f"control and repetitions; more than {most}. Reduce sizes or levels, "
                "take conditions() one by one, or give a larger limit."
            )
        arms: list[tuple[Condition, bool]] = [(c, False) for c in self.conditions()]
        if self.control is not None:
            arms.append((self.control, True))
        ordered = shuffled_in_blocks(arms, self.repetitions, self.seed)
        return tuple(
            Attempt(number, repetition, condition, control)
            for number, (repetition, (condition, control)) in enumerate(ordered, 1)
        )

    def table(self) -> Table:
        """Return the plan as it is to be read before the first attempt."""
        control = str(self.control) if self.control is not None else "none"
        if self.control is None:
            control += f": {self.no_control}"
        attempts, exact = self.counted()
        left_out = self.forbidden and exact
        before = f"; {self.most_attempts - attempts} left out as forbidden"
        rows = [
            ("Conditions counted", str(self.candidates)),
            ("Control", control),
            ("Repetitions", f"{self.repetitions} of each condition, the control too"),
            ("Attempts" if exact else "Attempts at most",
             f"{attempts}{before if left_out else ''}"),
            ("Order", f"shuffled in blocks of one repetition, seed {self.seed}"),
            ("Stop rule", str(self.stop)),
        ]  # fmt: skip
        rows += [("Not tried", f.text()) for f in self.forbidden]
        if not self.stop.binomial:
            rows.append(("Analysis", "a count that ended at an occurrence, as such"))
        title = f"{self.title}: planned before any attempt"
        return Table(title, columns("", ""), tuple(rows))

    def order(self, most: int = MOST_LISTED) -> Table:
        """Return the attempts as a table to work through at the bench."""
        rows = tuple(
            (str(a.number), str(a.repetition), str(a.condition), _arm(a.control))
            for a in self.attempts(most)
        )
        heads = columns("No.>", "Repetition>", "Condition", "Arm")
        return Table(f"{self.title}: order, seed {self.seed}", heads, rows)

    def left_out(self, most: int = 50) -> Table:
        """Return what is not tried and why, the first so many of it.

        At most `MOST_LISTED` candidates are looked through, and a note says so:
        among billions, the next one forbidden may be far away.
        """
        found = list(itertools.islice(self.exclusions(MOST_LISTED), most + 1))
        rows = tuple((str(e.condition), e.reason) for e in found[:most])
        notes = []
        if len(found) > most:
            notes.append(f"the first {most}; there are more")
        elif self.candidates.count > MOST_LISTED:
            notes.append(f"looked through the first {MOST_LISTED} candidates only")
        heads = columns("Condition", "Not tried because")
        return Table(f"{self.title}: not tried", heads, rows, tuple(notes))


def _arm(control: bool) -> str:
    return "control" if control else "test"

"""One version of a plan in one round: what it says, and where its entries go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Self

from benchproof.keeping.trials import entering
from benchproof.keeping.trials.planspec import PlanSpec
from benchproof.keeping.trials.record import TrialRecord
from benchproof.keeping.trials.rows import PlanRows, Version
from benchproof.keeping.trials.wording import condition_of, condition_text
from benchproof.values.errors import InputError, RecordingRefusedError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True, repr=False)
class PlannedTrial:
    """One version of a plan, and the round that its entries speak of.

    Attributes
    ----------
    case : Case
    name : str
    number : int
        Of the plan's version.
    round : int
        In which its attempts are made.
    """

    case: Case
    name: str
    number: int
    round: int

    @property
    def rows(self) -> PlanRows:
        """Everything the ledger says of this plan."""
        return self.case.trials.rows(self.name)

    @property
    def version(self) -> Version:
        """The plan as it stood when this version was written."""
        return self.rows.versions[self.number - 1]

    @property
    def spec(self) -> PlanSpec:
        """What is tried, how often, in which order, until when."""
        return self.version.spec

    @property
    def up_to(self) -> int | None:
        """The round the case's view stops at; None for the case itself."""
        return self.case.trials.up_to

    def in_round(self, number: int) -> Self:
        """Return the same plan for the attempts of another round.

        Raises
        ------
        InputError
            If the case has no such round.
        """
        rounds = [r.number for r in self.case.book.record.rounds]
        if number not in rounds:
            raise InputError(
                f"{self.name}: round {number} does not exist; there are {rounds}. "
                "Open it first: case.new_round(because='…')."
            )
        return replace(self, round=number)

    def condition_said(self, said: Mapping[str, str], *, anything: bool = False) -> str:
        """Return the text of a condition given by its levels.

        Parameters
        ----------
        anything : bool
            Whether it may lie outside the plan.

        Raises
        ------
        InputError
            If it is not understood, or not in the plan.
        """
        try:
            text = self.spec.named(dict(said))
        except InputError:
            if anything and said:
                return condition_text(condition_of(said))
            raise
        if not anything and text not in self.spec.conditions:
            raise InputError(
                f"{self.name}: {text} is not tried in the plan "
                f"({self.spec.trial_plan.why_not(condition_of(said)) or 'not in it'}). "
                "See progress() for its conditions."
            )
        return text

    def append(
        self,
        decide: Callable[[entering.Target], entering.Cells],
        sitting: str = "",
    ) -> Self:
        """Write what `decide` returns, decided under the ledger's lock.

        Raises
        ------
        RecordingRefusedError
            If this is a view of an earlier round.
        """
        trials = self.case.trials
        if trials.up_to is not None:
            raise RecordingRefusedError(
                f"this is the case as it was in round {trials.up_to}; record in the "
                "case itself."
            )
        self.case.book.refresh()  # another kernel may have opened a round
        current = self.case.book.record.current_round

        def under_lock(record: TrialRecord) -> entering.Cells:
            plan = record.plans[self.name]
            version = plan.versions[self.number - 1]
            target = entering.Target(plan, version, self.round, current, sitting)
            return decide(target)

        trials.ledger.append(current, under_lock)
        return self

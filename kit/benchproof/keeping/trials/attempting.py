"""The half of a plan that writes: outcomes, aborted attempts, skips, corrections."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Self

from benchproof.keeping.live.instrument import RERUN
from benchproof.keeping.trials import entering
from benchproof.keeping.trials.planned import PlannedTrial
from benchproof.keeping.trials.progress import due_places
from benchproof.keeping.trials.wording import outcome_keys, outcomes_read
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True, repr=False)
class Attempting(PlannedTrial):
    """A plan that attempts are recorded of; `Provocation` adds what follows."""

    def record(
        self, row: str, *, start: int = 1, sitting: str = "", note: str = ""
    ) -> Self:
        """Record a row of outcomes in the planned order; again is harmless.

        Parameters
        ----------
        row : str
            The whole row from place `start` on, e.g. ``"l k k l - k"``: words, first
            letters or numbers of the outcomes; ``-`` is an attempt not made. Places
            that the stop rule has ended are passed over.
        start : int
            Place of the first outcome.
        sitting : str
            Of attempts made together; without it, those of one day are, with
            the only sitting of that day that has a name.
        note : str
            Kept with the attempts that are new.

        Raises
        ------
        InputError
            If an outcome is not declared, or a place lies outside the plan.
        RecordingRefusedError
            If other outcomes are recorded there; nothing is recorded then.
        """
        seen = outcomes_read(row, self.spec.outcomes, self.name)
        if self.spec.stop_at is not None and start != 1:
            raise InputError(
                f"{self.name}: where attempts end at an occurrence, a place depends on "
                "the outcomes before it. Give the whole row from place 1, or single "
                "outcomes with at=…. Nothing was recorded."
            )
        places = entering.placed(self.spec, seen, start)
        return self.append(
            lambda target: entering.planned_rows(target, seen, places, note), sitting
        )

    def outcome(
        self,
        seen: str,
        *,
        at: int | None = None,
        planned: bool = True,
        because: str = "",
        condition: Mapping[str, str] | None = None,
        sitting: str = "",
        note: str = "",
        **factors: str,
    ) -> Self:
        """Record one outcome at a place of the plan, or attempts outside the plan.

        Parameters
        ----------
        seen : str
            An outcome; outside the plan a row of them, the whole row for this
            condition and reason.
        at : int
            Place in the planned order. It is asked for, so that running the cell
            again means the same attempt.
        planned : bool
            False for what the plan does not have; then the condition and `because`.
        condition, factors
            Levels by factor: ``supply="brick"``, or as a mapping.
        sitting, note
            As for `record`.

        Raises
        ------
        InputError, RecordingRefusedError
            As for `record`.
        """
        said = {**(condition or {}), **factors}
        if not planned:
            if at is not None or note:
                raise InputError(
                    f"{self.name}: outside the plan there is no place, and because= "
                    "is the note. Leave the others out; nothing was recorded."
                )
            return self._unplanned(seen, said, because, sitting)
        if at is None or said or because:
            self._ask_place(seen)
        # The place is given, and the stop rule passes over none.
        found = outcomes_read(seen, self.spec.outcomes, self.name)
        if len(found) != 1:
            raise InputError(
                f"{self.name}: {seen!r} is not one outcome. A row of them is recorded "
                "with record(…)."
            )
        return self.append(
            lambda target: entering.planned_rows(target, found, [at or 0], note),
            sitting,
        )

    def _ask_place(self, seen: str) -> None:
        due = due_places(self)
        line = "nothing is left to be made"
        if due:
            line = (
                f"the next one is {due[0]} ({self.spec.places[due[0] - 1]}): "
                f"outcome({seen!r}, at={due[0]})"
            )
        raise InputError(
            f"{self.name}: say at which place of the plan, at=…, so that running the "
            f"cell again adds nothing; {line}. Outside the plan: planned=False, the "
            "condition and because=. Nothing was recorded."
        )

    def _unplanned(
        self, seen: str, said: Mapping[str, str], because: str, sitting: str
    ) -> Self:
        found = outcomes_read(seen, self.spec.outcomes, self.name)
        if "" in found or not found:
            raise InputError(
                f"{self.name}: outside the plan there is no place to leave open. "
                "Give outcomes only."
            )
        text = self.condition_said(said, anything=True)
        return self.append(
            lambda target: entering.unplanned_rows(target, text, found, because),
            sitting,
        )

    def aborted(self, at: int | None = None, *, because: str, **factors: str) -> Self:
        """Record an attempt that gave no outcome; its place stays open.

        Parameters
        ----------
        at : int, optional
            Its place; or the condition by its levels, outside the plan.
        because : str
            What happened.
        """
        place, text = self._placed(at, factors, anything=True)
        return self.append(
            lambda target: entering.aborted_rows(target, place, text, because)
        )

    def skip(self, at: int | None = None, *, because: str, **factors: str) -> Self:
        """Say that a place, or a whole condition, will not be done, and why."""
        place, text = self._placed(at, factors)
        return self.append(
            lambda target: entering.skip_rows(target, place, text, because)
        )

    def correct(self, attempt: int, seen: str, *, because: str) -> Self:
        """Correct the outcome of an attempt; the old one stays visible.

        Parameters
        ----------
        attempt : int
            Its number in the ledger.
        """
        keys = outcome_keys(self.spec.outcomes)
        if seen.lower() not in keys:
            raise InputError(
                f"{self.name}: {seen!r} is not declared. Use one of {', '.join(keys)}."
            )
        return self.append(
            lambda target: entering.corrected_rows(
                target, attempt, keys[seen.lower()], because
            )
        )

    def enter(self, *, sitting: str = "", ask: Callable[[str], str] = input) -> Self:
        """Ask for each outcome that is due, and record it at once, place by place.

        An empty answer ends it. In a headless run nothing is asked: the cell shows
        what is recorded.

        Parameters
        ----------
        ask : callable
            Shows a question and returns what was typed.
        """
        if os.environ.get(RERUN) == "1":
            return self
        keys = ", ".join(outcome_keys(self.spec.outcomes))
        hint = ""
        while due := due_places(self):
            place = due[0]
            try:
                said = ask(f"{hint}{place}. {self.spec.places[place - 1]} [{keys}] ")
            except (EOFError, NotImplementedError):  # nobody there who could answer
                break
            if not said.strip():
                break
            try:
                self.outcome(said, at=place, sitting=sitting)
                hint = ""
            except InputError as problem:
                hint = f"{problem} "
        return self

    def _placed(
        self, at: int | None, said: Mapping[str, str], *, anything: bool = False
    ) -> tuple[int, str]:
        if (at is None) == (not said):
            raise InputError(
                f"{self.name}: give either a place, at=7, or the condition."
            )
        if at is None:
            return 0, self.condition_said(said, anything=anything)
        if not 1 <= at <= len(self.spec.places):
            raise InputError(
                f"{self.name}: the plan has {len(self.spec.places)} places, not {at}."
            )
        return at, self.spec.places[at - 1]

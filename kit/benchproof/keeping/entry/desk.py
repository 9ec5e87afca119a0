"""The desk: everything a panel can ask, and everything it shows, without a screen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from benchproof.keeping.entry.answers import Answer, Said, Way, said_of
from benchproof.keeping.entry.attempts import PlannedAttempts
from benchproof.keeping.entry.readings import TypedReadings
from benchproof.keeping.entry.surveysteps import SurveySteps
from benchproof.keeping.entry.taking import latest_readings
from benchproof.values.errors import BenchproofError, InputError, RecordingRefusedError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

GREETING = Answer(True, "Type what the display shows, with its unit, and press Enter.")


class Desk:
    """Messages in, state out; what it records goes the way of `Case.record`.

    Attributes
    ----------
    mode : str
        ``readings``, ``survey`` or ``trials``.
    answer : Answer
        To the last request.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self._typed = TypedReadings(case)
        self.modes: dict[str, TypedReadings | SurveySteps | PlannedAttempts] = {
            "readings": self._typed,
            "survey": SurveySteps(case),
            "trials": PlannedAttempts(case),
        }
        self.mode = "readings"
        self.answer = GREETING
        self._number = ""

    def ask(self, message: Mapping[str, Any]) -> Answer:
        """Do what a message asks; a refusal is an answer too, nothing is raised.

        Parameters
        ----------
        message : mapping
            ``do``, one of `ways`, a ``number`` that tells it from others, and texts.
        """
        said = said_of(message)
        if said.get("do") == "look":  # cells and other programs record too
            self.case.book.refresh()
            return self.answer
        # A message that arrives twice is one request: it is answered, not done again.
        if said.get("number") and said["number"] == self._number:
            return self.answer
        self._number = said.get("number", "")
        self.answer = self._answered(said)
        return self.answer

    def _answered(self, said: Said) -> Answer:
        try:
            return self._way(said.get("do", ""))(said)
        except RecordingRefusedError as problem:
            return Answer(False, str(problem), offers=self._offers(said))
        except (BenchproofError, OSError) as problem:
            return Answer(False, str(problem))
        except Exception as problem:  # nobody reads a kernel's log at the bench
            return Answer(
                False,
                f"Something unforeseen: {type(problem).__name__}: {problem}. Look at "
                "the list below for what was recorded.",
            )

    def _way(self, do: str) -> Way:
        ways: dict[str, Way] = {
            "mode": self._turn,
            "round": self._round,
            "strike": self._typed.strike,
            **self.modes[self.mode].ways,
        }
        if do not in ways:
            raise InputError(f"{do!r} is not one of {', '.join(ways)}.")
        return ways[do]

    def _offers(self, said: Said) -> tuple[str, ...]:
        typed = said.get("do") == "record" and self.mode == "readings"
        return ("correction", "round") if typed else ()

    def _turn(self, said: Said) -> Answer:
        mode = said.get("mode", "")
        if mode not in self.modes:
            raise InputError(f"{mode!r} is not one of {', '.join(self.modes)}.")
        self.mode = mode
        return Answer(True, "")

    def _round(self, said: Said) -> Answer:
        """Open a round for a reason, then record the line that was refused."""
        number = self.case.new_round(because=said.get("because", ""))
        again = {k: v for k, v in said.items() if k != "because"} | {"do": "record"}
        recorded = self._answered(again)
        text = f"Round {number} is open. {recorded.text}"
        return Answer(recorded.ok, text, recorded.flags, recorded.offers)

    def shown(self) -> dict[str, Any]:
        """Return everything the panel shows, as plain data."""
        table = latest_readings(self.case)
        rows = [
            {"cells": list(row), "state": table.state(i)}
            for i, row in enumerate(table.rows)
            if len(row) > 1  # not the sentence that there is none yet
        ]
        return {
            "title": self.case.file.title,
            "round": self.case.round_number,
            "mode": self.mode,
            "modes": {name: mode.label for name, mode in self.modes.items()},
            "answer": {"number": self._number, **self.answer.plain()},
            "heads": [c.title for c in table.columns],
            "rows": rows[::-1],
            **{self.mode: self.modes[self.mode].shown()},
        }

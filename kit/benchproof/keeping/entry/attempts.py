"""A trial plan, attempt by attempt: what is next, and one key for what was seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchproof.keeping.entry.answers import Answer, Said
from benchproof.keeping.trials.progress import places_of
from benchproof.keeping.trials.wording import outcome_keys
from benchproof.values.errors import InputError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case
    from benchproof.keeping.trials.provocation import Provocation

SHOWN = 6
"""How many of the latest attempts stay in sight."""


class PlannedAttempts:
    """The third way of entering: each key is an outcome, each leads to the next."""

    label = "Trials"

    def __init__(self, case: Case) -> None:
        self.case = case
        self.name = next(iter(case.trials.names()), "")

    @property
    def ways(self) -> dict[str, Any]:
        """What can be asked for."""
        return {
            "plan": self.choose,
            "outcome": self.outcome,
            "aborted": self.aborted,
            "skip": self.skip,
            "correct": self.correct,
        }

    @property
    def plan(self) -> Provocation:
        """The plan whose attempts are entered, for the round the case is in now."""
        if not self.name:
            raise InputError(
                "There is no trial plan yet. Write one: case.trials.plan('power', …)."
            )
        self.case.book.refresh()
        return self.case.trials[self.name].in_round(self.case.round_number)

    def choose(self, said: Said) -> Answer:
        """Turn to another plan."""
        self.case.trials.rows(said.get("plan", ""))
        self.name = said["plan"]
        return Answer(True, f"Now the plan {self.name}.")

    def outcome(self, said: Said) -> Answer:
        """Record what was seen at the place the panel showed.

        Raises
        ------
        InputError, RecordingRefusedError
            As `Provocation.outcome`; nothing is recorded.
        """
        place, plan = _place(said), self.plan
        plan.outcome(said.get("seen", ""), at=place)
        made = [m for m in plan.rows.made(in_round=plan.round) if m.place == place][-1]
        condition = plan.spec.places[place - 1]
        return Answer(True, f"Place {place} ({condition}): {made.typed}.")

    def aborted(self, said: Said) -> Answer:
        """Record that an attempt gave no outcome; its place stays open."""
        place = _place(said)
        self.plan.aborted(place, because=said.get("because", ""))
        return Answer(True, f"Place {place} gave no outcome; it is still open.")

    def skip(self, said: Said) -> Answer:
        """Record that a place will not be done, and why."""
        place = _place(said)
        self.plan.skip(place, because=said.get("because", ""))
        return Answer(True, f"Place {place} is not done.")

    def correct(self, said: Said) -> Answer:
        """Correct a recorded outcome for a reason; the old one stays visible."""
        number = said.get("attempt", "")
        if not number.isdecimal():
            raise InputError(f"There is no attempt {number!r}. Choose one of the list.")
        seen, because = said.get("seen", ""), said.get("because", "")
        self.plan.correct(int(number), seen, because=because)
        return Answer(True, f"Attempt {number} now counts as {seen}.")

    def shown(self) -> dict[str, Any]:
        """Return what the panel needs to draw this way of entering."""
        names = self.case.trials.names()
        if not self.name and names:
            self.name = names[0]
        if not self.name:
            return {"plans": [], "there": False}
        plan, places = self.plan, places_of(self.plan)
        due = [p for p in places if p.stand == "due"]
        keys = outcome_keys(plan.spec.outcomes)
        made = plan.rows.made(in_round=plan.round)[-SHOWN:]
        common = {
            "there": True,
            "plans": names,
            "plan": self.name,
            "outcomes": list(plan.spec.outcomes),
            "keys": {k: word for k, word in keys.items() if len(k) == 1},
            "left": len(due),
            "of": len(places),
            "made": [
                {
                    "attempt": m.number,
                    "place": m.place,
                    "condition": m.condition,
                    "outcome": m.outcome or m.kind,
                    "typed": m.typed,
                }
                for m in made
            ],
        }
        next_one = (
            {"place": due[0].number, "condition": due[0].condition} if due else {}
        )
        return common | ({"next": next_one} if due else {})


def _place(said: Said) -> int:
    place = said.get("place", "")
    if not place.isdecimal():
        raise InputError(f"{place!r} is no place of the plan. Nothing was recorded.")
    return int(place)

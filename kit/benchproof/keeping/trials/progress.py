"""How far a plan is: which places are due, ended, skipped or done."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.entering import carried_from, places_made

if TYPE_CHECKING:
    from benchproof.keeping.trials.planned import PlannedTrial

Stand = Literal["done", "due", "skipped", "ended by the stop rule"]


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the planned order, and how it stands.

    Attributes
    ----------
    number : int
    condition : str
    stand : str
    outcome : str
        "" where none is recorded.
    because : str
        Why it is skipped.
    """

    number: int
    condition: str
    stand: Stand
    outcome: str = ""
    because: str = ""


def places_of(power: PlannedTrial) -> list[Place]:
    """Return every place of a plan's version and how it stands in its round."""
    made = places_made(power.rows, power.version, power.round)
    up_to = power.up_to
    if up_to is not None:
        made = {p: m for p, m in made.items() if m.round <= up_to}
    skips = _skips(power, up_to)
    spec, seen = power.spec, Counter[str]()
    found = []
    for number, condition in enumerate(spec.places, 1):
        known = made.get(number)
        why = skips.get(str(number)) or skips.get(condition, "")
        stand: Stand = "due"
        if known:
            stand = "done"
            seen[condition] += known.outcome == spec.outcomes[0]
        elif spec.stop_at is not None and seen[condition] >= spec.stop_at:
            stand = "ended by the stop rule"
        elif why:
            stand = "skipped"
        outcome = known.outcome if known else ""
        found.append(Place(number, condition, stand, outcome, why))
    return found


def due_places(power: PlannedTrial) -> list[int]:
    """Return the places that are to be made, in order."""
    return [p.number for p in places_of(power) if p.stand == "due"]


def _skips(power: PlannedTrial, up_to: int | None) -> dict[str, str]:
    """Give the reason of each skipped place, and of each skipped condition."""
    versions = range(carried_from(power.rows, power.version), power.number + 1)

    def holds(row: Row) -> bool:
        number = int(row["round"])
        in_view = up_to is None or number <= up_to
        return int(row["version"]) in versions and number == power.round and in_view

    rows = [row for row in power.rows.skips if holds(row)]
    return {row["place"] or row["condition"]: row["note"] for row in rows}

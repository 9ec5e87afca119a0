"""The ledger of trials in few rows: planned attempts by condition, the others whole."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

from benchproof.showing.page.pagetables import PageRow, PageTable

__all__ = ["short_ledger"]

_TITLES = [
    "Plan", "Attempt", "Kind", "Place", "Condition", "Outcome", "Round", "Sitting",
    "Note",
]  # fmt: skip
_FEW = 30
"""A ledger of no more rows is shown as it is."""
_HEADS = ("Plan", "Condition", "Outcomes, by place in the planned order", "Round",
          "Note")  # fmt: skip
_NUMERIC = {"Round"}

Key = tuple[str, ...]


def short_ledger(table: PageTable) -> PageTable:
    """Return a long table of attempts with a row per condition and round.

    Attempts outside the plan, aborted, corrected or struck keep a row each. Where the
    planned ones were not made in their planned order, the table stays as it is.
    """
    titles = [c["title"] for c in table.columns]
    plain = [r for r in table.rows if r.cells[2:3] == ("planned",) and not r.state]
    if titles != _TITLES or len(table.rows) <= _FEW or not _are_in_order(plain):
        return table
    columns = tuple({"title": t, "numeric": t in _NUMERIC} for t in _HEADS)
    notes = ("Planned attempts were made in the planned order.", *_sittings(plain))
    rows = (*_by_condition(plain), *(_alone(r) for r in table.rows if r not in plain))
    return replace(table, columns=columns, rows=rows, notes=(*table.notes, *notes))


def _are_in_order(rows: Sequence[PageRow]) -> bool:
    places: dict[Key, list[int]] = {}
    for row in rows:
        plan, _, _, place, _, _, number, _, note = row.cells
        if not place.isdecimal():
            return False
        places.setdefault((plan, number, note), []).append(int(place))
    return all(found == sorted(set(found)) for found in places.values())


def _by_condition(rows: Iterable[PageRow]) -> list[PageRow]:
    seen: dict[Key, dict[str, list[int]]] = {}
    for row in rows:
        plan, _, _, place, condition, outcome, number, _, note = row.cells
        key = (plan, condition, number, note)
        seen.setdefault(key, {}).setdefault(outcome, []).append(int(place))
    found = []
    for (plan, condition, *rest), outcomes in seen.items():
        said = "; ".join(f"{o} at {_spans(places)}" for o, places in outcomes.items())
        found.append(PageRow((plan, condition, said, *rest), ""))
    return found


def _alone(row: PageRow) -> PageRow:
    plan, attempt, kind, place, condition, outcome, number, sitting, note = row.cells
    at = f", place {place}" if place else ""
    during = f", sitting {sitting}" if sitting else ""
    said = f"{kind} (attempt {attempt}{at}{during}): {outcome}"
    return replace(row, cells=(plan, condition, said, number, note))


def _sittings(rows: Iterable[PageRow]) -> list[str]:
    """Say which places were made in which sitting."""
    found: dict[Key, dict[str, list[int]]] = {}
    for row in rows:
        plan, _, _, place, _, _, number, sitting, note = row.cells
        key = tuple(filter(None, (plan, note, f"round {number}")))
        found.setdefault(key, {}).setdefault(sitting, []).append(int(place))
    return [
        f"Sittings of {', '.join(key)}: "
        + "; ".join(f"{sitting}, places {_spans(p)}" for sitting, p in said.items())
        + "."
        for key, said in found.items()
    ]


def _spans(numbers: Sequence[int]) -> str:
    """Write numbers in order, three or more in a row by first and last.

    >>> _spans([1, 2, 4, 5, 6, 9])
    '1, 2, 4 to 6, 9'
    """
    parts: list[str] = []
    runs = itertools.groupby(enumerate(numbers), lambda item: item[1] - item[0])
    for _, run in runs:
        found = [str(number) for _, number in run]
        parts += found if len(found) < 3 else [f"{found[0]} to {found[-1]}"]
    return ", ".join(parts)

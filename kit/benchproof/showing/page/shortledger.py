"""The ledger of trials in few rows: planned attempts by condition, the others whole."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from benchproof.showing.page.pagetables import PageRow, PageTable

__all__ = ["short_ledger"]

_TITLES = [
    "Plan", "Attempt", "Kind", "Place", "Condition", "Outcome", "Round", "Sitting",
    "Note",
]  # fmt: skip
_FEW = 30
"""A ledger of no more rows is shown as it is."""
_HEADS = ("Plan", "Condition", "Outcomes, the rarer with their places", "Round",
          "Note")  # fmt: skip
_NUMERIC = {"Round"}

Key = tuple[str, ...]


def short_ledger(table: PageTable) -> PageTable:
    """Return a long table of attempts with a row per condition and round.

    An outcome's places in the planned order are named; of the most frequent one its
    number is enough, for its places are the others that the plan gives a condition.
    Attempts outside the plan, aborted, corrected or struck keep a row each. Where the
    planned ones were not made in their planned order, the table stays as it is.
    """
    titles = [c["title"] for c in table.columns]
    plain = [r for r in table.rows if r.cells[2:3] == ("planned",) and not r.state]
    if titles != _TITLES or len(table.rows) <= _FEW or not _are_in_order(plain):
        return table
    columns = tuple({"title": t, "numeric": t in _NUMERIC} for t in _HEADS)
    told = "Planned attempts were made in the planned order, each a row of trials.csv."
    notes = (told, *_sittings(plain))
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
    alike: dict[Key, list[str]] = {}
    for (plan, condition, *rest), outcomes in seen.items():
        alike.setdefault((plan, _outcomes(outcomes), *rest), []).append(condition)
    return [
        PageRow((plan, _each(conditions), *rest), "")
        for (plan, *rest), conditions in alike.items()
    ]


def _each(conditions: Sequence[str]) -> str:
    """Name conditions under which the same came out."""
    if len(conditions) == 1:
        return conditions[0]
    return f"each of {len(conditions)}: {'; '.join(conditions)}"


def _outcomes(outcomes: Mapping[str, Sequence[int]]) -> str:
    common, *rare = sorted(outcomes, key=lambda o: -len(outcomes[o]))
    counted = f"{common} {len(outcomes[common])} times"
    return "; ".join(
        [counted, *(f"{o} {len(outcomes[o])}: at {_spans(outcomes[o])}" for o in rare)]
    )


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

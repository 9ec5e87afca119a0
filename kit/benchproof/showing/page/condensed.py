"""Tables of results said in fewer words: what repeats is said once, nothing is lost."""

from __future__ import annotations

import itertools
import re
import string
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from benchproof.showing.page.pagetables import PageRow, PageTable
from benchproof.showing.page.shortledger import short_ledger

__all__ = ["condensed"]

_WORDY = {"Note", "How it was read", "Usual caution", "What it means"}
"""Columns of remarks, in which the same remark may stand in many rows."""
_OFTEN, _WORTH = 3, 24
"""A remark is said once from so many times on, and from so many letters on."""
_NBSP = "\N{NO-BREAK SPACE}"
_SMALL = 1.0
"""Percent of the variance below which a source is not listed."""


def condensed(table: PageTable) -> PageTable:
    """Return a table with its repetitions taken together.

    Repeated readings share a row, a value and the one that took its place do too,
    remarks that come back are numbered and said below, and sources that contribute
    next to nothing are counted below.
    """
    if table.section == "budgets":
        return _without_negligible(table)
    step = _STEPS.get(table.id or table.title.lower())
    return _with_remarks_below(step(table) if step else table)


# Readings --------------------------------------------------------------------------


def _repeats_together(table: PageTable) -> PageTable:
    """Put readings of one measurand in one row where nothing but the value differs."""
    titles = [c["title"] for c in table.columns]
    if titles[:3] != ["Row", "Measurand", "Reading"]:
        return table
    groups = [
        list(rows)
        for _, rows in itertools.groupby(
            map(_unbroken, table.rows), lambda r: (r.cells[1], r.cells[3:], r.state)
        )
    ]
    if len(groups) == len(table.rows):
        return table
    # Several values in a cell want to break into lines, which numbers may not.
    heads = (*table.columns[:2], {"title": "Reading", "numeric": False})
    return replace(
        table,
        columns=(*heads, *table.columns[3:]),
        rows=tuple(_one_row(group) for group in groups),
    )


def _unbroken(row: PageRow) -> PageRow:
    """Keep a function like DC V on one line."""
    how = re.sub(" (?=[VAΩ])", _NBSP, row.cells[3])
    return replace(row, cells=(*row.cells[:3], how, *row.cells[4:]))


def _one_row(rows: Sequence[PageRow]) -> PageRow:
    first, last = rows[0].cells, rows[-1].cells
    if len(rows) == 1:
        return rows[0]
    values = [row.cells[2].partition(" ") for row in rows]
    is_one_unit = len({unit for _, _, unit in values}) == 1
    said = ", ".join(number for number, _, _ in values) + f"{_NBSP}{values[0][2]}"
    if not is_one_unit:
        said = ", ".join("".join(value) for value in values)
    return replace(
        rows[0],
        cells=(f"{first[0]}–{last[0].removeprefix('r-')}", first[1], said, *first[3:]),
    )


# Rates -------------------------------------------------------------------------------


def _same_rates_together(table: PageTable) -> PageTable:
    """Put conditions under which the same was seen in one row."""
    titles = [c["title"] for c in table.columns]
    if titles[:3] != ["Plan", "Outcome", "Condition"]:
        return table
    groups: dict[tuple[str, ...], list[PageRow]] = {}
    for number, row in enumerate(table.rows):
        plan, outcome, condition, *seen = row.cells
        # What was tried as a control, or once only, keeps a row of its own.
        own = str(number) if "(control)" in condition or row.state else ""
        groups.setdefault((plan, outcome, own, *seen), []).append(row)
    rows = [_one_rate(rows) for rows in groups.values()]
    return replace(table, rows=tuple(rows))


def _one_rate(rows: Sequence[PageRow]) -> PageRow:
    if len(rows) == 1:
        return rows[0]
    plan, outcome, _, *seen = rows[0].cells
    conditions = "; ".join(row.cells[2] for row in rows)
    said = f"each of {len(rows)}: {conditions}"
    return replace(rows[0], cells=(plan, outcome, said, *seen))


# Errata ------------------------------------------------------------------------------


def _old_beside_new(table: PageTable) -> PageTable:
    """Put what was said, struck, beside what took its place."""
    titles = [c["title"] for c in table.columns]
    if titles != ["Date", "Round", "What", "It said", "Because"]:
        return table
    plain = {"title": "Now", "numeric": False}
    return replace(
        table,
        columns=(*table.columns[:4], plain, table.columns[4]),
        rows=tuple(_paired(table.rows)),
    )


def _paired(rows: Sequence[PageRow]) -> Iterator[PageRow]:
    number = 0
    while number < len(rows):
        row, following = rows[number], rows[number + 1 : number + 2]
        date, round_, what, said, because = row.cells
        if not row.state:
            yield PageRow((date, round_, what, "", said, because), "")
        elif following and not following[0].state and following[0].cells[2] == what:
            number += 1
            *_, now, why = following[0].cells
            reason = "; ".join(filter(None, [because, why]))
            cells = (date, round_, what, said, now, reason)
            yield PageRow(cells, "", frozenset({3}))
        else:
            cells = (date, round_, what, said, "", because)
            yield PageRow(cells, "", frozenset({3}))
        number += 1


# Rivals ------------------------------------------------------------------------------

_RIVALS = slice(1, -1)
"""Columns of the matrix that stand for a rival each."""


def _asked_of_several(table: PageTable) -> PageTable:
    """Keep what two rivals speak of; the rest stands with the one that does."""
    kept = tuple(r for r in table.rows if sum(map(bool, r.cells[_RIVALS])) > 1)
    rest = len(table.rows) - len(kept)
    if not kept or rest < _OFTEN:
        return table
    filled = [i for i in range(len(table.columns)) if any(r.cells[i] for r in kept)]
    note = (
        f"{rest} more are asked of one rival only and stand in its table above, their "
        "outcome in the evidence."
    )
    return replace(
        table,
        columns=tuple(table.columns[i] for i in filled),
        rows=tuple(PageRow(tuple(r.cells[i] for i in filled), "") for r in kept),
        notes=(*table.notes, note),
    )


def _split_either_way(table: PageTable) -> PageTable:
    """Keep pairs that something splits for certain, and name the others."""
    kept = tuple(r for r in table.rows if r.cells[1] != "nothing")
    rest = [r for r in table.rows if r not in kept]
    hopeless = [r for r in rest if r.cells[2] == "nothing"]
    if not kept or hopeless or len(rest) < _OFTEN:
        return table
    pairs = "; ".join(r.cells[0] for r in rest)
    note = f"Split only if a prediction of one of them fails: {pairs}."
    unbroken = tuple(
        replace(r, cells=(r.cells[0].replace(" ", _NBSP), *r.cells[1:])) for r in kept
    )
    return replace(table, rows=unbroken, notes=(*table.notes, note))


# Plans -------------------------------------------------------------------------------


def _without_told_changes(table: PageTable) -> PageTable:
    """Leave out why a plan changed where a note below says so."""
    titles = [c["title"] for c in table.columns]
    if "Changed because" not in titles:
        return table
    i, notes = titles.index("Changed because"), " ".join(table.notes)
    if not all(row.cells[i] in notes for row in table.rows):
        return table
    rows = tuple(
        replace(r, cells=r.cells[:i] + r.cells[i + 1 :], struck=frozenset())
        for r in table.rows
    )
    return replace(table, columns=table.columns[:i] + table.columns[i + 1 :], rows=rows)


# Quantities --------------------------------------------------------------------------

_USUAL, _LEVEL = f" (k = 1.96, 95{_NBSP}%)", f", 95{_NBSP}%"
_BOUNDED = re.compile(r"(\d+ of \d+), (.+)")
_BECAUSE = re.compile(r"(\(\w+) (because .+)\)")
_QUANTITIES = ["Quantity", "Value", "Expanded", "How", "Note"]


def _usual_coverage_once(table: PageTable) -> PageTable:
    """Say the usual coverage factor in the title, and keep values to one line."""
    if [c["title"] for c in table.columns] != _QUANTITIES:
        return table
    title = f"{table.title}; 95{_NBSP}%, k = 1.96 unless said"
    is_usual = any(_USUAL in row.cells[2] for row in table.rows)
    rows = tuple(replace(r, cells=_on_one_line(r.cells)) for r in table.rows)
    return replace(table, title=title if is_usual else table.title, rows=rows)


def _on_one_line(cells: tuple[str, ...]) -> tuple[str, ...]:
    name, value, expanded, how, note = cells
    short, bracket, coverage = expanded.replace(_USUAL, "").partition(" (")
    expanded = short.replace(" ", _NBSP) + bracket + coverage.replace(_LEVEL, "")
    if found := _BOUNDED.fullmatch(value):
        value, expanded = found[1], "; ".join(filter(None, [found[2], expanded]))
    elif found := _BECAUSE.fullmatch(value):
        value, note = f"{found[1]})", "; ".join(filter(None, [found[2], note]))
    return (name, value, expanded, how, note)


# Corrections -------------------------------------------------------------------------

_EQUATED = re.compile(r"(\w+) = (\S+) (\S+)")


def _values_unbroken(table: PageTable) -> PageTable:
    """Let "name = value unit" break after its name only."""
    kept = rf"\1 ={_NBSP}\2{_NBSP}\3"
    rows = tuple(
        replace(
            row,
            cells=tuple(
                _EQUATED.sub(kept, c) if _EQUATED.fullmatch(c) else c for c in row.cells
            ),
        )
        for row in table.rows
    )
    return replace(table, rows=rows)


_STEPS: dict[str, Callable[[PageTable], PageTable]] = {
    "attempts": short_ledger,
    "corrections": _values_unbroken,
    "errata": _old_beside_new,
    "matrix": _asked_of_several,
    "plans": _without_told_changes,
    "quantities": _usual_coverage_once,
    "rates": _same_rates_together,
    "readings": _repeats_together,
    "splits": _split_either_way,
}


# Remarks -----------------------------------------------------------------------------


def _with_remarks_below(table: PageTable) -> PageTable:
    wordy = {i for i, c in enumerate(table.columns) if c["title"] in _WORDY}
    counts = Counter(
        remark
        for row in table.rows
        for i in wordy
        for _, remark in map(_whose, row.cells[i].split("; "))
    )
    often = [p for p, n in counts.items() if n >= _OFTEN and len(p) >= _WORTH]
    if not often or len(often) > len(string.ascii_lowercase):
        return table
    marks = dict(zip(often, string.ascii_lowercase, strict=False))

    def marked(row: PageRow) -> PageRow:
        cells = tuple(
            _marked(cell, marks) if i in wordy else cell
            for i, cell in enumerate(row.cells)
        )
        return replace(row, cells=cells)

    below = tuple(f"({mark}) {said}" for said, mark in marks.items())
    rows = tuple(marked(row) for row in table.rows)
    return replace(table, rows=rows, notes=(*below, *table.notes))


_NAMES = re.compile(r"((?:\w+, )*\w+): (\w+: .+)")
"""Of a computed quantity: whose remark it is, and the remark."""


def _whose(part: str) -> tuple[str, str]:
    found = _NAMES.fullmatch(part)
    return (found[1], found[2]) if found else ("", part)


def _marked(cell: str, marks: dict[str, str]) -> str:
    """Return a cell with the remarks that are said below as their letters, first."""
    letters, rest = [], []
    for part in cell.split("; "):
        names, remark = _whose(part)
        if remark in marks:
            letters.append(f"({marks[remark]})" + (f" of {names}" if names else ""))
        else:
            rest.append(part)
    # Letters alone stand side by side; with names they need what keeps them apart.
    joined = ("; " if any(" of " in said for said in letters) else " ").join(letters)
    return "; ".join(filter(None, [joined, *rest]))


# Budgets -----------------------------------------------------------------------------


def _without_negligible(table: PageTable) -> PageTable:
    if table.columns[-1]["title"] != "Share":
        return table
    small = [r for r in table.rows if not r.state and _percent(r) < _SMALL]
    if len(small) < _OFTEN:
        return table
    kept = tuple(row for row in table.rows if row not in small)
    together = sum(map(_percent, small))
    note = (
        f"{len(small)} more sources with less than {_SMALL:g}{_NBSP}% of the variance "
        f"each, together {together:.1f}{_NBSP}%: in results.json."
    )
    return replace(table, rows=kept, notes=(*table.notes, note))


def _percent(row: PageRow) -> float:
    """Return the size of a share, all of it where it cannot be read."""
    try:
        return abs(float(row.cells[-1].removesuffix("%").strip()))
    except ValueError:
        return 100.0

"""Columns that say nothing, or the same in every row: left out, or said once below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from benchproof.showing.page.pagetables import PageRow, PageTable

__all__ = ["lean_columns"]

_FEW = 4
"""A column of fewer rows is read sooner than a note."""
_CIRCUMSTANCES = {
    "Calibration", "Date", "Degrees of freedom", "Distribution", "Largest source",
    "Of", "Outcome", "Plan", "Round", "Splits for certain", "Type", "Version",
    "With", "Would change",
}  # fmt: skip
"""Columns that no finding stands in, which may be said once for all rows."""
_REMARKS = {"Changed because", "Note", "Now", "What would change it"}
"""Columns in which no entry is no news."""


def lean_columns(table: PageTable) -> PageTable:
    """Return a table without columns that are empty or the same from top to bottom.

    The first column stays, and what the others said in every row is said below.

    Examples
    --------
    >>> heads = [{"title": t, "numeric": False} for t in ("Source", "Type", "Note")]
    >>> rows = tuple(PageRow((name, "B", ""), "") for name in ("a", "b", "c", "d"))
    >>> lean = lean_columns(PageTable("t", "other", "", tuple(heads), rows, ()))
    >>> [c["title"] for c in lean.columns], lean.notes
    (['Source'], ('In every row: Type B.',))
    """
    silent, alike = [], {}
    for i, column in enumerate(table.columns[1:], start=1):
        cells = {row.cells[i] for row in table.rows}
        if cells == {""} and column["title"] in _REMARKS:
            silent.append(i)
        elif (
            len(cells) == 1
            and column["title"] in _CIRCUMSTANCES
            and len(table.rows) >= _FEW
        ):
            alike[i] = cells.pop() or "not recorded"
    if not silent and not alike:
        return table
    said = "; ".join(f"{table.columns[i]['title']} {c}" for i, c in alike.items())
    notes = (f"In every row: {said}.", *table.notes) if said else table.notes
    kept = [i for i in range(len(table.columns)) if i not in {*silent, *alike}]
    return replace(
        table,
        columns=tuple(table.columns[i] for i in kept),
        rows=tuple(_row(row, kept) for row in table.rows),
        notes=notes,
    )


def _row(row: PageRow, kept: Sequence[int]) -> PageRow:
    cells = tuple(row.cells[i] for i in kept)
    struck = frozenset(new for new, old in enumerate(kept) if old in row.struck)
    return replace(row, cells=cells, struck=struck)

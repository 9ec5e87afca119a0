"""What one table of a page says already, another does not say again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from benchproof.showing.page.pagetables import PageRow, PageTable

__all__ = ["said_once"]

_VALUE, _NOTE = 1, -1
"""Columns of the table of quantities."""
_CAUTION = -1
"""The column of a hazard's, or an energy's, usual caution."""


def said_once(tables: Sequence[PageTable]) -> list[PageTable]:
    """Return the tables of a page without what another of them says in full.

    How a capture was read stands with the captures; values and warnings that a budget
    rests on stand with the quantities; a caution stands with its hazard; and the same
    note below two tables of a section stands below the last of them.
    """
    known = {t.id: t for t in tables}
    steps: dict[str, Callable[[PageTable], PageTable]] = {
        "quantities": lambda t: _without_capture_notes(t, known.get("captures")),
        "energy": lambda t: _without_cautions(t, known.get("hazards")),
    }
    values = {
        f"{row.cells[0]} = {row.cells[_VALUE]}"
        for name in ("quantities", "constants")
        for row in (known[name].rows if name in known else ())
    }
    found = []
    for i, table in enumerate(tables):
        table = _without_later_notes(table, tables[i + 1 :])
        if table.section == "budgets":
            table = _lean_budget(table, values, _warnings(table, known))
        step = steps.get(table.id)
        found.append(step(table) if step else table)
    return found


def _without_capture_notes(table: PageTable, captures: PageTable | None) -> PageTable:
    """Leave out how a capture was read: a quantity's row leads to where it stands."""
    read: dict[str, set[str]] = {}
    for row in captures.rows if captures else ():
        said = read.setdefault(row.cells[0], set())
        said.update(part for cell in row.cells[1:] for part in cell.split("; "))

    def shorter(row: PageRow) -> PageRow:
        known = read.get(row.cells[0], set())
        kept = [part for part in row.cells[_NOTE].split("; ") if part not in known]
        return replace(row, cells=(*row.cells[:_NOTE], "; ".join(kept)))

    return replace(table, rows=tuple(map(shorter, table.rows)))


def _without_cautions(table: PageTable, hazards: PageTable | None) -> PageTable:
    """Leave the usual caution to the table of hazards, where it stands in full."""
    known = {row.cells[_CAUTION] for row in hazards.rows} if hazards else set()
    rows = tuple(
        replace(row, cells=(*row.cells[:_CAUTION], "usual caution: see the hazards"))
        if row.cells[_CAUTION] in known
        else row
        for row in table.rows
    )
    return replace(table, rows=rows)


def _without_later_notes(table: PageTable, later: Iterable[PageTable]) -> PageTable:
    if table.section == "budgets":  # each folded away by itself
        return table
    below = {n for t in later if t.section == table.section for n in t.notes}
    return replace(table, notes=tuple(n for n in table.notes if n not in below))


def _warnings(table: PageTable, known: dict[str, PageTable]) -> set[str]:
    """Return the warnings that the quantity of a budget carries in its own row."""
    rows = known["quantities"].rows if "quantities" in known else ()
    return {
        part
        for row in rows
        if table.id == f"budget-{row.cells[0]}"
        for part in row.cells[_NOTE].split("; ")
    }


def _lean_budget(table: PageTable, values: set[str], warnings: set[str]) -> PageTable:
    rows = tuple(
        replace(row, cells=tuple(_name_of(cell, values) for cell in row.cells))
        for row in table.rows
    )
    notes = tuple(
        n for n in table.notes if not all(part in warnings for part in n.split("; "))
    )
    return replace(table, rows=rows, notes=notes)


def _name_of(cell: str, values: set[str]) -> str:
    return cell.partition(" = ")[0] if cell in values else cell

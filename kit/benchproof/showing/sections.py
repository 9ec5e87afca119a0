"""The write-up's sections: their order, and the tables of results in each."""

import itertools
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from benchproof.values.errors import FileError

__all__ = ["PageTable", "checked_tables", "sections_of", "shortened", "text_of"]

LONGEST = 150
"""Rows of a table on the page; of a longer record only the telling ones are shown."""

MOST_BUDGETS = 12
"""Of more budgets, only those of quantities that a prediction speaks of are shown."""

_FIRST = 20

# (id, heading, what to say when a case has none; None leaves the section out)
SECTIONS: tuple[tuple[str, str, str | None], ...] = (
    (
        "sample",
        "Reported device and tested sample",
        "No comparison of the reported device with the tested sample was recorded.",
    ),
    (
        "hazards",
        "Hazards and what was left undone",
        "No hazard was recorded. That is an omission, not a finding.",
    ),
    ("rivals", "Rivals and their predictions", None),
    ("instruments", "Instruments", "No instrument was recorded."),
    ("contacts", "Contacts", None),
    ("readings", "Readings", "No reading was recorded."),
    ("captures", "Captures", None),
    ("derived", "Model: quantities and formulas", None),
    ("budgets", "Uncertainty budgets", None),
    ("trials", "Trials", None),
    ("evidence", "Evidence, rival by rival", None),
    ("next", "Next measurements", None),
    ("rounds", "Rounds and changes", None),
    ("other", "Further tables", None),
)


@dataclass(frozen=True)
class PageRow:
    """A table row as the page shows it."""

    cells: tuple[str, ...]
    state: str


@dataclass(frozen=True)
class PageTable:
    """A table of results, checked: every row has as many cells as columns."""

    id: str
    section: str
    title: str
    columns: tuple[Mapping[str, Any], ...]
    rows: tuple[PageRow, ...]
    notes: tuple[str, ...]

    @property
    def anchor(self) -> str:
        """Where a link to it leads."""
        return f"table-{self.id}"


def text_of(value: Any) -> str:
    """Return a value as stripped text, nothing as the empty text.

    A percent sign stays on the line of its number.
    """
    text = "" if value is None else str(value).strip()
    return re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)


def checked_tables(tables: Iterable[Mapping[str, Any]]) -> list[PageTable]:
    """Return the tables of results in the page's form, every row fitting.

    No two have the same id.

    Raises
    ------
    FileError
        If a row has more or fewer cells than the table has columns.
    """
    found: dict[str, PageTable] = {}
    for raw in tables:
        table = _checked(raw)
        names = (f"{table.id}-{i}" if i > 1 else table.id for i in itertools.count(1))
        name = next(n for n in names if n not in found)
        found[name] = replace(table, id=name)
    return list(found.values())


def _checked(table: Mapping[str, Any]) -> PageTable:
    name = text_of(table.get("id")) or text_of(table.get("title"))
    columns = tuple(
        {"title": text_of(column.get("title")), "numeric": bool(column.get("numeric"))}
        for column in table.get("columns") or ()
    )
    rows = []
    for number, raw in enumerate(table.get("rows") or (), start=1):
        row = raw if isinstance(raw, Mapping) else {"cells": raw}
        cells = tuple(text_of(cell) for cell in row["cells"])
        if len(cells) != len(columns):
            raise FileError(
                f"results, table '{name}', row {number}: {len(cells)} cells for "
                f"{len(columns)} columns. Run the case again to write its results anew."
            )
        rows.append(PageRow(cells, text_of(row.get("state"))))
    return PageTable(
        id=re.sub(r"\W+", "-", name) or "table",
        section=text_of(table.get("section")),
        title=text_of(table.get("title")),
        columns=columns,
        rows=tuple(rows),
        notes=tuple(text_of(note) for note in table.get("notes") or ()),
    )


def sections_of(
    tables: list[PageTable], others: set[str], notes: Mapping[str, str] | None = None
) -> list[dict[str, Any]]:
    """Group the tables in the page's order; a section not on the list comes last.

    Parameters
    ----------
    others : set of str
        Sections that have something to show beside tables.
    notes : mapping, optional
        By section, a sentence at its end.
    """
    known = {name for name, _, _ in SECTIONS} | {"versions"}
    groups: dict[str, list[PageTable]] = {name: [] for name, _, _ in SECTIONS}
    for table in tables:
        if table.section != "versions":
            groups[table.section if table.section in known else "other"].append(table)
    return [
        {
            "id": name,
            "heading": heading,
            "tables": groups[name],
            "note": (notes or {}).get(name, ""),
            "when_empty": None if name in others else empty,
        }
        for name, heading, empty in SECTIONS
        if groups[name] or empty or name in others
    ]


def shortened(
    tables: list[PageTable], judged: set[str]
) -> tuple[list[PageTable], dict[str, str]]:
    """Leave out what would make a page too long to read, and say what that is.

    Parameters
    ----------
    judged : set of str
        Quantities that a prediction speaks of.

    Returns
    -------
    list of PageTable, dict of str to str
        What is shown, and by section a sentence on what is not.
    """
    budgets = [t for t in tables if t.section == "budgets"]
    wanted = {f"budget-{name}" for name in judged}
    kept = [t for t in budgets if t.id in wanted] or budgets[:MOST_BUDGETS]
    if len(budgets) <= MOST_BUDGETS or len(kept) == len(budgets):
        return [_telling(table) for table in tables], {}
    left_out = [t for t in budgets if t not in kept]
    names = ", ".join(t.title for t in left_out)
    note = f"Not on this page, but in results.json and by running the case: {names}."
    shown = [_telling(table) for table in tables if table not in left_out]
    return shown, {"budgets": note}


def _telling(table: PageTable) -> PageTable:
    """Return a long table by its first rows and those with a state or a last word."""
    if len(table.rows) <= LONGEST:
        return table
    kept = [
        row
        for number, row in enumerate(table.rows)
        if number < _FIRST or row.state or (row.cells and row.cells[-1])
    ][:LONGEST]
    note = (
        f"{len(kept)} of {len(table.rows)} rows: the first {_FIRST}, and of the others "
        "those that are struck, superseded or have something in the last column, up to "
        f"{LONGEST} in all. Every row is in the files of the case."
    )
    return replace(table, rows=tuple(kept), notes=(*table.notes, note))

"""Tables of results in the form the page needs, each row checked to fit."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from benchproof.values.errors import FileError

__all__ = ["PageRow", "PageTable", "checked_tables", "text_of"]


@dataclass(frozen=True)
class PageRow:
    """A table row as the page shows it; `struck` are cells that no longer hold."""

    cells: tuple[str, ...]
    state: str
    struck: frozenset[int] = frozenset()
    anchor: str = ""


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

    @property
    def classes(self) -> str:
        """What each column is, by its number: n numbers, d one line, m or w words.

        One s more says that all are words, and few enough to stand below each other.
        """
        kinds = [self._kind(i) for i in range(len(self.columns))]
        names = [f"{k}{i}" for i, k in enumerate(kinds, start=1) if k]
        letters = sum(len(c) for row in self.rows for c in row.cells)
        if (
            letters > _LONG_ROW * len(self.rows)
            and len(kinds) in _STACKED
            and not any(kinds)
        ):
            names = ["s"]
        return " ".join(names)

    def _kind(self, column: int) -> str:
        if self.columns[column]["numeric"]:
            return "n"
        cells = [row.cells[column] for row in self.rows if row.cells[column]]
        longest = max(map(len, cells), default=0)
        if cells and all(_DATE.fullmatch(cell) for cell in cells):
            return "d"
        if any(cell.startswith("U = ") for cell in cells):
            return "d" if longest <= _ONE_LINE else "m"
        if len(self.columns) <= _CROWDED:
            return ""
        return "w" if longest > _WORDY else "m" if longest > _SEVERAL_WORDS else ""


_DATE = re.compile(r"\d{4}-\d\d-\d\d|r-\d+(?:–\d+)?")
_STAMP = re.compile(r"\b(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)Z")
_SEVERAL_WORDS, _WORDY, _CROWDED = 24, 60, 4
"""Letters, and columns, from which on a column needs its room kept."""
_STACKED, _LONG_ROW = (3, 4), 90
"""Columns of words, and letters of a row, that a narrow page shows below each other."""
_ONE_LINE = 48
"""Letters of an expanded uncertainty, which stays on one line."""


def text_of(value: Any) -> str:
    """Return a value as stripped text, nothing as the empty text.

    A percent sign stays on the line of its number, and a time is written for people.
    """
    text = "" if value is None else str(value).strip()
    text = _STAMP.sub(r"\1 \2 UTC", text)
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

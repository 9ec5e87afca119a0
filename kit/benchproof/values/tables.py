"""The one class that knows how a table looks in text, HTML and CSV."""

from __future__ import annotations

import csv
import html
import io
import itertools
import re
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

RowState = Literal["", "struck", "superseded", "total"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column's heading, and whether its cells are numbers (aligned right)."""

    title: str
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Cells of text with headings, notes and, per row, a state.

    Attributes
    ----------
    title : str
        One line above the table.
    columns : tuple of Column
    rows : tuple of tuple of str
        Already formatted; as many cells as columns.
    notes : tuple of str
        Sentences below the table.
    states : tuple of str
        One per row, or empty: ``struck`` and ``superseded`` rows stay visible.

    Examples
    --------
    >>> print(Table("Rails", columns("Name", "V>"), (("V_idle", "12.10"),)))
    Rails
    Name   │     V
    ───────┼──────
    V_idle │ 12.10
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    states: tuple[RowState, ...] = ()

    def __str__(self) -> str:
        return as_text(self)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return as_html(self)

    def to_csv(self) -> str:
        """Return the table as CSV text, safe to open in a spreadsheet."""
        buffer = io.StringIO()
        writer = csv.writer(buffer, lineterminator="\n")
        writer.writerow([_defused(c.title) for c in self.columns])
        writer.writerows([_defused(cell) for cell in row] for row in self.rows)
        return buffer.getvalue()

    def state(self, row: int) -> RowState:
        """Return the state of a row, "" if none."""
        return self.states[row] if self.states else ""


class Tabular:
    """Anything that shows itself as one table, in a terminal and in a notebook."""

    __slots__ = ()

    def table(self) -> Table:
        """Return what is shown."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return as_text(self.table())

    def _repr_html_(self) -> str:
        return as_html(self.table())


def columns(*titles: str) -> tuple[Column, ...]:
    """Make columns from titles; a trailing ``>`` marks a numeric one."""
    return tuple(Column(t.rstrip(">"), t.endswith(">")) for t in titles)


def as_text(table: Table) -> str:
    """Render for a terminal; control characters are shown, not obeyed."""
    head = tuple(c.title for c in table.columns)
    body = [
        _wrapped(_marked(tuple(map(visible, row)), table.state(i)))
        for i, row in enumerate(table.rows)
    ]
    flat = [head, *(line for row in body for line in row)]
    widths = [max(map(_width, column)) for column in zip(*flat, strict=True)]
    lines = [visible(table.title)] if table.title else []
    if table.rows and any(title.strip() for title in head):
        lines.append(_text_row(head, widths, table.columns))
        lines.append("─┼─".join("─" * w for w in widths))
    lines += [_text_row(line, widths, table.columns) for row in body for line in row]
    return "\n".join([*lines, *map(visible, table.notes)])


_WIDEST = 46
"""Columns of text wrap here; three of them fit a terminal."""


def _wrapped(row: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Break long cells over several lines."""
    cells = [textwrap.wrap(cell, _WIDEST) or [""] for cell in row]
    return list(itertools.zip_longest(*cells, fillvalue=""))


def visible(text: str) -> str:
    """Replace control characters (a terminal would obey them) by U+FFFD."""
    return "".join("\N{REPLACEMENT CHARACTER}" if _control(c) else c for c in text)


def _control(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cf")


def _marked(row: tuple[str, ...], state: RowState) -> tuple[str, ...]:
    mark = {"struck": "(struck) ", "superseded": "(superseded) "}.get(state, "")
    return (mark + row[0], *row[1:])


def _width(text: str) -> int:
    return sum(
        0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF")
        for c in text
    )


def _text_row(row: Sequence[str], widths: list[int], heads: tuple[Column, ...]) -> str:
    cells = []
    for cell, width, column in zip(row, widths, heads, strict=True):
        gap = " " * (width - _width(cell))
        cells.append(gap + cell if column.numeric else cell + gap)
    return " │ ".join(cells).rstrip()


STYLE = """<style>
.bp{font-size:.95em;margin:.4em 0;color:var(--jp-ui-font-color1,inherit)}
.bp table{border-collapse:collapse;margin:.3em 0;background:transparent}
.bp caption{caption-side:top;text-align:left;font-weight:600;padding:.2em 0}
.bp th,.bp td{padding:.25em .7em;text-align:left!important;vertical-align:top;
color:inherit;background:transparent;max-width:34em!important;white-space:normal;
border-bottom:1px solid var(--jp-border-color2,rgba(127,127,127,.4))}
.bp tr{background:transparent!important}
.bp th.n,.bp td.n{text-align:right!important;white-space:nowrap;
font-variant-numeric:tabular-nums}
.bp tr.total td{font-weight:600}
.bp .d{white-space:nowrap}
.bp p{margin:.2em 0;opacity:.85}
</style>"""
"""Inherits the page's colours, so it reads in light and dark themes alike.

JupyterLab aligns and stripes tables by more specific rules: hence !important.
"""


def as_html(table: Table) -> str:
    """Render for a notebook; every cell is escaped, `$` too (it starts maths)."""
    # A caption without cells below it would wrap after each word.
    kind = "" if table.rows else ' class="d"'
    title = f"<caption{kind}>{escaped(table.title)}</caption>" if table.title else ""
    head = _html_head(table)
    body = "".join(_html_row(table, i) for i in range(len(table.rows)))
    notes = "".join(f"<p>{escaped(note)}</p>" for note in table.notes)
    return (
        f'{STYLE}<div class="bp"><table>{title}{head}'
        f"<tbody>{body}</tbody></table>{notes}</div>"
    )


def _html_head(table: Table) -> str:
    if not table.rows or not any(c.title.strip() for c in table.columns):
        return ""
    cells = "".join(_cell("th", c.title, c, ' scope="col"') for c in table.columns)
    return f"<thead><tr>{cells}</tr></thead>"


def _html_row(table: Table, index: int) -> str:
    state, row = table.state(index), table.rows[index]
    cells = []
    for i, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
        gone = state in ("struck", "superseded")
        word = f" <small>{state}</small>" if gone and i == 0 else ""
        cells.append(_cell("td", cell, column, struck=gone, after=word))
    mark = f' class="{state}"' if state else ""
    return f"<tr{mark}>{''.join(cells)}</tr>"


def _cell(
    tag: str,
    text: str,
    column: Column,
    attributes: str = "",
    struck: bool = False,
    after: str = "",
) -> str:
    kind = "n" if column.numeric else "d" if _DATE.fullmatch(text) else ""
    mark = f' class="{kind}"' if kind else ""
    inner = f"<del>{escaped(text)}</del>" if struck else escaped(text)
    return f"<{tag}{mark}{attributes}>{inner}{after}</{tag}>"


_DATE = re.compile(r"\d{4}-\d\d-\d\d")
"""A date, whose hyphens are no places to break a line."""


def escaped(text: str) -> str:
    """Escape for HTML inside a notebook, where `$` would start mathematics."""
    return html.escape(text).replace("$", "&#36;")


def _defused(cell: str) -> str:
    """Keep a spreadsheet from running a cell as a formula, but keep numbers."""
    cell = cell.replace("\r\n", "\n").replace("\r", "\n")
    if cell[:1] in ("=", "@", "\t", "\n", "+", "-") and not _SIGNED.fullmatch(cell):
        return "'" + cell
    return cell


_SIGNED = re.compile(
    r"[+-](\d+(?:\.\d*)?|\.\d+)(e[+-]?\d+)?(\([\d.]+\))?( [^\s=+@|!-]+)?", re.IGNORECASE
)
"""A signed number with its uncertainty and unit, which no spreadsheet runs."""

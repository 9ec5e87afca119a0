"""A table that a cell of the notebook put out, read back as a table of the page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html.parser import HTMLParser
from typing import Any

from benchproof.showing.page.pagetables import PageRow, PageTable, text_of

__all__ = ["table_of"]

_OURS = re.compile(
    r'\s*(<style>.*?</style>)?\s*<div class="bp">\s*<table>.*</table>\s*'
    r"(<p>[^<]*</p>\s*)*</div>\s*",
    re.DOTALL,
)


def table_of(output: Mapping[str, Any]) -> PageTable | None:
    """Return the one table of ours that an output consists of, else None.

    Parameters
    ----------
    output : mapping
        An output of notebook format 4.

    Examples
    --------
    >>> cells = "<tr><td>V_idle</td><td>12.1 V</td></tr>"
    >>> bench = f'<div class="bp"><table><tbody>{cells}</tbody></table></div>'
    >>> table_of({"data": {"text/html": bench}}).rows[0].cells
    ('V_idle', '12.1 V')
    """
    markup = output.get("data", {}).get("text/html", "")
    markup = "".join(markup) if isinstance(markup, list) else str(markup)
    if not _OURS.fullmatch(markup):
        return None
    read = _Reader(markup)
    heads, rows = tuple(read.heads), tuple(read.rows)
    uneven = any(len(row.cells) != len(heads) for row in rows) if heads else False
    if read.tables != 1 or uneven:
        return None
    section = "budgets" if read.title.startswith("Budget of ") else ""
    return PageTable("", section, read.title, heads, rows, tuple(read.notes))


class _Reader(HTMLParser):
    """The title, heads, rows and notes of a table, as text."""

    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.title = ""
        self.heads: list[Mapping[str, Any]] = []
        self.rows: list[PageRow] = []
        self.notes: list[str] = []
        self.tables = 0
        self._row: list[str] = []
        self._words: list[str] | None = None
        self._numeric = self._in_body = False
        self._state = ""
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        kind = dict(attrs).get("class") or ""
        if tag == "table":
            self.tables += 1
        elif tag == "tbody":
            self._in_body = True
        elif tag == "tr":
            self._row, self._state = [], kind
        elif tag in ("td", "th", "p", "caption"):
            self._words, self._numeric = [], kind == "n"
        elif tag == "small":  # the word beside a struck row, no part of the cell
            self._close("td")

    def handle_endtag(self, tag: str) -> None:
        if tag == "tbody":
            self._in_body = False
        elif tag in ("td", "th", "p", "caption"):
            self._close(tag)
        elif tag == "tr" and self._in_body:
            self.rows.append(PageRow(tuple(self._row), self._state))

    def _close(self, tag: str) -> None:
        if self._words is None:
            return
        text = text_of("".join(self._words))
        self._words = None
        if tag == "p":
            self.notes.append(text)
        elif tag == "caption":
            self.title = text
        elif self._in_body:
            self._row.append(text)
        else:
            self.heads.append({"title": text, "numeric": self._numeric})

    def handle_data(self, data: str) -> None:
        if self._words is not None:
            self._words.append(data)

"""Outputs that the write-up shows in a section of its own: a link stands for them."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

from benchproof.showing.page.pagetables import PageTable, text_of

__all__ = ["Elsewhere", "elsewhere_of", "link_instead"]

Rows = tuple[tuple[str, ...], ...]

_WORTH_A_LINK = 3
"""Rows; a smaller table of the notebook is read sooner than a link is followed."""


@dataclass(frozen=True)
class Place:
    """Where on the page something stands, with the notes that stand below it."""

    anchor: str
    words: str
    notes: tuple[str, ...] = ()


_LIMITS = Place("limits", "What this does not show")


@dataclass(frozen=True)
class Elsewhere:
    """What the sections show: tables by their cells, pictures by their description."""

    tables: dict[Rows, Place]
    pictures: Mapping[str, Place]
    limits: frozenset[str] = frozenset()

    def remember(self, output: Mapping[str, Any], place: Place) -> None:
        """Count a table that an output shows among those shown above."""
        read = _read(output)
        if read is not None and len(read.rows) >= _WORTH_A_LINK:
            whole = Place(place.anchor, place.words, tuple(read.notes))
            self.tables.setdefault(tuple(read.rows), whole)


def elsewhere_of(
    tables: Iterable[PageTable],
    rivals: Iterable[Mapping[str, Any]],
    pictures: Mapping[str, Place],
    limits: Iterable[str] = (),
) -> Elsewhere:
    """Collect what an output of the notebook may repeat.

    Parameters
    ----------
    tables : iterable of PageTable
        Of the sections.
    rivals : iterable of mapping
        With verdicts and predictions, every field text.
    pictures : mapping
        Places by description.
    limits : iterable of str
        What the case does not show.
    """
    rivals = list(rivals)
    heads = ("name", "statement", "verdict", "reason")
    said = ("text", "role", "criterion")
    seen = (*said, "verdict", "detail", "flips", "written")
    found: dict[Rows, Place] = {}
    for rival in rivals:
        words = f"Predictions of {rival['name']}"
        rows = tuple(tuple(p[k] for k in said) for p in rival["predictions"])
        notes = (text_of(f"Mechanism: {rival.get('mechanism')}"),)
        found[rows] = Place(f"rival-{rival['anchor']}", words, notes)
    answer = tuple(tuple(rival[k] for k in heads) for rival in rivals)
    found[answer] = Place("answer", "The short answer")
    judged = tuple(
        (rival["name"], *(p[k] for k in seen))
        for rival in rivals
        for p in rival["predictions"]
    )
    found[judged] = Place("evidence", "Evidence, rival by rival")
    for table in tables:
        place = Place(table.anchor, table.title or "the table", table.notes)
        found[tuple(row.cells for row in table.rows)] = place
    limits = list(limits)
    found[tuple((limit,) for limit in limits)] = _LIMITS
    found.pop((), None)
    return Elsewhere(found, pictures, frozenset(limits))


def link_instead(output: Mapping[str, Any], elsewhere: Elsewhere) -> str:
    """Return a link to where an output stands already, "" if it stands nowhere.

    Notes that do not stand there too are kept.

    Parameters
    ----------
    output : mapping
        An output of notebook format 4.

    Examples
    --------
    >>> page = Elsewhere({(("V_idle", "12.1 V"),): Place("table-v", "Values")}, {})
    >>> cells = "<tr><td>V_idle</td><td>12.1 V</td></tr>"
    >>> bench = f'<div class="bp"><table><tbody>{cells}</tbody></table></div>'
    >>> print(link_instead({"data": {"text/html": bench}}, page))
    <p class="wu-label">Shown above: <a href="#table-v">Values</a></p>
    """
    place = elsewhere.pictures.get(_description(output))
    if place is not None:
        return _link(place)
    lines = {text_of(line.lstrip("-• ")) for line in _printed(output).splitlines()}
    if lines - {""} and lines - {""} <= elsewhere.limits:
        return _link(_LIMITS)
    read = _read(output)
    place = elsewhere.tables.get(tuple(read.rows)) if read else None
    if read is None or place is None:
        return ""
    own = [note for note in read.notes if note not in place.notes]
    kept = "".join(f"<p>{html.escape(note)}</p>" for note in own)
    return _link(place) + (f'<div class="bp">{kept}</div>' if kept else "")


def _read(output: Mapping[str, Any]) -> _Cells | None:
    """Return the one table that an output of ours consists of."""
    markup = output.get("data", {}).get("text/html", "")
    markup = "".join(markup) if isinstance(markup, list) else str(markup)
    if 'class="bp"' not in markup:
        return None
    read = _Cells(markup)
    return read if read.tables == 1 else None


def _printed(output: Mapping[str, Any]) -> str:
    if output.get("output_type") != "stream" or output.get("name") != "stdout":
        return ""
    text = output.get("text", "")
    return "".join(text) if isinstance(text, list) else str(text)


def _description(output: Mapping[str, Any]) -> str:
    about = output.get("metadata", {}).get("text/html", {})
    return str(about.get("alt", "")) if isinstance(about, Mapping) else ""


def _link(place: Place) -> str:
    target, words = html.escape(place.anchor), html.escape(place.words)
    return f'<p class="wu-label">Shown above: <a href="#{target}">{words}</a></p>'


class _Cells(HTMLParser):
    """The rows of a table's body and the notes below it, as text."""

    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[tuple[str, ...]] = []
        self.notes: list[str] = []
        self.tables = 0
        self._row: list[str] = []
        self._words: list[str] | None = None
        self._in_body = False
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.tables += 1
        elif tag == "tbody":
            self._in_body = True
        elif tag == "tr":
            self._row = []
        elif tag in ("td", "th", "p"):
            self._words = []
        elif tag == "small":  # the word beside a struck row, no part of the cell
            self._close_cell("td")
            self._words = None

    def handle_endtag(self, tag: str) -> None:
        if tag == "tbody":
            self._in_body = False
        elif tag in ("td", "th", "p"):
            self._close_cell(tag)
        elif tag == "tr" and self._in_body:
            self.rows.append(tuple(self._row))

    def _close_cell(self, tag: str) -> None:
        if self._words is None:
            return
        text = text_of("".join(self._words))
        self._words = None
        if tag == "p":
            self.notes.append(text)
        else:
            self._row.append(text)

    def handle_data(self, data: str) -> None:
        if self._words is not None:
            self._words.append(data)

"""Outputs that the write-up shows in a section of its own: a link stands for them."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from benchproof.reasoning.verdicts import RULES
from benchproof.showing.page.benchtables import table_of
from benchproof.showing.page.pagetables import PageTable, text_of

__all__ = ["RULE_NOTES", "Elsewhere", "Place", "elsewhere_of", "link_instead"]

Rows = tuple[tuple[str, ...], ...]

_WORTH_A_LINK = 3
"""Rows; a smaller table of the notebook is read sooner than a link is followed."""


@dataclass(frozen=True)
class Place:
    """Where on the page something stands, with the notes that stand below it."""

    anchor: str
    words: str
    notes: tuple[str, ...] = ()


RULE_NOTES = tuple(
    map(text_of, ("Rules, the first that fits gives the verdict:", *RULES))
)
"""Notes below each table of verdicts; a page says them once."""

_LIMITS = Place("limits", "What this does not show")


@dataclass(frozen=True)
class Elsewhere:
    """What the sections show: tables by their cells, pictures by their description."""

    tables: dict[Rows, Place]
    pictures: Mapping[str, Place]
    limits: frozenset[str] = frozenset()

    def remember(self, output: Mapping[str, Any], place: Place) -> None:
        """Count a table that an output shows among those shown above."""
        read = table_of(output)
        if read is not None and len(read.rows) >= _WORTH_A_LINK:
            whole = Place(place.anchor, place.words, read.notes)
            self.tables.setdefault(_cells_of(read), whole)


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
        found[_cells_of(table)] = place
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
    read = table_of(output)
    place = elsewhere.tables.get(_cells_of(read)) if read else None
    if read is None or place is None:
        return ""
    own = [note for note in read.notes if note not in (*place.notes, *RULE_NOTES)]
    kept = "".join(f"<p>{html.escape(note)}</p>" for note in own)
    return _link(place) + (f'<div class="bp">{kept}</div>' if kept else "")


def _cells_of(table: PageTable) -> Rows:
    return tuple(row.cells for row in table.rows)


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

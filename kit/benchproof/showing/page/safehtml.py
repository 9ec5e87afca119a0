"""Foreign HTML made harmless: an allow-list, and nothing that fetches or runs.

The allow-list itself is kept by bleach. This module says what is on it and
finishes what is left: header cells get a scope, wide tables a box to scroll in,
pictures a description, outward links no way back.
"""

import re
from collections.abc import Iterator
from functools import partial
from typing import Any

from bleach.sanitizer import Cleaner

__all__ = ["PICTURE_SOURCE", "clean_html"]

TAG_NAMES = (
    "a abbr b blockquote br caption cite code col colgroup dd del details dfn div dl"
    " dt em figcaption figure h1 h2 h3 h4 h5 h6 hr i img ins kbd li mark ol p pre q s"
    " samp small span strong sub summary sup table tbody td tfoot th thead tr u ul"
    " var"
)
TAGS = frozenset(TAG_NAMES.split())
EVERYWHERE = frozenset({"class", "title", "lang", "dir"})
ATTRIBUTES = {
    "a": {"href"},
    "col": {"span"},
    "colgroup": {"span"},
    "details": {"open"},
    "img": {"src", "alt", "width", "height"},
    "ol": {"start"},
    "td": {"colspan", "rowspan"},
    "th": {"colspan", "rowspan", "scope"},
} | {f"h{level}": {"id"} for level in range(1, 7)}

LINK = re.compile(r"(?:https?://|mailto:|#)\S*\Z", re.IGNORECASE)
# Only picture formats, only in base64: nothing left for a parser to reinterpret.
PICTURE_SOURCE = re.compile(
    r"data:image/(?:png|jpeg|gif|webp|svg\+xml);base64,[A-Za-z0-9+/=]+\Z"
)
# Private-use characters stand for finished fragments (see `prose`). Inside an
# attribute the fragment's quotes would break out, so such an attribute goes.
HELD_MARKS = re.compile("[\ue000\ue001]")
# The write-up's own classes; a cell's output must not dress up as page furniture.
RESERVED_CLASS = re.compile(r"(?<!\S)wu-\S*")
HEADING = re.compile(r"h[1-6]\Z")
# Elements whose text is not for reading; dropping the tag alone would print it.
SILENT_NAMES = (
    "iframe math noembed noframes noscript object script select style svg template"
    " textarea title"
)
SILENT = frozenset(SILENT_NAMES.split())
# What a reader would otherwise have seen is named where it stood.
LEFT_OUT = {
    "iframe": "embedded page",
    "math": "formula",
    "object": "embedded object",
    "svg": "inline drawing",
}

Token = dict[str, Any]


def clean_html(html: str, *, place: str, show_refused: bool = False) -> str:
    """Return `html` with only what a page may show without running or fetching.

    Parameters
    ----------
    html : str
        Markup from a notebook, trusted in nothing.
    place : str
        Where it stands, as words for labels: ``"code cell 3"``.
    show_refused : bool
        True shows a refused tag as text (prose: the author typed it); False
        drops it, with the contents of scripts and style sheets (outputs).

    Returns
    -------
    str
        Balanced markup without scripts, styles, event handlers or addresses that
        a browser would fetch by itself. Tables stand in a box of their own.

    Examples
    --------
    >>> clean_html('<b onclick="x()">12.1 V</b><script>y()</script>', place="cell 1")
    '<b>12.1 V</b>'
    """
    cleaner = Cleaner(
        # The cleaner lets silent elements pass so that the filter, which knows
        # where they end, can drop them whole.
        tags=TAGS if show_refused else TAGS | SILENT,
        attributes=partial(_is_allowed, with_anchors=show_refused),
        protocols={"http", "https", "mailto", "data"},
        strip=not show_refused,
        filters=[partial(_finished, place=place)],
    )
    return str(cleaner.clean(html))


def _is_allowed(tag: str, name: str, value: str, *, with_anchors: bool) -> bool:
    """Tell whether `tag` may carry the attribute `name` with this `value`."""
    if name not in EVERYWHERE and name not in ATTRIBUTES.get(tag, ()):
        return False
    if HELD_MARKS.search(value):
        return False
    if name == "href":
        return LINK.match(value) is not None
    if name == "src":
        return PICTURE_SOURCE.match(value) is not None
    if name == "id":
        return with_anchors and value.startswith("nb-")
    return True


def _finished(source: Iterator[Token], place: str) -> Iterator[Token]:
    """Pass the cleaned tokens on, finished for a reader."""
    depth, count, in_head = 0, 0, False
    for token in _below_the_sections(_without_empty_heads(_without_silent(source))):
        kind, name = token["type"], token.get("name")
        if kind in {"StartTag", "EmptyTag"}:
            token["data"] = _without_reserved_classes(token["data"])
        if name == "thead":
            in_head = kind == "StartTag"
        if name == "table" and kind == "StartTag":
            depth += 1
            count += depth == 1
            if depth == 1:
                yield _scroll_box(f"Table {count} in {place}")
        if kind == "StartTag" and name in FINISHERS:
            FINISHERS[name](token["data"], in_head)
        yield _described(token, place) if name == "img" else token
        if name == "table" and kind == "EndTag":
            depth -= 1
            if depth == 0:
                yield {"type": "EndTag", "name": "div", "namespace": None, "data": {}}


def _without_silent(source: Iterator[Token]) -> Iterator[Token]:
    """Drop silent elements with all they hold; name those a reader would miss."""
    depth = 0
    for token in source:
        kind, name = token["type"], token.get("name")
        if kind in {"StartTag", "EmptyTag"} and name in SILENT:
            if name in LEFT_OUT and depth == 0:
                yield {"type": "Characters", "data": f"[{LEFT_OUT[name]} left out]"}
            depth += kind == "StartTag"
        elif kind == "EndTag" and name in SILENT:
            depth -= 1
        elif depth == 0:
            yield token


def _without_empty_heads(source: Iterator[Token]) -> Iterator[Token]:
    """Make a header cell without words a plain cell: it heads nothing."""
    held: list[Token] = []
    for token in source:
        is_head = token.get("name") == "th"
        if is_head and token["type"] == "StartTag":
            yield from held
            held = [token]
        elif held and token["type"] == "SpaceCharacters":
            held.append(token)
        else:
            if held and is_head:
                held[0]["name"] = token["name"] = "td"
                held[0]["data"].pop((None, "scope"), None)
            yield from held
            held = []
            yield token
    yield from held


def _below_the_sections(source: Iterator[Token]) -> Iterator[Token]:
    """Set headings that no contents list leads to at the lowest level."""
    renamed: list[bool] = []
    for token in source:
        if HEADING.match(token.get("name") or ""):
            if token["type"] == "StartTag":
                renamed.append((None, "id") not in token["data"])
            is_renamed = renamed[-1] if token["type"] == "StartTag" else renamed.pop()
            token["name"] = "h6" if is_renamed else token["name"]
        yield token


def _without_reserved_classes(data: dict[Any, str]) -> dict[Any, str]:
    """Return the attributes with page-furniture classes removed."""
    key = (None, "class")
    if key not in data:
        return data
    kept = " ".join(RESERVED_CLASS.sub("", data[key]).split())
    others = {name: value for name, value in data.items() if name != key}
    return others | ({key: kept} if kept else {})


def _scroll_box(label: str) -> Token:
    """Open the box that a wide table scrolls in, reachable by keyboard."""
    data = {"class": "wu-scroll", "tabindex": "0", "role": "region"}
    data["aria-label"] = label
    return {
        "type": "StartTag",
        "name": "div",
        "namespace": None,
        "data": {(None, name): value for name, value in data.items()},
    }


def _described(token: Token, place: str) -> Token:
    """Return a picture with a description, or words where it was refused."""
    data = token["data"]
    alt = data.get((None, "alt"), "")
    if (None, "src") not in data:
        words = f"[picture not embedded: {alt or 'no description'}]"
        return {"type": "Characters", "data": words}
    data[(None, "alt")] = alt or f"Picture in {place}; its author gave no description"
    return token


def _finish_header_cell(data: dict[Any, str], in_head: bool) -> None:
    if data.get((None, "scope")) not in {"col", "row", "colgroup", "rowgroup"}:
        data[(None, "scope")] = "col" if in_head else "row"


def _finish_link(data: dict[Any, str], in_head: bool) -> None:
    if not data.get((None, "href"), "#").startswith("#"):
        data[(None, "rel")] = "noopener noreferrer"


def _finish_listing(data: dict[Any, str], in_head: bool) -> None:
    data[(None, "tabindex")] = "0"


FINISHERS = {"th": _finish_header_cell, "a": _finish_link, "pre": _finish_listing}

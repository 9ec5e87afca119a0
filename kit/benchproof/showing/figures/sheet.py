"""Drawings of lines, marks and words that we write ourselves, in points.

A page is published without a plotting library, and in a few kilobytes per drawing.
A PNG of the same drawing is left to matplotlib.
"""

from __future__ import annotations

import html
import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Area", "Line", "Mark", "Sheet", "Words", "lines_of"]

INK, MEASURED, LIMIT = "#1f2933", "#0b6e99", "#b4540a"
"""Blue and orange stay apart for every common kind of colour vision."""

_GRID = "#c4c9cf"
_STROKES: Mapping[str, tuple[str, float, str]] = {
    "axis": (INK, 0.8, ""),
    "grid": (_GRID, 0.6, ""),
    "bar": (MEASURED, 2.0, ""),
    "limit": (LIMIT, 1.5, "5 2.4"),
    "open": (INK, 1.0, "1 1.8"),
}
"""By kind of line: colour, width and dashes."""
_FILLS = {"shade": "#f7ebe1", "tone": "#e2e7eb", "covered": MEASURED}
_PAPER = "#fff"
_DARK: Mapping[str, str] = {
    _PAPER: "#17181b", INK: "#e6e5e1", MEASURED: "#58b4de", LIMIT: "#ee9a5f",
    _GRID: "#3f4249", "#f7ebe1": "#3a2d23", "#e2e7eb": "#3a3e46",
}  # fmt: skip
"""What takes the place of each colour where the reader prefers a dark page."""
_SHAPES: Mapping[str, str] = {
    "circle": "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z",
    "square": "m-3-3h6v6h-6z",
    "diamond": "m0-4l4 4-4 4-4-4z",
    "cross": "m-3-3l6 6m0-6l-6 6",
    "right": "m3.5 0l-7-3.5v7z",
    "left": "m-3.5 0l7-3.5v7z",
}
"""Each around its place, as SVG says it from there."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; with `ends`, short strokes across it at both ends."""

    points: tuple[tuple[float, float], ...]
    kind: str = "axis"
    ends: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle without an edge: its upper left corner, width and height."""

    x: float
    y: float
    width: float
    height: float
    kind: str = "shade"


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark whose shape says what it is; `hollow` ones are white inside."""

    x: float
    y: float
    shape: str
    hollow: bool = False
    ink: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text on a base line that is `y`."""

    x: float
    y: float
    text: str
    anchor: str = "start"
    size: float = 9.0
    bold: bool = False


Part = Line | Area | Mark | Words


@dataclass(frozen=True)
class Sheet:
    """A drawing on white, or dark, paper; what comes later lies above what was there.

    Attributes
    ----------
    width, height : float
        In points, the origin in the upper left corner.
    parts : list of Line, Area, Mark or Words
    """

    width: float
    height: float
    parts: list[Part] = field(default_factory=list)

    def add(self, *parts: Part) -> None:
        """Draw these above what is there."""
        self.parts.extend(parts)

    @property
    def words(self) -> list[str]:
        """Return every line of text, in the order it was drawn."""
        return [p.text for p in self.parts if isinstance(p, Words)]

    def svg(self) -> str:
        """Return it as SVG; the same drawing is the same text.

        Examples
        --------
        >>> sheet = Sheet(100, 20, [Words(4, 14, "12.1 V < 13 V")])
        >>> print(sheet.svg()[-48:])
        <text x="4" y="14">12.1 V &lt; 13 V</text></svg>
        """
        size = f'width="{_n(self.width)}pt" height="{_n(self.height)}pt"'
        box = f'viewBox="0 0 {_n(self.width)} {_n(self.height)}"'
        body = "".join(_written(part) for part in self.parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} '
            f'font-family="sans-serif" font-size="9" fill="{INK}">'
            f"<style>{_style(self.parts)}</style>"
            # Beyond its edges too, for a card of another shape.
            f'<path class="p" d="M-2e3-2e3h5e3v5e3h-5e3z"/>{body}</svg>'
        )

    def png(self, pixels: tuple[int, int]) -> bytes:
        """Return it as a picture, as large as fits its width and height, centred."""
        from benchproof.showing.figures.drawing import blank_card, written

        # As many points to an inch of the picture as make the drawing fill it.
        dpi = 72 * min(pixels[0] / self.width, pixels[1] / self.height)
        wide, high = (72 * n / dpi for n in pixels)
        left, top = (wide - self.width) / 2, (high - self.height) / 2
        figure = blank_card((wide / 72, high / 72))
        axes: Any = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set(xlim=(-left, wide - left), ylim=(high - top, -top))
        for part in self.parts:
            _painted(axes, part)
        return written(figure, "png", dpi)


def _n(number: float) -> str:
    """Write a place to a tenth of a point."""
    return f"{round(number, 1):.12g}"


def _style(parts: Iterable[Part]) -> str:
    """Write the rules of those kinds that occur, their colours for dark pages last."""
    kinds = {p.kind for p in parts if isinstance(p, Line | Area)}
    looks = [(k, *look) for k, look in _STROKES.items() if k in kinds]
    colours = [(".p", "fill", _PAPER)]
    colours += [(f".{kind}", "stroke", colour) for kind, colour, _, _ in looks]
    colours += [(f".{k}", "fill", c) for k, c in _FILLS.items() if k in kinds]
    shapes = [_stroke(*look) for look in looks]
    if any(isinstance(p, Mark) for p in parts):
        colours += [
            (f".{name}", what, colour)
            for name, colour in (("m", MEASURED), ("k", INK))
            for what in ("fill", "stroke")
        ]
        colours.append((".h", "fill", _PAPER))
        shapes.append(".x{stroke-width:2.4}")
    if any(isinstance(p, Words) and p.anchor == "end" for p in parts):
        shapes.append(".e{text-anchor:end}")
    light = "".join(f"{name}{{{what}:{colour}}}" for name, what, colour in colours)
    dark = "".join(
        f"{name}{{{what}:{_DARK[colour]}}}"
        for name, what, colour in [("svg", "fill", INK), *colours]
    )
    media = f"@media(prefers-color-scheme:dark){{{dark}}}"
    return f"{light}{''.join(shapes)}{media}"


def _stroke(kind: str, colour: str, width: float, dashes: str) -> str:
    dashed = f";stroke-dasharray:{dashes}" if dashes else ""
    return f".{kind}{{fill:none;stroke-width:{width:g}{dashed}}}"


def _written(part: Part) -> str:
    if isinstance(part, Words):
        bold = ' font-weight="700"' if part.bold else ""
        size = "" if part.size == 9 else f' font-size="{part.size:g}"'
        anchor = _ANCHORS.get(part.anchor, f' text-anchor="{part.anchor}"')
        text = html.escape(part.text, quote=False).replace("'", "&#39;")
        return (
            f'<text x="{_n(part.x)}" y="{_n(part.y)}"{anchor}{size}{bold}>{text}</text>'
        )
    if isinstance(part, Area):
        return (
            f'<path class="{part.kind}" d="M{_n(part.x)} {_n(part.y)}h{_n(part.width)}'
            f'v{_n(part.height)}h{_n(-part.width)}z"/>'
        )
    if isinstance(part, Mark):
        names = ["k" if part.ink else "m", "h" * part.hollow]
        names.append("x" * (part.shape == "cross"))
        return (
            f'<path class="{" ".join(filter(None, names))}" '
            f'd="M{_n(part.x)} {_n(part.y)}{_SHAPES[part.shape]}"/>'
        )
    path = "L".join(f"{_n(x)} {_n(y)}" for x, y in part.points)
    ends = "".join(f"M{_n(x)} {_n(y - 3)}v6" for x, y in _ends(part))
    return f'<path class="{part.kind}" d="M{path}{ends}"/>'


_ANCHORS = {"start": "", "end": ' class="e"'}


def lines_of(words: str, letters: float, most: int = 4) -> list[str]:
    """Break words over lines; what has no room is seen to be missing.

    >>> lines_of("the steady supply is that of round 1", 12, 2)
    ['the steady', 'supply is …']
    """
    return textwrap.wrap(words, int(letters), max_lines=most, placeholder=" …")


def _ends(line: Line) -> tuple[tuple[float, float], ...]:
    return (line.points[0], line.points[-1]) if line.ends else ()


# On a picture --------------------------------------------------------------------

_MARKERS = {
    "circle": ("o", 6), "square": ("s", 6), "diamond": ("D", 5.6), "cross": ("x", 6),
    "right": (">", 7), "left": ("<", 7),
}  # fmt: skip


def _painted(axes: Any, part: Part) -> None:
    """Draw a part with matplotlib, one unit of the axes to a point."""
    if isinstance(part, Words):
        axes.text(
            part.x, part.y, part.text, ha={"start": "left", "end": "right"}.get(
                part.anchor, "center"), va="baseline", fontsize=part.size, color=INK,
            weight="bold" if part.bold else "normal", parse_math=False,
        )  # fmt: skip
    elif isinstance(part, Area):
        across, down = (part.x, part.x + part.width), (part.y, part.y + part.height)
        axes.fill_between(across, *down, color=_FILLS[part.kind], linewidth=0)
    elif isinstance(part, Mark):
        marker, size = _MARKERS[part.shape]
        colour = INK if part.ink else MEASURED
        axes.plot(
            part.x, part.y, marker, markersize=size, color=colour,
            markerfacecolor="white" if part.hollow else colour,
            markeredgewidth=2.4 if part.shape == "cross" else 1,
        )  # fmt: skip
    else:
        colour, width, dashes = _STROKES[part.kind]
        style: Any = {"color": colour, "linewidth": width, "solid_capstyle": "butt"}
        if dashes:
            on, off = map(float, dashes.split())
            style["linestyle"] = (0, (on / width, off / width))
        axes.plot(*zip(*part.points, strict=True), **style)
        for x, y in _ends(part):
            axes.plot((x, x), (y - 3, y + 3), **style)

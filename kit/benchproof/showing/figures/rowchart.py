"""Rows along one axis: a label on the left, marks in the middle, words on the right."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchproof.showing.figures.sheet import (
    Area,
    Line,
    Mark,
    Part,
    Sheet,
    Words,
    lines_of,
)

__all__ = ["Axis", "Key", "Row", "chart_of", "round_steps"]

_WIDTH = 576.0
"""Points, as wide as the text of a page."""
_LEFT, _RIGHT, _ABOVE, _BELOW = 216.0, 96.0, 30.0, 42.0
"""Points for labels, for the words at the end of rows, for keys, for the axis."""
_ROW, _LINE = 30.0, 10.5
"""Points for a row with one or two lines of words, and for one line."""
_LETTER = 5.4
"""Points, at most on average: the width of a letter nine points high."""


@dataclass(frozen=True, slots=True)
class Axis:
    """What the rows are drawn along.

    Attributes
    ----------
    low, high : float
        Its ends.
    ticks : sequence of float
    caption : str
        Quantity and unit.
    shaded : (float, float) or None
        A stretch that means something, as the caption says.
    limit : float or None
        A dashed line through all rows.
    """

    low: float
    high: float
    ticks: Sequence[float]
    caption: str
    shaded: tuple[float, float] | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One row, its places in units of the axis.

    Attributes
    ----------
    label, beside : str
        Left and right of it.
    at : float or None
        Where its mark stands.
    shape : str
        Of the mark; see `sheet`.
    bar : (float, float) or None
        An interval.
    limits : sequence of float
        Short dashed lines at this row only.
    arrows : sequence of float
        Ends of arrows that start at 0: only the side is known.
    """

    label: str
    beside: str
    at: float | None = None
    shape: str = "circle"
    hollow: bool = False
    bar: tuple[float, float] | None = None
    limits: Sequence[float] = ()
    arrows: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Key:
    """A mark or a kind of line, and what it means."""

    words: str
    shape: str = ""
    hollow: bool = False
    line: str = ""


def chart_of(rows: Sequence[Row], axis: Axis, keys: Sequence[Key]) -> Sheet:
    """Draw rows along an axis, with the keys of their marks above.

    Examples
    --------
    >>> axis = Axis(0, 100, (0, 50, 100), "share in %")
    >>> sheet = chart_of([Row("lost", "17 of 20", 85, bar=(62, 97))], axis, [])
    >>> sheet.width, sheet.words
    (576.0, ['0', '50', '100', 'share in %', 'lost', '17 of 20'])
    """
    words = [_wrapped(row) for row in rows]
    highs = [max(_ROW, _LINE * max(map(len, said)) + 7) for said in words]
    sheet = Sheet(_WIDTH, sum(highs) + _ABOVE + _BELOW)
    span = sheet.width - _LEFT - _RIGHT

    def across(value: float) -> float:
        return _LEFT + span * (value - axis.low) / (axis.high - axis.low)

    _draw_axis(sheet, axis, across)
    y = _ABOVE
    for row, said, high in zip(rows, words, highs, strict=True):
        middle = y + high / 2
        sheet.add(*_labels(said, middle, sheet.width), *_marks(row, middle, across))
        y += high
    sheet.add(*_keys(keys))
    return sheet


def round_steps(low: float, high: float) -> list[float]:
    """Return four to eight round numbers between two ends, `low` below `high`.

    Examples
    --------
    >>> round_steps(380, 424)
    [380.0, 390.0, 400.0, 410.0, 420.0]
    """
    rough = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (5, 2, 1) if power * m <= rough)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [float(f"{step * i:.12g}") for i in range(first, last + 1)]


def _draw_axis(sheet: Sheet, axis: Axis, across: Callable[[float], float]) -> None:
    top, foot = _ABOVE, sheet.height - _BELOW
    if axis.shaded:
        x, end = map(across, axis.shaded)
        sheet.add(Area(x, top, end - x, foot - top))
    for tick in axis.ticks:
        x = across(tick)
        text = f"{tick:g}".replace("-", "\N{MINUS SIGN}")
        sheet.add(
            Line(((x, top), (x, foot)), "grid"), Words(x, foot + 13, text, "middle")
        )
    sheet.add(Line(((across(axis.low), foot), (across(axis.high), foot))))
    if axis.limit is not None:
        x = across(axis.limit)
        sheet.add(Line(((x, top), (x, foot)), "limit"))
    middle = across((axis.low + axis.high) / 2)
    sheet.add(Words(middle, foot + 29, axis.caption, "middle"))


def _wrapped(row: Row) -> tuple[list[str], list[str]]:
    return (
        lines_of(row.label, _LEFT / _LETTER - 2),
        lines_of(row.beside, _RIGHT / _LETTER - 1),
    )


def _labels(words: tuple[list[str], list[str]], y: float, width: float) -> list[Part]:
    left, right = words
    return [
        Words(x, y + 3 + _LINE * (i - (len(lines) - 1) / 2), text, anchor)
        for x, anchor, lines in (
            (_LEFT - 6, "end", left),
            (width - _RIGHT + 6, "start", right),
        )
        for i, text in enumerate(lines)
    ]


def _marks(row: Row, y: float, across: Callable[[float], float]) -> list[Part]:
    parts: list[Part] = []
    if row.bar:
        parts.append(Line(tuple((across(x), y) for x in row.bar), "bar", ends=True))
    for limit in row.limits:
        x = across(limit)
        parts.append(Line(((x, y - 10), (x, y + 10)), "limit"))
    for end in row.arrows:
        parts.append(Line(((across(0), y), (across(end), y)), "open"))
        shape = "right" if end > 0 else "left"
        parts.append(Mark(across(end), y, shape, ink=True))
    if row.at is not None:
        parts.append(Mark(across(row.at), y, row.shape, row.hollow))
    return parts


def _keys(keys: Sequence[Key]) -> list[Part]:
    parts: list[Part] = []
    x = 8.0
    for key in keys:
        if key.shape:
            parts.append(Mark(x + 4, 13, key.shape, key.hollow))
        else:
            parts.append(Line(((x - 4, 13), (x + 10, 13)), key.line))
        parts.append(Words(x + 14, 16, key.words))
        x += 14 + _LETTER * len(key.words) + 18
    return parts

"""Callouts on a photograph: a ring, a line and words that read on any ground."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchproof.values.errors import InputError

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

Callout = tuple[float, float, str]
"""Where it points, as fractions of width and height from the upper left; a label."""

Box = tuple[float, float, float, float]

_WHITE, _BLACK = (255, 255, 255), (0, 0, 0)
_LONGEST_LINE = 28
_AWAY = ((1, -1), (1, 1), (-1, -1), (-1, 1), (1, 0), (-1, 0), (0, -1), (0, 1))
"""Directions in which a label may lie from its point, the first that has room."""


def draw_callouts(image: Image, callouts: Sequence[Callout], where: str) -> None:
    """Draw callouts on a picture, in place.

    Lines and letters are white on black, which reads on light and dark parts alike.
    Labels stay inside the picture, and off each other where there is room.

    Parameters
    ----------
    image : PIL.Image.Image
        RGB.
    callouts : sequence of (float, float, str)
        x from the left and y from the top, as fractions 0 to 1 of the picture as it
        is shown, and the label.
    where : str
        Named in messages.

    Raises
    ------
    InputError
        If a point lies outside the picture or a label is empty.
    """
    from PIL.ImageDraw import Draw

    draw = Draw(image)
    points = [_point(image, number, c, where) for number, c in enumerate(callouts, 1)]
    taken: list[Box] = [_around(point, _ring(image)) for point in points]
    for point, (_, _, label) in zip(points, callouts, strict=True):
        words = "\n".join(textwrap.wrap(label.strip(), _LONGEST_LINE))
        box = _room_for(draw, words, point, image.size, taken)
        taken.append(box)
        _draw(draw, point, box, words, image)


def _point(
    image: Image, number: int, callout: Callout, where: str
) -> tuple[float, float]:
    x, y, label = callout
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise InputError(
            f"{where}, callout {number}: ({x}, {y}) lies outside the picture. Give "
            "fractions of its width and height, 0 to 1, from the upper left corner."
        )
    if not label.strip():
        raise InputError(f"{where}, callout {number}: say what is there.")
    return x * (image.width - 1), y * (image.height - 1)


def _ring(image: Image) -> float:
    """Radius of the ring around a point, in pixels."""
    return max(5.0, max(image.size) / 110)


def _around(point: tuple[float, float], radius: float) -> Box:
    x, y = point
    return x - radius, y - radius, x + radius, y + radius


@cache
def _font(size: int) -> Any:
    """Return letters that know Ω, µ and °; matplotlib brings them along."""
    import matplotlib
    from PIL import ImageFont

    path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
    return ImageFont.truetype(path, size)


def _letters(size: tuple[int, int]) -> int:
    """Height of letters in pixels: one 38th of the longer side, 11 at least."""
    return max(11, round(max(size) / 38))


def _room_for(
    draw: ImageDraw,
    words: str,
    point: tuple[float, float],
    size: tuple[int, int],
    taken: list[Box],
) -> Box:
    """Find a place for a label: inside, and on nothing else if possible."""
    left, top, right, bottom = draw.multiline_textbbox(
        (0, 0), words, font=_font(_letters(size)), stroke_width=_stroke(size)
    )
    label = (right - left, bottom - top)
    places = list(_places(point, label, size))
    return min(places, key=lambda box: sum(_overlap(box, other) for other in taken))


def _places(
    point: tuple[float, float], label: tuple[float, float], size: tuple[int, int]
) -> Iterator[Box]:
    """Yield places around a point, nearer ones first, each clamped to the picture."""
    step = 2.2 * _letters(size)
    margin = 0.3 * _letters(size)
    for times in (1, 2, 4):
        for across, down in _AWAY:
            x = point[0] + across * (times * step + label[0] / 2) - label[0] / 2
            y = point[1] + down * (times * step + label[1] / 2) - label[1] / 2
            x = max(margin, min(x, size[0] - margin - label[0]))
            y = max(margin, min(y, size[1] - margin - label[1]))
            yield x, y, x + label[0], y + label[1]


def _overlap(box: Box, other: Box) -> float:
    width = min(box[2], other[2]) - max(box[0], other[0])
    height = min(box[3], other[3]) - max(box[1], other[1])
    return max(width, 0.0) * max(height, 0.0)


def _stroke(size: tuple[int, int]) -> int:
    return max(2, _letters(size) // 7)


def _draw(
    draw: ImageDraw, point: tuple[float, float], box: Box, words: str, image: Image
) -> None:
    thin = max(2, round(max(image.size) / 500))
    ring = _around(point, _ring(image))
    edge = (_nearest(point[0], box[0], box[2]), _nearest(point[1], box[1], box[3]))
    start = _towards(point, edge, _ring(image))
    for colour, width in ((_BLACK, 3 * thin), (_WHITE, thin)):
        if start is not None:
            draw.line([start, edge], fill=colour, width=width)
        draw.ellipse(_grown(ring, (width - thin) / 2), outline=colour, width=width)
    font, stroke = _font(_letters(image.size)), _stroke(image.size)
    left, top, *_ = draw.multiline_textbbox(
        (0, 0), words, font=font, stroke_width=stroke
    )
    draw.multiline_text(
        (box[0] - left, box[1] - top), words, font=font, fill=_WHITE,
        stroke_width=stroke, stroke_fill=_BLACK,
    )  # fmt: skip


def _grown(box: Box, by: float) -> Box:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def _nearest(value: float, low: float, high: float) -> float:
    return max(low, min(value, high))


def _towards(
    point: tuple[float, float], edge: tuple[float, float], radius: float
) -> tuple[float, float] | None:
    """Return where a line to the label leaves the ring, None if it never does."""
    dx, dy = edge[0] - point[0], edge[1] - point[1]
    length = float((dx * dx + dy * dy) ** 0.5)
    if length <= radius:
        return None
    return point[0] + dx * radius / length, point[1] + dy * radius / length

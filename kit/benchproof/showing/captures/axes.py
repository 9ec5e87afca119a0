"""The axes of a plotted record: engineering units, and room for what is said below."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchproof.showing.figures.drawing import INK, card, plain
from benchproof.values.quantities import engineering, rounded
from benchproof.values.units import Unit

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TIMES = ((1.0, "s"), (1e3, "ms"), (1e6, "µs"), (1e9, "ns"), (1e12, "ps"))
_FAR = 1e4
"""Spans from zero at which a window's times no longer fit beside the ticks."""

_LEFT, _RIGHT, _ROW, _LINE = 0.95, 0.2, 0.22, 0.155
"""Inches: beside the axes, of a row above them, of a small line below them."""


@dataclass(frozen=True, slots=True)
class Scale:
    """How numbers in SI are written along an axis.

    Attributes
    ----------
    factor, zero : float
        ``shown = factor · (si - zero)``.
    symbol : str
        Unit of what is shown.
    decimals : int
        Of a number written with `text`.
    """

    factor: float
    zero: float
    symbol: str
    decimals: int

    def text(self, si: float) -> str:
        """Write one number with its unit."""
        number = round(self.factor * (si - self.zero), self.decimals) + 0.0  # no -0
        return f"{number:.{self.decimals}f} {self.symbol}".rstrip()


def time_scale(begin: float, end: float) -> Scale:
    """Return the scale of a time axis, in s, ms, µs, ns or ps by its length.

    Parameters
    ----------
    begin, end : float
        In s, begin < end. Far from zero the axis counts from `begin`.

    Examples
    --------
    >>> time_scale(-0.001, 0.004).text(0.00123)
    '1.2300 ms'
    >>> time_scale(1000.0, 1000.00002).zero
    1000.0
    """
    span = end - begin
    # A rounding error must not turn 1 ms into 1000 µs.
    fitting = (t for t in _TIMES if span * t[0] > 1 - 1e-9)
    factor, symbol = next(fitting, _TIMES[-1])
    is_far = max(abs(begin), abs(end)) > _FAR * span
    return Scale(
        factor, begin if is_far else 0.0, symbol, _decimals(factor * span / 1e4)
    )


def value_scale(unit: Unit, low: float, high: float) -> Scale:
    """Return the scale of values: the record's own unit, with a prefix if tiny or huge.

    Parameters
    ----------
    low, high : float
        In SI, of all that is drawn.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> value_scale(unit_of("V"), 0.0, 12.0).text(8.8)
    '8.80 V'
    >>> value_scale(unit_of("A"), 0.0, 5e-6).text(1e-6)
    '1.000 µA'
    """
    largest = max(abs(unit.from_si(low)), abs(unit.from_si(high)))
    more, symbol = engineering(largest, unit.symbol)
    factor = more / unit.factor
    return Scale(factor, unit.offset, symbol, _decimals(factor * (high - low) / 1e3))


def _decimals(step: float) -> int:
    """Return the decimals that tell such a step apart."""
    return max(0, math.ceil(-math.log10(step))) if step > 0 else 3


def duration_text(seconds: float, u: float) -> str:
    """Write a duration with its standard uncertainty, in the unit that fits it.

    Examples
    --------
    >>> duration_text(0.010004, 0.00003)
    '10.004 ± 0.030 ms'
    """
    scale = time_scale(0.0, seconds) if seconds > 0 else time_scale(0.0, 1.0)
    return stated(seconds * scale.factor, u * scale.factor, scale.symbol)


def stated(value: float, u: float, symbol: str) -> str:
    """Write a value with its standard uncertainty, or that none is known.

    Examples
    --------
    >>> stated(8.4213, 0.021, "V"), stated(8.4, 0.0, "V")
    ('8.421 ± 0.021 V', '8.4 V (u not known)')
    """
    number, digits = rounded(value, u)
    if not (math.isfinite(u) and u > 0):
        return f"{number} {symbol} (u not known)"
    return f"{number} ± {digits} {symbol}".rstrip()


def sheet(
    title: str, lines: Sequence[str], rows: int = 1, heights: Sequence[float] = (2.9,)
) -> tuple[Figure, list[Axes]]:
    """Make axes below each other on a card, with a title and lines of small text.

    Parameters
    ----------
    title : str
        Above the explanation of marks; may be empty.
    lines : sequence of str
        Below, at the lower edge; long ones are broken.
    rows : int
        Of the explanation of marks.
    heights : sequence of float
        Of the axes, in inches, from the top.
    """
    words = "\n".join(plain(line, 130) for line in lines if line)
    below = 0.55 + _LINE * (words.count("\n") + 1)
    above = 0.12 + _ROW * (rows + bool(title))
    total = above + sum(heights) + 0.12 * (len(heights) - 1) + below
    figure, first = card(total, sides=(_LEFT, _RIGHT))
    figure.subplots_adjust(bottom=below / total, top=1 - above / total)
    # Fixed room: to fit it to the words takes as long as all the rest.
    gap = 0.12 * len(heights) / sum(heights)
    grid = figure.add_gridspec(len(heights), 1, height_ratios=heights, hspace=gap)
    first.set_subplotspec(grid[0])
    axes = [first]
    for row in range(1, len(heights)):
        axes.append(_like_first(figure.add_subplot(grid[row], sharex=first)))
        axes[row - 1].tick_params(labelbottom=False)
    for each in axes:
        each.grid(axis="y", alpha=0.25)
        each.set_axisbelow(True)
    figure.text(
        0.12 / 8, 0.08 / total, words, fontsize=8, color=INK, va="bottom",
        linespacing=1.3,
    )  # fmt: skip
    if title:
        figure.text(
            _LEFT / 8, 1 - 0.06 / total, title, va="top", color=INK,
            fontweight="bold", parse_math=False,
        )  # fmt: skip
    return figure, axes


def _like_first(axes: Axes) -> Axes:
    axes.set_facecolor("white")
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", alpha=0.25)
    return axes


def explain_rows(
    figure: Figure, handles: Sequence[Artist], title: str, columns: int
) -> None:
    """Say between title and axes what the marks mean.

    Parameters
    ----------
    columns : int
        Explanations in a row; as many rows as `sheet` was told of.
    """
    height = figure.get_figheight()
    figure.legend(
        handles=list(handles), loc="upper left", ncols=columns, frameon=False,
        bbox_to_anchor=(_LEFT / 8 - 0.015, 1 - (_ROW * bool(title)) / height),
        borderaxespad=0.2, columnspacing=1.4, handletextpad=0.5, labelspacing=0.25,
        labelcolor=INK, fontsize=9,
    )  # fmt: skip


def explanation(words: str, **style: Any) -> Artist:
    """Return a line that stands for what it looks like, with words."""
    from matplotlib.lines import Line2D

    return Line2D([], [], label=words, **style)


def label(axes: Axes, time: Scale, value: Scale, what: str, clock: str) -> None:
    """Write units at both axes, plain numbers at the ticks.

    Parameters
    ----------
    what : str
        Whose values, e.g. the channel.
    clock : str
        What the time counts from, e.g. "trigger".
    """
    if time.zero:
        clock = f"time after {time.zero:.12g} s"
    axes.set_xlabel(f"{clock} in {time.symbol}", color=INK)
    unit = f" in {value.symbol}" if value.symbol else ""
    axes.set_ylabel(plain(f"{what}{unit}", 26), color=INK)
    axes.ticklabel_format(useOffset=False, style="plain")
    axes.margins(x=0)

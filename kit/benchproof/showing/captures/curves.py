"""A record as it is drawn: samples where there is room, else all they span."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from numbers import Integral
from typing import TYPE_CHECKING, Any

import numpy as np

from benchproof.measuring.captures.stated import in_si
from benchproof.measuring.captures.trace import BLOCK, Floats, Trace
from benchproof.showing.captures.axes import Scale
from benchproof.showing.figures.drawing import MEASURED
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLUMNS = 1200
"""Points of an envelope: two on each point (1/72 inch) of the card's axes."""

_DOTS = 60
"""Samples up to which each is shown as a dot."""

Border = int | str | None
"""A sample number, or a time with its unit on the record's axis: "12 ms"."""


@dataclass(frozen=True)
class Curve:
    """Least and greatest value of each point drawn.

    Attributes
    ----------
    trace : Trace
    bounds : array of int, shape (n + 1,)
        Point `i` covers the samples ``bounds[i]`` up to ``bounds[i + 1]``.
    low, high : array, shape (n,)
        In SI; the same array where every point is one sample.
    """

    trace: Trace
    bounds: np.ndarray[Any, np.dtype[np.int64]]
    low: Floats
    high: Floats

    @property
    def is_sampled(self) -> bool:
        """Whether every point is one sample."""
        return self.low is self.high

    @property
    def times(self) -> Floats:
        """Middle of each point on the record's axis, in s, shape (n,)."""
        middle = (self.bounds[:-1] + self.bounds[1:] - 1) / 2
        return np.asarray(self.trace.start + self.trace.interval * middle)

    @property
    def begin(self) -> float:
        """Time of the first sample drawn, in s."""
        return self.trace.time(float(self.bounds[0]))

    @property
    def end(self) -> float:
        """Time of the last sample drawn, in s."""
        return self.trace.time(float(self.bounds[-1] - 1))

    @cached_property
    def lowest(self) -> tuple[float, float]:
        """The least sample drawn, in SI, and its time, in s."""
        return self._extreme(int(self.low.argmin()), -1)

    @cached_property
    def highest(self) -> tuple[float, float]:
        """The greatest sample drawn, in SI, and its time, in s."""
        return self._extreme(int(self.high.argmax()), 1)

    def _extreme(self, point: int, sign: int) -> tuple[float, float]:
        first, last = int(self.bounds[point]), int(self.bounds[point + 1])
        inside = self.trace.values(first, last)
        at = int((sign * inside).argmax())
        return float(inside[at]), self.trace.time(first + at)

    def said(self) -> str:
        """Say what a point is."""
        if self.is_sampled:
            return "every sample drawn"
        each = -(-int(self.bounds[-1] - self.bounds[0]) // self.low.size)
        return f"each point: least and greatest of about {each} samples"


def curve_of(
    trace: Trace,
    first: Border = None,
    last: Border = None,
    zero: float = 0.0,
    columns: int = COLUMNS,
) -> Curve:
    """Return what is drawn of a record: no sample that stands out is lost.

    Parameters
    ----------
    first, last : int or str, optional
        As in a slice, or times such as "12 ms"; the record's ends if None.
    zero : float
        What such times count from, on the record's axis, in s.
    columns : int
        Points of an envelope.

    Raises
    ------
    InputError
        If fewer than two samples lie between, or some have no value.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> codes = np.zeros(100_000, dtype=np.int8)
    >>> codes[61_234] = -7
    >>> curve = curve_of(Trace("r", codes, 1e-6, Settings("scope", "CH1")))
    >>> curve.low.size, curve.lowest
    (1200, (-7.0, 0.061234))
    """
    begin, end = _borders(trace, first, last, zero)
    if end - begin <= 2 * columns:
        values = trace.values(begin, end)
        _refuse_gaps(trace, values)
        return Curve(trace, np.arange(begin, end + 1), values, values)
    if trace.summary is not None:
        shown = trace.envelope(columns, begin, end)
        return Curve(trace, shown.bounds, shown.low, shown.high)
    # Only this stretch is looked at: the rest may be long, or have gaps.
    part = replace(trace, codes=trace.codes[begin:end])
    for at in range(0, len(part), BLOCK):
        _refuse_gaps(trace, part.codes[at : at + BLOCK])
    shown = part.envelope(columns)
    return Curve(trace, shown.bounds + begin, shown.low, shown.high)


def _borders(trace: Trace, first: Border, last: Border, zero: float) -> tuple[int, int]:
    places = [_place(trace, border, zero) for border in (first, last)]
    begin, end, _ = slice(*places).indices(len(trace))
    if end - begin < 2:
        raise InputError(
            f"{trace.name}: from {first} to {last} there are {max(end - begin, 0)} "
            f"samples; it has {len(trace)}, from {trace.time(0):g} s to "
            f"{trace.time(len(trace) - 1):g} s. Give a wider window."
        )
    return begin, end


def _place(trace: Trace, border: Border, zero: float) -> int | None:
    if border is None or (
        isinstance(border, Integral) and not isinstance(border, bool)
    ):
        return border
    if not isinstance(border, str) or border.strip()[-1:].isdigit():
        raise InputError(
            f"{trace.name}: window border {border!r}. Give a sample number like 2000, "
            "or a time with its unit like '12 ms'."
        )
    time = in_si(border, unit_of("s"), f"{trace.name}, window")
    # A time before the record is its beginning, and no count from its end.
    return max(round((time + zero - trace.start) / trace.interval), 0)


def _refuse_gaps(trace: Trace, values: Any) -> None:
    if not np.isfinite(values).all():
        raise InputError(
            f"{trace.name} has gaps (samples without a value). Draw a stretch without "
            "them: give first and last."
        )


def draw(
    axes: Axes,
    curve: Curve,
    time: Scale,
    value: Scale,
    shift: float = 0.0,
    **style: Any,
) -> None:
    """Draw a record as one line, or as the area its samples span.

    Parameters
    ----------
    shift : float
        Taken off its times, in s.
    **style
        Of the line or area; blue and solid if not given.
    """
    x = time.factor * (curve.times - shift - time.zero)
    y = [value.factor * (v - value.zero) for v in (curve.low, curve.high)]
    # Round corners: a pointed one would reach beyond a spike.
    look: Any = {"linewidth": 0.9, **style}
    if "edgecolor" not in look:
        look.setdefault("color", MEASURED)
    if curve.is_sampled:
        kept = corners(y[0])
        if curve.low.size <= _DOTS:
            kept[:] = True
            look = {"marker": "o", "markersize": 3, **look}
        axes.plot(x[kept], y[0][kept], solid_joinstyle="round", **look)
        return
    low, high = corners(y[0]), corners(y[1])
    axes.fill(
        np.concatenate([x[high], x[low][::-1]]),
        np.concatenate([y[1][high], y[0][low][::-1]]),
        joinstyle="round", **look,
    )  # fmt: skip


def corners(values: Floats) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Tell which points a line needs: not those with an equal one on each side.

    Parameters
    ----------
    values : array, shape (n,)

    Returns
    -------
    array of bool, shape (n,)

    Examples
    --------
    >>> corners(np.array([1.0, 1.0, 1.0, 5.0, 1.0])).tolist()
    [True, False, True, True, True]
    """
    kept = np.ones(values.shape, dtype=bool)
    step = values[1:] != values[:-1]
    kept[1:-1] = step[1:] | step[:-1]
    return kept


def scale_axes(
    axes: Axes,
    curves: Sequence[Curve],
    ends: Sequence[float],
    time: Scale,
    value: Scale,
    below: float,
    shifts: Sequence[float] = (0.0,),
) -> None:
    """Set the limits of both axes.

    Parameters
    ----------
    ends : sequence of float
        Values that are to be seen, in SI.
    below : float
        Room under the lowest, as a share of the span of `ends`.
    shifts : sequence of float
        Taken off the times of each curve, in s.
    """
    begin = min(c.begin - s for c, s in zip(curves, shifts, strict=True))
    end = max(c.end - s for c, s in zip(curves, shifts, strict=True))
    axes.set_xlim(*(time.factor * (t - time.zero) for t in (begin, end)))
    low, high = (value.factor * (v - value.zero) for v in (min(ends), max(ends)))
    span = high - low or max(abs(high) / 10, 1.0)
    axes.set_ylim(low - below * span, high + 0.06 * span)


def extremes_text(curve: Curve, time: Scale, value: Scale, zero: float = 0.0) -> str:
    """Say the least and the greatest sample drawn, with their times.

    Parameters
    ----------
    zero : float
        What the times count from, on the record's axis, in s.
    """
    (low, low_at), (high, high_at) = curve.lowest, curve.highest
    return (
        f"lowest sample {value.text(low)} at {time.text(low_at - zero)}, highest "
        f"{value.text(high)} at {time.text(high_at - zero)}"
    )


def segments(
    axes: Axes, time: Scale, left: Floats, right: Floats, level: Floats, **style: Any
) -> None:
    """Draw level lines as one path, each from its left to its right time.

    Parameters
    ----------
    left, right : array, shape (n,)
        In s.
    level : array, shape (n,)
        As shown, not in SI.
    **style
        Of the lines.
    """
    gap = np.full(left.shape, np.nan)
    x = np.column_stack([left, right, gap]).ravel()
    y = np.column_stack([level, level, gap]).ravel()
    axes.plot(time.factor * (x - time.zero), y, solid_capstyle="butt", **style)

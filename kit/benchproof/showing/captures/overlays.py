"""Several captures on one time axis, told apart without colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.delays import first_edge
from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.trace import Trace
from benchproof.showing.captures.axes import (
    Scale,
    explain_rows,
    explanation,
    label,
    sheet,
    time_scale,
    value_scale,
)
from benchproof.showing.captures.curves import (
    COLUMNS,
    Curve,
    curve_of,
    draw,
    extremes_text,
    scale_axes,
)
from benchproof.showing.figures.drawing import (
    INK,
    LIMIT,
    MEASURED,
    Drawing,
    plain,
    svg_of,
)
from benchproof.values.errors import InputError
from benchproof.values.units import require_same_dimension

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

_LOOKS: tuple[tuple[str, Any, str], ...] = (
    (MEASURED, "-", "o"),
    (LIMIT, "--", "s"),
    (INK, "-.", "^"),
    ("#6b7280", ":", "D"),
    ("#7a3e9d", (0, (6, 2)), "v"),
    ("#2f6b3a", (0, (3, 1, 1, 1, 1, 1)), "P"),
)
"""Colour, line and mark: each of the three tells the records apart."""


def figure_of_captures(
    traces: Sequence[Trace],
    *,
    at: str | Sequence[Finding] = "zero",
    first: str | None = None,
    last: str | None = None,
    title: str = "",
) -> Drawing:
    """Draw captures above each other on one time axis.

    Lines and marks differ as the colours do.

    Parameters
    ----------
    traces : sequence of Trace
        Two to six, of one dimension.
    at : "zero", "edge" or sequence of Finding
        What is drawn at time 0: the zero of each record's own axis (its trigger), the
        first edge of each, or instants such as ``captures.first_edge`` returns.
    first, last : str, optional
        Times from there, such as "-2 ms".
    title : str, optional

    Raises
    ------
    InputError
        If there are too few or too many, or an edge cannot be told.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> a, b = (np.repeat([0.0, 5.0], [n, 400 - n]) for n in (100, 127))
    >>> one = Trace("A", a, 1e-3, Settings("invented scope", "CH1"))
    >>> two = Trace("B", b, 1e-3, Settings("invented scope", "CH2"))
    >>> figure_of_captures([one, two], at="edge").alt[:40]
    '2 captures on one axis, each from its fi'
    """
    if not 2 <= len(traces) <= len(_LOOKS):
        raise InputError(
            f"{len(traces)} captures to be drawn together; give 2 to {len(_LOOKS)}, "
            "which can be told apart."
        )
    unit = traces[0].settings.unit
    for trace in traces:
        require_same_dimension(trace.settings.unit, unit, trace.name)
    zeros, mark = _zeros(traces, at)
    curves = [
        curve_of(t, first, last, zero, COLUMNS // len(traces))
        for t, zero in zip(traces, zeros, strict=True)
    ]
    spans = [(c.begin - z, c.end - z) for c, z in zip(curves, zeros, strict=True)]
    time = time_scale(min(b for b, _ in spans), max(e for _, e in spans))
    ends = [x for c in curves for x in (c.lowest[0], c.highest[0])]
    value = value_scale(unit, min(ends), max(ends))
    lines = _settings_of(curves)
    figure, (axes,) = sheet(title, lines, rows=-(-len(traces) // 2))
    handles = []
    for k, (curve, zero) in enumerate(zip(curves, zeros, strict=True)):
        handles.append(_draw_one_of(axes, k, curve, time, value, zero))
    scale_axes(axes, curves, ends, time, value, 0.06, zeros)
    label(axes, time, value, "value", f"time from each record's {mark}")
    explain_rows(figure, handles, title, 2)
    said = [
        f"{c.trace.name}: {extremes_text(c, time, value, zero)}; "
        f"{settings_line(c.trace)}"
        for c, zero in zip(curves, zeros, strict=True)
    ]
    head = f"{title + '. ' if title else ''}{len(traces)} captures on one axis"
    return Drawing(svg_of(figure), f"{head}, each from its {mark}. {'. '.join(said)}.")


def _settings_of(curves: Sequence[Curve]) -> list[str]:
    """Say the settings of each record, once for those that were set alike."""
    alike: dict[str, list[str]] = {}
    for curve in curves:
        said = f"{settings_line(curve.trace)}; {curve.said()}"
        alike.setdefault(said, []).append(curve.trace.name)
    return [f"{', '.join(names)}: {said}" for said, names in alike.items()]


def _zeros(
    traces: Sequence[Trace], at: str | Sequence[Finding]
) -> tuple[list[float], str]:
    """Return what is put at time 0 of each record, in s, and what that is."""
    if at == "zero":
        return [0.0] * len(traces), "own zero"
    if at == "edge":
        found, name = [first_edge(t) for t in traces], "first edge"
    elif isinstance(at, str) or len(at) != len(traces):
        raise InputError(
            f"at={at!r}: give 'zero', 'edge', or one instant for each of the "
            f"{len(traces)} captures."
        )
    else:
        found, name = list(at), "marked instant"
    for trace, instant in zip(traces, found, strict=True):
        if instant.cannot_tell:
            raise InputError(
                f"{trace.name} cannot be aligned: {instant.cannot_tell} Or align at "
                "'zero'."
            )
    return [instant.value for instant in found], name


def _draw_one_of(
    axes: Axes, k: int, curve: Curve, time: Scale, value: Scale, zero: float
) -> Artist:
    """Draw one of several records; return its explanation."""
    colour, line, mark = _LOOKS[k]
    look: dict[str, Any] = {"color": colour, "linestyle": line, "linewidth": 1.2}
    if curve.is_sampled:
        draw(axes, curve, time, value, zero, **look)
    else:
        # The area stays pale: those behind it are to be seen.
        area = {"facecolor": (colour, 0.3), "edgecolor": (colour, 0.85)}
        draw(axes, curve, time, value, zero, linestyle=line, linewidth=0.8, **area)
    marks: dict[str, Any] = {
        "marker": mark, "markerfacecolor": "white", "markeredgecolor": colour,
        "markersize": 6,
    }  # fmt: skip
    n = curve.low.size
    # Not all at the same time: where records agree, each mark stays visible.
    chosen = np.unique(((np.arange(6) + (k + 0.5) / len(_LOOKS)) / 6 * n).astype(int))
    x = time.factor * (curve.times[chosen] - zero - time.zero)
    middle = (curve.low[chosen] + curve.high[chosen]) / 2
    axes.plot(x, value.factor * (middle - value.zero), linestyle="none", **marks)
    return explanation(plain(curve.trace.name[:48]), **look, **marks)

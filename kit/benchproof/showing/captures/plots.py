"""The figure of a capture: the record with its threshold, its dips, its settings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.dips import Dip, Dips
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
from benchproof.showing.captures.clips import clipped_runs, clipped_text, draw_clipped
from benchproof.showing.captures.curves import (
    Border,
    Curve,
    curve_of,
    draw,
    extremes_text,
    scale_axes,
)
from benchproof.showing.captures.dips import (
    Declared,
    Level,
    declared,
    described,
    exact,
    in_window,
    mark,
    summary,
)
from benchproof.showing.figures.drawing import INK, LIMIT, MEASURED, Drawing, svg_of

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes


def figure_of_capture(
    trace: Trace,
    *,
    threshold: Level = None,
    hysteresis: Level = None,
    dips: Dips | None = None,
    first: Border = None,
    last: Border = None,
    title: str = "",
) -> Drawing:
    """Draw a capture in its unit over time, with what was declared and found.

    Where samples are many, the area between the least and the greatest of each
    stretch is drawn, so that no spike is lost. Where the record was clipped, a heavy
    line stands. Below stand the settings.

    Parameters
    ----------
    trace : Trace
        From ``case.captures.open(name)``.
    threshold, hysteresis : str or float, optional
        Text with a unit, or SI; those the dips were found with if left out.
    dips : Dips, optional
        From ``captures.dips_of`` or ``swells_of``: their durations are marked, with
        the standard uncertainty.
    first, last : int or str, optional
        Sample numbers as in a slice, or times on the record's axis such as "12 ms".
    title : str, optional

    Raises
    ------
    InputError
        If the window holds fewer than two samples or gaps, or the dips were found
        with another threshold or in another record.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.dips import dips_of
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.full(5000, 12.0)
    >>> v[2000:3000] = 8.5
    >>> rail = Trace("rail", v, 1e-5, Settings("invented scope", "CH1"))
    >>> drawing = figure_of_capture(rail, dips=dips_of(rail, 8.8, 0.2))
    >>> drawing.alt[:71]
    'Capture rail, 0.000 ms to 49.990 ms: lowest sample 8.500 V at 20.000 ms'
    """
    curve = curve_of(trace, first, last)
    limits = declared(trace, threshold, hysteresis, dips)
    shown = in_window(dips, curve)
    levels = [limits.threshold, limits.back] if limits else []
    ends = [x for x in (*levels, curve.lowest[0], curve.highest[0]) if x is not None]
    time = time_scale(curve.begin, curve.end)
    value = value_scale(trace.settings.unit, min(ends), max(ends))
    runs = clipped_runs(curve)
    told = [clipped_text(runs, time, value)]
    if dips is not None:
        told.insert(0, summary(dips, shown, value))
    figure, (axes,) = sheet(title, [*told, f"{settings_line(trace)}; {curve.said()}"])
    draw(axes, curve, time, value)
    scale_axes(axes, [curve], ends, time, value, 0.24 if shown else 0.06)
    label(axes, time, value, trace.settings.channel or trace.name, "time")
    handles = [explanation("record", color=MEASURED, linewidth=2)]
    if limits:
        handles += _draw_limits(axes, limits, value)
    if shown and limits:
        level = value.factor * (limits.threshold - value.zero)
        mark(axes, time, shown, level)
        what = "dip" if limits.sign < 0 else "swell"
        handles.append(explanation(f"{what}: duration ± u", color=INK, linewidth=1.5))
    if runs:
        handles.append(draw_clipped(axes, runs, time, value))
    explain_rows(figure, handles, title, len(handles))
    return Drawing(
        svg_of(figure),
        _capture_alt(title, curve, limits, shown, time, value, told),
    )


def _draw_limits(axes: Axes, limits: Declared, value: Scale) -> list[Artist]:
    """Draw the threshold and, as a band, the hysteresis; return their explanations."""
    from matplotlib.patches import Patch

    at = value.factor * (limits.threshold - value.zero)
    # White between the dashes, so that it shows where the record fills the card.
    axes.axhline(at, color="white", linewidth=1.3, zorder=3)
    axes.axhline(at, color=LIMIT, linestyle="--", linewidth=1.3, zorder=4)
    said = f"threshold {exact(value, limits.threshold)}"
    handles: list[Artist] = [explanation(said, color=LIMIT, linestyle="--")]
    if limits.back is not None:
        back = value.factor * (limits.back - value.zero)
        axes.axhspan(min(at, back), max(at, back), color=LIMIT, alpha=0.2, linewidth=0)
        words = f"hysteresis, to {exact(value, limits.back)}"
        handles.append(Patch(color=LIMIT, alpha=0.2, linewidth=0, label=words))
    return handles


def _capture_alt(
    title: str,
    curve: Curve,
    limits: Declared | None,
    shown: Sequence[Dip],
    time: Scale,
    value: Scale,
    told: Sequence[str],
) -> str:
    said = [f"{_span(curve, time)}: {extremes_text(curve, time, value)}"]
    if limits:
        said.append(limits.text(value))
    said += [words for words in told if words]
    if shown:
        said.append(described(shown, value, time))
    said.append(f"{settings_line(curve.trace)}; {curve.said()}")
    return f"{title + '. ' if title else ''}Capture {'. '.join(said)}."


def _span(curve: Curve, time: Scale) -> str:
    where = f", counted from {time.zero:.12g} s" if time.zero else ""
    begin, end = time.text(curve.begin), time.text(curve.end)
    return f"{curve.trace.name}, {begin} to {end}{where}"

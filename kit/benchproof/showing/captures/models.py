"""Figures of a capture beside a model of the circuit, with what parts the two."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.model import Comparison
from benchproof.measuring.captures.trace import Floats, Settings, Trace
from benchproof.showing.captures.axes import (
    explain_rows,
    label,
    sheet,
    time_scale,
    value_scale,
)
from benchproof.showing.captures.curves import COLUMNS, Curve, curve_of, draw
from benchproof.showing.figures.drawing import INK, LIMIT, MEASURED, Drawing, svg_of
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from benchproof.showing.captures.axes import Scale


def figure_of_model(
    comparison: Comparison, trace: Trace | None = None, *, title: str = ""
) -> Drawing:
    """Draw a record and a model of it, and below what is left between them.

    Parameters
    ----------
    comparison : Comparison
        From ``captures.beside`` or ``fit_model``.
    trace : Trace, optional
        The record it was made from: its unit and its settings are written. Without
        it, values stand as numbers in SI.
    title : str, optional

    Examples
    --------
    >>> from benchproof.measuring.captures.model import beside
    >>> def discharge(t, V, tau):
    ...     return V * np.exp(-t / tau)
    >>> v = 12 * np.exp(-np.arange(100) * 1e-3 / 0.05) + 0.1
    >>> rail = Trace("rail", v, 1e-3, Settings("invented scope", "CH1"))
    >>> shown = beside(rail, discharge, {"V": 12.0, "tau": 0.05})
    >>> figure_of_model(shown, rail).alt[:64]
    'Record rail and model, 0.000 ms to 99.000 ms. Record less model:'
    """
    settings = Settings("", "", unit_of("")) if trace is None else trace.settings
    name = "" if trace is None else trace.name
    record, model, rest = (
        _curve(comparison.times, values, settings, name)
        for values in (comparison.record, comparison.curve, comparison.residuals)
    )
    ends = [x for c in (record, model) for x in (c.lowest[0], c.highest[0])]
    time = time_scale(record.begin, record.end)
    value = value_scale(settings.unit, min(ends), max(ends))
    reach = max(abs(rest.lowest[0]), abs(rest.highest[0]))
    left = value_scale(settings.unit.difference(), -reach, reach)
    lines = [*_found(comparison), "" if trace is None else settings_line(trace)]
    figure, (upper, lower) = sheet(title, lines, heights=(2.6, 1.1))
    draw(upper, record, time, value, linewidth=2.2, alpha=0.55)
    _draw_model(upper, model, time, value)
    draw(lower, rest, time, left)
    lower.axhline(0, color=LIMIT, linestyle="--", linewidth=1.2)
    upper.set_xlim(*(time.factor * (t - time.zero) for t in (record.begin, record.end)))
    size = left.factor * reach or 1.0
    lower.set_ylim(-1.1 * size, 1.1 * size)
    what = settings.channel or "value"
    label(upper, time, value, what if trace else "value (SI)", "")
    upper.set_xlabel("")
    label(lower, time, left, "residual", "time")
    explain_rows(figure, _handles(), title, 2)
    said = (
        f"Record{f' {name}' if name else ''} and model, {time.text(record.begin)} to "
    )
    said += f"{time.text(record.end)}. {_residuals(rest, time, left)}"
    words = [title, said, *lines]
    return Drawing(svg_of(figure), ". ".join(filter(None, words)) + ".")


def _curve(times: Floats, values: Floats, settings: Settings, name: str) -> Curve:
    interval = float(times[-1] - times[0]) / (times.size - 1)
    trace = Trace(name or "record", values, interval, settings, float(times[0]))
    return curve_of(trace, columns=COLUMNS // 2)


def _draw_model(axes: Axes, model: Curve, time: Scale, value: Scale) -> None:
    """Draw a model's curve as a line, also where it swings within a point."""
    x = time.factor * (np.repeat(model.times, 2) - time.zero)
    y = np.column_stack([model.low, model.high]).ravel()
    axes.plot(x, value.factor * (y - value.zero), color=INK, linewidth=1.1,
              linestyle="--")  # fmt: skip


def _handles() -> list[Artist]:
    from matplotlib.lines import Line2D

    return [
        Line2D([], [], color=MEASURED, linewidth=4, alpha=0.55, label="record"),
        Line2D([], [], color=INK, linewidth=1.1, linestyle="--", label="model"),
    ]


def _found(comparison: Comparison) -> list[str]:
    """Say which parameters were fitted, with u, and how well the two agree."""
    fitted = [_named(name, found) for name, found in comparison.parameters.items()]
    said = "parameters given, none fitted"
    if fitted:
        said = f"fitted (u in brackets): {', '.join(fitted)}"
    return [said, *comparison.notes]


def _named(name: str, found: Finding) -> str:
    if found.cannot_tell:
        return f"{name}: cannot tell: {found.cannot_tell}"
    return f"{name} = {str(found).partition(' = ')[2]}"


def _residuals(rest: Curve, time: Scale, left: Scale) -> str:
    (low, low_at), (high, high_at) = rest.lowest, rest.highest
    return (
        f"Record less model: lowest {left.text(low)} at {time.text(low_at)}, highest "
        f"{left.text(high)} at {time.text(high_at)}"
    )

"""The load line: points with their straight line, what is drawn from it, residuals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from benchproof.measuring.lines.line import LineFit
from benchproof.measuring.lines.points import PerPoint
from benchproof.showing.figures.drawing import (
    INK,
    LIMIT,
    MEASURED,
    Drawing,
    Plot,
    Size,
    explain,
    plain,
    two_cards,
)
from benchproof.values.errors import InputError
from benchproof.values.quantities import shorthand

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_COVERAGE = 2.0


def figure_of_line(
    line: LineFit,
    x: Sequence[float],
    y: Sequence[float],
    *,
    x_name: str,
    y_name: str,
    u_y: PerPoint = None,
    load: Sequence[tuple[float, float]] = (),
    load_name: str = "load",
    operating_point: tuple[float, float] | None = None,
) -> Drawing:
    """Draw a fitted line with its points, and the residuals below it.

    Parameters
    ----------
    line : LineFit
        From `fit_line`, of these points.
    x, y : sequence of float
        As given to `fit_line`.
    x_name, y_name : str
        With the unit, e.g. ``current in A``.
    u_y : float or sequence of float, optional
        Standard uncertainty of each y; drawn as y ± 2 u.
    load : sequence of (float, float)
        Points of the curve that the load follows, x and y, in order.
    load_name : str
        What it is, e.g. ``constant power 28 W``.
    operating_point : (float, float), optional
        x and y where line and load meet, as computed.

    Raises
    ------
    InputError
        If these are not the points of the line.

    Examples
    --------
    >>> from benchproof.measuring.lines.line import fit_line
    >>> amps, volts = [0.0, 1.0, 2.0, 3.0], [12.10, 11.80, 11.53, 11.22]
    >>> line = fit_line(amps, volts)
    >>> names = {"x_name": "current in A", "y_name": "voltage in V"}
    >>> figure_of_line(line, amps, volts, **names).alt[62:102]
    'intercept 12.0990(97), slope -0.2910(52)'
    """
    plot = plot_of_line(
        line, x, y, (x_name, y_name), u_y, (load_name, load), operating_point
    )
    return plot.drawing()


def plot_of_line(
    line: LineFit,
    x: Sequence[float],
    y: Sequence[float],
    names: tuple[str, str],
    u_y: PerPoint = None,
    load: tuple[str, Sequence[tuple[float, float]]] = ("", ()),
    operating_point: tuple[float, float] | None = None,
    size: Size | None = None,
) -> Plot:
    """Plot what `figure_of_line` draws; see there."""
    given, kept = np.asarray(y, float), np.asarray(line.residuals)
    fitted = line.intercept + line.slope * np.asarray(x, float)
    scale = float(np.ptp(given)) or 1.0
    if given.shape != kept.shape or np.any(abs(given - fitted - kept) > 1e-6 * scale):
        raise InputError(
            f"figure_of_line: these are not the {line.n} points of this line. Give x "
            "and y as they were given to fit_line."
        )
    figure, (above, below) = two_cards(size)
    _draw_line(above, line)
    bars: Any = (
        {} if u_y is None else {"yerr": _COVERAGE * np.broadcast_to(u_y, kept.shape)}
    )
    style: Any = {"fmt": "o", "color": MEASURED, "elinewidth": 2, "markersize": 5}
    above.errorbar(x, y, label="measured", **bars, **style)
    if load[1]:
        above.plot(*zip(*load[1], strict=True), color=LIMIT, linestyle="--",
                   label=plain(load[0], 40))  # fmt: skip
    if operating_point is not None:
        above.plot(*operating_point, "D", color=LIMIT, markersize=8, fillstyle="none",
                   label="operating point")  # fmt: skip
    below.axhline(0, color=INK, linewidth=1)
    below.errorbar(x, kept, **bars, **style)
    above.set_ylabel(plain(names[1]))
    below.set_ylabel("residual")
    below.set_xlabel(plain(names[0]))
    explain(figure, above.get_legend_handles_labels()[0])
    alt = _alt(line, names, load, operating_point)
    return Plot("line", f"{names[1]} against {names[0]}", alt, figure)


def _draw_line(axes: Axes, line: LineFit) -> None:
    """Draw the line over its points, with the band of its own uncertainty."""
    x = np.linspace(*line.x_range, 50)
    values = [line.at(float(at)) for at in x]
    y, u = (np.array(part) for part in zip(*values, strict=True))
    axes.plot(x, y, color=INK, linewidth=1, label="straight line, with ± 2 u")
    axes.fill_between(x, y - _COVERAGE * u, y + _COVERAGE * u, color=INK, alpha=0.15,
                      linewidth=0)  # fmt: skip


def _alt(
    line: LineFit,
    names: tuple[str, str],
    load: tuple[str, Sequence[tuple[float, float]]],
    operating_point: tuple[float, float] | None,
) -> str:
    text = (
        f"Straight line of {line.n} points, {names[1]} against {names[0]}: intercept "
        f"{shorthand(line.intercept, line.u_intercept)}, slope "
        f"{shorthand(line.slope, line.u_slope)}. Residuals from "
        f"{min(line.residuals):.3g} to {max(line.residuals):.3g}."
    )
    if load[1]:
        text += f" Beside it: {load[0]}."
    if operating_point is not None:
        text += f" They meet at {operating_point[0]:.4g}, {operating_point[1]:.4g}."
    return " ".join([text, *(f"{c[:1].upper()}{c[1:]}." for c in line.caveats)])

"""Slope and intercept in closed form, for use inside a derived quantity."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from benchproof.values.errors import InputError


def line_slope(x: Sequence[Any], y: Sequence[Any]) -> Any:
    """Slope of the ordinary least-squares line through points.

    A plain formula: the quantities it is given carry their uncertainty, so that a
    gain or an offset which the points share is counted by the budget and by Monte
    Carlo without further ado. Unlike `fit_line` it takes no uncertainty from the
    scatter of the points.

    Parameters
    ----------
    x, y : sequence of number or array
        One item per point, at least two: floats, complex numbers, or arrays of draws
        of one shape, taken element by element.

    Returns
    -------
    number or array
        In the unit of y over that of x.

    Raises
    ------
    InputError
        If the points do not fix a slope.

    References
    ----------
    JCGM 100:2008, H.3.2.

    Examples
    --------
    >>> def R_source(I_idle, I_half, I_full, V_idle, V_half, V_full):
    ...     return -line_slope([I_idle, I_half, I_full], [V_idle, V_half, V_full])
    >>> round(R_source(0.0, 1.0, 2.65, 12.10, 11.84, 11.39), 4)
    0.2684
    """
    return _line("line_slope", x, y)[1]


def line_intercept(x: Sequence[Any], y: Sequence[Any]) -> Any:
    """Value at x = 0 of the ordinary least-squares line through points.

    Parameters
    ----------
    x, y : sequence of number or array
        As for `line_slope`.

    Returns
    -------
    number or array
        In the unit of y.

    Raises
    ------
    InputError
        If the points do not fix a line.

    References
    ----------
    JCGM 100:2008, H.3.2.

    Examples
    --------
    >>> line_intercept([1.0, 2.0, 3.0], [5.0, 7.0, 9.0])
    3.0
    """
    return _line("line_intercept", x, y)[0]


# Nothing here may look at the sign or the real part of a number: the graph sends
# complex ones through, to differentiate.
def _line(name: str, x: Sequence[Any], y: Sequence[Any]) -> tuple[Any, Any]:
    n = len(x)
    if n != len(y) or n < 2:
        raise InputError(
            f"{name}: {n} x and {len(y)} y; give at least two points, as many y as x."
        )
    mean_x, mean_y = sum(x) / n, sum(y) / n
    u = [item - mean_x for item in x]
    spread = sum(d * d for d in u)
    if np.any(spread == 0):
        raise InputError(
            f"{name}: all {n} points have the same x; give points that differ in x."
        )
    products = sum(d * (item - mean_y) for d, item in zip(u, y, strict=True))
    slope = products / spread
    return mean_y - slope * mean_x, slope

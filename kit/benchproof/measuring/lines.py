"""Straight lines through points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class LineFit:
    """``y = intercept + slope · x`` by ordinary least squares.

    `correlation` is that of intercept and slope; `residual_deviation` is s with
    `degrees_of_freedom` = n - 2.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_deviation: float
    degrees_of_freedom: int

    def at(self, x: float) -> tuple[float, float]:
        """Return the line's value at `x` and its standard uncertainty.

        References
        ----------
        JCGM 100:2008, H.3.4 (the covariance of intercept and slope counts).
        """
        covariance = self.correlation * self.u_intercept * self.u_slope
        variance = self.u_intercept**2 + (x * self.u_slope) ** 2 + 2 * x * covariance
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def fit_line(x: Sequence[float], y: Sequence[float]) -> LineFit:
    """Fit a straight line by ordinary least squares; x is taken as exact.

    Parameters
    ----------
    x, y : sequence of float
        The same number of points, at least three.

    Raises
    ------
    InputError
        If the points cannot carry a line.

    References
    ----------
    JCGM 100:2008, H.3.2.

    Examples
    --------
    >>> line = fit_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0])
    >>> round(line.intercept, 2), round(line.slope, 2)
    (1.03, 1.98)
    """
    n = len(x)
    if n != len(y) or n < 3 or max(x) == min(x):
        raise InputError(
            f"fit_line: {n} x and {len(y)} y; give at least three points, as many y "
            "as x, that do not all share one x."
        )
    mx, my = math.fsum(x) / n, math.fsum(y) / n
    sxx = math.fsum((a - mx) ** 2 for a in x)
    slope = math.fsum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sxx
    intercept = my - slope * mx
    rest = math.fsum(
        (b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True)
    )
    s = math.sqrt(rest / (n - 2))
    mean_square = math.fsum(a * a for a in x) / n
    u_slope, u_intercept = s / math.sqrt(sxx), s * math.sqrt(mean_square / sxx)
    r = -mx / math.sqrt(mean_square)
    return LineFit(intercept, slope, u_intercept, u_slope, r, s, n - 2)

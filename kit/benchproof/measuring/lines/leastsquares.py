"""The straight line of least squares, with uncertainty in either axis or in both."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchproof.measuring.lines.points import Floats, Points
from benchproof.values.errors import InputError

_STEPS = 1000
"""Wide scatter took up to 120 steps in trials; most lines settle within ten."""


@dataclass(frozen=True, slots=True)
class Solution:
    """A line as its points alone have it, before any gain they share.

    About `centre` the level and the slope of the line are uncorrelated, which keeps
    the digits that a covariance of intercept and slope loses far from x = 0.

    Attributes
    ----------
    slope, intercept : float
    centre, level : float
        An x, and the line's value there; 0 for a line through the origin.
    u_centre, u_slope : float
        Standard uncertainty of the line's value at `centre` and of its slope.
    weights, residuals : tuple of float
        Per point: 1/(u_y² + slope²·u_x²), and y - intercept - slope·x.
    """

    slope: float
    intercept: float
    centre: float
    level: float
    u_centre: float
    u_slope: float
    weights: tuple[float, ...]
    residuals: tuple[float, ...]

    @property
    def chi_square(self) -> float:
        """Weighted sum of the squared residuals."""
        pairs = zip(self.weights, self.residuals, strict=True)
        return math.fsum(w * r * r for w, r in pairs)

    def value_at(self, x: float) -> float:
        """Return the line's value at `x`."""
        return self.level + self.slope * (x - self.centre)

    def x_at(self, value: float) -> float:
        """Return the x at which the line has a value; the slope is not 0."""
        return self.centre + (value - self.level) / self.slope

    def variance_at(self, x: float) -> float:
        """Return the variance of the line's value at `x`.

        References
        ----------
        JCGM 100:2008, H.3.4, its covariance term taken up by the choice of origin.
        """
        return self.u_centre**2 + ((x - self.centre) * self.u_slope) ** 2

    def scaled(self, factor: float) -> Solution:
        """Return the same line with its uncertainties multiplied."""
        u_centre, u_slope = factor * self.u_centre, factor * self.u_slope
        return Solution(
            self.slope, self.intercept, self.centre, self.level, u_centre, u_slope,
            self.weights, self.residuals,
        )  # fmt: skip


def solved(points: Points, through_origin: bool = False) -> Solution:
    """Minimise Σ (y - a - b·x)²/(u_y² + b²·u_x²), the errors being independent.

    With u_x = 0 this is weighted least squares, solved in one step. The standard
    uncertainties are those at the adjusted points, of the stated u_x and u_y.

    Parameters
    ----------
    points : Points
        Checked.
    through_origin : bool
        Hold the line to the origin.

    Raises
    ------
    InputError
        If no slope settles.

    References
    ----------
    York, Evensen, Martínez and De Basabe Delgado, Am. J. Phys. 72 (2004) 367.

    Examples
    --------
    >>> from benchproof.measuring.lines.points import checked_points
    >>> points = checked_points([0, 1, 2], [1, 3, 5], u_x=0.1, u_y=0.2)
    >>> round(solved(points).slope, 6)
    2.0
    """
    slope = _first_slope(points, through_origin)
    for _ in range(_STEPS):
        weights, mx, my, adjusted = _adjusted(points, slope, through_origin)
        u, v = points.x - mx, points.y - my
        lever = weights * adjusted
        before, slope = slope, float((lever * v).sum() / (lever * u).sum())
        size = abs(slope) + math.sqrt(float((v * v).sum() / (u * u).sum()))
        if not math.isfinite(slope * size):
            break
        if abs(slope - before) <= 1e-14 * size:
            return _solution(points, slope, through_origin)
    raise _unsettled()


def _unsettled() -> InputError:
    return InputError(
        "fit_line: no slope settles: within their uncertainty the points do not show "
        "a direction, or their numbers are too large or too small to be squared. "
        "Measure over a wider range of x, or use another unit."
    )


def _first_slope(points: Points, through_origin: bool) -> float:
    x, y = points.x, points.y
    if not through_origin:
        x, y = x - x.mean(), y - y.mean()
    xx, xy, yy = (float((a * b).sum()) for a, b in ((x, x), (x, y), (y, y)))
    if not (0 < xx < math.inf and yy < math.inf):
        raise _unsettled()
    if points.u_y.any():
        return xy / xx
    if xy == 0:
        raise InputError(
            "fit_line: y is taken as exact (u_x alone was given) and does not follow "
            "x at all; state u_y."
        )
    return yy / xy


def _adjusted(
    points: Points, slope: float, through_origin: bool
) -> tuple[Floats, float, float, Floats]:
    """Return weights, the weighted mean point, and the x on the line less that mean."""
    vx, vy = points.u_x**2, points.u_y**2
    weights = 1 / (vy + slope**2 * vx)
    mx = my = 0.0
    if not through_origin:
        total = weights.sum()
        mx = float((weights * points.x).sum() / total)
        my = float((weights * points.y).sum() / total)
    u, v = points.x - mx, points.y - my
    return weights, mx, my, weights * (u * vy + slope * v * vx)


def _solution(points: Points, slope: float, through_origin: bool) -> Solution:
    weights, mx, my, adjusted = _adjusted(points, slope, through_origin)
    total, shift = float(weights.sum()), 0.0
    if not through_origin:
        shift = float((weights * adjusted).sum()) / total
    spread = float((weights * (adjusted - shift) ** 2).sum())
    residuals = (points.y - my) - slope * (points.x - mx)
    return Solution(
        slope,
        my - slope * mx,
        mx + shift,
        my + slope * shift,
        0.0 if through_origin else 1 / math.sqrt(total),
        1 / math.sqrt(spread),
        tuple(weights.tolist()),
        tuple(residuals.tolist()),
    )

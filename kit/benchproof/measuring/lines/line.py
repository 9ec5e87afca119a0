"""Straight lines through points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from benchproof.measuring.lines.leastsquares import Solution, solved
from benchproof.measuring.lines.points import PerPoint, checked_points
from benchproof.measuring.lines.residuals import LEVEL, Runs
from benchproof.measuring.lines.straightness import Straightness, straightness_of
from benchproof.values.errors import InputError
from benchproof.values.quantities import shorthand
from benchproof.values.tables import Table, Tabular, columns


@dataclass(frozen=True, slots=True, repr=False)
class LineFit(Tabular):
    """``y = intercept + slope · x`` by least squares, in the units of the points.

    Attributes
    ----------
    intercept, slope, u_intercept, u_slope : float
        Estimates and standard uncertainties, gains included.
    correlation, covariance : float
        Of intercept and slope; 0 through the origin.
    residual_deviation : float
        s of the residuals in y, unweighted, with `degrees_of_freedom`.
    degrees_of_freedom : int
        n - 2, through the origin n - 1: those of s and of chi-square.
    basis : {"external", "internal"}
        External: u comes from the scatter of the points. Internal: from the stated
        u_x and u_y, whatever the scatter.
    n : int
    x_range : (float, float)
        Ends of the points, the origin included if the line is held to it. A value
        outside is an extrapolation.
    chi_square, p, birge : float or None
        Only where u_x or u_y was stated: weighted sum of squared residuals, the
        probability of so large a sum or larger, and the Birge ratio
        √(chi-square / degrees of freedom). Nothing is scaled by it.
    straightness : Straightness
        What the residuals say about a curve.
    gain_x, gain_y : float
        Relative standard uncertainty of the gain that all points of an axis share.
    residuals : tuple of float
        y less the line, in the order of the points.
    caveats : tuple of str
        What limits the use of this line; empty is best.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_deviation: float
    degrees_of_freedom: int
    covariance: float
    basis: Literal["external", "internal"]
    n: int
    x_range: tuple[float, float]
    through_origin: bool
    chi_square: float | None
    p: float | None
    birge: float | None
    straightness: Straightness
    gain_x: float
    gain_y: float
    residuals: tuple[float, ...]
    caveats: tuple[str, ...]
    _solution: Solution = field(compare=False)

    def at(self, x: float, u_x: float = 0.0) -> tuple[float, float]:
        """Return the line's value at `x` and its standard uncertainty.

        Parameters
        ----------
        x : float
            In the unit of the points' x.
        u_x : float
            Standard uncertainty of this `x`, independent of the points. If it was
            read on their range, their gain is counted as if it were another's.

        Raises
        ------
        InputError
            If `x` lies outside the points and their residuals show a curve.

        References
        ----------
        JCGM 100:2008, H.3.4 (the covariance of intercept and slope counts).

        Examples
        --------
        >>> line = fit_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0])
        >>> value, u = line.at(2.5)
        >>> round(value, 3), round(u, 3)
        (5.98, 0.064)
        """
        _check_number("at: x", x, u_x)
        self._refuse_beyond_a_curve(x)
        variance = self._variance_at(x) + (self.slope * u_x) ** 2
        return self._solution.value_at(x), math.sqrt(variance)

    def x_for(self, y: float, u_y: float = 0.0) -> tuple[float, float]:
        """Return the x at which the line has the value `y`, and its u.

        Parameters
        ----------
        y : float
            In the unit of the points' y.
        u_y : float
            Standard uncertainty of this `y`, independent of the points. If it was
            read on the range that gave the points, their gain is counted as if it
            were another's: write a formula with `line_slope` instead.

        Raises
        ------
        InputError
            If the slope cannot be told from 0 at 95 %, or if the result lies outside
            the points and their residuals show a curve.

        References
        ----------
        JCGM 100:2008, 5.2.2 with H.3: the line solved for x.

        Examples
        --------
        >>> line = fit_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0])
        >>> x, u = line.x_for(5.98, u_y=0.05)
        >>> round(x, 3), round(u, 3)
        (2.5, 0.041)
        """
        _check_number("x_for: y", y, u_y)
        self._refuse_flat()
        x = self._solution.x_at(y)
        self._refuse_beyond_a_curve(x)
        return x, math.sqrt(self._variance_at(x) + u_y**2) / abs(self.slope)

    @property
    def runs(self) -> Runs:
        """Whether the residuals come in random order along x."""
        return self.straightness.runs

    @property
    def u_external(self) -> tuple[float, float]:
        """Of intercept and slope, u from the scatter of the points, gains included.

        Those of the points' stated uncertainty times the Birge ratio.
        """
        factor = 1.0 if self.birge is None else self.birge
        u = _with_gains(self._solution.scaled(factor), self.gain_x, self.gain_y)
        return u[0], u[1]

    @property
    def note(self) -> str:
        """Say where the uncertainty comes from."""
        if self.basis == "external":
            return (
                "external uncertainty: from the scatter of the points, "
                f"degrees of freedom: {self.degrees_of_freedom}"
            )
        return "internal uncertainty: from the stated u_x and u_y, not from the scatter"

    def table(self) -> Table:
        """Return the line, what it rests on and what limits it."""
        low, high = self.x_range
        rows = [
            ("intercept", shorthand(self.intercept, self.u_intercept)),
            ("slope", shorthand(self.slope, self.u_slope)),
            ("their correlation", f"{self.correlation:.3f}"),
            ("s of the residuals", f"{self.residual_deviation:.2g}"),
            ("degrees of freedom", str(self.degrees_of_freedom)),
            *self._chi_square_rows(),
            ("points", f"{self.n}, x from {low:g} to {high:g}"),
            ("runs of residuals", f"{self.runs.runs} (p = {self.runs.p:.2g})"),
        ]
        if self.through_origin:
            rows[0], rows[2:3] = ("intercept", "0, held"), []
        return Table(
            "Straight line, value(u)",
            columns("Quantity", "Value>"),
            tuple(rows),
            (self.note, *self.caveats),
        )

    def _chi_square_rows(self) -> list[tuple[str, str]]:
        if self.chi_square is None:
            return []
        u_intercept, u_slope = self.u_external
        return [
            ("chi-square", f"{self.chi_square:.4g} (p = {self.p:.2g})"),
            ("Birge ratio", f"{self.birge:.3g}"),
            ("intercept, u by scatter", shorthand(self.intercept, u_intercept)),
            ("slope, u by scatter", shorthand(self.slope, u_slope)),
        ]

    def _variance_at(self, x: float) -> float:
        # From the centre outwards, so that no digits cancel far from x = 0.
        gains = (self.gain_y * self._solution.value_at(x)) ** 2
        gains += (self.gain_x * self.slope * x) ** 2
        return self._solution.variance_at(x) + gains

    def _refuse_flat(self) -> None:
        from scipy.special import stdtrit  # lazily: not needed to open a case

        dof = self.degrees_of_freedom if self.basis == "external" else math.inf
        least = float(stdtrit(dof, 0.975)) * self._solution.u_slope
        if not abs(self.slope) > least:
            raise InputError(
                f"x_for: the slope {shorthand(self.slope, self.u_slope)} cannot be "
                f"told from 0 (at 95 % it would have to exceed {least:.2g}), so y does "
                "not fix x. Take points over a wider range of x."
            )

    def _refuse_beyond_a_curve(self, x: float) -> None:
        low, high = self.x_range
        curve = self.straightness.objection
        slack = 1e-9 * (high - low)  # so that rounding leaves the last point inside
        if curve and not low - slack <= x <= high + slack:
            raise InputError(
                f"x = {x:g} lies outside the points ({low:g} to {high:g}), and "
                f"{curve}: the line need not go on there. Fit only the points nearest "
                "to it, or measure there."
            )


def fit_line(
    x: Sequence[float],
    y: Sequence[float],
    *,
    u_x: PerPoint = None,
    u_y: PerPoint = None,
    gain_x: float = 0.0,
    gain_y: float = 0.0,
    through_origin: bool = False,
) -> LineFit:
    """Fit a straight line by least squares.

    Without `u_x` and `u_y` the points weigh the same, x is exact, and the scatter
    gives the uncertainty. With `u_y`, each point weighs 1/u_y². With `u_x` as well,
    both axes are uncertain; with `u_x` alone, y is exact.

    Parameters
    ----------
    x, y : sequence of float
        The same number of points, at least three; two through the origin.
    u_x, u_y : float or sequence of float, optional
        Standard uncertainty of each point's own, independent error, in the unit of
        the axis; one for all or one each. An x may be exact (0) among others.
    gain_x, gain_y : float
        Relative standard uncertainty of the gain of the range on which all x, or all
        y, were read: 0.003 for 0.3 %. It moves every point alike, so it adds to the
        uncertainty of intercept and slope and not to the weights. The two gains are
        taken as independent.
    through_origin : bool
        Hold the line to the origin.

    Raises
    ------
    InputError
        If the points cannot carry a line.

    Notes
    -----
    What it returns is kept by no case. For a line that enters budgets, verdicts and
    results.json, with the correlation of its two, derive quantities of the case by
    `line_slope` and `line_intercept`.

    References
    ----------
    JCGM 100:2008, H.3.2 (ordinary); York, Evensen, Martínez and De Basabe Delgado,
    Am. J. Phys. 72 (2004) 367 (both axes); JCGM 100:2008, 5.2.2 (gains).

    Examples
    --------
    >>> line = fit_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0])
    >>> round(line.intercept, 2), round(line.slope, 2)
    (1.03, 1.98)
    >>> line = fit_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0], u_x=0.02, u_y=0.1)
    >>> round(line.slope, 2), round(line.u_slope, 3), round(line.birge, 2)
    (1.98, 0.048, 0.88)
    """
    _check_gain("gain_x", gain_x)
    _check_gain("gain_y", gain_y)
    points = checked_points(x, y, u_x, u_y, through_origin)
    with np.errstate(all="ignore"):  # what overflows is refused by name
        solution = solved(points, through_origin)
    dof = points.x.size - (1 if through_origin else 2)
    s = math.sqrt(math.fsum(r * r for r in solution.residuals) / dof)
    straightness = straightness_of(points, solution, through_origin)
    chi_square, p, birge = _chi_square(solution, dof) if points.stated else (None,) * 3
    if not points.stated:
        solution = solution.scaled(s)
    u_intercept, u_slope, covariance, r = _with_gains(solution, gain_x, gain_y)
    ends = [*points.x.tolist(), 0.0] if through_origin else points.x.tolist()
    return LineFit(
        solution.intercept, solution.slope, u_intercept, u_slope, r, s, dof, covariance,
        "internal" if points.stated else "external",
        points.x.size, (min(ends), max(ends)), through_origin,
        chi_square, p, birge, straightness, gain_x, gain_y, solution.residuals,
        (*_scatter_caveat(p, birge), *straightness.caveats), solution,
    )  # fmt: skip


def _with_gains(
    solution: Solution, gain_x: float, gain_y: float
) -> tuple[float, float, float, float]:
    """Return u of intercept and slope, their covariance and their correlation.

    A gain of y moves intercept and slope in proportion, one of x the slope alone.
    """
    a, b, centre = solution.intercept, solution.slope, solution.centre
    from_points = math.hypot(solution.u_centre, centre * solution.u_slope)
    u_intercept = math.hypot(from_points, gain_y * a)
    u_slope = math.hypot(solution.u_slope, gain_y * b, gain_x * b)
    covariance = gain_y**2 * a * b - centre * solution.u_slope**2
    both = u_intercept * u_slope
    return u_intercept, u_slope, covariance, covariance / both if both else 0.0


def _chi_square(solution: Solution, dof: int) -> tuple[float, float, float]:
    """Return chi-square, its p and the Birge ratio."""
    from scipy.special import chdtrc  # lazily: not needed to open a case

    value = solution.chi_square
    return value, float(chdtrc(dof, value)), math.sqrt(value / dof)


def _scatter_caveat(p: float | None, birge: float | None) -> tuple[str, ...]:
    if p is None or p >= LEVEL:
        return ()
    return (
        f"the points scatter {birge:.2g} times as much as their stated uncertainty "
        f"explains (chi-square, p = {p:.2g}): u is not scaled; find the cause, or "
        "use u by scatter",
    )


def _check_number(what: str, number: float, u: float) -> None:
    if not (math.isfinite(number) and 0 <= u < math.inf):
        raise InputError(
            f"{what} = {number} with standard uncertainty {u}; give finite numbers, "
            "the uncertainty >= 0."
        )


def _check_gain(name: str, gain: float) -> None:
    if not 0 <= gain < 1:
        raise InputError(
            f"fit_line: {name} is {gain}; give a relative standard uncertainty from 0 "
            "to below 1, e.g. 0.003 for 0.3 %."
        )

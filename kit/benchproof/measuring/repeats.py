"""Repeated readings: mean, standard deviation, and whether a mean is honest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from operator import mul

from benchproof.measuring.outliers import (
    least_quantile,
    student_quantile,
    suspect_among,
)
from benchproof.values.errors import InputError

FLAG_LEVEL = 0.01
"""How often good readings raise the flag of a drift, or of one that stands out."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """Statistics of n readings of one thing, in the readings' unit.

    Attributes
    ----------
    count : int
        n.
    mean : float
    standard_deviation : float
        s, with n - 1; NaN for one reading.
    standard_uncertainty : float
        Of the mean as a value of the measurand: s/√effective_count; NaN for one.
    degrees_of_freedom : int
        n - 1; effective_count - 1, cut to a whole number of at least 1, where
        successive readings are alike.
    drift : str
        Why s/√n is refused and what to do; "" if no drift is seen.
    lag_1 : float
        Autocorrelation of successive readings; NaN if all are equal.
    slope : float
        Per reading, by least squares; NaN for one reading.
    effective_count : float
        How many independent readings the mean is worth: n; fewer where successive
        readings are alike; 1 where they drift.
    flags : tuple of str
        What a careful reader should know: drift, autocorrelation, a reading that
        stands out.
    """

    count: int
    mean: float
    standard_deviation: float
    standard_uncertainty: float
    degrees_of_freedom: int
    drift: str = ""
    lag_1: float = math.nan
    slope: float = math.nan
    effective_count: float = 1.0
    flags: tuple[str, ...] = ()

    def __eq__(self, other: object) -> bool:
        # Python 3.13 compares field by field, where a missing number (NaN) would
        # differ from itself.
        return isinstance(other, Repeats) and astuple(self) == astuple(other)


def summarise(readings: Sequence[float], step: float = 0.0) -> Repeats:
    """Mean, s and the mean's standard uncertainty of readings in time order.

    The uncertainty is s/√n only where the readings look independent. If they drift,
    it is s itself. If each resembles the one before it, n is replaced by the number
    of independent readings they are worth.

    Parameters
    ----------
    readings : sequence of float
        At least one, all in one unit, in the order they were taken.
    step : float
        One unit of the display's last digit, in the readings' unit; 0 if unknown.
        Its variance, step²/12, is added where drift and outliers are judged.

    Raises
    ------
    InputError
        If empty, not finite or too large to be squared; if `step` is negative.

    Notes
    -----
    Two passes and exact summation keep the digits when readings share many
    leading ones. With deviations ``d`` from the mean and ``r1 = Σ d_i d_(i+1)/Σ d²``:

    - drift: the slope differs from zero at the 99 % level (two-sided t test with
      n - 2 degrees of freedom). Three or four readings are judged only where `step`
      is known, since rounding alone makes few readings evenly spaced; one or two
      cannot be judged.
    - autocorrelation: ``r1 > 2/√n``, which five readings or fewer cannot reach.
      ``effective_count = n (1 - r1)/(1 + r1)``, at least 1, as for readings of which
      each resembles the one before it (first-order autoregression). In short
      series r1 and s come out too small, and u with them, though by less than that
      of s/√n: spacing the readings out is better.
    - a negative r1 would make the uncertainty smaller; that gain is not taken.

    References
    ----------
    JCGM 100:2008, 4.2.1-4.2.3 (independent readings), 4.2.7 (correlated ones).

    Examples
    --------
    >>> r = summarise([5.031, 5.034, 5.036, 5.033, 5.035])
    >>> round(r.mean, 4), round(r.standard_uncertainty, 6), r.degrees_of_freedom
    (5.0338, 0.00086, 4)
    >>> climb = summarise([1.93, 2.28, 2.71, 3.05, 3.36, 3.60])
    >>> climb.standard_uncertainty == climb.standard_deviation
    True
    """
    mean, deviations, squares = _moments(readings, step)
    n = len(readings)
    if n == 1:
        return Repeats(1, mean, math.nan, math.nan, 0)
    s = math.sqrt(squares / (n - 1))
    slope = math.fsum(map(mul, range(1 - n, n, 2), deviations)) / (2 * _spread(n))
    lag_1 = math.nan
    if squares > 0:
        lag_1 = math.fsum(map(mul, deviations, deviations[1:])) / squares
    worth, dof, drift, alike, odd = float(n), n - 1, "", "", ""
    if _drifts(n, squares, slope, step):
        worth, drift = 1.0, _drift_text(slope)
    else:
        if lag_1 > 2 / math.sqrt(n):
            worth = max(n * (1 - lag_1) / (1 + lag_1), 1.0)
            dof, alike = max(int(worth) - 1, 1), _alike_text(n, lag_1, worth)
        if _judgeable(n, step):
            odd = _odd_text(readings, deviations, s, step)
    flags = tuple(filter(None, (drift, alike, odd)))
    u = s / math.sqrt(worth)
    return Repeats(n, mean, s, u, dof, drift, lag_1, slope, worth, flags)


def _moments(
    readings: Sequence[float], step: float
) -> tuple[float, list[float], float]:
    """Return the mean, the deviations from it and the sum of their squares."""
    n = len(readings)
    if n == 0 or not all(map(math.isfinite, readings)):
        raise InputError("summarise: give at least one reading, all of them finite.")
    if not 0 <= step < math.inf:
        raise InputError(f"summarise: step {step}; give the last digit's size, or 0.")
    try:
        mean = math.fsum(readings) / n
        mean += math.fsum(x - mean for x in readings) / n
        deviations = [x - mean for x in readings]
        squares = math.fsum(map(mul, deviations, deviations))
    except OverflowError:
        squares = math.inf
    if squares == math.inf:
        raise InputError(
            f"summarise: readings up to {max(map(abs, readings)):g} are too large to "
            "be squared. Give them in a larger unit."
        )
    return mean, deviations, squares


def _spread(n: int) -> float:
    """Sum of squares of n places about their middle."""
    return n * (n * n - 1) / 12


def _judgeable(n: int, step: float) -> bool:
    """Three or four readings are easily equal or evenly spaced by rounding alone."""
    return n >= 5 or (n >= 3 and step > 0)


def _drifts(n: int, squares: float, slope: float, step: float) -> bool:
    """Whether the slope stands out of the scatter; s/√n would hide it."""
    if squares == 0 or not _judgeable(n, step):
        return False
    spread = _spread(n)
    residual = max(squares - slope * slope * spread, 0.0) / (n - 2)
    variance = residual + step * step / 12
    if variance == 0:
        return True
    t = abs(slope) * math.sqrt(spread / variance)
    tail = FLAG_LEVEL / 2
    # The bound first: most sets stop there, and scipy is not imported for them.
    return t > least_quantile(tail, n - 2) and t > student_quantile(tail, n - 2)


def _drift_text(slope: float) -> str:
    return (
        f"the readings drift ({slope:+.2g} per reading): "
        "their mean and s/√n do not describe a steady value, so u is their scatter s. "
        "Wait until it settles and record again, or treat the trend as the quantity"
    )


def _alike_text(n: int, lag_1: float, worth: float) -> str:
    return (
        f"each reading resembles the one before it (autocorrelation {lag_1:.2f}): "
        f"{n} readings count as {worth:.1f} independent ones. "
        "Leave more time between readings"
    )


def _odd_text(
    readings: Sequence[float], deviations: Sequence[float], s: float, step: float
) -> str:
    found = suspect_among(readings, deviations, s, FLAG_LEVEL, step)
    return found.text if found else ""


def relative_uncertainty_of_s(count: int) -> float:
    """Relative standard deviation of the experimental standard deviation s.

    How little a few readings say about their own scatter: of normal readings,
    s itself scatters by this fraction about its expectation.

    Parameters
    ----------
    count : int
        Readings behind s, at least 2.

    Returns
    -------
    float
        ``√(1/c4² - 1)``, a plain number; about ``1/√(2(n - 1))`` for many readings.

    Raises
    ------
    InputError
        If there are fewer than two readings.

    References
    ----------
    JCGM 100:2008, E.4.3, Table E.1.

    Examples
    --------
    >>> [round(100 * relative_uncertainty_of_s(n)) for n in (2, 5, 10, 50)]
    [76, 36, 24, 10]
    """
    if count < 2:
        raise InputError(
            f"relative_uncertainty_of_s: {count} readings; at least two have a scatter."
        )
    return math.sqrt(math.expm1(-2 * _log_c4(count)))


def _log_c4(count: int) -> float:
    """Logarithm of E(s)/σ of normal readings."""
    x = (count - 1) / 2
    if count < 100:
        return math.lgamma(x + 0.5) - math.lgamma(x) - math.log(x) / 2
    # lgamma's difference loses its digits; three terms of its expansion do not.
    return -1 / (8 * x) + 1 / (192 * x**3) - 1 / (640 * x**5)


def correlation(first: Sequence[float], second: Sequence[float]) -> float:
    """Correlation coefficient of readings taken together; 0 if either is constant.

    Parameters
    ----------
    first, second : sequence of float
        As many of each, in the same order.

    Raises
    ------
    InputError
        If empty or not finite.
    ValueError
        If one is shorter.

    References
    ----------
    JCGM 100:2008, 5.2.3 (the same for the means).

    Examples
    --------
    >>> round(correlation([1.0, 2.0, 4.0], [2.0, 4.0, 8.0]), 9)
    1.0
    """
    _, a, _ = _moments(first, 0.0)
    _, b, _ = _moments(second, 0.0)
    # Divided by their lengths first: squares of tiny deviations would lose digits.
    length_a, length_b = math.hypot(*a), math.hypot(*b)
    if length_a == 0 or length_b == 0:
        return 0.0
    pairs = zip(a, b, strict=True)
    r = math.fsum((x / length_a) * (y / length_b) for x, y in pairs)
    return min(max(r, -1.0), 1.0)

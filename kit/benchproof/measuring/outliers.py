"""Readings that stand out from their fellows: flagged, left where they are."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class Suspect:
    """The reading furthest from the mean, and how far a good one may lie.

    Attributes
    ----------
    index : int
        Its place, counted from 0; the first of several as far out.
    value : float
        The reading itself, in the readings' unit.
    statistic : float
        Its distance from the mean over the standard deviation; 0 if all are equal.
    critical : float
        What the largest such distance of good readings exceeds with probability
        `level`.
    level : float
        Of the two-sided test.
    """

    index: int
    value: float
    statistic: float
    critical: float
    level: float = 0.05

    @property
    def stands_out(self) -> bool:
        """Whether the statistic exceeds its critical value."""
        return self.statistic > self.critical

    @property
    def text(self) -> str:
        """What to do about it; "" if it does not stand out."""
        if not self.stands_out:
            return ""
        return (
            f"reading {self.index + 1} ({self.value:.10g}) stands out: "
            f"{_apart(self.statistic, self.critical)} "
            f"(Grubbs, two-sided, {100 * self.level:g} %). "
            "It still counts; look for what happened there, and strike it only for "
            "a physical reason"
        )


def _apart(statistic: float, critical: float) -> str:
    """Say both with as many figures as tell them apart."""
    figures = next((n for n in (3, 4, 5) if _told_apart(statistic, critical, n)), 6)
    return (
        f"{statistic:.{figures}g} standard deviations from the mean, beyond "
        f"{critical:.{figures}g}"
    )


def _told_apart(a: float, b: float, figures: int) -> bool:
    return f"{a:.{figures}g}" != f"{b:.{figures}g}"


def grubbs(
    readings: Sequence[float], level: float = 0.05, step: float = 0.0
) -> Suspect:
    """Test whether the reading furthest from the mean stands out (Grubbs).

    It is a flag: nothing is removed. The test is two-sided (too high or too low),
    for readings that scatter normally about one steady value with at most one
    blunder; several blunders can hide each other.

    Parameters
    ----------
    readings : sequence of float
        At least three, all finite and in one unit.
    level : float
        Probability that a set of good readings is flagged, between 0 and 1.
    step : float
        One unit of the display's last digit, in the readings' unit; 0 if unknown.
        Its variance, step²/12, is added to s², or else every reading that is one
        digit off among equal ones would stand out.

    Returns
    -------
    Suspect
        The furthest reading, whether it stands out or not.

    Raises
    ------
    InputError
        If there are fewer than three readings, or one is not finite, or `level` or
        `step` is out of range.

    References
    ----------
    F. E. Grubbs, Technometrics 11 (1969) 1; NIST/SEMATECH e-Handbook of
    Statistical Methods, 1.3.5.17.1.

    Examples
    --------
    >>> found = grubbs([3.12, 3.09, 3.15, 4.35, 3.11, 3.08, 3.13])
    >>> found.value, round(found.statistic, 3), round(found.critical, 3)
    (4.35, 2.265, 2.02)
    """
    if len(readings) < 3 or not all(map(math.isfinite, readings)):
        raise InputError(
            f"grubbs: {len(readings)} readings; give three or more, all of them finite."
        )
    if not 0 <= step < math.inf:
        raise InputError(f"grubbs: step {step}; give the last digit's size, or 0.")
    mean, s = statistics.fmean(readings), statistics.stdev(readings)
    index, statistic = _furthest([x - mean for x in readings], s, step)
    critical = grubbs_critical(len(readings), level)
    return Suspect(index, readings[index], statistic, critical, level)


def suspect_among(
    readings: Sequence[float],
    deviations: Sequence[float],
    standard_deviation: float,
    level: float,
    step: float,
) -> Suspect | None:
    """Return the reading that stands out, if any, given what is already computed.

    Parameters
    ----------
    readings, deviations : sequence of float
        At least three, and their differences from the mean.
    standard_deviation : float
        Of the readings.
    level, step : float
        As for `grubbs`.

    Examples
    --------
    >>> suspect_among([1.0, 2.0, 3.0], [-1.0, 0.0, 1.0], 1.0, 0.05, 0.0) is None
    True
    """
    index, statistic = _furthest(deviations, standard_deviation, step)
    if statistic <= _surely_unsuspicious(len(readings), level):
        return None
    critical = grubbs_critical(len(readings), level)
    found = Suspect(index, readings[index], statistic, critical, level)
    return found if found.stands_out else None


def _furthest(
    deviations: Sequence[float], standard_deviation: float, step: float
) -> tuple[int, float]:
    """Return the index and the size, in standard deviations, of the furthest."""
    sizes = list(map(abs, deviations))
    largest = max(sizes)
    spread = math.hypot(standard_deviation, step / math.sqrt(12))
    return sizes.index(largest), largest / spread if spread > 0 else 0.0


@cache
def grubbs_critical(count: int, level: float = 0.05, sides: int = 2) -> float:
    """Return what Grubbs' statistic of good readings exceeds at probability `level`.

    Parameters
    ----------
    count : int
        Of readings, at least 3.
    level : float
        Between 0 and 1 exclusive.
    sides : {1, 2}
        Two if the suspect may be too high or too low, one if only one is of interest.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    With t the quantile of Student's distribution with n - 2 degrees of freedom that
    is exceeded with probability level/(sides·n), it is
    ``(n - 1)/√n · √(t²/(n - 2 + t²))``. This bounds the probability from above
    (Bonferroni); at the usual levels it is exact to the digits of the tables.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.

    Examples
    --------
    >>> round(grubbs_critical(8), 3), round(grubbs_critical(8, sides=1), 3)
    (2.127, 2.032)
    """
    if count < 3 or not 0 < level < 1 or sides not in (1, 2):
        raise InputError(
            f"grubbs_critical: {count} readings, level {level}, {sides} sides; give at "
            "least three readings, a level between 0 and 1, and 1 or 2 sides."
        )
    return _largest(count, student_quantile(level / (sides * count), count - 2))


@cache
def _surely_unsuspicious(count: int, level: float) -> float:
    """Return a lower bound of the critical value, found without scipy."""
    return _largest(count, least_quantile(level / (2 * count), count - 2))


def _largest(count: int, t: float) -> float:
    """Largest deviation over s at which a reading, tested by t, is as far as t."""
    return (count - 1) / math.sqrt(count) * t / math.hypot(t, math.sqrt(count - 2))


@cache
def student_quantile(tail: float, degrees_of_freedom: int) -> float:
    """Return what Student's t exceeds with probability `tail`.

    Parameters
    ----------
    tail : float
        Above 0, at most 0.5.
    degrees_of_freedom : int
        At least 1.

    Examples
    --------
    >>> round(student_quantile(0.005, 3), 3)
    5.841
    """
    from scipy.special import stdtrit  # lazily: few sets of readings need it

    return -float(stdtrit(degrees_of_freedom, tail))


@cache
def least_quantile(tail: float, degrees_of_freedom: int) -> float:
    """Return a lower bound of `student_quantile`, without scipy.

    The first terms of its expansion about the normal quantile; those left out
    are positive. Close from about 5 degrees of freedom.

    Parameters
    ----------
    tail : float
        At most 0.1.
    degrees_of_freedom : int
        At least 1.

    References
    ----------
    Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5.

    Examples
    --------
    >>> round(least_quantile(0.005, 3), 3)
    5.196
    """
    z = -statistics.NormalDist().inv_cdf(tail)
    first = (z**3 + z) / (4 * degrees_of_freedom)
    return z + first + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * degrees_of_freedom**2)

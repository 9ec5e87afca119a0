"""Repeated readings: mean, standard deviation, and whether a mean is honest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class Repeats:
    """Statistics of n readings of one thing, in the readings' unit.

    `standard_uncertainty` is that of the mean, s/√n; NaN for one reading.
    """

    count: int
    mean: float
    standard_deviation: float
    standard_uncertainty: float
    degrees_of_freedom: int
    drift: str = ""


def summarise(readings: Sequence[float]) -> Repeats:
    """Mean, s, s/√n and degrees of freedom of repeated readings, in time order.

    Two passes and exact summation keep the digits when readings share many
    leading ones.

    Parameters
    ----------
    readings : sequence of float
        At least one, all in one unit.

    Raises
    ------
    InputError
        If empty or not finite.

    References
    ----------
    JCGM 100:2008, 4.2.1-4.2.3.

    Examples
    --------
    >>> r = summarise([5.031, 5.034, 5.036, 5.033, 5.035])
    >>> round(r.mean, 4), round(r.standard_uncertainty, 6), r.degrees_of_freedom
    (5.0338, 0.00086, 4)
    """
    n = len(readings)
    if n == 0 or not all(map(math.isfinite, readings)):
        raise InputError("summarise: give at least one reading, all of them finite.")
    mean = math.fsum(readings) / n
    mean += math.fsum(x - mean for x in readings) / n
    if n == 1:
        return Repeats(1, mean, math.nan, math.nan, 0)
    squares = math.fsum((x - mean) ** 2 for x in readings)
    s = math.sqrt(squares / (n - 1))
    return Repeats(n, mean, s, s / math.sqrt(n), n - 1, _drift(readings, mean, squares))


def _drift(readings: Sequence[float], mean: float, squares: float) -> str:
    """Flag a slope that stands out of the scatter; s/√n would hide it."""
    n = len(readings)
    if n < 5 or squares == 0:
        return ""
    centre = (n - 1) / 2
    spread = n * (n * n - 1) / 12
    slope = (
        math.fsum((i - centre) * (x - mean) for i, x in enumerate(readings)) / spread
    )
    residual = max(squares - slope * slope * spread, 0.0) / (n - 2)
    # 4 is beyond t(0.99) for every n >= 5 but 5 itself (5.84 two-sided at 0.99).
    if abs(slope) > (6 if n == 5 else 4) * math.sqrt(residual / spread):
        return (
            f"the readings drift ({slope:+.2g} per reading): "
            "their mean and s/√n do not describe a steady value"
        )
    return ""


def correlation(first: Sequence[float], second: Sequence[float]) -> float:
    """Correlation coefficient of readings taken together; 0 if either is constant.

    References
    ----------
    JCGM 100:2008, 5.2.3 (the same for the means).
    """
    a, b = summarise(first).mean, summarise(second).mean
    ab = math.fsum((x - a) * (y - b) for x, y in zip(first, second, strict=True))
    aa = math.fsum((x - a) ** 2 for x in first)
    bb = math.fsum((y - b) ** 2 for y in second)
    return ab / math.sqrt(aa * bb) if aa > 0 and bb > 0 else 0.0

"""Degrees of freedom and coverage factors."""

from __future__ import annotations

import math
from collections.abc import Iterable

from benchproof.values.errors import InputError


def effective_degrees_of_freedom(terms: Iterable[tuple[float, float]]) -> float:
    """Welch-Satterthwaite: degrees of freedom of a combined uncertainty.

    Parameters
    ----------
    terms : iterable of (contribution, degrees of freedom)
        Independent contributions, all in one unit.

    References
    ----------
    JCGM 100:2008, G.4.1, equation (G.2b).

    Examples
    --------
    >>> round(effective_degrees_of_freedom([(0.25, 9), (0.57, 4), (0.82, 14)]), 1)
    19.0
    """
    listed = list(terms)
    variance = math.fsum(u * u for u, _ in listed)
    if variance == 0.0:
        return math.inf
    denominator = math.fsum((u * u / variance) ** 2 / dof for u, dof in listed)
    return 1 / denominator if denominator else math.inf


def coverage_factor(level: float, degrees_of_freedom: float = math.inf) -> float:
    """Two-sided coverage factor from Student's t.

    Parameters
    ----------
    level : float
        Coverage probability, between 0 and 1 exclusive.
    degrees_of_freedom : float
        At least 1; truncated to a whole number, as the standard does.

    Raises
    ------
    InputError
        If either is out of range.

    References
    ----------
    JCGM 100:2008, Table G.2 and G.6.4.

    Examples
    --------
    >>> round(coverage_factor(0.95, 4), 3), round(coverage_factor(0.95), 3)
    (2.776, 1.96)
    """
    if not 0 < level < 1 or not degrees_of_freedom >= 1:
        raise InputError(
            f"coverage_factor: level {level}, degrees of freedom {degrees_of_freedom}; "
            "give a level between 0 and 1 and at least 1 degree of freedom."
        )
    from scipy.special import ndtri, stdtrit  # lazily: not needed to open a case

    upper = 0.5 + level / 2
    # Truncate 7.999999 to 8: rounding noise of the sum is not information.
    whole = math.floor(degrees_of_freedom + 1e-9) if degrees_of_freedom < 1e9 else None
    return float(stdtrit(whole, upper) if whole else ndtri(upper))


def trapezoid_factor(level: float, first: float, second: float = 0.0) -> float:
    """Coverage factor of the sum of two independent rectangular sources.

    Parameters
    ----------
    level : float
        Coverage probability, between 0 and 1.
    first, second : float
        Their standard uncertainties, in one unit; not both zero.

    References
    ----------
    JCGM 101:2008, 6.4.4 (trapezoidal distribution); the quantile follows from it.

    Examples
    --------
    >>> [round(trapezoid_factor(0.95, 1.0, second), 3) for second in (0.0, 1.0)]
    [1.645, 1.902]
    """
    base, top = math.sqrt(3) * (first + second), math.sqrt(3) * abs(first - second)
    half = base - math.sqrt((1 - level) * (base**2 - top**2))
    if half <= top:  # the interval ends on the flat top
        half = level * (base + top) / 2
    return half / math.hypot(first, second)

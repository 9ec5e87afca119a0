"""How many attempts, or hours, it takes to see a claimed rate or to bound it."""

from __future__ import annotations

import math

from benchproof.reasoning.trials.counts import check_level
from benchproof.values.errors import InputError


def attempts_to_see(rate: float, level: float = 0.95, events: int = 1) -> int:
    """Fewest attempts that show so many occurrences with a given probability.

    Parameters
    ----------
    rate : float
        Claimed probability per attempt, between 0 and 1.
    level : float
        Probability of seeing them if the claim holds.
    events : int
        How many are to be seen, >= 1.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    ``ln α/ln(1 - p)``, rounded up, for one occurrence (the success-run theorem).

    Examples
    --------
    >>> attempts_to_see(0.001)
    2995
    """
    if not 0 < rate < 1:
        raise InputError(f"rate {rate} per attempt: give one between 0 and 1.")
    _check(level, events)

    def shows(attempts: int) -> bool:
        return _chance(attempts, events, rate) >= level

    high = events
    while not shows(high):
        high *= 2
    low = high // 2  # too few
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    return high


def _chance(attempts: int, events: int, rate: float) -> float:
    """Probability of at least so many events."""
    if attempts < events:
        return 0.0
    if events == 1:
        return -math.expm1(attempts * math.log1p(-rate))
    from scipy.special import betainc  # lazily: not needed to open a case

    return float(betainc(events, attempts - events + 1, rate))


def attempts_to_bound(rate: float, level: float = 0.95, allowed: int = 0) -> int:
    """Fewest attempts whose one-sided upper bound does not exceed a rate.

    Parameters
    ----------
    rate : float
        Probability per attempt to be undercut, between 0 and 1.
    level : float
        Confidence level of the bound.
    allowed : int
        Occurrences that may be seen, >= 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> attempts_to_bound(0.05)
    59
    """
    _check_allowed(allowed)
    return attempts_to_see(rate, level, allowed + 1)


def exposure_to_see(rate: float, level: float = 0.95, events: int = 1) -> float:
    """Shortest exposure that shows so many events with a given probability.

    Parameters
    ----------
    rate : float
        Claimed events per unit of exposure, > 0.
    level : float
        Probability of seeing them if the claim holds.
    events : int
        How many are to be seen, >= 1.

    Returns
    -------
    float
        In the unit that the rate is per.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> round(exposure_to_see(9 / 12.5), 2)
    4.16
    """
    if not 0 < rate < math.inf:
        raise InputError(f"rate {rate} per unit of exposure: give one above 0.")
    _check(level, events)
    if events == 1:
        return -math.log1p(-level) / rate
    from scipy.special import gammaincinv

    return float(gammaincinv(events, level)) / rate


def exposure_to_bound(rate: float, level: float = 0.95, allowed: int = 0) -> float:
    """Shortest exposure whose one-sided upper bound does not exceed a rate.

    Parameters
    ----------
    rate : float
        Events per unit of exposure to be undercut, > 0.
    level : float
        Confidence level of the bound.
    allowed : int
        Events that may be seen, >= 0.

    Returns
    -------
    float
        In the unit that the rate is per.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> round(exposure_to_bound(1 / 400, 0.8, allowed=2))
    1712
    """
    _check_allowed(allowed)
    return exposure_to_see(rate, level, allowed + 1)


def _check(level: float, events: int) -> None:
    check_level(level)
    if events < 1:
        raise InputError(f"{events} events to be seen: give at least 1.")


def _check_allowed(allowed: int) -> None:
    if allowed < 0:
        raise InputError(f"{allowed} events allowed: give 0 or more.")

"""Counts: exact limits of a probability, and the bound that a zero leaves."""

from __future__ import annotations

import math

from benchproof.reasoning.decisions import Outcome
from benchproof.values.errors import InputError


def exact_limits(count: int, attempts: int, level: float = 0.95) -> tuple[float, float]:
    """Two-sided exact confidence limits of a probability.

    Parameters
    ----------
    count, attempts : int
        Occurrences, and attempts they were seen in; 0 <= count <= attempts.
    level : float
        Confidence level, between 0 and 1.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404.

    Examples
    --------
    >>> low, high = exact_limits(1, 10)
    >>> round(low, 4), round(high, 4)
    (0.0025, 0.445)
    """
    return (
        lower_bound(count, attempts, 0.5 + level / 2),
        upper_bound(count, attempts, 0.5 + level / 2),
    )


def shown_interval(count: int, attempts: int, level: float = 0.95) -> str:
    """Write the exact limits in percent, rounded outwards so that they stay limits.

    Parameters
    ----------
    count, attempts : int
        As for `exact_limits`.
    level : float
        Confidence level.

    Examples
    --------
    >>> shown_interval(0, 20)
    '0 % to 16.9 %'
    """
    low, high = exact_limits(count, attempts, level)
    down, up = math.floor(1000 * low) / 10, math.ceil(1000 * high) / 10
    return f"{down:g} % to {up:g} %"


def upper_bound(count: int, attempts: int, level: float = 0.95) -> float:
    """One-sided exact upper bound; a zero of n gives 1 - (1 - level)^(1/n).

    Parameters
    ----------
    count, attempts : int
        As for `exact_limits`.
    level : float
        Confidence level, one-sided.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404.

    Examples
    --------
    >>> round(upper_bound(0, 40), 4)
    0.0722
    """
    _check(count, attempts, level)
    if count == attempts:
        return 1.0
    from scipy.special import betaincinv

    return float(betaincinv(count + 1, attempts - count, level))


def lower_bound(count: int, attempts: int, level: float = 0.95) -> float:
    """One-sided exact lower bound; the mirror image of `upper_bound`."""
    _check(count, attempts, level)
    return 1 - upper_bound(attempts - count, attempts, level) if count else 0.0


def decide_count(
    count: int, attempts: int, lower: float, upper: float, level: float = 0.95
) -> Outcome:
    """Decide whether a probability lies between two limits, from a count.

    Met and contradicted each need a one-sided exact bound at `level`.

    Examples
    --------
    >>> decide_count(17, 20, 0.5, 1.0)
    'met'
    """
    low = lower_bound(count, attempts, level)
    high = upper_bound(count, attempts, level)
    if low >= lower and high <= upper:
        return "met"
    return "contradicted" if high < lower or low > upper else "undetermined"


def _check(count: int, attempts: int, level: float) -> None:
    if not (0 <= count <= attempts and attempts >= 1 and 0 < level < 1):
        raise InputError(
            f"{count} of {attempts} at level {level}: give 0 <= count <= attempts, "
            "at least one attempt, and a level between 0 and 1."
        )

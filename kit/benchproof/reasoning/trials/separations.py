"""How many attempts of each arm it takes to tell two probabilities apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.trials.counts import check_level
from benchproof.values.errors import InputError

Floats = NDArray[np.float64]

COUNTED_UP_TO = 500
"""Attempts of each arm up to which the power is counted out, not approximated."""


@dataclass(frozen=True, slots=True)
class Separation:
    """Attempts of each arm that tell two probabilities apart.

    Attributes
    ----------
    attempts : int
        Of each arm.
    power : float
        Probability that Fisher's exact test then shows the difference.
    counted : bool
        True if the power was summed over all outcomes, False if approximated.
    """

    attempts: int
    power: float
    counted: bool


def attempts_to_separate(
    first: float, second: float, level: float = 0.95, power: float = 0.8
) -> Separation:
    """Find how many attempts of each arm tell two probabilities apart.

    Apart by Fisher's exact test, with equal arms.

    Parameters
    ----------
    first, second : float
        Probabilities per attempt that the rivals predict, 0 to 1, not equal.
    level : float
        The test is two-sided, at 1 - level.
    power : float
        Probability of showing the difference if it is there.

    Returns
    -------
    Separation
        The fewest attempts up to about 100; beyond, the fewest near the approximate
        number (the power of an exact test does not rise evenly). Beyond
        `COUNTED_UP_TO`, by the normal approximation with continuity correction.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Fleiss, Tytun and Ury, Biometrics 36 (1980) 343: the correction (not read).

    Examples
    --------
    >>> found = attempts_to_separate(0.85, 0.05)
    >>> found.attempts, round(found.power, 2)
    (7, 0.84)
    """
    _check(first, second, level, power)
    about = _approximate(first, second, level, power)
    if about > COUNTED_UP_TO:
        return Separation(about, power, False)
    n = 1 if about <= 100 else about
    reached = fisher_power(n, first, second, level)
    while reached < power:
        n += 1
        reached = fisher_power(n, first, second, level)
    while n > 100 and (fewer := fisher_power(n - 1, first, second, level)) >= power:
        n, reached = n - 1, fewer
    return Separation(n, reached, True)


def fisher_power(
    attempts: int, first: float, second: float, level: float = 0.95
) -> float:
    """Probability that Fisher's exact test shows a difference between equal arms.

    Parameters
    ----------
    attempts : int
        Of each arm, >= 1.
    first, second : float
        Probabilities per attempt, 0 to 1.
    level : float
        The test is two-sided, at 1 - level.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    Summed over all (attempts + 1)² outcomes. With equal arms the splits of a total
    are symmetric, so the two-sided p-value is twice the smaller tail.

    Examples
    --------
    >>> round(fisher_power(20, 0.85, 0.05), 5)
    0.99997
    """
    if attempts < 1:
        raise InputError(f"{attempts} attempts of each arm: give at least 1.")
    for probability in (first, second):
        if not 0 <= probability <= 1:
            raise InputError(f"probability {probability}: give one from 0 to 1.")
    check_level(level)
    shows = _rejected(attempts, 1 - level)
    return float(_binomial(attempts, first) @ shows @ _binomial(attempts, second))


def _rejected(n: int, alpha: float) -> Floats:
    """1 where the test rejects, for the counts of the first arm and the second."""
    ways = _log_ways(n)
    totals, x = np.arange(2 * n + 1)[:, None], np.arange(n + 1)[None, :]
    other = totals - x
    possible = (other >= 0) & (other <= n)
    logs = ways[x] + ways[np.clip(other, 0, n)]
    logs = np.where(possible, logs, -np.inf)
    weights = np.exp(logs - logs.max(axis=1, keepdims=True))
    lower = np.cumsum(weights, axis=1) / weights.sum(axis=1, keepdims=True)
    k = np.arange(n + 1)
    total, smaller = k[:, None] + k[None, :], np.minimum(k[:, None], k[None, :])
    p = 2 * lower[total, smaller]
    # Equal counts are the middle of the distribution: they show nothing.
    shows = (p <= alpha * (1 + 1e-9)) & (k[:, None] != k[None, :])
    return np.asarray(shows, dtype=np.float64)


def _log_ways(n: int) -> Floats:
    steps = np.log(np.arange(n, 0, -1)) - np.log(np.arange(1, n + 1))
    return np.concatenate([[0.0], np.cumsum(steps)])


def _binomial(n: int, probability: float) -> Floats:
    k = np.arange(n + 1)
    if probability in (0, 1):
        return np.asarray(k == n * probability, dtype=np.float64)
    seen = k * math.log(probability) + (n - k) * math.log1p(-probability)
    return np.asarray(np.exp(_log_ways(n) + seen))


def _approximate(first: float, second: float, level: float, power: float) -> int:
    from scipy.special import ndtri  # lazily: not needed to open a case

    mean, gap = (first + second) / 2, abs(first - second)
    alike = float(ndtri(0.5 + level / 2)) * math.sqrt(2 * mean * (1 - mean))
    apart = float(ndtri(power)) * math.sqrt(first * (1 - first) + second * (1 - second))
    plain = ((alike + apart) / gap) ** 2
    return math.ceil(plain / 4 * (1 + math.sqrt(1 + 4 / (plain * gap))) ** 2)


def _check(first: float, second: float, level: float, power: float) -> None:
    if not (0 <= first <= 1 and 0 <= second <= 1) or first == second:
        raise InputError(
            f"probabilities {first} and {second}: give two that differ, from 0 to 1. "
            "Rivals that predict the same cannot be told apart by attempts."
        )
    check_level(level)
    if not 0 < power < 1:
        raise InputError(f"power {power}: give one between 0 and 1, such as 0.8.")

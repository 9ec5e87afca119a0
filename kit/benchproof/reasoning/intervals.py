"""Coverage intervals of a set of draws, and how exactly they are known."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def numerical_tolerance(standard_uncertainty: float, digits: int) -> float:
    """Half a unit in the last of the `digits` significant digits of u.

    References
    ----------
    JCGM 101:2008, 7.9.2.

    Examples
    --------
    >>> numerical_tolerance(0.35, 2)
    0.005
    """
    if not standard_uncertainty > 0:
        return 0.0
    exponent = math.floor(math.log10(standard_uncertainty)) - (digits - 1)
    return 0.5 * float(f"1e{exponent}")


def symmetric_interval(outcome: Floats, level: float) -> tuple[float, float]:
    """Return the interval that leaves equal probability on both sides.

    References
    ----------
    JCGM 101:2008, 5.3.3 and 7.7.1.
    """
    low, high = _ranks(outcome.size, level)
    parted = np.partition(outcome, (low, high))
    return float(parted[low]), float(parted[high])


def _ranks(size: int, level: float) -> tuple[int, int]:
    inside = min(math.floor(level * size + 0.5), size - 1)
    low = (size - inside) // 2
    return low, low + inside


def coverage_intervals(
    outcome: Floats, level: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Shortest and symmetric interval; only the two tails are sorted."""
    size = outcome.size
    tail = size - min(math.floor(level * size + 0.5), size - 1)
    lows, highs = _tails(outcome, tail)
    best = int(np.argmin(highs - lows))
    low = tail // 2
    return (
        (float(lows[best]), float(highs[best])),
        (float(lows[low]), float(highs[low])),
    )


def _tails(outcome: Floats, tail: int) -> tuple[Floats, Floats]:
    """Return the `tail` smallest and the `tail` largest draws, each sorted.

    A few draws tell roughly where the tails begin, so that one comparison sets
    most of the others aside; this is quicker than partitioning them all.
    """
    some = np.sort(outcome[:: max(outcome.size // 10_000, 1)])
    expected = tail * some.size / outcome.size
    reach = math.ceil(expected + 5 * math.sqrt(expected)) + 1  # five sigma
    lows = highs = outcome
    if 2 * reach < some.size:
        lows = outcome[outcome <= some[reach]]
        highs = outcome[outcome >= some[-1 - reach]]
    if min(lows.size, highs.size) < tail:  # the few draws misled
        lows = highs = outcome
    return np.sort(lows)[:tail], np.sort(highs)[-tail:]

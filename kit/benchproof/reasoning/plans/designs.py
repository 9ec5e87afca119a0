"""Designs for factors of equally many levels that hold every pair of levels."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

Row = tuple[int, ...]

_SHIFTED = (
    "112210110020022",
    "111201220010202",
    "012121002011220",
    "110102121202020",
)
"""Four columns of 15 rows; each, shifted cyclically within the rows 1-5, 6-10 and
11-15 at once, gives five columns: 20 factors of three levels. Found by annealing over
such columns; the tests go through every pair."""


def uniform_design(levels: int, factors: int) -> list[Row]:
    """Return rows in which every pair of levels of two factors occurs, if known.

    Parameters
    ----------
    levels : int
        Of each factor, >= 1.
    factors : int
        >= 2.

    Returns
    -------
    list of tuple of int
        Empty where no design is known here.

    References
    ----------
    Two levels: Kleitman and Spencer, Discrete Math. 6 (1973) 255 (not read); there
    is no shorter plan. A prime number of levels for up to one factor more: lines
    of the affine plane, each pair once. Three levels, up to 20 factors: 15 rows.

    Examples
    --------
    >>> len(uniform_design(2, 10)), len(uniform_design(3, 4))
    (6, 9)
    """
    if levels == 2:
        return _two_levels(factors)
    if factors <= levels + 1 and _is_prime(levels):
        return _plane(levels, factors)
    if levels == 3 and factors <= 20:
        return _shifted(factors)
    return []


def fewest_rows(counts: Sequence[int]) -> int:
    """Return a number of rows below which no plan holds every pair of levels.

    Parameters
    ----------
    counts : sequence of int
        Levels of each of two factors or more, each >= 1.

    Notes
    -----
    Two factors alone need the product of their levels. Of k factors with v levels
    each in N rows, a level that stands in v rows only meets every level of every
    other factor once there: its v rows agree pairwise in nothing else. Each factor
    has at least ``v(v + 1) - N`` such levels, and there are ``N(N - 1)/2`` pairs of
    rows, so ``k (v(v + 1) - N) v(v - 1) <= N(N - 1)``. Levels taken together leave a
    plan one, so factors with more than v levels count as having v.

    Examples
    --------
    >>> fewest_rows([3] * 4), fewest_rows([3] * 20), fewest_rows([5, 2])
    (9, 12, 10)
    """
    least = math.prod(sorted(counts)[-2:])
    for v in sorted({*counts}):
        k = sum(count >= v for count in counts)
        rows = v * v if k > 1 else 0
        while k > 1 and k * (v * (v + 1) - rows) * v * (v - 1) > rows * (rows - 1):
            rows += 1
        least = max(least, rows)
    return least


def _two_levels(factors: int) -> list[Row]:
    """Columns: sets of more than half of the rows but the first, which is all 0."""
    rows = 4
    while math.comb(rows - 1, (rows + 1) // 2) < factors:
        rows += 1
    sets = itertools.combinations(range(1, rows), (rows + 1) // 2)
    columns = [{*chosen} for chosen in itertools.islice(sets, factors)]
    return [tuple(int(row in ones) for ones in columns) for row in range(rows)]


def _plane(levels: int, factors: int) -> list[Row]:
    rows = []
    for x, y in itertools.product(range(levels), repeat=2):
        columns = [x, *((slope * x + y) % levels for slope in range(levels))]
        rows.append(tuple(columns[:factors]))
    return rows


def _shifted(factors: int) -> list[Row]:
    columns = [
        [int(column[5 * (row // 5) + (row - shift) % 5]) for row in range(15)]
        for column in _SHIFTED
        for shift in range(5)
    ]
    return list(zip(*columns[:factors], strict=True))


def _is_prime(number: int) -> bool:
    return number > 1 and all(number % d for d in range(2, math.isqrt(number) + 1))

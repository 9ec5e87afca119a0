"""Designs for factors of equally many levels that hold every pair of levels."""

from __future__ import annotations

import itertools
import math

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

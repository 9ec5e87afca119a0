"""Quantiles of many beta distributions at once: interpolated between exact ones."""

from __future__ import annotations

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

FEWEST = 2_000
"""Rows from which interpolating pays; fewer are inverted one by one."""

INTERPOLATED = (0.005, 0.995)
"""Levels between which the interpolation was held against exact quantiles."""

_DEGREES = 12, 10
_BLOCK, _PRODUCT = 4096, 1024
"""Rows whose powers stay in the cache; rows of one matrix product, few enough for one
thread: two would wait for each other where something else keeps a processor busy."""


def beta_quantiles(a: Whole, b: Whole, level: float) -> Floats:
    """Quantiles of beta distributions with whole parameters, all at one level.

    Parameters
    ----------
    a, b : array of int, shape (n,)
        Parameters, >= 0, not both 0: where one is, all lies at 0, or at 1.
    level : float
        Between 0 and 1.

    Returns
    -------
    array of float, shape (n,)

    Notes
    -----
    With ``r = sqrt(1/a + 1/b)`` and ``w = (a - b)/(a + b)`` the quantile x is
    ``ln(x/(1 - x)) = ln(a/b) + r f(r, w)``, where f is smooth down to r = 0. It is
    interpolated between exact quantiles at Chebyshev's points; relative deviation
    below 1e-8, at the limits of 95 % below 5e-10. Where a or b is 1 the
    quantile is a power.

    Examples
    --------
    >>> beta_quantiles(np.array([1, 2]), np.array([10, 9]), 0.975).round(4).tolist()
    [0.3085, 0.445]
    """
    from scipy.special import betaincinv  # lazily: not needed to open a case

    least, most = INTERPOLATED
    if a.size < FEWEST or not least <= level <= most:
        found = np.asarray(betaincinv(np.maximum(a, 1), np.maximum(b, 1), level))
    else:
        found = _interpolated(a, b, level)
    _mend_edges(a, b, level, found)
    return found


def _mend_edges(a: Whole, b: Whole, level: float, found: Floats) -> None:
    """Set the quantiles where a parameter is 0 or 1: ends, and powers."""
    rows = np.flatnonzero(np.minimum(a, b) < 2)
    x, y = a[rows], b[rows]
    found[rows] = np.select(
        [x == 0, y == 0, x == 1],
        [0.0, 1.0, -np.expm1(np.log1p(-level) / np.maximum(y, 1))],
        level ** (1 / np.maximum(x, 1)),
    )


def _interpolated(a: Whole, b: Whole, level: float) -> Floats:
    weights, found = _weights(level), np.empty(a.size)
    # Made once: fresh memory for each block takes longer than the sums.
    room = [np.empty((degree + 1, _BLOCK)) for degree in _DEGREES]
    for start in range(0, a.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        x, y = np.maximum(a[part], 1.0), np.maximum(b[part], 1.0)
        found[part] = _block(x, y, weights, [p[:, : x.size] for p in room])
    return found


def _weights(level: float) -> Floats:
    """Return the weights of the powers of w and r, shape (in w, in r)."""
    from scipy.special import betaincinv

    in_r, in_w = (chebyshev.chebpts1(degree + 1) for degree in _DEGREES)
    r, w = np.meshgrid((in_r + 1) / 2, in_w, indexing="ij")
    a, b = 2 / (r * r * (1 - w)), 2 / (r * r * (1 + w))
    # The smaller side of each is exact: 1 - x would lose its figures.
    odds = betaincinv(a, b, level) / betaincinv(b, a, 1 - level)
    f = np.log(odds * b / a) / r
    # On Chebyshev's points powers up to these degrees cost four figures, no more.
    through_r = np.linalg.solve(np.vander(in_r, increasing=True), f)
    return np.asarray(np.linalg.solve(np.vander(in_w, increasing=True), through_r.T))


def _block(a: Floats, b: Floats, weights: Floats, room: list[Floats]) -> Floats:
    total = a + b
    r = np.sqrt(total / (a * b))
    of_r, of_w = _powers(2 * r - 1, room[0]), _powers((a - b) / total, room[1])
    f = np.empty_like(a)
    for start in range(0, a.size, _PRODUCT):
        part = slice(start, start + _PRODUCT)
        np.einsum("ij,ij->j", weights @ of_r[:, part], of_w[:, part], out=f[part])
    f *= r
    odds = a * np.exp(f, out=f)
    return np.asarray(odds / (odds + b))


def _powers(x: Floats, room: Floats) -> Floats:
    """Fill in the powers from 0 on, one row each."""
    room[0], room[1] = 1.0, x
    for i in range(2, len(room)):
        np.multiply(x, room[i - 1], out=room[i])
    return room

"""The covariance of several results: built, and checked that it can be one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchproof.values.errors import InputError

Floats = NDArray[np.float64]

_SINGULAR = 1e-10
"""Below it an eigenvalue of the correlation is rounding, and so are the weights."""


def covariance_of(
    names: tuple[str, ...],
    uncertainties: Sequence[float] | None = None,
    covariance: Sequence[Sequence[float]] | Floats | None = None,
) -> Floats:
    """Return the covariance of several results, after checking that it can be one.

    Parameters
    ----------
    names : tuple of str
        One per result, for the messages.
    uncertainties : sequence of float, shape (n,), or None
        Standard uncertainties of independent results.
    covariance : array of float, shape (n, n), or None
        Instead of them.

    Returns
    -------
    array of float, shape (n, n)
        Symmetric and positive definite.

    Raises
    ------
    InputError
        If an uncertainty is not above 0, or the covariance is singular or cannot
        be; the results it is about are named.

    References
    ----------
    JCGM 100:2008, C.3.6 (a correlation coefficient lies between -1 and 1).

    Examples
    --------
    >>> covariance_of(("a", "b"), [1.0, 2.0]).tolist()
    [[1.0, 0.0], [0.0, 4.0]]
    """
    if (uncertainties is None) == (covariance is None):
        raise InputError(
            "combine_values: give either uncertainties (independent values) or a "
            "covariance (values that share sources)."
        )
    if covariance is not None:
        return _checked_covariance(np.asarray(covariance, dtype=np.float64), names)
    u = np.asarray(uncertainties, dtype=np.float64)
    if u.shape != (len(names),):
        raise InputError(
            f"combine_values: {len(names)} values and {u.size} uncertainties; "
            "give one each."
        )
    _check_uncertainties(u, names)
    return np.diag(u * u)


def _check_uncertainties(u: Floats, names: tuple[str, ...]) -> None:
    for name, one in zip(names, u.tolist(), strict=True):
        if not 0 < one < math.inf:
            raise InputError(
                f"combine_values: the standard uncertainty of {name} is {one:g}; a "
                "value is weighted by it, so give one above 0."
            )


def _checked_covariance(matrix: Floats, names: tuple[str, ...]) -> Floats:
    n = len(names)
    if matrix.shape != (n, n):
        raise InputError(
            f"combine_values: {n} values and a covariance of shape {matrix.shape}; "
            f"give {n} rows of {n}."
        )
    variances = np.diag(matrix)
    with np.errstate(invalid="ignore"):
        _check_uncertainties(np.sqrt(variances), names)
    u = np.sqrt(variances)
    correlation = matrix / np.outer(u, u)
    # The square root and back may leave the diagonal a rounding away from 1.
    np.fill_diagonal(correlation, 1.0)
    _check_pairs(correlation, names)
    _check_definite(correlation, names)
    return (matrix + matrix.T) / 2


def _check_pairs(correlation: Floats, names: tuple[str, ...]) -> None:
    bad = ~(np.abs(correlation - correlation.T) <= 1e-9)
    if bad.any():
        raise InputError(
            f"combine_values: the covariance of {_pair(bad, names)} is not the same "
            "both ways round, or not a number; give a symmetric matrix."
        )
    outside = np.abs(correlation) > 1 + 1e-9
    if outside.any():
        raise InputError(
            f"combine_values: the covariance of {_pair(outside, names)} is larger than "
            "their uncertainties allow (a correlation beyond 1); check both."
        )


def _pair(found: NDArray[np.bool_], names: tuple[str, ...]) -> str:
    first, second = np.argwhere(found)[0]
    return f"{names[first]} and {names[second]}"


def _check_definite(correlation: Floats, names: tuple[str, ...]) -> None:
    sizes, vectors = np.linalg.eigh((correlation + correlation.T) / 2)
    if sizes[0] > _SINGULAR:
        return
    # The combination that would be known exactly, named by its largest two parts.
    first, second = np.sort(np.argsort(-np.abs(vectors[:, 0]), kind="stable")[:2])
    pair = f"{names[first]} and {names[second]}"
    if sizes[0] < -_SINGULAR:
        raise InputError(
            f"combine_values: no values can have this covariance; {pair} contradict "
            "the others most. Check the covariances they appear in."
        )
    raise InputError(
        f"combine_values: {pair} are fully correlated (alone, or with others), so "
        "their weights are not determined. Leave one out, or give each the part of "
        "its uncertainty that is its own."
    )

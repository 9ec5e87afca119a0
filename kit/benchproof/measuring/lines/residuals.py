"""Residuals of a line: whether they scatter about it or follow a curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from benchproof.measuring.lines.points import Floats
from benchproof.values.errors import InputError

LEVEL = 0.05
"""Below this probability the runs are too few for chance."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs of residuals of one sign, in order of x.

    Attributes
    ----------
    runs : int
    positive, negative : int
        How many residuals lie above and below the line.
    p : float
        Probability of so few runs or fewer if the signs come in random order.
    least_p : float
        The smallest `p` these residuals could have had, in the best order.
    """

    runs: int
    positive: int
    negative: int
    p: float
    least_p: float

    @property
    def too_few(self) -> bool:
        """Whether the line misses a curve, by the run test."""
        return self.p < LEVEL

    @property
    def can_object(self) -> bool:
        """Whether there are enough residuals for the test to object at all."""
        return self.least_p < LEVEL


def residual_runs(
    x: Sequence[float],
    residuals: Sequence[float],
    *,
    fewest: int = 3,
    negligible: float = 0.0,
) -> Runs:
    """Test by their runs whether residuals come in random order along x.

    Residuals at one x count once, by their mean. The distribution is exact for signs
    in random order; those of a fitted line alternate a little more than that, so the
    test objects somewhat more rarely than its level says.

    Parameters
    ----------
    x, residuals : sequence of float
        As many of one as of the other, in any order.
    fewest : int
        Runs that any residuals of this line have: 3 with an intercept (they average
        to zero, and so does their product with x), 2 through the origin, else 1.
    negligible : float
        Residuals no larger than this (rounding) lie on the line and are left out.

    Raises
    ------
    InputError
        If the numbers of x and of residuals differ, or one is not finite.

    References
    ----------
    Wald and Wolfowitz, Ann. Math. Stat. 11 (1940) 147.

    Examples
    --------
    >>> bow = residual_runs(range(10), [2, 1, -1, -1, -1, -1, -1, 1, 1, 1])
    >>> bow.runs, round(bow.p, 4), bow.too_few
    (3, 0.0397, True)
    """
    numbers = [*x, *residuals]
    if len(x) != len(residuals) or not all(map(math.isfinite, numbers)):
        raise InputError(
            f"residual_runs: {len(x)} x and {len(residuals)} residuals; give as many "
            "residuals as x, all of them finite."
        )
    signs = _signs(x, residuals, negligible)
    positive = sum(signs)
    negative = len(signs) - positive
    runs = sum(1 for _ in groupby(signs))
    return Runs(
        runs,
        positive,
        negative,
        few_runs_probability(runs, positive, negative),
        few_runs_probability(fewest, positive, negative),
    )


def _signs(
    x: Sequence[float], residuals: Sequence[float], negligible: float
) -> list[bool]:
    together = sorted(zip(x, residuals, strict=True))
    signs = []
    for _, group in groupby(together, key=lambda point: point[0]):
        same = [residual for _, residual in group]
        mean = math.fsum(same) / len(same)
        if abs(mean) > negligible:
            signs.append(mean > 0)
    return signs


def few_runs_probability(runs: int, positive: int, negative: int) -> float:
    """Probability of at most `runs` runs among signs in random order.

    Parameters
    ----------
    runs : int
        >= 0.
    positive, negative : int
        How many there are of each sign, >= 0.

    References
    ----------
    Wald and Wolfowitz, Ann. Math. Stat. 11 (1940) 147: the exact distribution.

    Examples
    --------
    >>> few_runs_probability(3, 5, 5)  # 10 of 252 orders
    0.03968253968253968
    """
    if not positive or not negative:
        return 1.0
    a = _binomials(positive - 1, runs // 2)
    b = _binomials(negative - 1, runs // 2)
    ways = 0
    for r in range(2, runs + 1):
        k = r // 2
        if r % 2:  # one sign has a run more than the other
            ways += a[k] * b[k - 1] + a[k - 1] * b[k]
        else:  # either sign may begin
            ways += 2 * a[k - 1] * b[k - 1]
    return ways / math.comb(positive + negative, positive)


def _binomials(n: int, highest: int) -> list[int]:
    row = [1]
    for k in range(highest):
        row.append(row[-1] * (n - k) // (k + 1))
    return row


def residual_bow(
    x: Sequence[float],
    residuals: Sequence[float],
    weights: Sequence[float],
    *,
    through_origin: bool = False,
    negligible: float = 0.0,
) -> float:
    """Two-sided p of the t test for a term in x² that the line leaves out.

    Sees a bow in fewer points than the run test does, and nothing but a bow. The
    scatter of the points themselves is the measure, not their stated uncertainty.

    Parameters
    ----------
    x, residuals, weights : sequence of float
        One each per point; the weights those of the fit.
    through_origin : bool
        Whether the line had no intercept.
    negligible : float
        If no residual is larger than this (rounding), they show no bow.

    Returns
    -------
    float
        NaN if there are too few points, or too few different x, to tell.

    Examples
    --------
    >>> p = residual_bow([0, 1, 2, 3, 4], [2, -1.1, -2, -0.9, 2], [1, 1, 1, 1, 1])
    >>> round(p, 4)
    0.0007
    """
    dof = len(x) - (2 if through_origin else 3)
    telling = {*x} - {0.0} if through_origin else {*x}
    if dof < 1 or len(telling) < (2 if through_origin else 3):
        return math.nan
    r, root = np.array(residuals), np.sqrt(np.array(weights))
    if np.abs(r).max() <= negligible:
        return 1.0
    bent = _bent(np.array(x), root, through_origin)
    part = float(bent @ (root * r))
    rest = float((root * r) @ (root * r)) - part**2
    return _two_sided(part, max(rest, 0.0), dof)


def _bent(x: Floats, root: Floats, through_origin: bool) -> Floats:
    """Return what x² has of its own, beside the line, at unit length."""
    u = x if through_origin else x - x.mean()
    u = u / np.abs(u).max()
    line = [u] if through_origin else [np.ones(u.size), u]
    basis, _ = np.linalg.qr(np.column_stack([root * column for column in line]))
    own = root * u * u
    own = own - basis @ (basis.T @ own)
    own = own - basis @ (basis.T @ own)  # twice: rounding of the first
    return np.asarray(own / np.linalg.norm(own))


def _two_sided(part: float, rest: float, dof: int) -> float:
    from scipy.special import stdtr  # lazily: not needed to open a case

    if rest == 0:
        return 0.0
    return float(2 * stdtr(dof, -abs(part) / math.sqrt(rest / dof)))

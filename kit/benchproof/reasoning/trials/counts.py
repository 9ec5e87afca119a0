"""Counts: exact limits of a probability, and the bound that a zero leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchproof.reasoning.decisions.rule import Outcome
from benchproof.reasoning.trials.quantiles import beta_quantiles
from benchproof.values.errors import InputError


def exact_limits(count: int, attempts: int, level: float = 0.95) -> tuple[float, float]:
    """Two-sided exact confidence limits of a probability.

    Parameters
    ----------
    count, attempts : int
        Occurrences, and attempts they were seen in; 0 <= count <= attempts.
    level : float
        Confidence level, between 0 and 1.

    Raises
    ------
    InputError
        If the count cannot be, or the level is not between 0 and 1.

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
    >>> shown_interval(0, 100_000)
    '0 % to 0.0037 %'
    """
    low, high = exact_limits(count, attempts, level)
    return f"{percent_down(low)} to {percent_up(high)}"


def shown_count(count: int, attempts: int, level: float = 0.95) -> str:
    """Write a count with what it leaves open: a zero with its one-sided bound.

    Parameters
    ----------
    count, attempts : int
        As for `exact_limits`.
    level : float
        Confidence level: one-sided where none or all occurred, else two-sided.

    Examples
    --------
    >>> shown_count(0, 40)
    '0 of 40, p < 7.3 % (95 %, one-sided)'
    >>> shown_count(17, 20)
    '17 of 20, p from 62.1 % to 96.8 % (95 %)'
    """
    seen, said = f"{count} of {attempts}, p", f"{100 * level:g} %"
    if count == 0:
        bound = percent_up(upper_bound(count, attempts, level))
        return f"{seen} < {bound} ({said}, one-sided)"
    if count == attempts:
        bound = percent_down(lower_bound(count, attempts, level))
        return f"{seen} > {bound} ({said}, one-sided)"
    return f"{seen} from {shown_interval(count, attempts, level)} ({said})"


def percent_up(probability: float) -> str:
    """Write an upper limit in percent, rounded upwards.

    One decimal; below 1 %, two figures.

    Parameters
    ----------
    probability : float
        Between 0 and 1.

    Examples
    --------
    >>> percent_up(0.0722), percent_up(0.000036)
    ('7.3 %', '0.0036 %')
    """
    scale = _scale(probability)
    return f"{math.ceil(scale * 100 * probability - _ROUNDING) / scale:.15g} %"


def percent_down(probability: float) -> str:
    """Write a lower limit in percent, rounded downwards; the like of `percent_up`.

    Below 0.0001 % it is 0: no count of a bench tells the two apart.

    Parameters
    ----------
    probability : float
        Between 0 and 1.

    Examples
    --------
    >>> percent_down(0.7412), percent_down(0.000036), percent_down(1.2e-9)
    ('74.1 %', '0.0036 %', '0 %')
    """
    if probability < 1e-6:
        return "0 %"
    scale = _scale(probability)
    return f"{math.floor(scale * 100 * probability + _ROUNDING) / scale:.15g} %"


_ROUNDING = 1e-9
"""Of a last figure: 100 times 0.003 is no more than 0.3 for being a float."""


def _scale(probability: float) -> float:
    percent = 100 * probability
    return (
        10.0 if not 0 < percent < 1 else 10.0 ** (1 - math.floor(math.log10(percent)))
    )


def upper_bound(count: int, attempts: int, level: float = 0.95) -> float:
    """One-sided exact upper bound; a zero of n gives 1 - (1 - level)^(1/n).

    Parameters
    ----------
    count, attempts : int
        As for `exact_limits`.
    level : float
        Confidence level, one-sided.

    Raises
    ------
    InputError
        If the count cannot be, or the level is not between 0 and 1.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404.

    Examples
    --------
    >>> round(upper_bound(0, 40), 4)
    0.0722
    """
    check_count(count, attempts, level)
    if count == attempts:
        return 1.0
    if count == 0:
        return -math.expm1(math.log1p(-level) / attempts)
    from scipy.special import betaincinv  # lazily: not needed to open a case

    return float(betaincinv(count + 1, attempts - count, level))


def lower_bound(count: int, attempts: int, level: float = 0.95) -> float:
    """One-sided exact lower bound; the mirror image of `upper_bound`.

    Parameters
    ----------
    count, attempts, level
        As for `upper_bound`.

    Examples
    --------
    >>> round(lower_bound(20, 20), 4)
    0.8609
    """
    check_count(count, attempts, level)
    if count == 0:
        return 0.0
    if count == attempts:
        return math.exp(math.log1p(-level) / attempts)
    from scipy.special import betaincinv

    return float(betaincinv(count, attempts - count + 1, 1 - level))


def exact_limits_of(
    counts: ArrayLike, attempts: ArrayLike, level: float = 0.95
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Two-sided exact limits of many counts at once.

    Parameters
    ----------
    counts, attempts : array of int, shape (n,)
        One each per row, as for `exact_limits`.
    level : float
        Confidence level.

    Returns
    -------
    lower, upper : arrays of float, shape (n,)

    Raises
    ------
    InputError
        Naming the first row that cannot be.

    Examples
    --------
    >>> low, high = exact_limits_of([0, 1, 0], [10, 10, 10])
    >>> high.round(4).tolist()
    [0.3085, 0.445, 0.3085]
    """
    k, n = _rows(counts, attempts, level)
    tail = (1 - level) / 2
    low = beta_quantiles(k, n - k + 1, tail)
    return low, beta_quantiles(k + 1, n - k, 1 - tail)


def _rows(
    counts: ArrayLike, attempts: ArrayLike, level: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    k, n = np.asarray(counts), np.asarray(attempts)
    if k.ndim != 1 or k.shape != n.shape:
        raise InputError(
            f"counts of shape {k.shape} and attempts of shape {n.shape}: give two "
            "columns of one length."
        )
    for column in (k, n):
        if column.size and column.dtype.kind not in "iu":
            raise InputError(
                f"counts and attempts are whole numbers; these are {column.dtype}."
            )
    k, n = k.astype(np.int64, copy=False), n.astype(np.int64, copy=False)
    wrong = (k < 0) | (k > n) | (n < 1)
    if wrong.any():
        row = int(wrong.argmax())
        check_count(int(k[row]), int(n[row]), level, f"row {row + 1}: ")
    check_level(level)
    return k, n


def decide_count(
    count: int, attempts: int, lower: float, upper: float, level: float = 0.95
) -> Outcome:
    """Decide whether a probability lies between two limits, from a count.

    Met and contradicted each need a one-sided exact bound at `level`.

    Parameters
    ----------
    count, attempts : int
        As for `exact_limits`.
    lower, upper : float
        Limits of the probability; infinite on an open side.
    level : float
        Confidence level of each bound.

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


@dataclass(frozen=True, slots=True)
class RuleOfThree:
    """The 95 % bound of a zero, by head and exactly.

    Attributes
    ----------
    attempts : int
        n, none of which showed it.
    by_head : float
        3/n, at most 1.
    exact : float
        1 - 0.05^(1/n).
    """

    attempts: int
    by_head: float
    exact: float

    def __str__(self) -> str:
        by_head, exact = percent_up(self.by_head), percent_up(self.exact)
        return f"0 of {self.attempts}: below {by_head} by head, {exact} exactly"

    @property
    def excess(self) -> float:
        """By which fraction the bound by head is larger than the exact one."""
        return self.by_head / self.exact - 1


def rule_of_three(attempts: int) -> RuleOfThree:
    """Check the bound of a zero by the rule that a reader can do in the head.

    Parameters
    ----------
    attempts : int
        >= 1.

    References
    ----------
    Hanley and Lippman-Hand, JAMA 249 (1983) 1743.

    Examples
    --------
    >>> found = rule_of_three(300)
    >>> found.by_head, round(found.exact, 5), f"{found.excess:.1%}"
    (0.01, 0.00994, '0.6%')
    """
    exact = upper_bound(0, attempts)
    return RuleOfThree(attempts, min(3 / attempts, 1.0), exact)


def check_count(count: int, attempts: int, level: float, where: str = "") -> None:
    """Refuse a count that cannot be.

    Parameters
    ----------
    count, attempts, level
        As for `exact_limits`.
    where : str
        Put before the message.

    Raises
    ------
    InputError
        Saying what is allowed.

    Examples
    --------
    >>> check_count(3, 20, 0.95)
    """
    if not (0 <= count <= attempts and attempts >= 1 and 0 < level < 1):
        raise InputError(
            f"{where}{count} of {attempts} at level {level}: give 0 <= count <= "
            "attempts, at least one attempt, and a level between 0 and 1."
        )


def check_level(level: float) -> None:
    """Refuse a confidence level that is not between 0 and 1.

    Parameters
    ----------
    level : float

    Raises
    ------
    InputError
        If it is not.

    Examples
    --------
    >>> check_level(0.95)
    """
    if not 0 < level < 1:
        raise InputError(f"level {level}: give one between 0 and 1, such as 0.95.")

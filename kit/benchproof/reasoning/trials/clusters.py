"""Attempts that resemble one another: how many independent ones they are worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.measuring.lines.residuals import few_runs_probability
from benchproof.measuring.repeats import FLAG_LEVEL
from benchproof.reasoning.trials.counts import check_count, check_level
from benchproof.values.errors import InputError


def design_effect(sizes: Sequence[int], correlation: float) -> float:
    """By how much attempts in sittings widen the variance of their fraction.

    Parameters
    ----------
    sizes : sequence of int
        Attempts of each sitting (cluster), each >= 1.
    correlation : float
        ρ between the outcomes of one sitting, 0 to 1; declared, or estimated by
        `sitting_correlation`.

    Returns
    -------
    float
        1 + (m - 1) ρ, with m = Σm²/Σm where sittings differ in size.

    Raises
    ------
    InputError
        If there is no sitting, an empty one, or ρ is out of range.

    References
    ----------
    Kish, Survey Sampling (1965), 5.4 (not read).

    Examples
    --------
    >>> design_effect([10, 10, 10, 10], 0.1)
    1.9
    """
    if not sizes or min(sizes) < 1:
        raise InputError(
            f"sittings of {list(sizes)} attempts: give at least one sitting, "
            "and leave out empty ones."
        )
    if not 0 <= correlation <= 1:
        raise InputError(
            f"correlation within a sitting {correlation}: give one from 0 to 1."
        )
    mean = sum(m * m for m in sizes) / sum(sizes)
    return 1 + (mean - 1) * correlation


def effective_attempts(sizes: Sequence[int], correlation: float) -> float:
    """How many independent attempts those of some sittings are worth.

    Parameters
    ----------
    sizes, correlation
        As for `design_effect`.

    Examples
    --------
    >>> round(effective_attempts([10, 10, 10, 10], 0.1), 2)
    21.05
    """
    return sum(sizes) / design_effect(sizes, correlation)


def clustered_limits(
    count: int, sizes: Sequence[int], correlation: float, level: float = 0.95
) -> tuple[float, float]:
    """Two-sided limits of a probability from attempts in sittings.

    The exact limits for the effective number of attempts: approximate, and exact
    where ρ is 0.

    Parameters
    ----------
    count : int
        Occurrences in all sittings together.
    sizes, correlation
        As for `design_effect`.
    level : float
        Confidence level.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Korn and Graubard, Survey Methodology 24 (1998) 193 (not read); without their
    adjustment for the degrees of freedom.

    Examples
    --------
    >>> low, high = clustered_limits(0, [10, 10, 10, 10], 0.1)
    >>> low, round(high, 3)
    (0.0, 0.161)
    """
    attempts, effect = sum(sizes), design_effect(sizes, correlation)
    check_count(count, attempts, level)
    from scipy.special import betaincinv  # lazily: not needed to open a case

    k, n, tail = count / effect, attempts / effect, (1 - level) / 2
    low = float(betaincinv(k, n - k + 1, tail)) if count else 0.0
    high = float(betaincinv(k + 1, n - k, 1 - tail)) if count < attempts else 1.0
    return low, high


def sitting_correlation(sittings: Sequence[tuple[int, int]]) -> float:
    """Estimate the correlation of outcomes within a sitting, by analysis of variance.

    Parameters
    ----------
    sittings : sequence of (int, int)
        Occurrences and attempts of each sitting.

    Returns
    -------
    float
        ρ, which may come out negative; NaN if only one sitting, only sittings of
        one attempt, or fewer than two of one kind of outcome were seen: those say
        nothing of ρ, for what happened once has nothing to lie beside.

    Raises
    ------
    InputError
        If a count cannot be.

    References
    ----------
    Ridout, Demétrio and Firth, Biometrics 55 (1999) 137: the ANOVA estimator
    (not read).

    Examples
    --------
    >>> sitting_correlation([(5, 5), (0, 5)])
    1.0
    >>> sitting_correlation([(0, 10), (0, 10)])
    nan
    """
    for number, (k, n) in enumerate(sittings, 1):
        check_count(k, n, 0.95, f"sitting {number}: ")
    count, total = sum(k for k, _ in sittings), sum(n for _, n in sittings)
    groups = len(sittings)
    if groups < 2 or total == groups or min(count, total - count) < 2:
        return math.nan
    fraction = count / total
    between = sum(n * (k / n - fraction) ** 2 for k, n in sittings) / (groups - 1)
    within = sum(k * (n - k) / n for k, n in sittings) / (total - groups)
    size = (total - sum(n * n for _, n in sittings) / total) / (groups - 1)
    return (between - within) / (between + (size - 1) * within)


@dataclass(frozen=True, slots=True)
class OutcomeOrder:
    """Whether outcomes came in the order that independent attempts would give.

    Attributes
    ----------
    count, attempts : int
    runs : int
        Unbroken stretches of one outcome.
    few_runs : float
        Probability of so few runs, or fewer, in a random order.
    many_runs : float
        Probability of so many runs, or more.
    lag_1 : float
        Correlation of successive outcomes; NaN where all are equal.
    effective_attempts : float
        n (1 - r)/(1 + r) where the order is flagged as clustered, else n; at least 1.
    flag : str
        What a careful reader should know; "" if the order looks random.
    """

    count: int
    attempts: int
    runs: int
    few_runs: float
    many_runs: float
    lag_1: float
    effective_attempts: float
    flag: str = ""

    def __str__(self) -> str:
        seen = f"{self.runs} runs in {self.attempts} attempts"
        return self.flag or f"{seen}: no sign that an outcome depends on the last"


def outcome_order(
    outcomes: Sequence[bool], flag_level: float = FLAG_LEVEL
) -> OutcomeOrder:
    """Judge by an exact runs test whether outcomes depend on the one before.

    Parameters
    ----------
    outcomes : sequence of bool
        In the order of the attempts, at least one.
    flag_level : float
        How often a random order raises each of the two flags, at most.

    Raises
    ------
    InputError
        If there is no outcome, or the level is not between 0 and 1.

    References
    ----------
    Wald and Wolfowitz, Ann. Math. Stat. 11 (1940) 147: the exact distribution.

    Examples
    --------
    >>> seen = outcome_order([True] * 8 + [False] * 8)
    >>> seen.runs, round(seen.few_runs, 5), seen.effective_attempts < 16
    (2, 0.00016, True)
    """
    n, k = len(outcomes), sum(map(bool, outcomes))
    if not n:
        raise InputError("no outcomes: give at least one, in the order of attempts.")
    check_level(flag_level)
    changes = sum(a != b for a, b in zip(outcomes, outcomes[1:], strict=False))
    few = few_runs_probability(changes + 1, k, n - k)
    many = 1 - few_runs_probability(changes, k, n - k) if 0 < k < n else 1.0
    lag_1 = _lag_1(outcomes, k / n)
    worth, flag = float(n), ""
    if few < flag_level:
        worth = max(n * (1 - lag_1) / (1 + lag_1), 1.0) if lag_1 > 0 else worth
        flag = _clustered(changes + 1, few, n, worth)
    elif many < flag_level:
        flag = (
            f"the outcomes alternate: {changes + 1} runs in {n} attempts, where a "
            f"random order has so many with probability {many:.2g}. Look for what "
            "one attempt leaves behind for the next."
        )
    return OutcomeOrder(k, n, changes + 1, few, many, lag_1, worth, flag)


def _lag_1(outcomes: Sequence[bool], mean: float) -> float:
    deviations = [bool(o) - mean for o in outcomes]
    squares = math.fsum(d * d for d in deviations)
    if not squares:
        return math.nan
    pairs = zip(deviations, deviations[1:], strict=False)
    return math.fsum(a * b for a, b in pairs) / squares


def _clustered(runs: int, few: float, attempts: int, worth: float) -> str:
    return (
        f"like outcomes follow one another: {runs} runs in {attempts} attempts, where "
        f"a random order has so few with probability {few:.2g}. Exact limits for "
        f"{attempts} independent attempts are too narrow; these are worth about "
        f"{worth:.3g}. Shuffle the order, or look for what changed meanwhile."
    )

"""How much a count speaks for one rival against another, odds written beforehand."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.reasoning.trials.counts import check_count, shown_count
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class RivalOdds:
    """The probability that two rivals give one outcome, written before the data.

    Attributes
    ----------
    first, second : str
        Names of the rivals.
    first_probability, second_probability : float
        Per attempt, between 0 and 1 and neither.
    written : datetime
        When they were written, with a time zone.

    Raises
    ------
    InputError
        If a probability is 0 or 1, which would let a single attempt decide all, or
        the time has no zone.

    Examples
    --------
    >>> RivalOdds("H1", "H2", 0.85, 0.05, dt.datetime(2026, 1, 31, tzinfo=dt.UTC)).first
    'H1'
    """

    first: str
    second: str
    first_probability: float
    second_probability: float
    written: dt.datetime

    def __post_init__(self) -> None:
        check_probabilities(self.first_probability, self.second_probability)
        if self.written.tzinfo is None:
            raise InputError(
                f"{self.first} against {self.second}: written at {self.written} says "
                "no time zone. Give one, such as UTC."
            )


@dataclass(frozen=True, slots=True)
class Weight:
    """What some counts add up to.

    Attributes
    ----------
    log_ratio : float
        Natural logarithm of the likelihood ratio; positive speaks for the first.
    after_the_data : bool
        True if some probability was written after the first attempt it is about.
    sentence : str
        The same in words.
    """

    log_ratio: float
    after_the_data: bool
    sentence: str

    def __str__(self) -> str:
        return self.sentence


def log_likelihood_ratio(
    count: int, attempts: int, first_probability: float, second_probability: float
) -> float:
    """Natural logarithm of how much likelier a count is under one rival.

    Parameters
    ----------
    count, attempts : int
        Occurrences and attempts.
    first_probability, second_probability : float
        Of an occurrence in one attempt, under each rival, fixed before the data.

    Raises
    ------
    InputError
        If a probability is 0 or 1, or the count cannot be.

    Notes
    -----
    ``k ln(p1/p2) + (n - k) ln((1 - p1)/(1 - p2))``.

    Examples
    --------
    >>> round(log_likelihood_ratio(10, 10, 0.85, 0.05), 1)
    28.3
    """
    check_count(count, attempts, 0.95)
    check_probabilities(first_probability, second_probability)
    seen = math.log(first_probability / second_probability)
    unseen = math.log1p(-first_probability) - math.log1p(-second_probability)
    return count * seen + (attempts - count) * unseen


def weigh(
    odds: RivalOdds,
    counts: Sequence[tuple[int, int]],
    first_attempt: dt.datetime,
) -> Weight:
    """Weigh two rivals by counts, and say so if their odds came after the data.

    Parameters
    ----------
    odds : RivalOdds
        Probabilities of the two rivals.
    counts : sequence of (int, int)
        Occurrences and attempts, independent of one another.
    first_attempt : datetime
        When the first of them was made, with a time zone.

    Raises
    ------
    InputError
        If there is no count, or one cannot be.

    Examples
    --------
    >>> at = dt.datetime(2026, 1, 31, 12, tzinfo=dt.UTC)
    >>> odds = RivalOdds("H2", "H1", 0.85, 0.05, at)
    >>> weight = weigh(odds, [(10, 10)], at + dt.timedelta(hours=1))
    >>> print(weight.sentence)
    10 of 10, p > 74.1 % (95 %, one-sided): ln of the likelihood ratio 28.3, for H2
    against H1 (0.85 against 0.05 per attempt, written before the data)
    """
    if not counts:
        raise InputError(
            f"{odds.first} against {odds.second}: no counts; give at least one."
        )
    if first_attempt.tzinfo is None:
        raise InputError(
            f"first attempt at {first_attempt} says no time zone. Give one."
        )
    pair = odds.first_probability, odds.second_probability
    ratio = math.fsum(log_likelihood_ratio(k, n, *pair) for k, n in counts)
    late = odds.written >= first_attempt
    return Weight(ratio, late, _sentence(odds, counts, ratio, late))


def _sentence(
    odds: RivalOdds, counts: Sequence[tuple[int, int]], ratio: float, late: bool
) -> str:
    speaks = f"for {odds.first} against {odds.second}"
    if ratio < 0:
        speaks = f"for {odds.second} against {odds.first}"
    when = "before the data"
    if late:
        when = "after the data, so this weight says little"
    seen = "; ".join(shown_count(k, n) for k, n in counts)
    return (
        f"{seen}: ln of the likelihood ratio {abs(ratio):.3g}, {speaks} "
        f"({odds.first_probability:g} against {odds.second_probability:g} per "
        f"attempt, written {when})"
    )


def check_probabilities(first: float, second: float) -> None:
    """Refuse a probability that would let one attempt decide all.

    Parameters
    ----------
    first, second : float

    Raises
    ------
    InputError
        If one is not strictly between 0 and 1.

    Examples
    --------
    >>> check_probabilities(0.85, 0.05)
    """
    for probability in (first, second):
        if not 0 < probability < 1:
            raise InputError(
                f"probability {probability}: 0 or 1 would let a single attempt decide "
                "all. Give what the rival really predicts, such as 0.001."
            )

"""Attempts that ended at an occurrence: geometric, not binomial."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchproof.reasoning.trials.counts import (
    check_count,
    lower_bound,
    percent_down,
    percent_up,
    shown_count,
    upper_bound,
)
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class StoppedCount:
    """Attempts that were to end at the occurrence of a number fixed beforehand.

    Attributes
    ----------
    count : int
        Occurrences, at most `stop_at`.
    attempts : int
        How many were made; the last one showed it, if `count` is `stop_at`.
    stop_at : int
        At which occurrence the attempts were to end; 1 for the first.

    Raises
    ------
    InputError
        If the numbers contradict each other.

    Examples
    --------
    >>> seen = StoppedCount(1, 7)
    >>> low, high = seen.limits()
    >>> round(low, 4), round(high, 4)
    (0.0036, 0.4593)
    """

    count: int
    attempts: int
    stop_at: int = 1

    def __post_init__(self) -> None:
        check_count(self.count, self.attempts, 0.95)
        if self.stop_at < 1 or self.count > self.stop_at:
            raise InputError(
                f"{self.count} occurrences where attempts were to end at occurrence "
                f"{self.stop_at}: count no attempt after that one, or plan a fixed "
                "number of attempts."
            )

    def __str__(self) -> str:
        return self.sentence()

    @property
    def ended(self) -> bool:
        """Whether the occurrence that ends the attempts was reached."""
        return self.count == self.stop_at

    def estimate(self) -> float:
        """Return the probability estimated without bias; NaN where there is none.

        (r - 1)/(n - 1) at the r-th occurrence. r/n would be too high on average, and
        the first occurrence alone has no usable unbiased estimate.

        References
        ----------
        Haldane, Biometrika 33 (1945) 222 (not read).

        Examples
        --------
        >>> StoppedCount(3, 21, stop_at=3).estimate()
        0.1
        """
        if not self.ended or self.stop_at < 2:
            return math.nan
        return (self.count - 1) / (self.attempts - 1)

    def limits(self, level: float = 0.95) -> tuple[float, float]:
        """Return the two-sided exact limits of the probability per attempt.

        Those of the negative binomial distribution where the occurrence was reached,
        else those of a fixed number of attempts: outcomes are ranked by how soon the
        attempts ended, then by how much was seen.

        Examples
        --------
        >>> StoppedCount(0, 20).limits()[0]
        0.0
        """
        one_sided = 0.5 + level / 2
        return (
            lower_bound(self.count, self.attempts, one_sided),
            self.upper_bound(one_sided),
        )

    def upper_bound(self, level: float = 0.95) -> float:
        """Return the one-sided exact upper bound of the probability per attempt.

        Examples
        --------
        >>> StoppedCount(1, 1).upper_bound()
        1.0
        """
        if not self.ended:
            return upper_bound(self.count, self.attempts, level)
        if self.attempts == self.stop_at:
            return 1.0
        return upper_bound(self.count - 1, self.attempts - 1, level)

    def sentence(self, level: float = 0.95) -> str:
        """Say what was seen and what it leaves open.

        Examples
        --------
        >>> print(StoppedCount(1, 7).sentence())
        stopped as planned at occurrence 1, in attempt 7: p from 0.36 % to 46 % (95 %,
        negative binomial)
        """
        if not self.ended:
            seen = shown_count(self.count, self.attempts, level)
            return f"occurrence {self.stop_at}, the planned end, not reached: {seen}"
        low, high = self.limits(level)
        return (
            f"stopped as planned at occurrence {self.stop_at}, in attempt "
            f"{self.attempts}: p from {percent_down(low)} to {percent_up(high)} "
            f"({100 * level:g} %, negative binomial)"
        )

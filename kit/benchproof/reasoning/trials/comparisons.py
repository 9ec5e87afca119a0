"""Two arms compared: counts by Fisher's exact test, rates by the split of events."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from benchproof.reasoning.trials.counts import check_count, exact_limits, shown_count
from benchproof.reasoning.trials.rates import check_exposure, shown_rate
from benchproof.values.errors import InputError

Alternative = Literal["two-sided", "more", "fewer"]
"""Which departure from equality was looked for; ``more``: in the first arm."""


@dataclass(frozen=True, slots=True)
class ArmsCompared:
    """Whether two arms differ by more than chance would often do.

    Attributes
    ----------
    p_value : float
        Probability of a split at least as uneven if both arms were alike.
    first, second : str
        What was seen in each arm, with its exact limits.
    test : str
        Name of the test, and its alternative.
    """

    p_value: float
    first: str
    second: str
    test: str

    def __str__(self) -> str:
        return self.sentence()

    def sentence(self, level: float = 0.95) -> str:
        """Say what was compared and what follows; no difference shown is not equality.

        Examples
        --------
        >>> print(compare_counts((2, 4), (0, 4)).sentence())
        2 of 4, p from 6.7 % to 93.3 % (95 %); against 0 of 4, p < 52.8 % (95 %,
        one-sided): p = 0.43 (Fisher's exact test, two-sided), no difference shown at
        95 %.
        """
        shown = self.p_value <= 1 - level
        word = "the arms differ" if shown else "no difference shown"
        return (
            f"{self.first}; against {self.second}: p = {self.p_value:.2g} "
            f"({self.test}), {word} at {100 * level:g} %."
        )


def compare_counts(
    first: tuple[int, int],
    second: tuple[int, int],
    alternative: Alternative = "two-sided",
) -> ArmsCompared:
    """Compare the probabilities of two arms by Fisher's exact test.

    Parameters
    ----------
    first, second : (int, int)
        Occurrences and attempts of each arm.
    alternative : {"two-sided", "more", "fewer"}
        Declared before the data; ``more``: more often in the first arm.

    Raises
    ------
    InputError
        If a count cannot be, or the alternative is none of the three.

    Notes
    -----
    The attempts must be independent; see `design_effect` for those that are not.

    Examples
    --------
    >>> f"{compare_counts((17, 20), (0, 20)).p_value:.2g}"
    '2.6e-08'
    """
    p = fisher_p_value(first, second, alternative)
    seen = shown_count(*first), shown_count(*second)
    return ArmsCompared(p, *seen, f"Fisher's exact test, {_side(alternative)}")


def fisher_p_value(
    first: tuple[int, int],
    second: tuple[int, int],
    alternative: Alternative = "two-sided",
) -> float:
    """p-value of Fisher's exact test of two counts.

    Parameters
    ----------
    first, second, alternative
        As for `compare_counts`.

    Notes
    -----
    Two-sided: the sum over all splits that are no likelier than the one seen.
    Counted in whole numbers, so that ties are ties; some seconds from 50 000 attempts
    of each arm.

    References
    ----------
    Fisher, J. R. Stat. Soc. 98 (1935) 39 (not read).

    Examples
    --------
    >>> round(fisher_p_value((2, 4), (0, 4)), 3)
    0.429
    """
    (k, n), (other, m) = first, second
    check_count(k, n, 0.95, "first arm: ")
    check_count(other, m, 0.95, "second arm: ")
    _side(alternative)
    total = k + other
    lowest, highest = max(0, total - m), min(n, total)
    weights = [math.comb(n, lowest) * math.comb(m, total - lowest)]
    for x in range(lowest, highest):
        rising = weights[-1] * (n - x) * (total - x)
        weights.append(rising // ((x + 1) * (m - total + x + 1)))
    return _tail(weights, k - lowest, alternative) / math.comb(n + m, total)


def _tail(weights: list[int], seen: int, alternative: Alternative) -> int:
    if alternative == "more":
        return sum(weights[seen:])
    if alternative == "fewer":
        return sum(weights[: seen + 1])
    return sum(w for w in weights if w <= weights[seen])


def compare_rates(
    first: tuple[int, float],
    second: tuple[int, float],
    alternative: Alternative = "two-sided",
    unit: str = "h",
) -> ArmsCompared:
    """Compare two rates by how their events split between the exposures.

    Parameters
    ----------
    first, second : (int, float)
        Events and exposure of each arm, exposures in one unit, > 0.
    alternative : {"two-sided", "more", "fewer"}
        Declared before the data; ``more``: more per exposure in the first arm.
    unit : str
        Of the exposures.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    Were the rates equal, each event would fall into the first exposure with
    probability T1/(T1 + T2), given how many there are in all. Two-sided: the sum over
    all splits that are no likelier than the one seen.

    References
    ----------
    Przyborowski and Wilenski, Biometrika 31 (1940) 313 (not read).

    Examples
    --------
    >>> f"{compare_rates((9, 12.5), (0, 46.0)).p_value:.1e}"
    '9.3e-07'
    """
    p = rates_p_value(first, second, alternative)
    seen = shown_rate(*first, unit=unit), shown_rate(*second, unit=unit)
    return ArmsCompared(p, *seen, f"events split by exposure, {_side(alternative)}")


def rates_p_value(
    first: tuple[int, float],
    second: tuple[int, float],
    alternative: Alternative = "two-sided",
) -> float:
    """p-value of the conditional comparison of two rates; see `compare_rates`.

    Parameters
    ----------
    first, second, alternative
        As for `compare_rates`.

    Examples
    --------
    >>> rates_p_value((0, 10.0), (0, 20.0))
    1.0
    """
    (k, exposure), (other, rest) = first, second
    check_exposure(k, exposure)
    check_exposure(other, rest)
    _side(alternative)
    n, share = k + other, exposure / (exposure + rest)
    logs = [_log_binomial(x, n, share) for x in range(n + 1)]
    if alternative == "more":
        chosen = logs[k:]
    elif alternative == "fewer":
        chosen = logs[: k + 1]
    else:
        chosen = [log for log in logs if log <= logs[k] + _TIE]
    return min(math.fsum(map(math.exp, chosen)), 1.0)


_TIE = 1e-7
"""Splits whose log-probabilities differ by rounding only are equally likely."""


def _log_binomial(x: int, n: int, share: float) -> float:
    ways = math.lgamma(n + 1) - math.lgamma(x + 1) - math.lgamma(n - x + 1)
    return ways + x * math.log(share) + (n - x) * math.log1p(-share)


def rate_ratio_limits(
    first: tuple[int, float], second: tuple[int, float], level: float = 0.95
) -> tuple[float, float]:
    """Two-sided exact limits of the first rate divided by the second.

    Parameters
    ----------
    first, second : (int, float)
        Events and exposure of each arm, at least one event in all.
    level : float
        Confidence level.

    Returns
    -------
    lower, upper : float
        Infinite above where the second arm showed nothing.

    Raises
    ------
    InputError
        If neither arm showed an event, or an argument is out of range.

    Examples
    --------
    >>> low, high = rate_ratio_limits((9, 12.5), (0, 46.0))
    >>> round(low, 2), high
    (7.26, inf)
    """
    (k, exposure), (other, rest) = first, second
    check_exposure(k, exposure)
    check_exposure(other, rest)
    if not k + other:
        raise InputError(
            "neither arm showed an event, so no ratio can be bounded. Give the bound "
            "of each rate instead (rate_upper_bound)."
        )
    low, high = exact_limits(k, k + other, level)
    return _odds(low) * rest / exposure, _odds(high) * rest / exposure


def _odds(share: float) -> float:
    return share / (1 - share) if share < 1 else math.inf


def _side(alternative: str) -> str:
    sides = {
        "two-sided": "two-sided",
        "more": "one-sided: more in the first",
        "fewer": "one-sided: fewer in the first",
    }
    if alternative not in sides:
        raise InputError(
            f"alternative {alternative!r}: give 'two-sided', 'more' or 'fewer', "
            "as declared before the data."
        )
    return sides[alternative]

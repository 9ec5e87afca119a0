"""What it would take to settle a prediction: a smaller u, more repeats, more trials."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from benchproof.reasoning.budgets.budget import Budget, BudgetLine
from benchproof.reasoning.decisions.agreement import agreement, difference_text
from benchproof.reasoning.decisions.rule import Criterion, decide_value
from benchproof.reasoning.trials import attempts_to_bound, decide_count

MOST_ATTEMPTS = 1_000_000
"""Beyond, no number is named: nobody would make them."""

_SMALLEST = 1e-6
"""Of the present u: a value closer to its limit than that is on it."""


@dataclass(frozen=True, slots=True)
class Takes:
    """What would settle a prediction.

    Attributes
    ----------
    text : str
        In words.
    effort : float
        By how much more than now: times as many readings or attempts, or how many
        times smaller a contribution; infinite where nothing known would do.
    dominates : str
        The source with the largest share of the variance, "" if there is none.
    """

    text: str
    effort: float
    dominates: str = ""


def takes_value(budget: Budget, criterion: Criterion, level: float) -> Takes:
    """Say what would settle an undetermined value, if it stays where it is.

    Parameters
    ----------
    budget : Budget
        Of the quantity, or of the difference that is asked for.
    criterion : Criterion
        Undetermined now.
    level : float
        Of the decision rule.

    Notes
    -----
    The largest u at which the value, unchanged, would be met or contradicted, with
    infinite degrees of freedom: a number to plan by, no promise. More repeats shrink
    a Type A contribution by the square root of their number.

    References
    ----------
    JCGM 106:2012, clause 8 (guard bands); JCGM 100:2008, 4.2.3 (s/√n).
    """
    u = budget.standard_uncertainty
    line = budget.lines[0] if budget.lines else None
    wanted = largest_settling(_settled(budget.value, criterion, level), u)
    if line is None or math.isnan(wanted):
        why = "the value lies on its limit: no smaller u settles it, another prediction"
        return Takes(why + " might", math.inf, _named(line) if line else "")
    step = budget.unit
    said = f"u of {difference_text(wanted, step)} instead of {difference_text(u, step)}"
    how, effort = _how(line, u, wanted, budget)
    return Takes(f"{said}, if the value stays: {how}", effort, _named(line))


def _named(line: BudgetLine) -> str:
    return f"{line.source.name} ({100 * line.share:.0f} % of the variance)"


def _settled(
    value: float, criterion: Criterion, level: float
) -> Callable[[float], bool]:
    """Return whether the criterion would be settled at a given u."""
    lower, upper = criterion.lower, criterion.upper
    if criterion.relation == "limits":
        return lambda u: (
            decide_value(value, u, lower, upper, level=level) != ("undetermined")
        )
    asked, margin = criterion.relation, criterion.margin

    def compared(u: float) -> bool:
        found = agreement(value, u, margin=margin, level=level)
        return found.outcome(asked) != "undetermined"

    return compared


def largest_settling(settled: Callable[[float], bool], u: float) -> float:
    """Find the largest standard uncertainty up to `u` at which a question is settled.

    Parameters
    ----------
    settled : callable
        From a standard uncertainty to whether it settles the question.
    u : float
        The present one, > 0; the unit of the result.

    Returns
    -------
    float
        NaN if a millionth of `u` would not do.

    Examples
    --------
    >>> round(largest_settling(lambda u: u < 0.5, 2.0), 3)
    0.5
    """
    low, high = u * _SMALLEST, u
    if not settled(low):
        return math.nan
    for _ in range(60):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if settled(middle) else (low, middle)
    return low


def _how(
    line: BudgetLine, u: float, wanted: float, budget: Budget
) -> tuple[str, float]:
    """Say how the largest contribution would have to shrink."""
    own = abs(line.contribution)
    rest_squared = max(u * u - own * own, 0.0)
    if wanted * wanted <= rest_squared:
        return (
            f"no single source does it, all together have to come down "
            f"{u / wanted:.2g}-fold",
            u / wanted,
        )
    needed = math.sqrt(wanted * wanted - rest_squared)
    source = line.source
    if source.evaluation == "A" and math.isfinite(source.degrees_of_freedom):
        now = source.degrees_of_freedom + 1
        more = math.ceil(now * (own / needed) ** 2 - 1e-9)
        return f"about {more} readings instead of {now:g}", more / now
    share = difference_text(needed, budget.unit)
    had = difference_text(own, budget.unit)
    where, but = "a better value", ""
    if source.instrument:
        where, but = "another range or instrument", "; more repeats do not help"
    said = f"{where}, so that {source.name} gives {share} instead of {had}{but}"
    return said, own / needed


def takes_count(count: int, attempts: int, criterion: Criterion, level: float) -> Takes:
    """Say how many more attempts would settle an undetermined count.

    Parameters
    ----------
    count, attempts : int
        Seen so far; attempts may be 0.
    criterion : Criterion
        With limits of a probability.
    level : float
        Of each one-sided bound.

    Examples
    --------
    >>> often = Criterion("lost", 0.5, math.inf, "lost in at least 50 % of attempts")
    >>> print(takes_count(6, 10, often, 0.95).text)
    about 68 more attempts if it goes on at 6 of 10; at the fewest 6 more, if all show
    it
    """
    ways = _fewest(count, attempts, criterion, level)
    fewest = f"at the fewest {ways[0][0]} more, if {ways[0][1]}" if ways else ""
    if not attempts:
        listed = ", ".join(f"{_attempts(n)} if {how}" for n, how in ways)
        return Takes(listed or "no number of attempts settles it", 1.0)
    total = _going_on(count, attempts, criterion, level)
    if total is None:
        text = f"at {count} of {attempts} it stays undetermined however often"
        return Takes("; ".join(filter(None, (text, fewest))), math.inf)
    more = total - attempts
    text = f"about {more} more attempts if it goes on at {count} of {attempts}"
    return Takes("; ".join(filter(None, (text, fewest))), total / attempts)


def _attempts(number: int) -> str:
    return f"{number} attempt{'' if number == 1 else 's'}"


def _fewest(
    count: int, attempts: int, criterion: Criterion, level: float
) -> list[tuple[int, str]]:
    """Return how many more settle it if none, or all, of them show it."""
    found = []
    for limit in {criterion.lower, criterion.upper}:
        if not 0 < limit < 1:
            continue
        none = attempts_to_bound(limit, level, count) - attempts
        every = attempts_to_bound(1 - limit, level, attempts - count) - attempts
        found += [(none, "none shows it"), (every, "all show it")]
    return sorted(found)


def _going_on(
    count: int, attempts: int, criterion: Criterion, level: float
) -> int | None:
    """Return about how many attempts in all settle it at the rate seen so far."""
    rate, limits = count / attempts, (criterion.lower, criterion.upper)

    def settled(n: int) -> bool:
        return decide_count(round(rate * n), n, *limits, level) != "undetermined"

    high = attempts
    while not settled(high):
        high *= 2
        if high > MOST_ATTEMPTS:
            return None
    low = max(high // 2, attempts)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settled(middle) else (middle, high)
    return high

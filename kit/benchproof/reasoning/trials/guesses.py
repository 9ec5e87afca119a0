"""Blind trials: the chance of as many right answers by guessing."""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchproof.values.errors import InputError


def chance_of_all_right(runs_of_each: Sequence[int]) -> float:
    """Chance of naming every run by guessing, where the numbers of each are known.

    Parameters
    ----------
    runs_of_each : sequence of int
        How many runs each treatment got; the guesser knows these numbers.

    Raises
    ------
    InputError
        If there are fewer than two treatments, or one without a run.

    Examples
    --------
    >>> round(chance_of_all_right([4, 4]), 4)
    0.0143
    """
    if len(runs_of_each) < 2 or min(runs_of_each) < 1:
        raise InputError(
            f"runs of each treatment {list(runs_of_each)}: give two treatments or "
            "more, each with at least one run."
        )
    orders, total = 1, 0
    for runs in runs_of_each:
        total += runs
        orders *= math.comb(total, runs)
    return 1 / orders


def chance_of_balanced(right: int, first: int, second: int) -> float:
    """Chance of at least so many right answers of two treatments by guessing.

    Parameters
    ----------
    right : int
        Runs named rightly. Each wrong name in one treatment makes one in the other,
        so the wrong ones are even in number.
    first, second : int
        Runs of each treatment; the guesser knows these numbers.

    Raises
    ------
    InputError
        If so many right answers cannot come of such a plan.

    Examples
    --------
    >>> round(chance_of_balanced(6, 4, 4), 3)
    0.243
    """
    runs = first + second
    swaps, odd = divmod(runs - right, 2)
    if min(first, second) < 1 or odd or not 0 <= swaps <= min(first, second):
        raise InputError(
            f"{right} right of {first} and {second} runs: with known numbers of each "
            "treatment, wrong answers come in pairs. Count again, or use "
            "chance_of_guesses if the guesser was free."
        )
    ways = sum(math.comb(first, j) * math.comb(second, j) for j in range(swaps + 1))
    return ways / math.comb(runs, first)


def chance_of_guesses(right: int, runs: int, treatments: int = 2) -> float:
    """Chance of at least so many right answers, each run drawn independently.

    Parameters
    ----------
    right, runs : int
        Runs named rightly, of so many; 0 <= right <= runs.
    treatments : int
        How many there were, equally likely in each run; >= 2.

    Raises
    ------
    InputError
        If a number is out of range.

    Examples
    --------
    >>> chance_of_guesses(8, 8)
    0.00390625
    """
    if not (0 <= right <= runs and runs >= 1 and treatments >= 2):
        raise InputError(
            f"{right} right of {runs} runs, {treatments} treatments: give 0 <= right "
            "<= runs, at least one run, and two treatments or more."
        )
    ways = sum(
        math.comb(runs, k) * (treatments - 1) ** (runs - k)
        for k in range(right, runs + 1)
    )
    return float(ways / treatments**runs)

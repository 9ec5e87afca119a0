"""The order of attempts: shuffled by a seed that is printed, the same everywhere."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TypeVar

Item = TypeVar("Item")


def shuffled(items: Sequence[Item], seed: int) -> tuple[Item, ...]:
    """Put items in an order that a seed decides.

    Parameters
    ----------
    items : sequence
    seed : int
        Printed with the plan, so that anybody gets the same order.

    Examples
    --------
    >>> shuffled("abcd", 1)
    ('d', 'b', 'c', 'a')
    """
    places = shuffled_places(len(items), random.Random(seed))
    return tuple(items[place] for place in places)


def shuffled_in_blocks(
    items: Sequence[Item], repetitions: int, seed: int
) -> tuple[tuple[int, Item], ...]:
    """Repeat items, each repetition in an order of its own.

    A drift then meets all conditions alike, and an early stop leaves them balanced.

    Parameters
    ----------
    items : sequence
    repetitions : int
        >= 1.
    seed : int
        Printed with the plan.

    Returns
    -------
    tuple of (int, item)
        Number of the repetition, from 1, and the item.

    Examples
    --------
    >>> [number for number, _ in shuffled_in_blocks("ab", 2, 1)]
    [1, 1, 2, 2]
    """
    source = random.Random(seed)
    return tuple(
        (repetition, items[place])
        for repetition in range(1, repetitions + 1)
        for place in shuffled_places(len(items), source)
    )


def shuffled_places(count: int, source: random.Random) -> list[int]:
    """Return the numbers below `count` in random order.

    Parameters
    ----------
    count : int
    source : random.Random

    Notes
    -----
    Python promises that `random()` will give the same numbers in later versions, and
    promises it of nothing else in that module: hence an own exchange of places.

    Examples
    --------
    >>> sorted(shuffled_places(4, random.Random(1)))
    [0, 1, 2, 3]
    """
    places = list(range(count))
    for last in range(count - 1, 0, -1):
        chosen = int(source.random() * (last + 1))
        places[last], places[chosen] = places[chosen], places[last]
    return places

"""Which contacts are joined: pairs, sets, separate groups."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from benchproof.reasoning.plans.conditions import (
    Candidates,
    Condition,
    checked_names,
)
from benchproof.values.errors import InputError


def contact_pairs(contacts: Sequence[str]) -> Candidates:
    """Join two contacts at a time: all n(n - 1)/2 pairs.

    Parameters
    ----------
    contacts : sequence of str
        Two or more, no name twice.

    Raises
    ------
    InputError
        If there are too few, or a name stands there twice.

    Examples
    --------
    >>> contact_pairs(["P1", "P2", "P3", "P4", "P5", "P6"]).count
    15
    """
    return contact_sets(contacts, 2, 2)


def contact_sets(
    contacts: Sequence[str], smallest: int = 2, largest: int | None = None
) -> Candidates:
    """Join one set of contacts at a time: 2^n - n - 1 sets of two or more.

    Parameters
    ----------
    contacts : sequence of str
        Two or more, no name twice.
    smallest, largest : int
        How many contacts a set has; the largest is all of them if left out.

    Raises
    ------
    InputError
        If the contacts or the sizes cannot be.

    Examples
    --------
    >>> contact_sets(["P1", "P2", "P3", "P4", "P5", "P6"]).count
    57
    """
    names = checked_names(contacts, "contacts")
    most = len(names) if largest is None else largest
    if not 2 <= smallest <= most <= len(names):
        raise InputError(
            f"sets of {smallest} to {most} of {len(names)} contacts: give sizes from 2 "
            "to the number of contacts."
        )
    sizes = range(smallest, most + 1)
    what = "pairs of contacts" if most == 2 else "sets of contacts"

    def make() -> Iterator[Condition]:
        for size in sizes:
            for group in itertools.combinations(names, size):
                yield Condition((group,))

    return Candidates(what, sum(math.comb(len(names), size) for size in sizes), make)


def separate_groups(contacts: Sequence[str]) -> Candidates:
    """Join contacts in groups kept apart from one another: Bell(n) - 1 ways.

    Parameters
    ----------
    contacts : sequence of str
        Two or more, no name twice.

    Notes
    -----
    Each contact is in one group or stands alone; that all stand alone is left out.

    Raises
    ------
    InputError
        If there are too few, or a name stands there twice.

    Examples
    --------
    >>> separate_groups(["P1", "P2", "P3", "P4", "P5", "P6"]).count
    202
    >>> print(separate_groups([f"P{i}" for i in range(1, 21)]))
    contacts joined in separate groups: 51724158235371 (5.2e+13)
    """
    names = checked_names(contacts, "contacts")

    def make() -> Iterator[Condition]:
        for blocks in _partitions(names):
            groups = tuple(block for block in blocks if len(block) > 1)
            if groups:
                yield Condition(groups)

    what = "contacts joined in separate groups"
    return Candidates(what, bell_number(len(names)) - 1, make)


def _partitions(names: tuple[str, ...]) -> Iterator[list[tuple[str, ...]]]:
    """Yield each way to put names in blocks once, with one path kept in memory."""
    if not names:
        yield []
        return
    *rest, last = names
    for blocks in _partitions(tuple(rest)):
        yield [*blocks, (last,)]
        for i, block in enumerate(blocks):
            yield [*blocks[:i], (*block, last), *blocks[i + 1 :]]


def bell_number(n: int) -> int:
    """Count the ways to put n things in groups.

    Parameters
    ----------
    n : int
        >= 0.

    Examples
    --------
    >>> bell_number(6)
    203
    """
    row = [1]
    for _ in range(n):
        row = list(itertools.accumulate(row, initial=row[-1]))
    return row[0]

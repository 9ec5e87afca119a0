"""Which levels are set, and in which order actions are done."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from benchproof.reasoning.plans.conditions import (
    Candidates,
    Condition,
    checked_factors,
    checked_names,
)
from benchproof.values.errors import InputError


def factor_levels(factors: dict[str, Sequence[str]]) -> Candidates:
    """Set every combination of levels (full factorial).

    Parameters
    ----------
    factors : dict
        Factor to its levels, one or more each, no level twice.

    Raises
    ------
    InputError
        If there is no factor, or a factor has no level or one twice.

    Examples
    --------
    >>> for condition in factor_levels({"supply": ["brick", "bench"], "axes": ["one"]}):
    ...     print(condition)
    supply brick, axes one
    supply bench, axes one
    """
    levels = checked_factors(factors)

    def make() -> Iterator[Condition]:
        for chosen in itertools.product(*levels.values()):
            yield Condition(settings=tuple(zip(levels, chosen, strict=True)))

    return Candidates(
        f"combinations of {', '.join(levels)}",
        math.prod(map(len, levels.values())),
        make,
    )


def states(names: Sequence[str], factor: str = "state") -> Candidates:
    """Try one state of the device at a time.

    Parameters
    ----------
    names : sequence of str
        One or more, none twice.
    factor : str
        What they are states of.

    Examples
    --------
    >>> states(["asleep", "docked"]).count
    2
    """
    return factor_levels({factor: names})


def sequences(
    actions: Sequence[str], length: int | None = None, repeated: bool = False
) -> Candidates:
    """Do actions one after the other, in every order.

    Parameters
    ----------
    actions : sequence of str
        One or more, none twice.
    length : int, optional
        How many are done; all of them if left out.
    repeated : bool
        Whether an action may come again.

    Raises
    ------
    InputError
        If the actions or the length cannot be.

    Examples
    --------
    >>> print(sequences(["plug", "switch on", "slew"]))
    orders of 3 of 3 actions: 6
    """
    names = checked_names(actions, "actions", least=1)
    n, r = len(names), len(names) if length is None else length
    if r < 1 or (r > n and not repeated):
        raise InputError(
            f"sequences of {r} of {n} actions: give a length from 1 to {n}, or let "
            "actions be repeated."
        )

    def make() -> Iterator[Condition]:
        orders = (
            itertools.product(names, repeat=r)
            if repeated
            else itertools.permutations(names, r)
        )
        return (Condition(steps=steps) for steps in orders)

    count = n**r if repeated else math.perm(n, r)
    return Candidates(f"orders of {r} of {n} actions", count, make)

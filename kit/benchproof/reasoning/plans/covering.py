"""Few combinations of levels in which every pair of levels is tried."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import mod

from benchproof.reasoning.plans.conditions import (
    Candidates,
    Condition,
    Forbidden,
    checked_factors,
)
from benchproof.reasoning.plans.designs import fewest_rows, uniform_design
from benchproof.reasoning.plans.order import shuffled_places
from benchproof.values.errors import InputError

Row = tuple[int, ...]

TRIES = 24
"""Rows built before the best is kept: more hardly shorten the plan."""


@dataclass(frozen=True, slots=True)
class PairwisePlan:
    """Combinations of levels that hold every pair that may be tried.

    Attributes
    ----------
    candidates : Candidates
        The combinations.
    least : int
        No plan can have fewer; see `fewest_rows`. Where something is forbidden, fewer
        may be enough.
    rows : tuple of tuple of int
        The same as level numbers, from 0, one for each factor.
    excluded : tuple of (str, str, str)
        Pairs that are not tried, as texts, and why.
    """

    candidates: Candidates
    least: int
    rows: tuple[Row, ...]
    excluded: tuple[tuple[str, str, str], ...] = ()


def pairwise_levels(
    factors: dict[str, Sequence[str]], forbidden: Sequence[Forbidden] = ()
) -> PairwisePlan:
    """Choose combinations in which every two levels of two factors meet.

    A symptom that takes two levels together is then provoked at least once; one that
    takes three may be missed.

    Parameters
    ----------
    factors : dict
        Two or more, each with its levels.
    forbidden : sequence of Forbidden
        Settings that may not be tried together; contacts are not looked at.
        Give them here, not to the plan alone: a combination left out later takes its
        other pairs with it.

    Raises
    ------
    InputError
        If there are fewer than two factors, or a factor or level cannot be.

    Examples
    --------
    >>> plan = pairwise_levels({"supply": ["brick", "bench"], "axes": ["one", "both"],
    ...     "cable": ["thin", "thick"]})
    >>> plan.candidates.count, plan.least
    (4, 4)
    """
    levels = checked_factors(factors)
    if len(levels) < 2:
        raise InputError(
            f"factors {', '.join(levels)}: pairs need two factors or more. For one, "
            "try its levels one by one (factor_levels)."
        )
    names = [(factor, level) for factor in levels for level in levels[factor]]
    barred = [_mask(names, f) for f in forbidden if f.settings and not f.joined]
    counts = [len(group) for group in levels.values()]
    rows, missed = covering_rows(counts, [mask for mask in barred if mask])
    return PairwisePlan(
        chosen_levels(levels, rows),
        fewest_rows(counts),
        tuple(rows),
        tuple(_excluded(names[a], names[b], forbidden) for a, b in missed),
    )


def chosen_levels(
    factors: Mapping[str, Sequence[str]], rows: Sequence[Row]
) -> Candidates:
    """Set the combinations that a pairwise plan chose.

    Parameters
    ----------
    factors : mapping
        Factor to its levels.
    rows : sequence of tuple of int
        Number of a level, from 0, for each factor.

    Raises
    ------
    InputError
        If a row does not fit the factors.

    Examples
    --------
    >>> print(*chosen_levels({"supply": ["brick", "bench"]}, [(1,)]))
    supply bench
    """
    for row in rows:
        fits = len(row) == len(factors) and all(
            isinstance(i, int) and 0 <= i < len(group)
            for i, group in zip(row, factors.values(), strict=True)
        )
        if not fits:
            raise InputError(
                f"row {row}: give the number of a level, from 0, for each of "
                f"{', '.join(factors)}."
            )

    def make() -> Iterator[Condition]:
        for row in rows:
            chosen = zip(factors.items(), row, strict=True)
            yield Condition(settings=tuple((f, group[i]) for (f, group), i in chosen))

    what = f"combinations of {', '.join(factors)} that hold every pair"
    return Candidates(what, len(rows), make)


def _mask(names: list[tuple[str, str]], forbidden: Forbidden) -> int:
    """Return one bit per setting; 0 if a setting is not among the levels."""
    if not all(setting in names for setting in forbidden.settings):
        return 0
    return sum(1 << names.index(setting) for setting in {*forbidden.settings})


def _excluded(
    a: tuple[str, str], b: tuple[str, str], forbidden: Sequence[Forbidden]
) -> tuple[str, str, str]:
    pair = Condition(settings=(a, b))
    reasons = [f.reason for f in forbidden if f.forbids(pair)]
    reason = "; ".join(reasons) or "no combination holds it that is not forbidden"
    return f"{a[0]} {a[1]}", f"{b[0]} {b[1]}", reason


def covering_rows(
    counts: Sequence[int], barred: Sequence[int] = ()
) -> tuple[list[Row], list[tuple[int, int]]]:
    """Choose rows of levels in which every pair of levels of two factors occurs.

    Parameters
    ----------
    counts : sequence of int
        Levels of each factor, each >= 1.
    barred : sequence of int
        What no row may hold: one bit per level, those of the first factor first.

    Returns
    -------
    rows : list of tuple of int
        A level of each factor, from 0.
    missed : list of (int, int)
        Pairs of levels, numbered as the bits, that no allowed row holds.

    Notes
    -----
    Each row is the best of some, each built level by level so that it holds most
    pairs not held before. Where nothing is barred, a known design is taken if it is
    shorter. The same counts give the same rows.

    Examples
    --------
    >>> len(covering_rows([3] * 4)[0])
    9
    """
    uniform = [] if barred else uniform_design(max(counts), len(counts))
    if uniform and len({*counts}) == 1:  # shorter than what the search finds
        return uniform, []
    rows, missed = _Search(counts, barred).rows()
    if uniform:
        cut = [tuple(map(mod, row, counts)) for row in uniform]
        rows = min(_needed(rows), _needed(cut), key=len)
    return rows, missed


def _needed(rows: list[Row]) -> list[Row]:
    """Leave out rows whose every pair occurs in another one."""
    pairs = [list(itertools.combinations(enumerate(row), 2)) for row in rows]
    held = Counter(itertools.chain.from_iterable(pairs))
    kept = []
    for row, own in zip(rows, pairs, strict=True):
        if all(held[pair] > 1 for pair in own):
            held.subtract(own)
        else:
            kept.append(row)
    return kept


class _Search:
    """Rows built one by one; sets of levels are bits of a whole number."""

    def __init__(self, counts: Sequence[int], barred: Sequence[int]) -> None:
        starts = list(itertools.accumulate(counts, initial=0))
        self.slots = [range(a, b) for a, b in itertools.pairwise(starts)]
        self.barred = barred
        own = [(1 << group.stop) - (1 << group.start) for group in self.slots]
        everything = (1 << starts[-1]) - 1
        self.factor = [f for f, group in enumerate(self.slots) for _ in group]
        self.open = [everything & ~own[f] for f in self.factor]
        self.source = random.Random(1)

    def rows(self) -> tuple[list[Row], list[tuple[int, int]]]:
        found: list[Row] = []
        missed = []
        while any(self.open):
            best: list[int] = []
            for _ in range(TRIES):
                seed = self._seed()
                row = self._row(seed)
                if not row:
                    missed.append(seed)
                    self._close(*seed)
                    break
                best = max(best, row, key=self._gain)
            if best:
                found.append(self._taken(best))
        return found, missed

    def _taken(self, row: list[int]) -> Row:
        for a, b in itertools.combinations(row, 2):
            self._close(a, b)
        return tuple(
            slot - group.start for slot, group in zip(row, self.slots, strict=True)
        )

    def _close(self, a: int, b: int) -> None:
        self.open[a] &= ~(1 << b)
        self.open[b] &= ~(1 << a)

    def _seed(self) -> tuple[int, int]:
        """Return an open pair, by chance one of a level that lacks most."""
        first = max(
            range(len(self.open)),
            key=lambda slot: (self.open[slot].bit_count(), self.source.random()),
        )
        partners = [s for s in range(len(self.open)) if self.open[first] >> s & 1]
        second = partners[int(self.source.random() * len(partners))]
        return min(first, second), max(first, second)

    def _gain(self, row: list[int]) -> int:
        mask = sum(1 << slot for slot in row)
        return sum((self.open[slot] & mask).bit_count() for slot in row)

    def _row(self, seed: tuple[int, int]) -> list[int]:
        """Build a row that holds a pair; empty if none is allowed."""
        mask = 1 << seed[0] | 1 << seed[1]
        if self._is_barred(mask):
            return []
        known = {self.factor[slot] for slot in seed}
        order = shuffled_places(len(self.slots), self.source)
        rest = [f for f in order if f not in known]
        full = self._complete(mask, rest, 0)
        return [s for s in range(len(self.open)) if full >> s & 1]

    def _complete(self, mask: int, rest: list[int], done: int) -> int:
        """Add a level of each remaining factor, stepping back where barred; 0: none."""
        if done == len(rest):
            return mask
        for slot in self._ranked(mask, self.slots[rest[done]]):
            grown = mask | 1 << slot
            if not self._is_barred(grown):
                full = self._complete(grown, rest, done + 1)
                if full:
                    return full
        return 0

    def _ranked(self, mask: int, group: range) -> list[int]:
        """Put levels in order: most new pairs first, equals by chance."""
        keys = {
            slot: ((self.open[slot] & mask).bit_count(), self.source.random())
            for slot in group
        }
        return sorted(group, key=keys.__getitem__, reverse=True)

    def _is_barred(self, mask: int) -> bool:
        return any(mask & held == held for held in self.barred)

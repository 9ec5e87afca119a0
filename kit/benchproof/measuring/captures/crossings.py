"""Every change of state of a record, by two thresholds with hysteresis between.

The state is high from the first sample at or above the upper threshold, low from
the first at or below the lower one; between them it stays what it was. Blocks are
looked at on their own and joined afterwards, so that an edge across a border of
blocks is found the same as any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.pyramid import STRIDE, Pyramid
from benchproof.values.errors import InputError

Codes = NDArray[Any]
Places = NDArray[np.int64]
Floats = NDArray[np.float64]

BLOCK = 1 << 18


@dataclass(frozen=True, slots=True)
class Changes:
    """The changes of state of a record, in their order.

    Attributes
    ----------
    index : array of int, shape (n,)
        The first sample in the new state.
    rising : array of bool, shape (n,)
        Whether the new state is high.
    left, reached : array of float, shape (n,)
        Where, in samples, the record last left the old threshold and reached the
        new one, on straight lines between samples: for thresholds at 10 % and 90 %
        their distance is the transition's duration.
    starts_high : bool or None
        The first state, None if neither threshold was ever reached.
    """

    index: Places
    rising: NDArray[np.bool_]
    left: Floats
    reached: Floats
    starts_high: bool | None

    def __len__(self) -> int:
        return int(self.index.shape[0])


@dataclass(frozen=True, slots=True)
class Runs:
    """Stretches of one block at or beyond a threshold, and what borders them.

    Attributes
    ----------
    first, last : array of int, shape (n,)
        First and last sample of each stretch, counted from the record's start.
    high : array of bool, shape (n,)
    before, at_first, at_last, after : array of float, shape (n,)
        Codes of the sample before a stretch, its first and last, and the one after
        it; not-a-number where that lies outside the block.
    begin, end : float
        First and last code of the block.
    """

    first: Places
    last: Places
    high: NDArray[np.bool_]
    before: Floats
    at_first: Floats
    at_last: Floats
    after: Floats
    begin: float
    end: float


def check_thresholds(low: float, high: float) -> None:
    """Refuse thresholds that are not in order.

    Raises
    ------
    InputError
        If the lower is not below the upper one: without hysteresis noise counts.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise InputError(
            f"thresholds {low:g} and {high:g}: give two numbers, the lower one first, "
            "further apart than the noise is wide."
        )


def runs_in(codes: Codes, low: float, high: float, offset: int = 0) -> Runs:
    """Find the stretches beyond the thresholds in one block.

    Parameters
    ----------
    codes : array, shape (n,)
        At least one.
    low, high : float
        Thresholds in codes, ``low < high``.
    offset : int
        Of the first sample in the record.
    """
    upper, lower = high, low
    if np.issubdtype(codes.dtype, np.integer):
        # Whole thresholds keep the comparison in small integers.
        upper, lower = math.ceil(high), math.floor(low)
    tops, bottoms = _stretches(codes >= upper), _stretches(codes <= lower)
    first = np.concatenate([tops[0], bottoms[0]])
    order = np.argsort(first, kind="stable")
    first = first[order]
    last = np.concatenate([tops[1], bottoms[1]])[order]
    is_high = order < len(tops[0])
    return Runs(
        first + offset,
        last + offset,
        is_high,
        _at(codes, first - 1),
        _at(codes, first),
        _at(codes, last),
        _at(codes, last + 1),
        float(codes[0]),
        float(codes[-1]),
    )


def _stretches(beyond: NDArray[np.bool_]) -> tuple[Places, Places]:
    """Return first and last index of each stretch of true."""
    changes = np.flatnonzero(beyond[1:] != beyond[:-1])
    first, last = changes + 1, changes
    begins, ends = (first[1::2], last[::2]) if beyond[0] else (first[::2], last[1::2])
    if beyond[0]:
        begins = np.concatenate([[0], begins])
    if beyond[-1]:
        ends = np.concatenate([ends, [beyond.size - 1]])
    return begins.astype(np.int64), ends.astype(np.int64)


def _at(codes: Codes, places: Places) -> Floats:
    """Return the codes at places, not-a-number for those outside."""
    inside = (places >= 0) & (places < codes.shape[0])
    found = codes[np.where(inside, places, 0)].astype(np.float64)
    found[~inside] = np.nan
    return np.asarray(found)


def joined_changes(parts: Iterable[Runs], low: float, high: float) -> Changes:
    """Return the edges of a record from the stretches of its consecutive blocks.

    Blocks may be missing where nothing changes, see `changes_of`.

    Examples
    --------
    >>> codes = np.array([0, 0, 4, 10, 10, 6, 0])
    >>> blocks = [runs_in(codes[:3], 1, 9), runs_in(codes[3:], 1, 9, 3)]
    >>> edges = joined_changes(blocks, 1, 9)
    >>> edges.index.tolist(), edges.left.round(2).tolist()
    ([3, 6], [1.25, 4.25])
    """
    blocks = [replace(p, before=p.before.copy(), after=p.after.copy()) for p in parts]
    for one, two in pairwise(blocks):
        if len(one.after) and math.isnan(one.after[-1]):
            one.after[-1] = two.begin
        if len(two.before) and math.isnan(two.before[0]):
            two.before[0] = one.end
    states = np.concatenate([block.high for block in blocks])
    new = np.flatnonzero(states[1:] != states[:-1]) + 1
    old, rising = new - 1, states[new]

    def of(name: str, at: Places) -> Any:
        return np.concatenate([getattr(block, name) for block in blocks])[at]

    index, last = of("first", new), of("last", old)
    target, origin = np.where(rising, high, low), np.where(rising, low, high)
    at_last, after = of("at_last", old), of("after", old)
    before, at_first = of("before", new), of("at_first", new)
    left = last + (origin - at_last) / (after - at_last)
    reached = index - (at_first - target) / (at_first - before)
    starts = bool(states[0]) if len(states) else None
    return Changes(index, rising, left, reached, starts)


def changes_of(codes: Codes, pyramid: Pyramid, low: float, high: float) -> Changes:
    """Find all edges of a record, reading only where its state may change.

    Parameters
    ----------
    codes : array, shape (n,)
        Possibly memory-mapped.
    pyramid : Pyramid
        Of these codes.
    low, high : float
        Thresholds in codes.

    Raises
    ------
    InputError
        If ``low < high`` does not hold.

    Examples
    --------
    >>> from benchproof.measuring.captures.pyramid import pyramid_of
    >>> codes = np.repeat(np.array([0, 9, 0], dtype=np.int8), 1000)
    >>> changes_of(codes, pyramid_of(codes), 2, 7).index.tolist()
    [1000, 2000]
    """
    check_thresholds(low, high)
    stretches = stretches_to_read(pyramid, low, high)
    parts = []
    for begin in range(0, len(stretches), BLOCK // STRIDE):
        chosen = stretches[begin : begin + BLOCK // STRIDE]
        runs = runs_in(_gathered(codes, chosen), low, high)
        first, last = _placed(runs.first, chosen), _placed(runs.last, chosen)
        parts.append(replace(runs, first=first, last=last))
    return joined_changes(parts, low, high)


def stretches_to_read(pyramid: Pyramid, low: float, high: float) -> Places:
    """Return the stretches of the pyramid that have to be read to find all edges.

    A stretch is passed over if it lies wholly at or beyond one threshold, or
    between the two, and both its neighbours lie in the same place. So the two that
    then follow each other lie in the same place too, and no edge is between them.

    Examples
    --------
    >>> lows = np.array([0, 0, 0, 0, 9, 9, 9])
    >>> stretches_to_read(Pyramid(lows, lows, 7 * 256), 2, 7).tolist()
    [0, 3, 4, 6]
    """
    kind = np.full(pyramid.low.shape, 2, dtype=np.int8)  # mixed
    kind[(pyramid.low > low) & (pyramid.high < high)] = 0
    kind[pyramid.high <= low] = -1
    kind[pyramid.low >= high] = 1
    needed = np.ones(kind.shape, dtype=bool)
    same = (kind[1:-1] == kind[:-2]) & (kind[1:-1] == kind[2:])
    needed[1:-1] = ~same | (kind[1:-1] == 2)
    return np.flatnonzero(needed).astype(np.int64)


def _gathered(codes: Codes, chosen: Places) -> Codes:
    """Return the samples of stretches, without a copy where they are neighbours."""
    first, last = int(chosen[0]), int(chosen[-1])
    if last - first + 1 == len(chosen):
        return codes[first * STRIDE : (last + 1) * STRIDE]
    whole = codes.shape[0] // STRIDE
    rows = codes[: whole * STRIDE].reshape(-1, STRIDE)
    parts = [rows[chosen[chosen < whole]].reshape(-1)]
    if last == whole:  # the last stretch of a record may be shorter
        parts.append(codes[whole * STRIDE :])
    return np.concatenate(parts)


def _placed(index: Places, chosen: Places) -> Places:
    """Return where samples of gathered stretches lie in the record."""
    return np.asarray(chosen[index // STRIDE] * STRIDE + index % STRIDE)

"""How often each code came: exact for small integers, in 65 536 bins for others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[Any]
Counts = NDArray[np.int64]

BINS = 1 << 16


@dataclass(frozen=True, slots=True)
class Histogram:
    """Counts of equally wide bins of codes.

    Attributes
    ----------
    first, width : float
        Bin `i` is centred on ``first + width · i``, in codes.
    counts : array of int, shape (n,)
        Its two end bins are not empty.
    exact : bool
        Whether each bin holds a single code.
    """

    first: float
    width: float
    counts: Counts
    exact: bool

    @property
    def codes(self) -> NDArray[np.float64]:
        """The codes the bins are centred on."""
        return self.first + self.width * np.arange(len(self.counts), dtype=float)

    @property
    def total(self) -> int:
        """How many samples were counted."""
        return int(self.counts.sum())


@dataclass(frozen=True, slots=True)
class Grid:
    """Bins that the blocks of one record share."""

    first: float
    width: float
    exact: bool


def grid_for(codes: Codes, least: float, greatest: float) -> Grid:
    """Choose the bins for a record whose limits are known.

    Parameters
    ----------
    codes : array
        Of which only the type matters: integers keep a whole number to a bin.
    least, greatest : float
        Of all codes of the record.

    Examples
    --------
    >>> grid_for(np.zeros(1, np.int16), -5, 7)
    Grid(first=-5.0, width=1.0, exact=True)
    """
    span = greatest - least
    if np.issubdtype(codes.dtype, np.integer):
        width = max(1, math.ceil((span + 1) / BINS))
        return Grid(least + (width - 1) / 2, float(width), width == 1)
    return Grid(least, span / (BINS - 1) or 1.0, span == 0)


def histogram_of(
    codes: Codes, grid: Grid, ends: tuple[Any, Any] | None = None
) -> Histogram:
    """Count one block of codes.

    Parameters
    ----------
    codes : array, shape (n,)
        At least one; finite.
    grid : Grid
        Not below the least code.
    ends : tuple of two codes, optional
        The least and the greatest, where they are known.

    Examples
    --------
    >>> counted = histogram_of(np.array([3, 3, 5]), Grid(3, 1.0, True))
    >>> counted.first, counted.counts.tolist()
    (3.0, [2, 0, 1])
    """
    if grid.exact and np.issubdtype(codes.dtype, np.integer):
        least, greatest = map(int, ends or (codes.min(), codes.max()))
        return Histogram(float(least), 1.0, _whole_counts(codes, least, greatest), True)
    start = grid.first - grid.width / 2
    place = np.asarray((codes - start) / grid.width).astype(np.intp)
    return _trimmed(grid.first, grid.width, np.bincount(place), grid.exact)


def _whole_counts(codes: Codes, least: int, greatest: int) -> Counts:
    """Count integers whose limits are known and less than `BINS` apart."""
    span = greatest - least
    if span == 0:
        return np.array([codes.size], dtype=np.int64)
    native = np.ascontiguousarray(codes, dtype=codes.dtype.newbyteorder("="))
    if 0 <= least <= span and span >= 256:  # few bins below are dearer to take off
        return np.bincount(native.astype(np.intp))[least:]
    # Unsigned differences wrap to the right value where signed ones overflow.
    kind = np.dtype(f"u{codes.dtype.itemsize}")
    near = native.view(kind) - np.array(least, native.dtype).view(kind)
    if span < 256 and codes.size >= 4 * BINS:
        return _paired_counts(near.astype(np.uint8, copy=False))[: span + 1]
    counts: Counts = np.bincount(near.astype(np.intp), minlength=span + 1)
    return counts


def _paired_counts(codes: NDArray[np.uint8]) -> Counts:
    """Count two neighbouring bytes at once, which halves the work."""
    even = codes.size // 2 * 2
    pairs = np.bincount(codes[:even].view(np.uint16), minlength=BINS)
    square = pairs.reshape(256, 256)
    counts = square.sum(axis=0) + square.sum(axis=1)
    if even < codes.size:
        counts[codes[-1]] += 1
    return np.asarray(counts, dtype=np.int64)


def _trimmed(first: float, width: float, counts: Counts, exact: bool) -> Histogram:
    used = np.flatnonzero(counts)
    begin, end = int(used[0]), int(used[-1]) + 1
    return Histogram(first + width * begin, width, counts[begin:end], exact)


def merged_histograms(parts: Sequence[Histogram]) -> Histogram:
    """Add the counts of blocks that were counted on one grid.

    Raises
    ------
    ValueError
        If the widths differ.

    Examples
    --------
    >>> grid = Grid(0, 1.0, True)
    >>> parts = [histogram_of(np.array(c), grid) for c in ([1, 1], [3])]
    >>> merged_histograms(parts).counts.tolist()
    [2, 0, 1]
    """
    widths = {part.width for part in parts}
    if len(widths) != 1:
        raise ValueError(f"histograms of widths {sorted(widths)} do not add.")
    (width,) = widths
    first = min(part.first for part in parts)
    begins = [round((part.first - first) / width) for part in parts]
    ends = [b + len(p.counts) for b, p in zip(begins, parts, strict=True)]
    counts = np.zeros(max(ends), dtype=np.int64)
    for begin, end, part in zip(begins, ends, parts, strict=True):
        counts[begin:end] += part.counts
    return Histogram(first, width, counts, all(part.exact for part in parts))


def count_beyond(histogram: Histogram, low: float, high: float) -> tuple[int, int]:
    """Count the samples at or below `low` and at or above `high`, in codes.

    Examples
    --------
    >>> count_beyond(Histogram(0.0, 1.0, np.array([4, 0, 9]), True), 0, 2)
    (4, 9)
    """
    codes, counts = histogram.codes, histogram.counts
    return int(counts[codes <= low].sum()), int(counts[codes >= high].sum())

"""Pyramid, histogram and moments of a whole record, block by block."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.histogram import (
    Grid,
    Histogram,
    grid_for,
    histogram_of,
    merged_histograms,
)
from benchproof.measuring.captures.pyramid import (
    STRIDE,
    Pyramid,
    joined_pyramids,
    pyramid_of,
)
from benchproof.measuring.captures.sums import (
    Moments,
    merged_moments,
    moments_from,
    moments_of,
)
from benchproof.values.errors import InputError
from benchproof.values.inturn import THREADS, Progress, in_turn

Codes = NDArray[Any]
Result = TypeVar("Result")

BLOCK = 1 << 19
"""Samples handled at a time: a multiple of the pyramid's stride."""

assert BLOCK % STRIDE == 0


@dataclass(frozen=True, slots=True)
class Summary:
    """What most questions about a record need, in codes.

    Attributes
    ----------
    pyramid : Pyramid
    histogram : Histogram
    moments : Moments
    """

    pyramid: Pyramid
    histogram: Histogram
    moments: Moments


@dataclass(frozen=True, slots=True)
class Piece:
    """What consecutive blocks add to a summary.

    Pieces are joined without rounding: the moments of each block are kept until the
    end. So the digits are the same however many workers made the pieces.

    Attributes
    ----------
    pyramid : Pyramid
    histogram : Histogram
    moments : tuple of Moments
        One for each block; empty where the histogram is exact and tells them.
    """

    pyramid: Pyramid
    histogram: Histogram
    moments: tuple[Moments, ...] = ()


def summary_of(codes: Codes, progress: Progress | None = None) -> Summary:
    """Summarise a record of any length in little memory.

    Parameters
    ----------
    codes : array, shape (n,)
        At least one, possibly memory-mapped.

    Raises
    ------
    InputError
        If a code is not finite.

    Examples
    --------
    >>> summary = summary_of(np.array([1, 2, 2, 3], dtype=np.int16))
    >>> summary.histogram.counts.tolist(), summary.moments.mean
    ([1, 2, 1], 2.0)
    """
    grid, rest = Grid(0, 1.0, True), 0.0
    if not is_small(codes):
        limits = _each(limits_of, codes, share(progress, 0, 0.3))
        grid, rest = grid_between(codes, limits), 0.3
    pieces = _each(partial(piece_of, grid=grid), codes, share(progress, rest, 1))
    return finished(joined(pieces))


def limits_of(codes: Codes) -> tuple[float, float]:
    """Return the least and the greatest code of one block."""
    return float(codes.min()), float(codes.max())


def grid_between(codes: Codes, limits: Iterable[tuple[float, float]]) -> Grid:
    """Choose the grid of a record from the limits of its blocks.

    Raises
    ------
    InputError
        If a limit is not finite.
    """
    ends = np.array([*limits])
    if not np.isfinite(ends).all():
        raise InputError(
            "has samples without a value (not-a-number, or infinite). Look at a "
            "stretch without them, or record again."
        )
    return grid_for(codes, float(ends.min()), float(ends.max()))


def is_small(codes: Codes) -> bool:
    """Tell whether every code can have its own bin, whatever the limits are."""
    return bool(np.issubdtype(codes.dtype, np.integer)) and codes.dtype.itemsize <= 2


def piece_of(codes: Codes, grid: Grid) -> Piece:
    """Summarise one block on the record's grid."""
    pyramid = pyramid_of(codes)
    histogram = histogram_of(codes, grid, (pyramid.low.min(), pyramid.high.max()))
    return Piece(pyramid, histogram, () if grid.exact else (moments_of(codes),))


def joined(pieces: Iterable[Piece]) -> Piece:
    """Join the pieces of consecutive blocks, one after the other.

    Examples
    --------
    >>> blocks = np.arange(600, dtype=np.int16)[:512], np.array([7], dtype=np.int16)
    >>> piece = joined(piece_of(block, Grid(0, 1.0, True)) for block in blocks)
    >>> piece.pyramid.count, int(piece.histogram.counts[7])
    (513, 2)
    """
    pyramids: list[Pyramid] = []
    moments: list[Moments] = []
    histogram: Histogram | None = None
    for piece in pieces:
        pyramids.append(piece.pyramid)
        moments += piece.moments
        both = [histogram, piece.histogram] if histogram else [piece.histogram]
        histogram = merged_histograms(both)
    assert histogram is not None
    return Piece(joined_pyramids(pyramids), histogram, tuple(moments))


def finished(piece: Piece) -> Summary:
    """Return the summary of a record whose blocks are all joined."""
    histogram = piece.histogram
    # Whole numbers were counted: nothing is rounded.
    known = not piece.moments
    moments = moments_from(histogram) if known else merged_moments(piece.moments)
    return Summary(piece.pyramid, histogram, moments)


def share(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """Return what tells the fraction of a part as one of the whole."""
    if progress is None:
        return None
    return lambda done: progress(begin + (end - begin) * done)


def _each(
    work: Callable[[Codes], Result], codes: Codes, progress: Progress | None
) -> Iterator[Result]:
    """Do work on every block, in order; more than one share two threads."""
    count = int(codes.shape[0])
    blocks = (codes[first : first + BLOCK] for first in range(0, count, BLOCK))
    found = in_turn(work, blocks, THREADS if count > BLOCK else 1)
    for place, result in enumerate(found, 1):
        if progress:
            progress(min(place * BLOCK / count, 1.0))
        yield result

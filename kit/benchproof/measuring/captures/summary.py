"""Pyramid, histogram and moments of a whole record, block by block."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

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

Codes = NDArray[Any]
Progress = Callable[[float], None]
"""Called with the fraction done, 0 to 1, now and then."""

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


def summary_of(codes: Codes, progress: Progress | None = None) -> Summary:
    """Summarise a record of any length in little memory.

    Parameters
    ----------
    codes : array, shape (n,)
        At least one, possibly memory-mapped; finite.

    Examples
    --------
    >>> summary = summary_of(np.array([1, 2, 2, 3], dtype=np.int16))
    >>> summary.histogram.counts.tolist(), summary.moments.mean
    ([1, 2, 1], 2.0)
    """
    if is_small(codes):
        grid = Grid(0, 1.0, True)
        done = [block_summary(part, grid) for part in _parts(codes, progress, 0, 1)]
        return merged_summary(done)
    pyramids = [pyramid_of(part) for part in _parts(codes, progress, 0, 0.3)]
    pyramid = joined_pyramids(pyramids)
    grid = grid_for(codes, pyramid.least, pyramid.greatest)
    done = [block_summary(part, grid) for part in _parts(codes, progress, 0.3, 1)]
    return merged_summary(done)


def is_small(codes: Codes) -> bool:
    """Tell whether every code can have its own bin, whatever the limits are."""
    return bool(np.issubdtype(codes.dtype, np.integer)) and codes.dtype.itemsize <= 2


def block_summary(codes: Codes, grid: Grid) -> Summary:
    """Summarise one block on the record's grid."""
    histogram = histogram_of(codes, grid)
    moments = moments_from(histogram) if histogram.exact else moments_of(codes)
    return Summary(pyramid_of(codes), histogram, moments)


def merged_summary(parts: list[Summary]) -> Summary:
    """Join the summaries of consecutive blocks; the same however many made them."""
    histogram = merged_histograms([part.histogram for part in parts])
    moments = merged_moments([part.moments for part in parts])
    if histogram.exact:  # then whole numbers were counted, and nothing is rounded
        moments = moments_from(histogram)
    return Summary(
        joined_pyramids([part.pyramid for part in parts]), histogram, moments
    )


def _parts(
    codes: Codes, progress: Progress | None, begin: float, end: float
) -> Iterator[Codes]:
    count = int(codes.shape[0])
    for first in range(0, count, BLOCK):
        yield codes[first : first + BLOCK]
        if progress:
            done = min(first + BLOCK, count) / count
            progress(begin + (end - begin) * done)

"""The least and the greatest code of every 256 samples, and envelopes from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[Any]

STRIDE = 256
"""Samples summarised by one pair; small beside a pixel, large beside a pair."""


@dataclass(frozen=True, slots=True)
class Pyramid:
    """Least and greatest code of each stretch of `STRIDE` samples.

    Attributes
    ----------
    low, high : array, shape (ceil(count / STRIDE),)
        Of the type of the codes; not-a-number where a stretch has one.
    count : int
        Samples summarised; only the last stretch may be shorter.
    """

    low: Codes
    high: Codes
    count: int

    @property
    def least(self) -> float:
        """The least code of all."""
        return float(self.low.min())

    @property
    def greatest(self) -> float:
        """The greatest code of all."""
        return float(self.high.max())


@dataclass(frozen=True, slots=True)
class Envelope:
    """What a plot of few points shows of many samples: nothing between is lost.

    Attributes
    ----------
    bounds : array of int, shape (n + 1,)
        Point `i` covers the samples ``bounds[i]`` up to ``bounds[i + 1]``.
    low, high : array, shape (n,)
        Least and greatest of these samples.
    """

    bounds: NDArray[np.int64]
    low: Codes
    high: Codes


def pyramid_of(codes: Codes) -> Pyramid:
    """Summarise one block of codes.

    Parameters
    ----------
    codes : array, shape (n,)
        At least one; to be joined to others, `n` is a multiple of `STRIDE`.

    Examples
    --------
    >>> pyramid = pyramid_of(np.arange(300, dtype=np.int16))
    >>> pyramid.low.tolist(), pyramid.high.tolist()
    ([0, 256], [255, 299])
    """
    starts = np.arange(0, codes.shape[0], STRIDE)
    low = np.minimum.reduceat(codes, starts)
    high = np.maximum.reduceat(codes, starts)
    return Pyramid(low, high, int(codes.shape[0]))


def joined_pyramids(parts: Sequence[Pyramid]) -> Pyramid:
    """Join the summaries of consecutive blocks.

    Raises
    ------
    ValueError
        If a block before the last one ends inside a stretch.

    Examples
    --------
    >>> codes = np.arange(600) % 7
    >>> halves = [pyramid_of(codes[:512]), pyramid_of(codes[512:])]
    >>> joined_pyramids(halves).low.tolist() == pyramid_of(codes).low.tolist()
    True
    """
    if any(part.count % STRIDE for part in parts[:-1]):
        raise ValueError(f"all blocks but the last must be multiples of {STRIDE}.")
    low = np.concatenate([part.low for part in parts])
    high = np.concatenate([part.high for part in parts])
    return Pyramid(low, high, sum(part.count for part in parts))


def envelope_of(
    codes: Codes, pyramid: Pyramid, points: int, first: int, last: int
) -> Envelope:
    """Return the least and greatest code in about `points` stretches of a record.

    Parameters
    ----------
    codes : array, shape (n,)
        Read only where the stretches are short or end between two pairs.
    points : int
        How many at most, > 0; fewer samples give a point each.
    first, last : int
        The samples shown, ``0 <= first < last <= n``.

    Examples
    --------
    >>> codes = np.arange(100_000, dtype=np.int32)
    >>> shown = envelope_of(codes, pyramid_of(codes), 4, 0, 100_000)
    >>> shown.low.tolist(), shown.high.tolist()
    ([0, 25088, 49920, 75008], [25087, 49919, 75007, 99999])
    """
    count = min(points, last - first)
    bounds = np.linspace(first, last, count + 1).round().astype(np.int64)
    if last - first < 4 * count * STRIDE:
        part, starts = codes[first:last], bounds[:-1] - first
        low = np.minimum.reduceat(part, starts)
        return Envelope(bounds, low, np.maximum.reduceat(part, starts))
    # A bound moved to the next whole stretch is moved by less than an eighth of a
    # point; the two ends stay where they were asked for.
    bounds[1:-1] = (bounds[1:-1] + STRIDE // 2) // STRIDE * STRIDE
    begins = bounds[:-1] // STRIDE
    begins[0] = -(-first // STRIDE)
    whole = int(last // STRIDE)
    low = np.minimum.reduceat(pyramid.low[:whole], begins)
    high = np.maximum.reduceat(pyramid.high[:whole], begins)
    for place, end in ((0, codes[first : begins[0] * STRIDE]),
                       (-1, codes[whole * STRIDE : last])):  # fmt: skip
        if end.size:
            low[place] = min(low[place], end.min())
            high[place] = max(high[place], end.max())
    return Envelope(bounds, low, high)

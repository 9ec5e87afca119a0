"""Count, mean and squared deviations of codes, which add up over blocks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.histogram import Histogram


@dataclass(frozen=True, slots=True)
class Moments:
    """What a block of samples adds to mean, rms and standard deviation.

    Attributes
    ----------
    count : int
        > 0.
    mean : float
    squares : float
        Sum of the squared deviations from the mean.
    least, greatest : float
    """

    count: int
    mean: float
    squares: float
    least: float
    greatest: float

    @property
    def variance(self) -> float:
        """Mean squared deviation from the mean (divided by the count)."""
        return self.squares / self.count

    @property
    def rms(self) -> float:
        """Root of the mean square: ``rms² = mean² + variance``."""
        return math.sqrt(self.mean**2 + self.variance)

    def scaled(self, step: float, zero: float) -> Moments:
        """Return the moments of ``zero + step · code``."""
        ends = sorted((zero + step * self.least, zero + step * self.greatest))
        mean = zero + step * self.mean
        return Moments(self.count, mean, step**2 * self.squares, ends[0], ends[1])


def moments_of(codes: NDArray[Any]) -> Moments:
    """Return the moments of one block; at least one code, all finite.

    Examples
    --------
    >>> moments_of(np.array([1.0, 2.0, 3.0]))
    Moments(count=3, mean=2.0, squares=2.0, least=1.0, greatest=3.0)
    """
    values = codes.astype(np.float64)
    mean = float(values.mean())
    values -= mean
    # Not a dot product: that library's threads would change the last digits.
    squares = float(np.square(values, out=values).sum())
    return Moments(
        int(codes.size), mean, squares, float(codes.min()), float(codes.max())
    )


def merged_moments(parts: Sequence[Moments]) -> Moments:
    """Add the moments of blocks, in their order.

    References
    ----------
    T. F. Chan, G. H. Golub, R. J. LeVeque, "Updating formulae and a pairwise
    algorithm for computing sample variances", 1979; written from memory, checked
    in the tests against the moments of the whole.

    Examples
    --------
    >>> parts = [moments_of(np.array(c)) for c in ([1.0, 2.0], [3.0])]
    >>> merged_moments(parts).squares
    2.0
    """
    whole = parts[0]
    for part in parts[1:]:
        count = whole.count + part.count
        shift = part.mean - whole.mean
        squares = whole.squares + part.squares
        whole = Moments(
            count,
            whole.mean + shift * part.count / count,
            squares + shift**2 * whole.count * part.count / count,
            min(whole.least, part.least),
            max(whole.greatest, part.greatest),
        )
    return whole


def moments_from(histogram: Histogram) -> Moments:
    """Return the moments of all samples counted in an exact histogram.

    Raises
    ------
    ValueError
        If its bins hold more than one code.

    Examples
    --------
    >>> moments_from(Histogram(1.0, 1.0, np.array([1, 1, 1]), True)).squares
    2.0
    """
    if not histogram.exact:
        raise ValueError("the histogram is coarser than the codes.")
    codes, counts = histogram.codes, histogram.counts
    mean = float((codes * counts).sum()) / histogram.total
    squares = float((counts * (codes - mean) ** 2).sum())
    return Moments(histogram.total, mean, squares, float(codes[0]), float(codes[-1]))

"""One channel of a capture: raw codes, what one code is worth, and its settings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.accuracy import AccuracyLine
from benchproof.measuring.captures.crossings import (
    Changes,
    changes_of,
    check_thresholds,
)
from benchproof.measuring.captures.histogram import count_beyond
from benchproof.measuring.captures.pyramid import Envelope, envelope_of
from benchproof.measuring.captures.summary import Progress, Summary, summary_of
from benchproof.measuring.captures.sums import Moments
from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

Floats = NDArray[np.float64]

BLOCK = 1 << 20
"""Samples handled at a time, so that memory does not grow with the record."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How a channel was set; None where it was not stated.

    Attributes
    ----------
    instrument, channel : str
        They name the error sources that results of this channel share.
    unit : Unit
        Of the values at the probe's tip.
    probe_ratio : float
        Already applied to the values.
    coupling : {"DC", "AC", ""}
        "" if not stated.
    bandwidth : float or None
        In Hz.
    full_screen : float or None
        In the unit: volts per division times the divisions.
    bits : int or None
    inverted : bool
    accuracy : AccuracyLine or None
        "of range" refers to `full_screen`.
    time_base : float
        Relative limit of the time base, e.g. 50e-6.
    """

    instrument: str
    channel: str
    unit: Unit = field(default_factory=lambda: unit_of("V"))
    probe_ratio: float = 1.0
    coupling: str = ""
    bandwidth: float | None = None
    full_screen: float | None = None
    bits: int | None = None
    inverted: bool = False
    accuracy: AccuracyLine | None = None
    time_base: float = 0.0


@dataclass(frozen=True, slots=True)
class Trace:
    """Equally spaced samples of one channel.

    ``value = zero + step · code`` in SI; ``time = start + interval · index`` in s.

    Attributes
    ----------
    name : str
        For messages and results: file and channel.
    codes : array, shape (n,)
        Raw integers (or floats with step 1), possibly memory-mapped.
    resolution : float
        Smallest distance of two different values the record can show, in SI; 0 if
        not known. It is `step` or more: text may be finer than the converter was.
    rails : tuple of two floats or None
        In SI; a sample at or beyond either was clipped. None if not stated.
    notes : tuple of str
        What a reader of results should know, e.g. a last line left out.
    summary : Summary or None
        Pyramid, histogram and moments of the codes, where an index holds them.
    """

    name: str
    codes: NDArray[Any]
    interval: float
    settings: Settings
    start: float = 0.0
    step: float = 1.0
    zero: float = 0.0
    resolution: float = 0.0
    rails: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()
    summary: Summary | None = field(default=None, repr=False, compare=False)

    def __len__(self) -> int:
        return int(self.codes.shape[0])

    def values(self, first: int = 0, last: int | None = None) -> Floats:
        """Return samples `first` up to `last` in SI."""
        part = self.codes[first:last]
        return np.asarray(self.zero + self.step * part.astype(np.float64))

    def blocks(self, size: int = BLOCK) -> Iterator[tuple[int, Floats]]:
        """Yield the index of the first sample and the values, block by block."""
        for first in range(0, len(self), size):
            yield first, self.values(first, first + size)

    def _code_blocks(self) -> Iterator[NDArray[Any]]:
        for first in range(0, len(self), BLOCK):
            yield self.codes[first : first + BLOCK]

    def time(self, index: float) -> float:
        """Return the time of a (fractional) sample index, in s."""
        return self.start + self.interval * index

    @property
    def duration(self) -> float:
        """From the first sample to one interval after the last, in s."""
        return self.interval * len(self)

    def code(self, value: float) -> float:
        """Return the (fractional) code of a value in SI.

        A value within rounding of a whole code gives that code: 1.2/0.04 is 30.
        """
        code = (value - self.zero) / self.step
        near = round(code) if math.isfinite(code) else code
        return float(near) if math.isclose(code, near, rel_tol=1e-12) else code

    def summarised(self, progress: Progress | None = None) -> Trace:
        """Return the trace with its summary, computed in one or two passes.

        Examples
        --------
        >>> trace = Trace("t", np.arange(4), 1e-6, Settings("scope", "CH1"))
        >>> trace.summarised().moments().mean
        1.5
        """
        if self.summary is not None:
            return self
        return replace(self, summary=summary_of(self.codes, progress))

    def moments(self) -> Moments:
        """Return count, mean, squares, least and greatest in SI."""
        return self._summary().moments.scaled(self.step, self.zero)

    def levels(self) -> tuple[Floats, NDArray[np.int64]]:
        """Return the values of the histogram's bins, in SI, and their counts."""
        histogram = self._summary().histogram
        return self.zero + self.step * histogram.codes, histogram.counts

    def clipped(self) -> tuple[int, int] | None:
        """Count the samples at or beyond the lower and the upper rail.

        Returns
        -------
        tuple of int or None
            None if no rails are stated: then nothing is known of it.

        Examples
        --------
        >>> codes = np.array([-128, 0, 3, 127, 127], dtype=np.int8)
        >>> settings = Settings("scope", "CH1")
        >>> Trace("t", codes, 1e-6, settings, rails=(-128, 127)).clipped()
        (1, 2)
        """
        if self.rails is None:
            return None
        ends = sorted(self.code(rail) for rail in self.rails)
        histogram = self._summary().histogram
        if histogram.exact:
            low, high = count_beyond(histogram, *ends)
        else:
            low = sum(int((part <= ends[0]).sum()) for part in self._code_blocks())
            high = sum(int((part >= ends[1]).sum()) for part in self._code_blocks())
        return (low, high) if self.step > 0 else (high, low)

    def changes(self, low: float, high: float) -> Changes:
        """Find every change of state, by thresholds in SI with hysteresis between.

        Raises
        ------
        InputError
            If ``low < high`` does not hold.
        """
        check_thresholds(low, high)
        ends = self.code(low), self.code(high)
        pyramid = self._summary().pyramid
        if self.step > 0:
            return changes_of(self.codes, pyramid, *ends)
        found = changes_of(self.codes, pyramid, *ends[::-1])
        starts = None if found.starts_high is None else not found.starts_high
        return replace(found, rising=~found.rising, starts_high=starts)

    def envelope(
        self, points: int, first: int = 0, last: int | None = None
    ) -> Envelope:
        """Return the least and greatest value of about `points` stretches, in SI.

        Parameters
        ----------
        points : int
            At most, > 0.
        first, last : int
            The samples shown, as in a slice.

        Raises
        ------
        InputError
            If no sample lies between `first` and `last`.
        """
        begin, end, _ = slice(first, last).indices(len(self))
        if end <= begin or points < 1:
            raise InputError(
                f"{self.name}: samples {first} to {last} in {points} points show "
                f"nothing. It has {len(self)} samples; give a first below the last."
            )
        found = envelope_of(self.codes, self._summary().pyramid, points, begin, end)
        low, high = (
            self.zero + self.step * ends.astype(np.float64)
            for ends in (found.low, found.high)[:: 1 if self.step > 0 else -1]
        )
        return Envelope(found.bounds, low, high)

    def _summary(self) -> Summary:
        summary = self.summarised().summary
        assert summary is not None
        return summary

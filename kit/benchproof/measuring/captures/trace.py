"""One channel of a capture: raw codes, what one code is worth, and its settings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.accuracy import AccuracyLine
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
    """

    name: str
    codes: NDArray[Any]
    interval: float
    settings: Settings
    start: float = 0.0
    step: float = 1.0
    zero: float = 0.0

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

    def time(self, index: float) -> float:
        """Return the time of a (fractional) sample index, in s."""
        return self.start + self.interval * index

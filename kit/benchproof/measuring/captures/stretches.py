"""What part of a record is averaged, and what the scatter of its pieces tells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import own_part
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.extremes import Extremes
from benchproof.measuring.captures.finding import Part
from benchproof.measuring.captures.instants import only
from benchproof.measuring.captures.noise import Noise, quantisation_of_mean
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.repeats import summarise

PIECES = 32
"""Pieces whose scatter tells what an average is worth."""

AVERAGES = ("mean", "square", "rectified", "ac square", "ac rectified")
"""Averages of v, v², |v|, and of the last two without the mean of all."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What part of a record is averaged.

    Attributes
    ----------
    borders : tuple of int
        Sample numbers between which the pieces lie.
    periods : int
        Whole periods in it; 0 if the record does not repeat regularly.
    rises : Changes or None
        The edges that part them.
    """

    borders: tuple[int, ...]
    periods: int = 0
    rises: Changes | None = None

    @property
    def count(self) -> int:
        """Samples in it."""
        return self.borders[-1] - self.borders[0]

    def __str__(self) -> str:
        what = f"{self.periods} whole periods" if self.periods else "all of the record"
        return f"{what}, {self.count} samples in {len(self.borders) - 1} pieces"


def stretch_of(trace: Trace, found: Extremes, noise: Noise) -> Stretch:
    """Return the whole periods of a record, or all of it where there are none.

    Periods count from one rise through the middle to the next, with a band of a
    fifth of the amplitude against noise. They must be alike within a tenth.

    Examples
    --------
    >>> from benchproof.measuring.captures.extremes import extremes_of
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.sin(2 * np.pi * np.arange(1050) / 100)
    >>> record = Trace("r", v, 1e-5, Settings("scope", "CH1"))
    >>> print(stretch_of(record, extremes_of(record), Noise(0.0)))
    9 whole periods, 900 samples in 9 pieces
    """
    n = len(trace)
    pieces = min(PIECES, max(n // 2, 1))
    borders = tuple(int(k) for k in np.linspace(0, n, pieces + 1))
    everything = Stretch(borders)
    middle, half = (found.low + found.high) / 2, (found.high - found.low) / 10
    if half <= 3 * noise.standard_deviation:
        return everything
    changes = trace.changes(middle - half, middle + half)
    rises = only(changes, changes.rising)
    lengths = np.diff(rises.reached)
    if lengths.size < 1 or lengths.std() > 0.1 * lengths.mean():
        return everything
    periods = int(lengths.size)
    chosen = np.linspace(0, periods, min(PIECES, periods) + 1).astype(int)
    borders = tuple(int(k) for k in rises.index[chosen])
    return Stretch(borders, periods, rises)


@dataclass(frozen=True, slots=True)
class Averages:
    """Averages of a stretch, and of its pieces.

    Attributes
    ----------
    pieces : array, shape (pieces, 5)
        One column for each of `AVERAGES`.
    ends : array, shape (2, 5)
        The same of the first and the last sample alone.
    """

    trace: Trace
    stretch: Stretch
    noise: Noise
    pieces: Floats
    ends: Floats

    def of(self, name: str) -> float:
        """Return one of `AVERAGES` over the whole stretch."""
        weights = np.diff(self.stretch.borders) / self.stretch.count
        return float(weights @ self.pieces[:, AVERAGES.index(name)])

    def parts(self, name: str, result: str, slope: float) -> list[Part]:
        """Scatter, cut ends and rounding of a result computed from one average.

        Parameters
        ----------
        slope : float
            Derivative of the result with respect to the average.
        """
        column, n = AVERAGES.index(name), self.stretch.count
        values, u, dof = self.pieces[:, column], math.nan, math.inf
        if values.size > 1:
            repeats = summarise(values.tolist())
            u, dof = repeats.standard_uncertainty, repeats.degrees_of_freedom
            u *= abs(slope)
        else:
            u = self.noise.of_mean(n)
        trace = self.trace
        parts = own_part(trace, f"{result} · scatter", u, degrees_of_freedom=dof)
        if self.stretch.periods:
            # The whole periods end up to one sample beside their last crossing.
            cut = float(np.abs(self.ends[:, column] - self.of(name)).max()) / n
            parts += _rectangular(trace, f"{result} · cut ends", cut * abs(slope))
        rounding = quantisation_of_mean(trace, self.noise, n)
        return parts + _rectangular(trace, f"{result} · quantisation", rounding)

    def warning(self) -> str:
        """Say if the record drifts, so that its mean describes no steady value."""
        drift = summarise(self.pieces[:, 0].tolist()).drift
        return f"over the record {drift}" if drift else ""


def _rectangular(trace: Trace, name: str, half_width: float) -> list[Part]:
    return own_part(trace, name, half_width / 3**0.5, distribution="rectangular")


def averages_of(trace: Trace, stretch: Stretch, noise: Noise) -> Averages:
    """Average a stretch piece by piece; two passes, memory of one piece.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.array([1.0, 3.0]), 1e-3, Settings("scope", "CH1"))
    >>> averages_of(record, Stretch((0, 2)), Noise(0.0)).of("square")
    5.0
    """
    pairs = list(zip(stretch.borders[:-1], stretch.borders[1:], strict=True))
    means = np.array([trace.values(a, b).mean() for a, b in pairs])
    mean = float(np.diff(stretch.borders) @ means) / stretch.count
    pieces = np.array([_row(trace.values(a, b), mean) for a, b in pairs])
    first, last = stretch.borders[0], stretch.borders[-1] - 1
    ends = np.array([_row(trace.values(k, k + 1), mean) for k in (first, last)])
    return Averages(trace, stretch, noise, pieces, ends)


def _row(v: Floats, mean: float) -> list[float]:
    level = float(v.mean())
    square, rectified = float(np.dot(v, v)) / v.size, float(np.abs(v).mean())
    v = v - mean
    return [
        level,
        square,
        rectified,
        float(np.dot(v, v)) / v.size,
        float(np.abs(v).mean()),
    ]

"""One channel of a capture: raw codes, what one code is worth, and its settings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.accuracy import AccuracyLine, accuracy_line, in_unit
from benchproof.measuring.captures.crossings import (
    Changes,
    changes_of,
    check_thresholds,
)
from benchproof.measuring.captures.histogram import count_beyond
from benchproof.measuring.captures.pyramid import Envelope, envelope_of
from benchproof.measuring.captures.stated import in_si
from benchproof.measuring.captures.summary import Summary, summary_of
from benchproof.measuring.captures.sums import Moments
from benchproof.measuring.captures.wording import told
from benchproof.values.errors import InputError
from benchproof.values.inturn import Progress
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit, unit_of

Floats = NDArray[np.float64]

BLOCK = 1 << 20
"""Samples handled at a time, so that memory does not grow with the record."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How a channel was set; None where it was not stated.

    What has a unit may be given as text, ``"20 MHz"``; it is kept in SI.

    Attributes
    ----------
    instrument, channel : str
        They name the error sources that results of this channel share.
    unit : Unit
        Of the values at the probe's tip; or its text, ``"A"``.
    probe_ratio : float
        Already applied to the values.
    coupling : {"DC", "AC", ""}
        "" if not stated.
    bandwidth : float or None
        In Hz.
    full_screen : float or None
        Volts per division times the divisions, in SI.
    bits : int or None
    inverted : bool
    accuracy : AccuracyLine or None
        "of range" refers to `full_screen`. Or its text, ``"3 % of full screen"``.
    time_base : float
        Relative limit of the time base, e.g. 50e-6 or ``"50 ppm"``.

    Raises
    ------
    InputError
        If a text cannot be understood.

    Examples
    --------
    >>> Settings("scope", "CH1", coupling="DC", bits=8).unit.symbol
    'V'
    >>> Settings("clamp", "CH2", unit="A", bandwidth="20 kHz").bandwidth
    20000.0
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

    def __post_init__(self) -> None:
        where = " · ".join(filter(None, (self.instrument, self.channel)))
        unit: Unit | str = self.unit
        if isinstance(unit, str):
            unit = unit_of(unit)
            object.__setattr__(self, "unit", unit)
        dimensions = {"bandwidth": unit_of("Hz"), "full_screen": unit.difference(),
                      "time_base": unit_of("")}  # fmt: skip
        for name, wanted in dimensions.items():
            if (said := getattr(self, name)) is not None:
                value = in_si(said, wanted, f"{where}, {name}", difference=True)
                object.__setattr__(self, name, value)
        line: AccuracyLine | str | None = self.accuracy
        if isinstance(line, str):
            said = f"{where}, accuracy"
            line = in_unit(accuracy_line(line, said), unit.symbol, said)
            object.__setattr__(self, "accuracy", line)


@dataclass(frozen=True, slots=True, repr=False)
class Trace(Tabular):
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

    Examples
    --------
    >>> record = Trace("rail", np.array([0, 25]), 1e-3, Settings("s", "CH1"), step=0.04)
    >>> record.values().tolist(), record.time(1)
    ([0.0, 1.0], 0.001)
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

    def table(self) -> Table:
        """Return how the channel was set, its length and what to know about it."""
        from benchproof.measuring.captures.channel import settings_line  # asks for us

        first, last = (f"{self.time(i):g} s" for i in (0, len(self)))
        rows = [
            ("Record", self.name),
            ("Settings", settings_line(self)),
            ("From, to", f"{first}, {last}"),
            *(("Note", note) for note in self.notes),
        ]
        return Table("", columns("Capture", ""), tuple(rows))

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

    def place(self, said: int | str, name: str) -> int:
        """Return a sample number; a text is a time of the record, ``"12 ms"``.

        Parameters
        ----------
        said : int or str
            Of a time between two samples, the second is taken.
        name : str
            Of the argument, for messages.

        Raises
        ------
        InputError
            If the time lies outside the record, or it is no whole number.

        Examples
        --------
        >>> trace = Trace("t", np.arange(9), 1e-3, Settings("s", "CH1"), start=-2e-3)
        >>> trace.place("0 ms", "first"), trace.place(5, "last")
        (2, 5)
        """
        if isinstance(said, int | np.integer):
            return int(said)
        where = f"{self.name}, {name}"
        if not isinstance(said, str):
            raise InputError(
                f"{where}: {said!r}; give a sample number, or a time as text, '12 ms'."
            )
        index = (in_si(said, unit_of("s"), where) - self.start) / self.interval
        near = round(index)
        found = near if abs(index - near) < 1e-6 else math.ceil(index)
        if not 0 <= found <= len(self):
            raise InputError(
                f"{where}: {said} lies outside the record, which goes from "
                f"{told(self.start, 's')} to {told(self.time(len(self)), 's')}."
            )
        return found

    def stretch(self, first: int | str, last: int | str | None) -> tuple[int, int]:
        """Return sample numbers of a stretch, `last` not included: None is the end."""
        ends = self.place(first, "first"), last and self.place(last, "last")
        begin, end, _ = slice(*ends).indices(len(self))
        return begin, end

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

        Raises
        ------
        InputError
            If a sample has no value, or an infinite one.

        Examples
        --------
        >>> trace = Trace("t", np.arange(4), 1e-6, Settings("scope", "CH1"))
        >>> trace.summarised().moments().mean
        1.5
        """
        if self.summary is not None:
            return self
        try:
            return replace(self, summary=summary_of(self.codes, progress))
        except InputError as problem:
            raise InputError(f"{self.name} {problem}") from None

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
            If no sample lies between `first` and `last`, or one has no value.
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


def require_same_interval(*traces: Trace) -> float:
    """Return the interval of channels that are to be of one record, in s.

    Raises
    ------
    InputError
        If they differ, with the names and intervals of two that do.

    Examples
    --------
    >>> one = Trace("a.csv", np.arange(4), 1e-6, Settings("scope", "CH1"))
    >>> require_same_interval(one, replace(one, name="b.csv", interval=2e-6))
    Traceback (most recent call last):
    ...
    benchproof.values.errors.InputError: a.csv has a sample each 1e-06 s, b.csv each
    2e-06 s: they are not of one record. Export both from the same one.
    """
    first = traces[0]
    for other in traces[1:]:
        if abs(other.interval - first.interval) > 1e-6 * first.interval:
            raise InputError(
                f"{first.name} has a sample each {first.interval:.6g} s, {other.name} "
                f"each {other.interval:.6g} s: they are not of one record. Export both "
                "from the same one."
            )
    return first.interval

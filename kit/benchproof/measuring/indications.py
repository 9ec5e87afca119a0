"""What the instrument of readings says about their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from benchproof.measuring.instruments import Function, Instrument, Range, range_for
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.sources import Source, half_width_source
from benchproof.values.units import Unit, unit_of

Part = tuple[Source, float]
"""A source and the sensitivity to it, in SI."""


@dataclass(frozen=True, slots=True)
class Indications:
    """Readings taken alike, beside the instrument, function and range they share.

    Attributes
    ----------
    readings : tuple of Reading
        At least one.
    values : tuple of float
        Theirs, in the function's unit `unit`.
    """

    readings: tuple[Reading, ...]
    instrument: Instrument
    function: Function
    range: Range
    unit: Unit
    values: tuple[float, ...]

    @property
    def stem(self) -> str:
        """Name what its readings share: instrument, function and range."""
        return f"{self.instrument.name} · {self.function.name} · {self.range.label}"

    @property
    def told_by_digit(self) -> bool:
        """Whether a smaller range holds one too, and only its last digit spoke."""
        smaller = [r.top for r in self.function.ranges if r.top < self.range.top]
        if not smaller or self.readings[0].range:
            return False
        return min(map(abs, self.values)) <= max(smaller)


def place(reading: Reading) -> str:
    """Name the recorded row, or just the measurand of one not yet recorded."""
    row = f"readings.csv row {reading.row}, " if reading.row else ""
    return f"{row}{reading.measurand}"


def function_of(
    reading: Reading, instruments: Mapping[str, Instrument]
) -> tuple[Instrument, Function]:
    """Return the instrument and the function of it that a reading was taken with.

    Raises
    ------
    InputError
        If the instrument is not declared or no function fits.
    """
    where = place(reading)
    if reading.instrument not in instruments:
        known = ", ".join(instruments) or "none"
        raise InputError(
            f"{where}: instrument {reading.instrument!r} is not in instruments.toml "
            f"(there: {known}). Add it there or correct the name."
        )
    instrument = instruments[reading.instrument]
    return instrument, instrument.function_for(
        reading.value.unit, reading.function, where
    )


def indications_of(
    readings: Iterable[Reading], instruments: Mapping[str, Instrument]
) -> list[Indications]:
    """Find the ranges that readings were taken on, and put those alike together.

    Raises
    ------
    InputError
        If an instrument, function or range does not fit.
    """
    ways: dict[tuple[str | float, ...], list[Reading]] = {}
    for r in readings:
        way = (r.instrument, r.function, r.range, r.value.unit, r.value.step)
        if way in ways:
            ways[way].append(r)
        else:
            ways[way] = [r]
    return [found for rows in ways.values() for found in _by_range(rows, instruments)]


def _by_range(
    rows: Sequence[Reading], instruments: Mapping[str, Instrument]
) -> list[Indications]:
    """Tell readings apart by range that have all else in common."""
    first = rows[0]
    instrument, function = function_of(first, instruments)
    unit, typed = unit_of(function.unit), unit_of(first.value.unit)
    step = first.value.step * typed.factor / unit.factor
    values = [unit.from_si(typed.to_si(r.value.value)) for r in rows]
    sizes = list(map(abs, values))

    def used(i: int) -> Range:
        return range_for(function, sizes[i], first.range, place(rows[i]), step)

    # A range that the smallest and the largest are on holds all between them.
    ends = [used(sizes.index(size)) for size in (min(sizes), max(sizes))]
    if ends[0] is ends[1]:
        return [
            Indications(tuple(rows), instrument, function, ends[0], unit, tuple(values))
        ]
    ranges: dict[str, tuple[Range, list[int]]] = {}
    for i in range(len(rows)):
        one = used(i)
        ranges.setdefault(one.label, (one, []))[1].append(i)
    return [
        Indications(
            tuple(rows[i] for i in places),
            instrument,
            function,
            one,
            unit,
            tuple(values[i] for i in places),
        )
        for one, places in ranges.values()
    ]


def indication_of(
    reading: Reading, instruments: Mapping[str, Instrument]
) -> Indications:
    """Find the range that one reading was taken on; raises as `indications_of`."""
    return indications_of([reading], instruments)[0]


def parts_of(shown: Indications, owner: str, count: int) -> list[Part]:
    """Return the sources an instrument brings into a mean.

    Parameters
    ----------
    owner : str
        The measurand: an offset that is not shared is named after it.
    count : int
        Of all readings in the mean, those taken in another way included.
    """
    parts = _accuracy(shown, owner, count)
    stem = f"{shown.instrument.name} · {shown.function.name}"
    for influence in shown.function.influences:
        name, owned = f"{stem} · {influence.name}", shown.instrument.name
        if influence.relative:
            source = influence.statement.source(name, unit_of(""), owned)
            parts.append((replace(source, unit=unit_of("%")), _reach(shown, count)))
        else:
            source = influence.statement.source(name, shown.unit, owned)
            parts.append((source, len(shown.values) / count))
    return parts + _temperature(shown, count)


def _reach(shown: Indications, count: int) -> float:
    """Return what these readings add to the mean, in SI: a gain acts on that."""
    return math.fsum(shown.values) * shown.unit.difference().factor / count


def _accuracy(shown: Indications, owner: str, count: int) -> list[Part]:
    """Gain and fixed part of the accuracy line."""
    used, instrument = shown.range, shown.instrument.name
    difference, weight = shown.unit.difference(), len(shown.values) / count
    parts: list[Part] = []
    if used.accuracy.of_reading:
        gain = half_width_source(
            f"{shown.stem} · gain",
            used.accuracy.of_reading,
            unit_of("%"),
            instrument=instrument,
        )
        parts.append((gain, _reach(shown, count)))
    fixed = used.accuracy.fixed_half_width(used.top, used.digit)
    if fixed:
        # Shared only where the maker's offset is known to be common to the range.
        pool = f"{shown.stem} · offset"
        shared = shown.function.offset_shared
        offset = half_width_source(
            pool if shared else f"{owner} · {pool}",
            fixed * difference.factor,
            difference,
            instrument=instrument,
            pool=pool,
        )
        parts.append((offset, weight))
        if shared and used.digit:
            # One zero error does not make two readings round alike.
            step = used.digit * difference.factor
            name = f"{owner} · {shown.stem} · resolution"
            rounding = half_width_source(
                name, step / 2, difference, instrument=instrument
            )
            parts.append((rounding, weight))
    return parts


def _temperature(shown: Indications, count: int) -> list[Part]:
    """Widen the limits by the temperature coefficient, outside the reference band."""
    declared = shown.function.temperature
    if declared is None or not declared.outside:
        return []
    source = half_width_source(
        f"{shown.stem} · temperature",
        declared.per_kelvin * declared.outside,
        unit_of("%"),
        instrument=shown.instrument.name,
    )
    if declared.of_reading:
        return [(source, _reach(shown, count))]
    used = shown.range
    widths = [used.accuracy.half_width(v, used.top, used.digit) for v in shown.values]
    return [(source, math.fsum(widths) * shown.unit.difference().factor / count)]


def warnings_of(shown: Indications) -> list[str]:
    """Say what makes every number from these readings doubtful."""
    said = []
    meter = shown.instrument
    for day in dict.fromkeys([r.time[:10] for r in shown.readings]):
        if calibration := meter.calibration_exceeded(day):
            said.append(f"{meter.name}: {calibration}")
    temperature = shown.function.temperature
    if temperature and temperature.outside is None:
        said.append(
            f"{meter.name}: its temperature coefficient is not "
            "applied, the ambient temperature is not stated in instruments.toml"
        )
    return said

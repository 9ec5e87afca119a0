"""What one reading's instrument says about its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from benchproof.measuring.instruments import Function, Instrument, Range, range_for
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.sources import Source, half_width_source
from benchproof.values.units import Unit, unit_of

Part = tuple[Source, float]
"""A source and the sensitivity to it, in SI."""


@dataclass(frozen=True, slots=True)
class Indication:
    """A reading beside the instrument, function and range it was taken on.

    Attributes
    ----------
    value : float
        In the function's unit `unit`.
    """

    reading: Reading
    instrument: Instrument
    function: Function
    range: Range
    unit: Unit
    value: float

    @property
    def stem(self) -> str:
        """Name what its readings share: instrument, function and range."""
        return f"{self.instrument.name} · {self.function.name} · {self.range.label}"

    @property
    def told_by_digit(self) -> bool:
        """Whether a smaller range holds it too, and only its last digit spoke."""
        smaller = [r for r in self.function.ranges if r.top < self.range.top]
        return not self.reading.range and any(abs(self.value) <= r.top for r in smaller)


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


def indication_of(
    reading: Reading, instruments: Mapping[str, Instrument]
) -> Indication:
    """Find the range a reading was taken on.

    Raises
    ------
    InputError
        If the instrument, function or range does not fit.
    """
    instrument, function = function_of(reading, instruments)
    unit = unit_of(function.unit)
    value = unit.from_si(unit_of(reading.value.unit).to_si(reading.value.value))
    step = reading.value.step * unit_of(reading.value.unit).factor / unit.factor
    used = range_for(function, abs(value), reading.range, place(reading), step)
    return Indication(reading, instrument, function, used, unit, value)


def parts_of(indication: Indication, owner: str, weight: float) -> list[Part]:
    """Return the sources an instrument brings into a reading.

    Parameters
    ----------
    owner : str
        The measurand: an offset that is not shared is named after it.
    weight : float
        The reading's weight in the mean.
    """
    parts = _accuracy(indication, owner, weight)
    stem = f"{indication.instrument.name} · {indication.function.name}"
    for influence in indication.function.influences:
        name, owned = f"{stem} · {influence.name}", indication.instrument.name
        if influence.relative:
            source = influence.statement.source(name, unit_of(""), owned)
            reach = indication.value * indication.unit.difference().factor
            parts.append((replace(source, unit=unit_of("%")), reach * weight))
        else:
            source = influence.statement.source(name, indication.unit, owned)
            parts.append((source, weight))
    return parts + _temperature(indication, weight)


def _accuracy(indication: Indication, owner: str, weight: float) -> list[Part]:
    """Gain and fixed part of the accuracy line."""
    used, instrument = indication.range, indication.instrument.name
    difference = indication.unit.difference()
    parts: list[Part] = []
    if used.accuracy.of_reading:
        gain = half_width_source(
            f"{indication.stem} · gain",
            used.accuracy.of_reading,
            unit_of("%"),
            instrument=instrument,
        )
        parts.append((gain, indication.value * difference.factor * weight))
    fixed = used.accuracy.fixed_half_width(used.top, used.digit)
    if fixed:
        # Shared only where the maker's offset is known to be common to the range.
        pool = f"{indication.stem} · offset"
        shared = indication.function.offset_shared
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
            name = f"{owner} · {indication.stem} · resolution"
            rounding = half_width_source(
                name, step / 2, difference, instrument=instrument
            )
            parts.append((rounding, weight))
    return parts


def _temperature(indication: Indication, weight: float) -> list[Part]:
    """Widen the limits by the temperature coefficient, outside the reference band."""
    declared = indication.function.temperature
    if declared is None or not declared.outside:
        return []
    source = half_width_source(
        f"{indication.stem} · temperature",
        declared.per_kelvin * declared.outside,
        unit_of("%"),
        instrument=indication.instrument.name,
    )
    used, value = indication.range, indication.value
    width = used.accuracy.half_width(value, used.top, used.digit)
    reach = value if declared.of_reading else width
    return [(source, reach * indication.unit.difference().factor * weight)]


def warnings_of(indication: Indication) -> list[str]:
    """Say what makes every number from this reading doubtful."""
    said = []
    calibration = indication.instrument.calibration_exceeded(indication.reading.time)
    if calibration:
        said.append(f"{indication.instrument.name}: {calibration}")
    temperature = indication.function.temperature
    if temperature and temperature.outside is None:
        said.append(
            f"{indication.instrument.name}: its temperature coefficient is not "
            "applied, the ambient temperature is not stated in instruments.toml"
        )
    return said

"""Instruments: their functions, ranges and accuracy lines, as declared by a person."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from benchproof.measuring.accuracy import AccuracyLine, accuracy_line, in_unit
from benchproof.measuring.connections import (
    CONNECTION_KEYS,
    QUERY_KEYS,
    Connection,
    connection_from,
)
from benchproof.measuring.influences import (
    NAMES,
    Influence,
    Temperature,
    influence_from,
    temperature_from,
)
from benchproof.measuring.properties import (
    burden_from,
    property_from,
    states_a_value,
)
from benchproof.values.errors import InputError
from benchproof.values.quantities import ReadValue, read_values
from benchproof.values.units import require_same_dimension, unit_of


@dataclass(frozen=True, slots=True)
class Range:
    """One range: its top and one last digit, in the function's unit.

    `burden` is as declared, ``1.8 ohm`` or ``0.2 V``; "" if it is not.
    """

    label: str
    top: float
    digit: float
    accuracy: AccuracyLine
    burden: str = ""


@dataclass(frozen=True, slots=True)
class Function:
    """What one position of the dial measures; ranges from smallest to largest.

    `beeps_below` is the threshold of its continuity test as declared, ``30 ohm``;
    `input_resistance` too, and `leads` where a value of them is stated, which can be
    subtracted, and not just a limit. Each is "" if it is not declared.
    """

    name: str
    unit: str
    ranges: tuple[Range, ...]
    offset_shared: bool = False
    influences: tuple[Influence, ...] = ()
    temperature: Temperature | None = None
    beeps_below: str = ""
    input_resistance: str = ""
    leads: str = ""


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument and what its maker promises.

    Attributes
    ----------
    name : str
        As used in ``using=``.
    functions : tuple of Function
        None of one that only captures are taken with, an oscilloscope.
    calibrated : datetime.date or None
        Date of the last calibration; None is shown as "not stated".
    interval_months : int or None
        After which a calibration counts as exceeded.
    details : dict
        Everything else that was declared, for display.
    connection : Connection or None
        How to ask it, where that is declared.
    """

    name: str
    functions: tuple[Function, ...]
    description: str = ""
    calibrated: dt.date | None = None
    interval_months: int | None = None
    details: tuple[tuple[str, str], ...] = ()
    connection: Connection | None = None

    def function_for(self, unit: str, name: str, where: str) -> Function:
        """Return the named function, or the only one that measures `unit`.

        Raises
        ------
        InputError
            If none or several fit; the message lists what the instrument has.
        """
        fitting = [
            f
            for f in self.functions
            if unit_of(f.unit).dimension == unit_of(unit).dimension
            and name in ("", f.name)
        ]
        if len(fitting) == 1:
            return fitting[0]
        if not self.functions:
            raise InputError(
                f"{where}: {self.name} has no function, so nothing is known of its "
                f"accuracy. {_add_function(self.name)}"
            )
        have = ", ".join(f"{f.name} [{f.unit}]" for f in self.functions)
        problem = f"several functions measure {unit}" if fitting else "nothing fits"
        asked = f" {name!r}" if name else ""
        raise InputError(
            f"{where}: {self.name}{asked}, {unit or 'no unit'}: {problem}. "
            f"It has: {have}. Name one with function='…'."
        )

    def calibration_state(self, today: dt.date) -> str:
        """Say whether the calibration interval is exceeded on a day."""
        if self.calibrated is None:
            return "calibration not stated"
        if self.interval_months is None:
            return f"calibrated {self.calibrated}, interval not stated"
        within = _months(self.calibrated, today) < self.interval_months
        word = "within interval" if within else "interval exceeded"
        return f"calibrated {self.calibrated}, {word} ({self.interval_months} months)"

    def calibration_exceeded(self, time: str) -> str:
        """Say so if the calibration interval was exceeded at a UTC stamp, else ""."""
        if not time or self.calibrated is None or self.interval_months is None:
            return ""
        day = dt.date.fromisoformat(time[:10])
        if _months(self.calibrated, day) < self.interval_months:
            return ""
        return "calibration interval exceeded when read"


def _months(start: dt.date, end: dt.date) -> int:
    """Count whole months from one day to another."""
    months = (end.year - start.year) * 12 + end.month - start.month
    return months - (end.day < start.day)


def range_for(
    function: Function, magnitude: float, named: str, where: str, step: float = 0.0
) -> Range:
    """Choose the smallest range that holds the reading, or the one named.

    A range shows its last digit always: ``0.000 V`` was not read where the display
    would have shown ``0.0 mV``. So the range whose last digit is the one written is
    preferred, if it holds the reading.

    Parameters
    ----------
    magnitude : float
        Absolute value of the reading in the function's unit.
    named : str
        A range label such as ``60 V``, or "" to choose.
    step : float
        The last written digit, in the function's unit; 0 if unknown.

    Raises
    ------
    InputError
        If the reading is above every range, or the name is not one of them.
    """
    if named:
        wanted = _top(named, function.unit, where)
        for candidate in function.ranges:
            if abs(candidate.top - wanted) <= 1e-9 * wanted:
                if magnitude > candidate.top * (1 + 1e-9):
                    raise InputError(
                        f"{where}: {magnitude:g} {function.unit} is above the named "
                        f"range {candidate.label}. Check the unit, or range='…'."
                    )
                return candidate
        labels = ", ".join(r.label for r in function.ranges)
        raise InputError(
            f"{where}: {function.name} has no range {named!r}. It has: {labels}."
        )
    holding = [r for r in function.ranges if magnitude <= r.top * (1 + 1e-9)]
    written = [r for r in holding if math.isclose(r.digit, step)]
    if holding:
        return (written or holding)[0]
    labels = ", ".join(r.label for r in function.ranges)
    raise InputError(
        f"{where}: {magnitude:g} {function.unit} is above every range of "
        f"{function.name} ({labels}). Check the unit, or record 'OL {function.unit}'."
    )


def _top(text: str, unit: str, where: str) -> float:
    value = _range_value(text, unit, where)
    return value.value * _scale(value, unit)


def _scale(value: ReadValue, unit: str) -> float:
    written = unit_of(value.unit).difference()
    return written.factor / unit_of(unit).difference().factor


@lru_cache(maxsize=1024)
def _read(text: str) -> list[ReadValue]:
    """Read a range's text once: every reading names one of a few."""
    return read_values(text, "range")


def _range_value(text: str, unit: str, where: str) -> ReadValue:
    """Read the top of a range: one number above 0, in the function's unit."""
    try:
        values = _read(text)
    except InputError:
        values = read_values(text, f"{where}, range")  # with the place named
    if len(values) != 1 or values[0].bound or not values[0].value > 0:
        raise InputError(f"{where}: range {text!r}: write its top, e.g. '60.00 V'.")
    require_same_dimension(
        unit_of(values[0].unit), unit_of(unit), f"{where}, range {text!r}"
    )
    return values[0]


def instrument_from(name: str, table: Mapping[str, Any], where: str) -> Instrument:
    """Build an instrument from its table in ``instruments.toml``.

    Parameters
    ----------
    table : mapping
        ``description``, ``calibrated`` (a date), ``interval_months`` and one table
        per function, if readings are taken from its display, with ``unit``,
        ``accuracy`` and ``ranges``. A range is written
        with the digits it shows, ``"60.00 V"``; a range of its own accuracy is
        ``{ range = "60.00 MΩ", accuracy = "±(2 % + 5 digits)" }``. Optional for a
        function: ``offset_shared``, the limits ``zero_drift``, ``lead_resistance``,
        ``probe_ratio`` and ``time_base`` (see `influence_from`),
        ``beeps_below`` of a continuity test (``"30 ohm"``), ``burden`` (of a
        range too: ``{ range = "60.00 mA", burden = "1.8 ohm" }``; see
        `burden_from`), ``input_resistance`` (may stand with the instrument; see
        `property_from`), and
        ``temperature_coefficient``, ``reference_band``, ``ambient`` (see
        `temperature_from`; the last two may stand with the instrument). To have
        it asked by the kit: see `connection_from`.
    where : str
        File and table, named in error messages.

    Raises
    ------
    InputError
        If something is missing or not understood.
    """
    plain = {k: v for k, v in table.items() if not isinstance(v, Mapping)}
    _check_misplaced(name, table, where)
    inherited = {k: plain[k] for k in _CLIMATE if k in plain}
    functions = tuple(
        _function(key, {**inherited, **value}, f"{where}, function {key!r}")
        for key, value in table.items()
        if isinstance(value, Mapping)
    )
    if not functions and not {"description", "calibrated"} & plain.keys():
        raise InputError(
            f"{where}: instrument {name!r} has no function. {_add_function(name)} "
            "One that only captures are taken with needs none, but a description."
        )
    calibrated = plain.pop("calibrated", None)
    if calibrated is not None and not isinstance(calibrated, dt.date):
        raise InputError(f"{where}: calibrated must be a date such as 2026-01-31.")
    interval = plain.pop("interval_months", None)
    if interval is not None and not (isinstance(interval, int) and interval > 0):
        raise InputError(f"{where}: interval_months must be a whole number above 0.")
    description = str(plain.pop("description", ""))
    connection = connection_from(table, where)
    # An address of a private network is nobody's business but the bench's.
    details = tuple((k, str(v)) for k, v in plain.items() if k not in CONNECTION_KEYS)
    return Instrument(
        name, functions, description, calibrated, interval, details, connection
    )


def _add_function(name: str) -> str:
    return f'Add a table such as [{name}."DC V"] with unit, accuracy and ranges.'


_CLIMATE = ("temperature_coefficient", "reference_band", "ambient")
_NEEDED = ("unit", "accuracy", "ranges")


_KNOWN = (
    *_NEEDED,
    "offset_shared",
    "beeps_below",
    "input_resistance",
    "burden",
    *NAMES,
    *_CLIMATE,
    *QUERY_KEYS,
)


def _check_misplaced(name: str, table: Mapping[str, Any], where: str) -> None:
    """Refuse a line that says something of a function only: it would go unheard."""
    own = [k for k, v in table.items() if isinstance(v, Mapping)] or ["DC V"]
    heads = " or ".join(f'[{name}."{function}"]' for function in own)
    for key in (*_NEEDED, "offset_shared", "beeps_below", "burden", *NAMES):
        if key in table and key not in own:
            raise InputError(
                f"{where}: {key} belongs to a function. Move the line below {heads}."
            )


def _check_keys(table: Mapping[str, Any], where: str) -> None:
    for key in _NEEDED:
        if key not in table:
            raise InputError(f"{where}: {key} is missing.")
    if unknown := [key for key in table if key not in _KNOWN]:
        raise InputError(
            f"{where}: {unknown[0]!r} is not one of {', '.join(_KNOWN)}. "
            "Rename or remove the line."
        )


def _function(name: str, table: Mapping[str, Any], where: str) -> Function:
    _check_keys(table, where)
    unit = str(table["unit"])
    unit_of(unit)
    if not isinstance(table["ranges"], list) or not table["ranges"]:
        raise InputError(f'{where}: ranges must be a list such as ["6.000 V"].')
    ranges = [_range(entry, unit, table, where) for entry in table["ranges"]]
    ranges.sort(key=lambda r: r.top)
    shared = table.get("offset_shared", False)
    if not isinstance(shared, bool):
        raise InputError(f"{where}: offset_shared must be true or false.")
    leads = str(table.get("lead_resistance", ""))
    leads = leads if states_a_value(leads) else ""
    influences = tuple(
        influence_from(said, str(table[key]), unit, where)
        for key, said in NAMES.items()
        if key in table and not (leads and key == "lead_resistance")
    )
    temperature = temperature_from(table, where)
    beeps = str(table.get("beeps_below", ""))
    if beeps:
        _range_value(beeps, unit, f"{where}, beeps_below")
    entrance = str(table.get("input_resistance", ""))
    for key, text in (("input_resistance", entrance), ("lead_resistance", leads)):
        if text:
            property_from(text, ("ohm",), f"{where}, {key}")
    return Function(
        name, unit, tuple(ranges), shared, influences, temperature, beeps, entrance,
        leads,
    )  # fmt: skip


_RANGE_KEYS = ("range", "accuracy", "burden")


def _range(entry: Any, unit: str, table: Mapping[str, Any], where: str) -> Range:
    accuracy, burden = table["accuracy"], str(table.get("burden", ""))
    if isinstance(entry, Mapping):
        if unknown := [key for key in entry if key not in _RANGE_KEYS]:
            raise InputError(
                f"{where}: {unknown[0]!r} of a range is not one of "
                f"{', '.join(_RANGE_KEYS)}. Rename or remove it."
            )
        accuracy = entry.get("accuracy", accuracy)
        burden = str(entry.get("burden", burden))
        entry = entry.get("range", "")
    value = _range_value(str(entry), unit, where)
    scale = _scale(value, unit)
    line = in_unit(accuracy_line(str(accuracy), where), unit, where)
    label = f"{value.value:g} {unit_of(value.unit).symbol}"
    if burden:
        if unit_of(unit).dimension != unit_of("A").dimension:
            raise InputError(
                f"{where}: burden {burden!r} belongs to a function that measures "
                f"current, not {unit}. Move or remove it."
            )
        full_range = unit_of(value.unit).to_si(value.value)
        burden_from(burden, full_range, f"{where}, burden")
    return Range(label, value.value * scale, value.step * scale, line, burden)

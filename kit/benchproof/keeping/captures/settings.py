"""What a person says about a capture: a [[capture]] table of case.toml, or a call."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from benchproof.measuring.accuracy import accuracy_line, in_unit
from benchproof.measuring.captures.trace import Settings
from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import Unit, require_same_dimension, unit_of

TYPES = (
    "int8", "uint8", "int16", "uint16", "int32", "uint32", "float32", "float64",
)  # fmt: skip
_QUANTITY = re.compile(
    r"\s*(?P<number>[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>.*?)\s*"
)


@dataclass(frozen=True, slots=True)
class CaptureSettings:
    """Where a channel is found and how it was recorded; all but `file` optional.

    Numbers with a unit are text, ``"4 ns"``; they are kept in SI.

    Attributes
    ----------
    name : str
        What the notebook calls it; the file's name without ending if "".
    file : str
        In ``captures/``.
    channel : str
        Name or number, from 1, in the file; "" if there is only one.
    part : int
        Of a record with gaps, from 1; 0 if it has none.
    instrument, coupling, probe_ratio, bandwidth, full_screen, bits, inverted, time_base
        As for `Settings`.
        `inverted`: the file has the opposite sign, which opening turns round.
    accuracy : str
        As the maker writes it, e.g. ``3 % of full screen``.
    unit : str
        Of the values in the file, where it says none or another is meant.
    scale : str
        What one unit of the file stands for, e.g. ``10 A/V`` of a shunt.
    interval, start : float or None
        In s.
    rails : tuple of two floats or None
        In SI, after `scale`.
    step, zero : float or None
        Of one code of a file of integers, in SI of the file's unit.
    type : str
        Of a binary file.
    byte_order : {"little", "big"}
    skip : int
        Bytes before the samples of a binary file.
    interleaved : int
        Channels that take turns in a binary file.
    delimiter, decimal, time : str or None
        Of a CSV, where they are not found; ``time = ""``: no column of times.
    """

    file: str
    name: str = ""
    channel: str = ""
    part: int = 0
    instrument: str = ""
    coupling: str = ""
    probe_ratio: float = 1.0
    bandwidth: float | None = None
    full_screen: float | None = None
    bits: int | None = None
    inverted: bool = False
    time_base: float = 0.0
    accuracy: str = ""
    unit: str = ""
    scale: str = ""
    interval: float | None = None
    start: float | None = None
    rails: tuple[float, float] | None = None
    step: float | None = None
    zero: float | None = None
    type: str = ""
    byte_order: str = "little"
    skip: int = 0
    interleaved: int = 1
    delimiter: str | None = None
    decimal: str | None = None
    time: str | None = None

    def __post_init__(self) -> None:
        where = f"capture {self.name or self.file!r}"
        for key, known in (
            ("coupling", ("", "DC", "AC")),
            ("byte_order", ("little", "big")),
            ("type", ("", *TYPES)),
            ("decimal", (None, ".", ",")),
        ):
            if (said := getattr(self, key)) not in known:
                allowed = ", ".join(repr(k) for k in known if k)
                raise InputError(f"{where}: {key} = {said!r}; give one of {allowed}.")
        for key in ("interval", "full_screen", "bandwidth", "probe_ratio", "step"):
            value = getattr(self, key)
            if value is not None and not (math.isfinite(value) and value > 0):
                raise InputError(f"{where}: {key} = {value}; give a number above 0.")
        if self.rails is not None and not self.rails[0] < self.rails[1]:
            raise InputError(f"{where}: rails = {self.rails}; the lower one first.")
        if self.skip < 0 or self.interleaved < 1 or self.part < 0:
            raise InputError(
                f"{where}: skip and part are 0 or more, interleaved 1 or more."
            )

    def recipe(self) -> dict[str, Any]:
        """Return what decides how the file itself is read; an index depends on it."""
        keys = ("type", "byte_order", "skip", "interleaved", "delimiter", "decimal",
                "time", "interval")  # fmt: skip
        return {key: getattr(self, key) for key in keys}


_QUANTITIES = {
    "interval": "s",
    "start": "s",
    "bandwidth": "Hz",
    "time_base": "",
    "probe_ratio": "",
    "full_screen": None,
    "step": None,
    "zero": None,
}
"""Numbers with a unit, and which dimension they have; None for the channel's."""


def settings_from(table: Mapping[str, Any], where: str) -> CaptureSettings:
    """Read a [[capture]] table, or the arguments of a call.

    Parameters
    ----------
    table : mapping
        Keys as of `CaptureSettings`.
    where : str
        Named in messages, e.g. ``case.toml, [[capture]] 2``.

    Raises
    ------
    InputError
        If a key is unknown or its value cannot be.

    Examples
    --------
    >>> settings = settings_from({"file": "rail.csv", "interval": "4 ns"}, "call")
    >>> settings.interval
    4e-09
    """
    known = {f.name: f for f in fields(CaptureSettings)}
    unknown = sorted(set(table) - set(known))
    if unknown:
        raise InputError(
            f"{where}: {unknown[0]!r} is not one of {', '.join(known)}. Rename or "
            "remove the line."
        )
    if not table.get("file"):
        raise InputError(f"{where}: name the file, e.g. file = 'rail.csv'.")
    unit = _channel_unit(table, where)
    read: dict[str, Any] = {}
    for key, value in table.items():
        if value is None:
            continue
        if key in _QUANTITIES:
            symbol = _QUANTITIES[key]
            wanted = unit if symbol is None else unit_of(symbol)
            read[key] = quantity(value, wanted, f"{where}, {key}")
        elif key == "rails":
            read[key] = _rails(value, unit, where)
        else:
            read[key] = _plain(key, value, str(known[key].type), where)
    return CaptureSettings(**read)


def _channel_unit(table: Mapping[str, Any], where: str) -> Unit | None:
    unit = table.get("unit")
    return _unit(str(unit), where) if unit and not table.get("scale") else None


def _unit(text: str, where: str) -> Unit:
    try:
        return unit_of(text)
    except UnitError as problem:
        raise UnitError(f"{where}: {problem}") from None


def _plain(key: str, value: Any, kind: str, where: str) -> Any:
    """Take text, a whole number or yes and no as they are."""
    if key == "channel":
        return str(value)
    fits = {"bool": bool, "int": int, "int | None": int}.get(kind, str)
    if not isinstance(value, fits) or (fits is int and isinstance(value, bool)):
        word = {bool: "true or false", int: "a whole number"}.get(
            fits, "text in quotes"
        )
        raise InputError(f"{where}: {key} = {value!r}; give {word}.")
    return value


def quantity(value: Any, wanted: Unit | None, where: str) -> float:
    """Read a number with its unit, in SI; a bare number is in SI.

    Raises
    ------
    InputError
        If it is no number, or of another dimension.

    Examples
    --------
    >>> quantity("250 mV", unit_of("V"), "step"), quantity(2e-9, unit_of("s"), "t")
    (0.25, 2e-09)
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    match = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise InputError(f"{where}: {value!r} is no number with a unit, like '4 ns'.")
    unit = _unit(match["unit"], where) if match["unit"] else None
    if unit is None:
        return float(match["number"])
    if wanted is not None:
        require_same_dimension(unit, wanted, where)
    return float(match["number"]) * unit.difference().factor


def _rails(value: Any, unit: Unit | None, where: str) -> tuple[float, float]:
    if not (isinstance(value, list | tuple) and len(value) == 2):
        raise InputError(f"{where}: rails = {value!r}; give two, ['-4 V', '4 V'].")
    low, high = (quantity(v, unit, f"{where}, rails") for v in value)
    return low, high


def trace_settings(
    settings: CaptureSettings, channel: str, unit: Unit, where: str
) -> Settings:
    """Return what results of a channel need to know, as a trace carries it.

    Raises
    ------
    InputError
        If the accuracy line cannot be understood.
    """
    accuracy = None
    if settings.accuracy:
        accuracy = in_unit(accuracy_line(settings.accuracy, where), unit.symbol, where)
    return Settings(
        instrument=settings.instrument or settings.file,
        channel=channel,
        unit=unit,
        probe_ratio=settings.probe_ratio,
        coupling=settings.coupling,
        bandwidth=settings.bandwidth,
        full_screen=settings.full_screen,
        bits=settings.bits,
        inverted=settings.inverted,
        accuracy=accuracy,
        time_base=settings.time_base,
    )

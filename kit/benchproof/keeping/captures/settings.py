"""What a person says about a capture: a [[capture]] table of case.toml, or a call."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from benchproof.measuring.captures.stated import in_si
from benchproof.measuring.captures.trace import Settings
from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import Unit, unit_of

TYPES = (
    "int8", "uint8", "int16", "uint16", "int32", "uint32", "float32", "float64",
)  # fmt: skip


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
        As for `Settings`; what a CSV's header says of them holds where they are left
        out. `inverted`: the file has the opposite sign, which opening turns round.
    divisions : int or None
        Of the screen, bottom to top: with the volts per division that a header states
        they make `full_screen`.
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
    probe_ratio: float | None = None
    bandwidth: float | None = None
    full_screen: float | None = None
    divisions: int | None = None
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
        for key in ("interval", "full_screen", "divisions", "bandwidth", "probe_ratio",
                    "step"):  # fmt: skip
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
            width = key in ("full_screen", "step")
            read[key] = in_si(value, wanted, f"{where}, {key}", difference=width)
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


def _rails(value: Any, unit: Unit | None, where: str) -> tuple[float, float]:
    if not (isinstance(value, list | tuple) and len(value) == 2):
        raise InputError(f"{where}: rails = {value!r}; give two, ['-4 V', '4 V'].")
    low, high = (in_si(v, unit, f"{where}, rails") for v in value)
    return low, high


def trace_settings(settings: CaptureSettings, channel: str, unit: Unit) -> Settings:
    """Return what results of a channel need to know, as a trace carries it.

    Raises
    ------
    InputError
        If the accuracy line cannot be understood.
    """
    return Settings(
        instrument=settings.instrument or settings.file,
        channel=channel,
        unit=unit,
        probe_ratio=1.0 if settings.probe_ratio is None else settings.probe_ratio,
        coupling=settings.coupling,
        bandwidth=settings.bandwidth,
        full_screen=settings.full_screen,
        bits=settings.bits,
        inverted=settings.inverted,
        accuracy=settings.accuracy or None,  # type: ignore[arg-type]  # it reads text
        time_base=settings.time_base,
    )

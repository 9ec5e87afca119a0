"""The captures folder of a case: what is in it, opened as traces, with its hashes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from benchproof.keeping.captures.channels import Channel
from benchproof.keeping.captures.csvheader import known_unit
from benchproof.keeping.captures.csvsettings import with_header
from benchproof.keeping.captures.index import Indexed, indexed, known_hash
from benchproof.keeping.captures.settings import (
    CaptureSettings,
    settings_from,
    trace_settings,
)
from benchproof.keeping.runs.waiting import waiting
from benchproof.measuring.captures.stated import in_si
from benchproof.measuring.captures.trace import Trace
from benchproof.values.errors import FileError, InputError
from benchproof.values.inturn import Progress
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit, registry, unit_of

FOLDER = "captures"


@dataclass(frozen=True, slots=True, repr=False)
class Library(Tabular):
    """The records of a case, which are only ever read.

    Attributes
    ----------
    folder : pathlib.Path
        Of the case.
    declared : tuple of CaptureSettings
        The [[capture]] tables of case.toml.
    defaults : mapping
        What [capture_defaults] of case.toml says of all captures.
    """

    folder: Path
    declared: tuple[CaptureSettings, ...] = ()
    defaults: Mapping[str, Any] = field(default_factory=dict)

    def files(self) -> list[str]:
        """Return the names of the files in ``captures/``, sorted.

        Hidden files, and what is written beside a capture as JSON, are no captures.
        """
        place = self.folder / FOLDER
        if not place.is_dir():
            return []
        return sorted(
            path.name
            for path in place.iterdir()
            if path.is_file()
            and not path.name.startswith(".")
            and path.suffix.lower() not in (".json", ".md", ".png", ".jpg")
        )

    def table(self) -> Table:
        """Return what is in the folder, and what is declared of it."""
        said = {name: [s for s in self.declared if s.file == name] for name in
                [*self.files(), *(s.file for s in self.declared)]}  # fmt: skip
        rows = []
        for name in sorted(said):
            path = self.folder / FOLDER / name
            size = f"{path.stat().st_size}" if path.exists() else "not there"
            names = ", ".join(s.name or s.channel for s in said[name] if s.name)
            rows.append((name, size, names or "not declared"))
        return Table(
            "Captures", columns("File", "Size in bytes", "Declared as"), tuple(rows)
        )

    def open(
        self,
        name: str,
        channel: str | int = "",
        *,
        progress: Progress | None = None,
        workers: int = 1,
        **said: Any,
    ) -> Trace:
        """Open one channel of a capture.

        Parameters
        ----------
        name : str
            Of a [[capture]] table, or of a file.
        channel : str or int
            Name or number, from 1, in the file; needed if it has several.
        progress : callable, optional
            Called with the fraction done while a file is read the first time. Else
            what takes over two seconds shows it, in the notebook or on the terminal.
        workers : int
            Processes that summarise a record the first time, through dask (extra
            ``scale``); 0 leaves it to the scheduler set for dask.
        **said
            Keys of `CaptureSettings`, before those of case.toml.

        Raises
        ------
        FileError
            If the file is missing, or cannot be understood.
        InputError
            If the channel, a part or a setting is missing or wrong.
        """
        settings = self._settings(
            name, {**said, **({"channel": channel} if channel else {})}
        )
        path = self.folder / FOLDER / settings.file
        with waiting(f"reading {settings.file}", progress) as shown:
            found = indexed(path, settings, shown, workers=workers)
        return trace_of(found, settings)

    def hash(self, name: str, *, again: bool = False) -> str:
        """Return the SHA-256 of a file, in hexadecimal.

        Parameters
        ----------
        name : str
            Of the file.
        again : bool
            Read it all, even if size and time say that it is the same.
        """
        path = self.folder / FOLDER / name
        if not path.is_file():
            raise FileError(f"captures/{name} is not there.")
        with waiting(f"hashing {name}") as shown:
            return known_hash(path, again=again, progress=shown)

    def file_of(self, name: str) -> str:
        """Return the file in ``captures/`` that a declared name stands for."""
        fitting = [s.file for s in self.declared if name in (s.name, s.file)]
        return fitting[0] if fitting else name

    def _settings(self, name: str, said: Mapping[str, Any]) -> CaptureSettings:
        """Join what case.toml declares of a name with what the call says."""
        fitting = [s for s in self.declared if name in (s.name, s.file)]
        if len(fitting) > 1 and (channel := str(said.get("channel", ""))):
            fitting = [s for s in fitting if s.channel == channel]
        if len(fitting) > 1:
            names = ", ".join(repr(s.name or s.channel) for s in fitting)
            raise InputError(
                f"capture {name!r}: case.toml declares {names} of it. Open one by its "
                "name, or say channel."
            )
        file = fitting[0].file if fitting else name
        where = f"capture {name!r}"
        if Path(file).name != file:
            raise InputError(f"{where}: name a file in captures/, without a folder.")
        if not fitting and file not in self.files():
            known = ", ".join(
                [*(s.name for s in self.declared if s.name), *self.files()]
            )
            raise FileError(
                f"captures/{file} is not there, nor does case.toml declare a capture "
                f"of that name; there are {known or 'none'}. Copy the instrument's "
                "file into captures, or correct the name."
            )
        if not fitting:
            return settings_from({**self.defaults, **said, "file": file}, where)
        unit = said.get("unit") or fitting[0].unit
        call = settings_from({"file": file, "unit": unit, **said}, where)
        changes = {key: getattr(call, key) for key in said}
        return replace(fitting[0], **changes)


def declared_captures(
    tables: Sequence[Mapping[str, Any]], defaults: Mapping[str, Any] | None = None
) -> tuple[CaptureSettings, ...]:
    """Read the [[capture]] tables of case.toml.

    Parameters
    ----------
    tables : sequence of mapping
    defaults : mapping, optional
        The table [capture_defaults]: what holds where a [[capture]] does not say.

    Raises
    ------
    InputError
        Naming the table; also if two have one name.

    Examples
    --------
    >>> (one,) = declared_captures([{"file": "a.csv", "name": "rail", "bits": 8}])
    >>> one.name, one.bits
    ('rail', 8)
    """
    found: list[CaptureSettings] = []
    shared = _shared(defaults or {})
    for place, table in enumerate(tables, 1):
        where = f"case.toml, [[capture]] {place}"
        settings = settings_from({**shared, **table}, where)
        if settings.name and settings.name in [s.name for s in found]:
            raise InputError(
                f"{where}: the name {settings.name!r} is taken. Choose another."
            )
        found.append(settings)
    return tuple(found)


def _shared(defaults: Mapping[str, Any]) -> Mapping[str, Any]:
    """Refuse defaults that no capture could have."""
    where = "case.toml, [capture_defaults]"
    for key in ("file", "name"):
        if key in defaults:
            raise InputError(
                f"{where}: {key} is of one capture. Write it under its own [[capture]]."
            )
    settings_from({**defaults, "file": "any"}, where)
    return defaults


def trace_of(found: Indexed, settings: CaptureSettings) -> Trace:
    """Return a channel of an opened file in physical units.

    Raises
    ------
    InputError
        If the channel or a part is not named as it must be, or the interval or the
        unit is known from nowhere.
    """
    where = f"captures/{settings.file}"
    channel = _chosen(found.channels, settings, where)
    label = channel.name or settings.channel
    file_unit, unit, factor = _units(channel, settings, where)
    interval = settings.interval if channel.interval is None else channel.interval
    if not interval:
        raise InputError(
            f"{where}: no column of times and no interval in it. Give interval = "
            "'4 ns', or what it was, in case.toml or in the call."
        )
    first, last, start = _part(channel, settings, where)
    settings, said = with_header(settings, channel.said, file_unit, factor)
    step, zero = _scaled(channel, settings, file_unit, factor)
    whole = (first, last) == (0, len(channel.codes))
    if settings.start is not None:
        start = settings.start + first * interval
    elif channel.interval is None:  # the index could not tell the times of parts
        start += first * interval
    ends = channel.ends
    rails = settings.rails
    if rails is None and ends is not None:
        low, high = sorted(zero + step * end for end in ends)
        rails = (low, high)
    part = f" · part {settings.part}" if settings.part else ""
    return Trace(
        name=f"{settings.file}{f' · {label}' if label else ''}{part}",
        codes=channel.codes if whole else channel.codes[first:last],
        interval=interval,
        settings=trace_settings(settings, label or settings.name, unit),
        start=start,
        step=step,
        zero=zero,
        resolution=channel.resolution * abs(step / channel.step),
        rails=rails,
        notes=(*found.notes, *said),
        summary=channel.summary if whole else None,
    )


def _chosen(
    channels: Sequence[Channel], settings: CaptureSettings, where: str
) -> Channel:
    if not settings.channel and len(channels) == 1:
        return channels[0]
    for number, channel in enumerate(channels, 1):
        if settings.channel in (channel.name, str(number)) and settings.channel:
            return channel
    known = ", ".join(repr(c.name or str(i)) for i, c in enumerate(channels, 1))
    said = (
        f"no channel {settings.channel!r}" if settings.channel else "no channel named"
    )
    raise InputError(f"{where}: {said}; it has {known}. Say channel = one of these.")


def _units(
    channel: Channel, settings: CaptureSettings, where: str
) -> tuple[Unit, Unit, float]:
    """Return the file's unit, the trace's, and what to multiply SI values by."""
    in_file = known_unit(channel.unit)
    text = settings.unit or ("" if in_file is None else in_file.symbol)
    if not text and not settings.scale:
        raise InputError(
            f"{where}: its header names no unit of {channel.name or 'the channel'!r}. "
            "Say unit = 'V', or what one unit of the file stands for: scale = '10 A'."
        )
    file_unit = unit_of(text)
    if not settings.scale:
        return file_unit, file_unit, 1.0
    number = settings.scale.split()[0] if settings.scale.split() else ""
    symbol = settings.scale[len(number) :].strip() or "1"
    symbol = "" if symbol == "1" else symbol
    per = unit_of(symbol)
    factor = in_si(settings.scale, per, f"{where}, scale", difference=True)
    product = "*".join(s for s in (symbol, file_unit.symbol) if s)
    return file_unit, _simple(unit_of(product)), factor


def _simple(unit: Unit) -> Unit:
    """Return a product of units as people write it: A·mV/V is mA."""
    parsed = registry().parse_units(unit.symbol)
    reduced = registry().Quantity(1.0, parsed).to_reduced_units().to_compact()
    found = unit_of(f"{reduced.units:~P}")
    return found if math.isclose(found.factor, unit.factor) else unit


def _scaled(
    channel: Channel, settings: CaptureSettings, unit: Unit, factor: float
) -> tuple[float, float]:
    """Return step and zero in SI, with the scale and the sign applied."""
    sign = -1.0 if settings.inverted else 1.0
    step, zero = channel.step * unit.factor, channel.zero * unit.factor + unit.offset
    if settings.step is not None:
        step, zero = settings.step, channel.zero / channel.step * settings.step
    if settings.zero is not None:
        zero = settings.zero
    return sign * factor * step, sign * factor * zero


def _part(
    channel: Channel, settings: CaptureSettings, where: str
) -> tuple[int, int, float]:
    parts = channel.parts or ()
    name = channel.name or "the channel"
    if not parts:
        raise InputError(f"{where}: {name!r} holds no value at all.")
    if len(parts) == 1 and settings.part in (0, 1):
        return parts[0]
    if 1 <= settings.part <= len(parts):
        return parts[settings.part - 1]
    shown = "; ".join(
        f"{i}: samples {a} to {b - 1}, from {t:.6g} s"
        for i, (a, b, t) in enumerate(parts[:5], 1)
    )
    raise InputError(
        f"{where}: {name!r} has {len(parts)} parts with gaps between ({shown}"
        f"{'; …' if len(parts) > 5 else ''}). Samples are missing there; open one "
        "with part = 1, or another."
    )

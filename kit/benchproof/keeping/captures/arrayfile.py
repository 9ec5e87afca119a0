"""Captures in binary files: npy, npz, wav, and blocks as instruments send them.

Their samples are mapped, not copied; what is in compressed files is unpacked into
the index. A file that is shorter than it says is refused, with both numbers.
"""

from __future__ import annotations

import struct
import sys
import zipfile
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from benchproof.keeping.captures.channels import Channel
from benchproof.keeping.captures.settings import TYPES, CaptureSettings
from benchproof.measuring.blocks import block_size
from benchproof.measuring.captures.clock import Clock
from benchproof.values.errors import BenchproofError, FileError

Codes = NDArray[Any]
AGAIN = "Copy the file again from where it was recorded."

ENDINGS = (".npy", ".npz", ".wav", ".bin", ".dat", ".raw")


def read_arrays(
    path: Path, folder: Path, settings: CaptureSettings
) -> tuple[Channel, ...]:
    """Open a binary file; its parts and summaries are left for the index to find.

    Parameters
    ----------
    path : pathlib.Path
        Ending in one of `ENDINGS`; it is only read.
    folder : pathlib.Path
        Where unpacked codes are written, if any are.
    settings : CaptureSettings
        Of which type, byte_order, skip and interleaved matter here.

    Raises
    ------
    FileError
        If the file is cut short, or what it holds is no record.
    """
    if not path.stat().st_size:
        raise FileError(f"{path.name} is empty. {AGAIN}")
    ending = path.suffix.lower()
    if settings.type:
        return _block(path, settings)
    if ending == ".npy":
        return _split(path.name, "", _npy(path))
    if ending == ".npz":
        return _npz(path, folder)
    if ending == ".wav":
        return _wav(path, folder)
    raise FileError(
        f"{path.name}: say what its samples are: type = one of {', '.join(TYPES)}, "
        "byte_order, interval and step, in case.toml or in the call."
    )


def _npy(path: Path) -> Codes:
    try:
        return np.asarray(np.load(path, mmap_mode="r", allow_pickle=False))
    except (ValueError, EOFError, OSError) as problem:
        raise FileError(f"{path.name} cannot be read: {problem}. {AGAIN}") from None


def _split(name: str, label: str, array: Codes) -> tuple[Channel, ...]:
    """Return the channels of an array: fields, rows or columns."""
    if array.dtype.names:
        return tuple(Channel(n, "", _numbers(name, n, array[n]),
                             ends=_ends(array[n].dtype))
                     for n in array.dtype.names)  # fmt: skip
    _numbers(name, label or "it", array)
    if array.ndim == 2:
        columns = array if array.shape[0] < array.shape[1] else array.T
        return tuple(
            Channel(
                f"{label or 'channel'} {i + 1}", "", column, ends=_ends(array.dtype)
            )
            for i, column in enumerate(columns)
        )
    return (Channel(label, "", array, ends=_ends(array.dtype)),)


def _numbers(name: str, what: str, array: Codes) -> Codes:
    if array.dtype.kind not in "iuf" or array.ndim not in (1, 2) or not array.size:
        raise FileError(
            f"{name}: {what} is {array.dtype} of shape {array.shape}; a record is real "
            "numbers, one row or column for each channel. Save it so."
        )
    return array


def _ends(kind: np.dtype[Any]) -> tuple[float, float] | None:
    """Where a converter of this type ends; longer integers are no converter's."""
    if kind.kind not in "iu" or kind.itemsize > 2:
        return None
    info = np.iinfo(kind)
    return float(info.min), float(info.max)


def _npz(path: Path, folder: Path) -> tuple[Channel, ...]:
    try:
        with np.load(path, allow_pickle=False) as held:
            arrays = {name: held[name] for name in held.files}
    except (ValueError, EOFError, OSError, zipfile.BadZipFile) as problem:
        raise FileError(f"{path.name} cannot be read: {problem}. {AGAIN}") from None
    interval, start = _timing(path.name, arrays)
    channels: list[Channel] = []
    for name, array in arrays.items():
        for channel in _split(path.name, name, array):
            file = folder / f"{len(channels)}.npy"
            np.save(file, np.ascontiguousarray(channel.codes))
            channels.append(
                Channel(
                    channel.name,
                    "",
                    np.load(file, mmap_mode="r"),
                    interval=interval,
                    parts=((0, channel.codes.size, start),),
                    ends=channel.ends,
                )
            )
    if not channels:
        raise FileError(f"{path.name} holds no record, only single numbers.")
    return tuple(channels)


def _timing(name: str, arrays: dict[str, Codes]) -> tuple[float | None, float]:
    """Take interval and start out of the arrays, by their names."""
    interval, start = None, 0.0
    for key in [k for k, array in arrays.items() if array.size == 1]:
        value = float(arrays.pop(key).reshape(-1)[0])
        if key.lower() in ("interval", "dt", "delta_t", "sampling_interval"):
            interval = value
        elif key.lower() in ("sample_rate", "rate", "fs"):
            interval = 1 / value if value > 0 else None
        elif key.lower() in ("start", "t0"):
            start = value
    for key in [k for k in arrays if k.lower() in ("time", "times", "t")]:
        clock = Clock()
        fault = clock.follow(arrays.pop(key).astype(np.float64).reshape(-1))
        fault = fault or clock.drift()
        if fault or len(clock.begins) != 1:
            row = fault.row if fault else clock.begins[1][0]
            text = fault.text if fault else "the time jumps"
            raise FileError(
                f"{name}, {key}[{row}]: {text}. A capture has equal steps: save the "
                "part that has them on its own."
            )
        interval, start = clock.interval, clock.begins[0][1]
    return interval, start


def _wav(path: Path, folder: Path) -> tuple[Channel, ...]:
    with path.open("rb") as file:
        rate, count, bits, kind, offset, size = _wav_layout(file, path.name)
    there = path.stat().st_size - offset
    if size > there:
        raise FileError(
            f"{path.name}: its header states {size} bytes of samples, {there} are "
            f"there. {AGAIN}"
        )
    frames = size // (count * bits // 8)
    if not frames:
        raise FileError(f"{path.name} holds no samples. {AGAIN}")
    if kind == 1 and bits == 24:
        codes = _from_24_bits(path, folder, offset, frames * count)
    else:
        letter = "f" if kind == 3 else "u" if bits == 8 else "i"
        codes = np.memmap(path, f"<{letter}{bits // 8}", "r", offset, (frames * count,))
    # A fraction of full scale, until a step in volt is stated.
    step = 1.0 if kind == 3 else 2.0 ** (1 - bits)
    zero = -1.0 if bits == 8 else 0.0
    half = 2.0 ** (bits - 1)
    ends = None if kind == 3 else (0.0, 255.0) if bits == 8 else (-half, half - 1)
    return tuple(
        Channel(f"channel {i + 1}" if count > 1 else "", "", codes[i::count], step,
                zero, 1 / rate, ends=ends)
        for i in range(count)
    )  # fmt: skip


def _wav_layout(file: BinaryIO, name: str) -> tuple[int, int, int, int, int, int]:
    """Return rate, channels, bits, kind, and where the samples are, and how long."""
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:] != b"WAVE":
        raise FileError(f"{name} is no WAV file: it begins with {head[:4]!r}. {AGAIN}")
    form = None
    while len(start := file.read(8)) == 8:
        label, size = start[:4], struct.unpack("<I", start[4:])[0]
        if label == b"data" and form is not None:
            return *form, file.tell(), size
        content = file.read(size + size % 2)
        if label == b"fmt " and len(content) >= 16:
            form = _wav_format(content, name)
    raise FileError(f"{name} ends before its samples. {AGAIN}")


def _wav_format(content: bytes, name: str) -> tuple[int, int, int, int]:
    kind, count, rate, _, _, bits = struct.unpack("<HHIIHH", content[:16])
    if kind == 0xFFFE and len(content) >= 26:
        kind = struct.unpack("<H", content[24:26])[0]
    known = {1: (8, 16, 24, 32), 3: (32, 64)}
    if bits not in known.get(kind, ()) or not count or not rate:
        raise FileError(
            f"{name}: WAV of kind {kind} with {bits} bits, {count} channels at "
            f"{rate} Hz. Save it as plain (PCM) or floating-point samples."
        )
    return rate, count, bits, kind


def _from_24_bits(path: Path, folder: Path, offset: int, count: int) -> Codes:
    """Widen samples of three bytes to four, some at a time."""
    packed = np.memmap(path, np.uint8, "r", offset, (count, 3))
    target = folder / "samples.npy"
    if target.exists():  # the index holds them already
        return np.asarray(np.load(target, mmap_mode="r"))
    codes = np.lib.format.open_memmap(target, "w+", np.dtype("<i4"), (count,))
    for first in range(0, count, 1 << 19):
        part = packed[first : first + (1 << 19)]
        wide = np.zeros((len(part), 4), np.uint8)
        wide[:, 1:] = part
        codes[first : first + len(part)] = wide.reshape(-1).view("<i4") >> 8
    codes.flush()
    del codes
    return np.asarray(np.load(target, mmap_mode="r"))


def _block(path: Path, settings: CaptureSettings) -> tuple[Channel, ...]:
    """Map the samples of a bare or framed block, whose type a person states."""
    kind = np.dtype(settings.type)
    if (settings.byte_order == "little") != (sys.byteorder == "little"):
        kind = kind.newbyteorder("S")
    offset, size = _framed(path, settings)
    each = kind.itemsize * settings.interleaved
    if size % each or not size:
        raise FileError(
            f"{path.name}: {size} bytes are no whole number of {settings.type} samples"
            f" of {settings.interleaved} channels. See type, skip and interleaved; or "
            f"the file was cut short. {AGAIN}"
        )
    codes = np.memmap(path, kind, "r", offset, (size // kind.itemsize,))
    count = settings.interleaved
    return tuple(
        Channel(f"channel {i + 1}" if count > 1 else "", "", codes[i::count],
                ends=_ends(kind))
        for i in range(count)
    )  # fmt: skip


def _framed(path: Path, settings: CaptureSettings) -> tuple[int, int]:
    """Return where the samples begin and how many bytes they are."""
    there = path.stat().st_size - settings.skip
    with path.open("rb") as file:
        file.seek(settings.skip)
        start = file.read(12)
    digits = start[2 : 2 + int(start[1:2])] if start[1:2].isdigit() else b""
    if start[:1] != b"#" or start[1:2] == b"0" or not digits.isdigit():
        return settings.skip, max(there, 0)
    try:
        whole = block_size(start)
    except BenchproofError as problem:
        raise FileError(f"{path.name}: {problem}") from None
    header = 2 + int(start[1:2])
    if whole is None or whole > there:
        raise FileError(
            f"{path.name}: its header {start[:header]!r} states "
            f"{(whole or 0) - header} bytes, {there - header} are there. If it is "
            f"samples and no header, say skip = 0 with another type. {AGAIN}"
        )
    return settings.skip + header, whole - header

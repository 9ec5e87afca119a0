"""The index of a capture: codes, pyramid and histogram, kept beside the raw file.

It stands in a hidden folder, ``captures/.index/``, and may be deleted at any time:
it is made again from the raw file whenever size, time or content of that differ
from what was read, or it is to be read another way.
"""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib.format import open_memmap

from benchproof.keeping.captures.arrayfile import ENDINGS, read_arrays
from benchproof.keeping.captures.channels import (
    Channel,
    note_missing,
    parts_between,
    smallest_distance,
)
from benchproof.keeping.captures.csvfile import read_csv
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.measuring.captures.histogram import Histogram
from benchproof.measuring.captures.pyramid import Pyramid
from benchproof.measuring.captures.summary import Summary, share, summary_of
from benchproof.measuring.captures.sums import Moments
from benchproof.values.errors import FileError
from benchproof.values.inturn import Progress

FOLDER = ".index"
FORMAT = 3
FACTS = "index.json"


@dataclass(frozen=True, slots=True)
class Indexed:
    """The channels of a file, ready to be looked at.

    Attributes
    ----------
    channels : tuple of Channel
    notes : tuple of str
    fresh : bool
        Whether the file was read now, not taken from the index.
    """

    channels: tuple[Channel, ...]
    notes: tuple[str, ...] = ()
    fresh: bool = False


def indexed(
    path: Path,
    settings: CaptureSettings,
    progress: Progress | None = None,
    engine: str = "",
    workers: int = 1,
) -> Indexed:
    """Open a capture by its index, making that where it is missing or stale.

    Parameters
    ----------
    path : pathlib.Path
        The raw file, which is only read.
    progress : callable, optional
        Called with the fraction done while a file is read.
    engine : {"", "pyarrow", "pandas"}
        What reads the numbers of a CSV.
    workers : int
        Processes that summarise its codes, see `scaled_summary`; 1 is this one.

    Raises
    ------
    FileError
        If the file is missing or cannot be understood; then no index is left.
    """
    if not path.is_file():
        raise FileError(
            f"captures/{path.name} is not there. Copy the instrument's file into the "
            "captures folder, or correct the name."
        )
    place = path.parent / FOLDER / path.name
    facts = _usable(place, path, settings, progress)
    if facts is not None:
        try:
            return _loaded(place, path, settings, facts)
        except (OSError, ValueError, KeyError, TypeError, zipfile.BadZipFile):
            pass  # somebody took a file out of the index: make it again
    place, facts = _made(path, settings, progress, engine, workers)
    return replace(_loaded(place, path, settings, facts), fresh=True)


def _usable(
    place: Path, path: Path, settings: CaptureSettings, progress: Progress | None
) -> dict[str, Any] | None:
    """Return what the index says if it is of this file, read this way."""
    try:
        facts = json.loads((place / FACTS).read_text(encoding="utf-8"))
        same = facts["format"] == FORMAT and facts["recipe"] == settings.recipe()
        stat = path.stat()
        if not same or facts["size"] != stat.st_size:
            return None
        if facts["mtime_ns"] != stat.st_mtime_ns:
            # A copy, or a clone of the case, has another time and the same content.
            if not facts["sha256"] or sha256_of(path, progress) != facts["sha256"]:
                return None
            facts["mtime_ns"] = stat.st_mtime_ns
            _write(place / FACTS, facts)
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return dict(facts)


def sha256_of(path: Path, progress: Progress | None = None) -> str:
    """Return the SHA-256 of a file, in hexadecimal."""
    digest, size = hashlib.sha256(), path.stat().st_size
    with path.open("rb") as file:
        while got := file.read(1 << 20):
            digest.update(got)
            if progress:
                progress(min(file.tell() / size, 1.0) if size else 1.0)
    return digest.hexdigest()


def known_hash(
    path: Path, *, again: bool = False, progress: Progress | None = None
) -> str:
    """Return the SHA-256 of a raw file, from its index if size and time agree.

    Parameters
    ----------
    path : pathlib.Path
        The raw file.
    again : bool
        Read the file whatever the index says.
    progress : callable, optional
        Called with the fraction done while a file is read.
    """
    place, stat = path.parent / FOLDER / path.name / FACTS, path.stat()
    try:
        facts = json.loads(place.read_text(encoding="utf-8"))
        mine = (facts["size"], facts["mtime_ns"]) == (stat.st_size, stat.st_mtime_ns)
        if mine and facts["sha256"] and not again:
            return str(facts["sha256"])
    except (OSError, ValueError, KeyError, TypeError):
        return sha256_of(path, progress)
    digest = sha256_of(path, progress)
    if mine and facts["sha256"] not in ("", digest):
        shutil.rmtree(place.parent, ignore_errors=True)
    elif mine:
        facts["sha256"] = digest
        _write(place, facts)
    return digest


def _made(
    path: Path,
    settings: CaptureSettings,
    progress: Progress | None,
    engine: str,
    workers: int,
) -> tuple[Path, dict[str, Any]]:
    """Read the raw file into a new folder, then put that in place at once."""
    before = path.stat()
    parent, lasting = _parent(path)
    work = Path(tempfile.mkdtemp(prefix=".new-", dir=parent))
    try:
        # Text takes long to read; a binary file is mapped, and only summarised.
        text = 0.0 if _is_binary(path, settings) else 0.9
        read, notes = _read(path, work, settings, share(progress, 0.0, text), engine)
        each, kept = (1.0 - text) / len(read), []
        for i, channel in enumerate(read):
            told = share(progress, text + i * each, text + (i + 1) * each)
            kept.append(_summarised(channel, told, workers))
        for i, channel in enumerate(kept):
            _save_summary(work / f"{i}.summary.npz", channel.summary)
        after = path.stat()
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            raise FileError(
                f"{path.name} changed while it was read. Wait until it is written, "
                "then run the cell again."
            )
        facts = _facts(before, settings, kept, notes)
        _write(work / FACTS, facts)
        if not lasting:
            return work, facts
        place = parent / path.name
        del read, kept
        shutil.rmtree(place, ignore_errors=True)
        try:
            work.replace(place)
        except OSError:  # another process was faster, or holds the old one open
            atexit.register(shutil.rmtree, work, ignore_errors=True)
            return work, facts
        return place, facts
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        raise


def _parent(path: Path) -> tuple[Path, bool]:
    """Return the folder of indexes; one for this session where it cannot be made."""
    parent = path.parent / FOLDER
    try:
        parent.mkdir(exist_ok=True)
        if os.access(parent, os.W_OK):
            return parent, True
    except OSError:
        pass
    session = Path(tempfile.mkdtemp(prefix="benchproof-index-"))
    atexit.register(shutil.rmtree, session, ignore_errors=True)
    return session, False


def _read(
    path: Path,
    work: Path,
    settings: CaptureSettings,
    progress: Progress | None,
    engine: str,
) -> tuple[tuple[Channel, ...], tuple[str, ...]]:
    if _is_binary(path, settings):
        return read_arrays(path, work, settings), ()
    read = read_csv(path, work, settings, progress, engine)
    return read.channels, read.notes


def _is_binary(path: Path, settings: CaptureSettings) -> bool:
    return bool(settings.type) or path.suffix.lower() in ENDINGS


def _summarised(channel: Channel, progress: Progress | None, workers: int) -> Channel:
    """Find the parts of a channel, and summarise it if it has only one."""
    codes, parts = channel.codes, channel.parts
    count = int(codes.shape[0])
    if parts is None:
        parts = ((0, count, 0.0),)
    if codes.dtype.kind == "f" and (missing := _missing(codes)):
        start, interval = parts[0][2], channel.interval or 0.0
        parts = parts_between(count, [(0, start)], missing, interval)
    channel = replace(channel, parts=parts)
    if [part[:2] for part in parts] != [(0, count)]:
        return channel
    if workers == 1:
        summary = summary_of(codes, progress)
    else:
        from benchproof.keeping.captures.scale import scaled_summary

        summary = scaled_summary(codes, workers)
    distance = smallest_distance(summary) * channel.step
    return replace(channel, summary=summary, resolution=distance)


def _missing(codes: np.ndarray[Any, np.dtype[Any]]) -> list[tuple[int, int]]:
    """Return the stretches that hold no finite number."""
    found: list[tuple[int, int]] = []
    for first in range(0, len(codes), 1 << 19):
        gone = ~np.isfinite(codes[first : first + (1 << 19)])
        if gone.any():
            note_missing(found, gone, first)
    return found


def _facts(
    stat: os.stat_result,
    settings: CaptureSettings,
    channels: list[Channel],
    notes: tuple[str, ...],
) -> dict[str, Any]:
    keys = ("name", "unit", "step", "zero", "interval", "parts", "resolution",
            "ends", "said")  # fmt: skip
    return {
        "format": FORMAT,
        "size": stat.st_size,
        "mtime_ns": stat.st_mtime_ns,
        "sha256": "",
        "recipe": settings.recipe(),
        "notes": list(notes),
        "channels": [{key: getattr(c, key) for key in keys} for c in channels],
        "summarised": [c.summary is not None for c in channels],
    }


def _write(path: Path, facts: dict[str, Any]) -> None:
    """Replace a small file as a whole; an index that cannot be written is no loss."""
    other = path.with_name(f".{path.name}-{os.getpid()}")
    try:
        other.write_text(json.dumps(facts, indent=1), encoding="utf-8")
        other.replace(path)
    except OSError:
        other.unlink(missing_ok=True)


def _save_summary(path: Path, summary: Summary | None) -> None:
    if summary is None:
        return
    pyramid, histogram = summary.pyramid, summary.histogram
    facts = json.dumps(
        {
            "count": pyramid.count,
            "first": histogram.first,
            "width": histogram.width,
            "exact": histogram.exact,
            "moments": asdict(summary.moments),
        }
    )
    with path.open("wb") as file:
        np.savez(
            file,
            low=pyramid.low,
            high=pyramid.high,
            counts=histogram.counts,
            facts=np.array(facts),
        )


def _load_summary(path: Path) -> Summary:
    with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
        facts = json.loads(str(held["facts"]))
        pyramid = Pyramid(held["low"], held["high"], facts["count"])
        histogram = Histogram(
            facts["first"], facts["width"], held["counts"], facts["exact"]
        )
    return Summary(pyramid, histogram, Moments(**facts["moments"]))


def _loaded(
    place: Path, path: Path, settings: CaptureSettings, facts: dict[str, Any]
) -> Indexed:
    codes: Callable[[int], Any]
    if _is_binary(path, settings) and not (place / "0.npy").exists():
        opened = read_arrays(path, place, settings)
        codes = lambda i: opened[i].codes  # noqa: E731 - one of two ways to a channel
    else:
        codes = lambda i: open_memmap(place / f"{i}.npy", "r")  # noqa: E731
    channels = []
    for i, said in enumerate(facts["channels"]):
        parts = tuple((int(a), int(b), float(t)) for a, b, t in said["parts"])
        ends = tuple(said["ends"]) if said["ends"] else None
        known = {**said, "parts": parts, "ends": ends}
        summary = None
        if facts["summarised"][i]:
            summary = _load_summary(place / f"{i}.summary.npz")
        channels.append(Channel(**known, codes=codes(i), summary=summary))
    return Indexed(tuple(channels), tuple(facts["notes"]))

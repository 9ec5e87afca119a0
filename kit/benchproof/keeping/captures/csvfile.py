"""A capture's CSV, read once: codes on disk, an interval, and what was odd."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchproof.keeping.captures.channels import Channel, parts_between
from benchproof.keeping.captures.codefile import CodeWriter
from benchproof.keeping.captures.csvblocks import Block, blocks_of
from benchproof.keeping.captures.csvlayout import SAMPLE, Layout, layout_of
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.measuring.captures.clock import Clock, Fault
from benchproof.values.errors import FileError
from benchproof.values.inturn import Progress

MOST_STRETCHES = 1000


@dataclass(frozen=True, slots=True)
class Read:
    """What reading a file gave: its channels and what a reader should know."""

    channels: tuple[Channel, ...]
    notes: tuple[str, ...]


def read_csv(
    path: Path,
    folder: Path,
    settings: CaptureSettings,
    progress: Progress | None = None,
    engine: str = "",
) -> Read:
    """Read a CSV in little memory; the codes go to files in a folder.

    Parameters
    ----------
    path : pathlib.Path
        The raw file, which is only read.
    folder : pathlib.Path
        Where ``0.npy``, ``1.npy`` … are written, one for each channel.
    settings : CaptureSettings
        Of which delimiter, decimal, time and interval matter here.
    engine : {"", "pyarrow", "pandas"}
        As for `blocks_of`.

    Raises
    ------
    FileError
        Naming the line and what to do.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        sample = file.read(SAMPLE)
    layout = layout_of(
        sample,
        path.name,
        whole=size <= SAMPLE,
        delimiter=settings.delimiter,
        decimal=settings.decimal,
        time=settings.time,
    )
    clock = Clock(_resolution(layout))
    writers = [
        CodeWriter(folder / f"{i}.npy", column.decimals)
        for i, column in enumerate(layout.channels)
    ]
    try:
        stated = settings.interval or layout.interval
        blocks = blocks_of(path, layout, _wanted(layout), engine=engine)
        told = _shown(blocks, size, progress)
        notes = _read(path, layout, clock, writers, _without_tail(told), stated)
    finally:
        written = [writer.close() for writer in writers]
    interval, note = _interval(path, layout, clock, settings, written[0].count)
    channels = []
    for i, (column, done) in enumerate(zip(layout.channels, written, strict=True)):
        if len(done.missing) > MOST_STRETCHES:
            raise FileError(
                f"{path.name}: {column.name!r} has {len(done.missing)} stretches of "
                "missing samples. Export it without them, or see that its column is "
                "one of numbers."
            )
        begins = clock.begins or [(0, layout.start or 0.0)]
        parts = parts_between(done.count, begins, done.missing, interval or 0.0)
        codes = np.load(folder / f"{i}.npy", mmap_mode="r")
        channels.append(
            Channel(
                column.name,
                column.unit,
                codes,
                done.step,
                0.0,
                interval,
                parts,
                said=layout.said[i],
            )  # fmt: skip
        )
    return Read(tuple(channels), (*layout.notes, *notes, *note))


def _resolution(layout: Layout) -> float:
    if layout.time is None:
        return 0.0
    return 10.0**-layout.time.decimals * layout.time_factor


def _wanted(layout: Layout) -> list[int]:
    columns = (layout.time, layout.counter, *layout.channels)
    return sorted(column.index for column in columns if column is not None)


def _shown(
    blocks: Iterator[Block], size: int, progress: Progress | None
) -> Iterator[Block]:
    for block in blocks:
        yield block
        if progress:
            progress(block.done / size)


def _read(
    path: Path,
    layout: Layout,
    clock: Clock,
    writers: list[CodeWriter],
    blocks: Iterator[Block],
    stated: float | None,
) -> list[str]:
    """Pass all numbers on to clock and writers; return notes."""
    indices, notes = _wanted(layout), []
    timed = layout.time or layout.counter
    factor, start = layout.time_factor, 0.0
    if layout.counter is not None:
        factor, start = stated or 1.0, layout.start or 0.0
    for block in blocks:
        found = dict(zip(indices, block.columns, strict=True))
        if timed is not None:
            times = found[timed.index]
            if (factor, start) != (1.0, 0.0):
                times = times * factor + start
            if fault := clock.follow(times):
                raise _fault(path, layout, fault)
        for column, writer in zip(layout.channels, writers, strict=True):
            writer.append(found[column.index])
        notes += [block.note] if block.note else []
    if fault := clock.drift():
        raise _fault(path, layout, fault)
    return notes


def _without_tail(blocks: Iterator[Block]) -> Iterator[Block]:
    """Hold back lines at the end that have no value at all."""
    held = 0
    for block in blocks:
        columns = block.columns
        if held:
            blank = np.full(held, np.nan)
            columns = [np.concatenate([blank, column]) for column in columns]
            held = 0
        while len(columns[0]) and all(math.isnan(c[-1]) for c in columns):
            empty = np.isnan(columns).all(axis=0)
            some = np.flatnonzero(~empty)
            keep = int(some[-1]) + 1 if some.size else 0
            held = len(columns[0]) - keep
            columns = [column[:keep] for column in columns]
        yield replace(block, columns=columns)


def _interval(
    path: Path, layout: Layout, clock: Clock, settings: CaptureSettings, count: int
) -> tuple[float | None, list[str]]:
    """Return the interval, from the best witness of it, and what disagrees."""
    if not count:
        raise FileError(f"{path.name} holds no samples. Export the capture again.")
    stated = settings.interval or layout.interval
    if layout.time is None:
        return stated, []
    if count == 1:
        raise FileError(
            f"{path.name} line {layout.header + 1}: a single sample is no capture. "
            "Export the whole record."
        )
    seen = clock.interval
    if not seen:
        return stated, []
    rounding = 2 * clock.resolution / count + 1e-6 * seen
    if stated and abs(stated - seen) > rounding:
        return seen, [
            f"the times rise by {seen:.6g} s, {stated:.6g} s is stated; the times "
            "were taken"
        ]
    # The header is exact where the times are rounded.
    return stated or seen, []


def _fault(path: Path, layout: Layout, fault: Fault) -> FileError:
    line = _line_of_row(path, layout, fault.row)
    return FileError(
        f"{path.name} line {line}: {fault.text}. A capture has equal steps: export it "
        "again with one interval, or put the part that has them in a file of its own; "
        "this file was not changed."
    )


def _line_of_row(path: Path, layout: Layout, row: int) -> int:
    """Return the line, from 1, of a row of numbers, from 0; blank lines count."""
    with path.open(encoding=layout.encoding, errors="replace") as file:
        rows = -1
        for line, text in enumerate(file, 1):
            rows += line > layout.header and bool(text.strip())
            if rows == row:
                return line
    return layout.header + 1 + row

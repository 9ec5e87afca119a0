"""The numbers of a CSV, a megabyte at a time, by pyarrow or else by pandas.

Both give the same numbers, pandas to the last digit but one of double precision;
pyarrow (extra ``captures``) is several times faster.
Whatever neither understands is looked for by hand and said with its line.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from benchproof.keeping.captures.csvheader import MISSING, is_number, split
from benchproof.keeping.captures.csvlayout import SAMPLE, Layout
from benchproof.values.errors import FileError
from benchproof.values.inturn import in_turn

Floats = NDArray[np.float64]
Parse = Callable[[memoryview, Layout, Sequence[int]], list[Floats]]

CHUNK = 1 << 20
"""Bytes to a block: what is done to it stays in the cache of the processor."""

_BLANK = re.compile(rb"\n\r?\n")
_MARK = b"\xef\xbb\xbf"  # of a file in UTF-8


@dataclass(frozen=True, slots=True)
class Chunk:
    """Whole lines of text, where they begin and end, whether they are the last."""

    text: memoryview
    begin: int
    done: int
    is_last: bool


@dataclass(frozen=True, slots=True)
class Block:
    """Consecutive lines of numbers.

    Attributes
    ----------
    columns : list of array
        One for each column asked for, shape (n,); not-a-number where missing.
    done : int
        Bytes of the file read so far.
    note : str
        Of a last line that was left out because it is incomplete.
    """

    columns: list[Floats]
    done: int
    note: str = ""


def blocks_of(
    path: Path,
    layout: Layout,
    columns: Sequence[int],
    *,
    engine: str = "",
) -> Iterator[Block]:
    """Yield the numbers of a file, block by block.

    Parameters
    ----------
    columns : sequence of int
        Indices of the cells wanted, rising.
    engine : {"", "pyarrow", "pandas"}
        "" takes pyarrow where it is installed.

    Raises
    ------
    FileError
        Naming the line that could not be understood.
    """
    parse = parser_for(layout, engine)

    def block(chunk: Chunk) -> Block:
        found = _parsed(chunk.text, layout, columns, parse)
        if found is not None:
            return Block(found, chunk.done)
        found, note = _by_hand(path, chunk, layout, columns)
        return Block(found, chunk.done, note)

    with path.open("rb") as file:
        yield from in_turn(block, _chunks(file, layout.header))


def _parsed(
    text: memoryview, layout: Layout, columns: Sequence[int], parse: Parse
) -> list[Floats] | None:
    """Return the columns, None if a line has to be looked for."""
    # Where no time tells, a blank line may be a sample that is missing.
    if layout.time is None and _BLANK.search(text):
        return None
    # pandas takes a plus sign, pyarrow does not.
    for reader in (parse, _by_pandas):
        try:
            return reader(text, layout, columns)
        except ValueError:
            continue
    return None


def parser_for(layout: Layout, engine: str = "") -> Parse:
    """Choose what reads the numbers; white space and Latin-1 are for pandas."""
    if engine != "pandas" and find_spec("pyarrow") and layout.delimiter != " ":
        return _by_pyarrow
    return _by_pandas


def _chunks(file: BinaryIO, header: int) -> Iterator[Chunk]:
    """Cut what stands behind the header into whole lines, about `CHUNK` at a time.

    The piece of a line at the end is read again with the next, which costs less than
    to copy all that was read.
    """
    start = file.read(SAMPLE)
    old_mac = b"\n" not in start and b"\r" in start
    end_of_line, done = b"\r" if old_mac else b"\n", 0
    for _ in range(header):
        done = start.index(end_of_line, done) + 1
    if not header and start.startswith(_MARK):
        done = len(_MARK)
    size = CHUNK
    while True:
        file.seek(done)
        got = file.read(size)
        is_last = len(got) < size
        end = len(got) if is_last else got.rfind(end_of_line) + 1
        if not (end or is_last):  # a line longer than all that
            size *= 2
            continue
        begin, done = done, done + end
        if is_last:
            end = len(got.rstrip(b"\r\n \0\x1a"))
        if old_mac:
            got = got.replace(b"\r", b"\n")
        if end:
            yield Chunk(memoryview(got)[:end], begin, done, is_last)
        if is_last:
            return


def _by_pyarrow(
    text: memoryview, layout: Layout, columns: Sequence[int]
) -> list[Floats]:
    import pyarrow
    from pyarrow import csv

    names = [str(i) for i in range(layout.width)]
    wanted = [names[i] for i in columns]

    def table(missing: Sequence[str]) -> Any:
        return csv.read_csv(
            pyarrow.BufferReader(pyarrow.py_buffer(text)),
            # The blocks have their threads; one piece need not be put together.
            csv.ReadOptions(
                column_names=names, block_size=len(text) + 1, use_threads=False
            ),
            csv.ParseOptions(delimiter=layout.delimiter or "\x1f"),
            csv.ConvertOptions(
                column_types=dict.fromkeys(wanted, pyarrow.float64()),
                include_columns=wanted,
                null_values=list(missing),
                decimal_point=layout.decimal,
                check_utf8=False,
            ),
        )

    try:
        found = table(())  # comparing each cell with words takes a third of the time
    except pyarrow.ArrowInvalid:
        found = table(MISSING)
    return [np.asarray(found.column(n).to_numpy(), dtype=np.float64) for n in wanted]


def _by_pandas(
    view: memoryview, layout: Layout, columns: Sequence[int]
) -> list[Floats]:
    import pandas as pd

    text = bytes(view).rstrip(b"\r\n")
    lines = text.count(b"\n") + 1
    if layout.delimiter.strip() or layout.delimiter == "\t":
        # pandas would fill a line that is too short.
        blank = 0
        if _BLANK.search(text):
            blank = lines - sum(map(bool, map(bytes.strip, text.splitlines())))
        marks = text.count(layout.delimiter.encode())
        if marks != (lines - blank) * (layout.width - 1):
            raise ValueError("a line with too many or too few cells")
    frame = pd.read_csv(
        io.BytesIO(text),
        header=None,
        names=list(range(layout.width)),
        usecols=list(columns),
        sep=r"\s+" if layout.delimiter == " " else layout.delimiter or "\x1f",
        decimal=layout.decimal,
        dtype=np.float64,
        na_values=list(MISSING),
        keep_default_na=False,
        skipinitialspace=True,
        encoding=layout.encoding,
        index_col=False,
    )
    return [frame[i].to_numpy(dtype=np.float64) for i in columns]


def _by_hand(
    path: Path, chunk: Chunk, layout: Layout, columns: Sequence[int]
) -> tuple[list[Floats], str]:
    """Read a block line by line: slower, but it knows the line that is wrong."""
    text = bytes(chunk.text)
    lines = text.decode(layout.encoding, "replace").splitlines()
    rows, note = [], ""
    for at, line in enumerate(lines):
        cells = split(line, layout.delimiter)
        if not line.strip() and layout.time is not None:
            continue
        values = [_value(cells, i, layout) for i in columns]
        if line.strip() and len(cells) == layout.width and None not in values:
            rows.append(values)
            continue
        number = 1 + at + _lines_before(path, chunk.begin)
        if chunk.is_last and at == len(lines) - 1 and len(cells) < layout.width:
            note = f"line {number}, the last, is incomplete and was left out"
            break
        raise FileError(_complaint(path.name, number, line, cells, layout, columns))
    table = np.array(rows, dtype=np.float64).reshape(-1, len(columns))
    return list(np.ascontiguousarray(table.T)), note


def _value(cells: Sequence[str], i: int, layout: Layout) -> float | None:
    cell = cells[i] if i < len(cells) else None
    if cell is None or not (cell in MISSING or is_number(cell, layout.delimiter)):
        return None
    return float("nan") if cell in MISSING else float(cell.replace(",", "."))


def _lines_before(path: Path, place: int) -> int:
    """Count the lines of the file before a place; only when something is wrong."""
    lines = returns = 0
    with path.open("rb") as file:
        while got := file.read(min(CHUNK, place - file.tell())):
            lines, returns = lines + got.count(b"\n"), returns + got.count(b"\r")
    return lines or returns


def _complaint(
    name: str,
    number: int,
    line: str,
    cells: Sequence[str],
    layout: Layout,
    columns: Sequence[int],
) -> str:
    if not line.strip():
        return (
            f"{name} line {number} is blank; without a column of times it cannot be "
            "told whether a sample is missing. Remove it in a copy, or export the "
            "times too."
        )
    if len(cells) != layout.width:
        return (
            f"{name} line {number}: {line[:60]!r} has {len(cells)} cells where "
            f"{layout.width} are usual. Correct it in a copy of the file, or export "
            "the capture again."
        )
    bad = next(i for i in columns if _value(cells, i, layout) is None)
    return (
        f"{name} line {number}, cell {bad + 1}: {cells[bad]!r} is no number. Correct "
        "it in a copy of the file (an empty cell is a missing sample), or export the "
        "capture again."
    )

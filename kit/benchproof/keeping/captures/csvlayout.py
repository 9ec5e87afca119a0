"""How a CSV of an instrument is laid out: found in its first lines, not assumed.

Instruments write headers of any kind, with names, units and settings anywhere above
the numbers, sometimes beside them. The numbers are found first; what stands above
is then read as names, units, and an interval.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise

from benchproof.keeping.captures.csvheader import (
    COUNT,
    MISSING,
    Column,
    facts_in,
    is_number,
    known_unit,
    name_and_unit,
    named_columns,
    seconds_in,
    split,
)
from benchproof.keeping.captures.csvsettings import Said, says_settings, settings_in
from benchproof.values.errors import FileError

SAMPLE = 1 << 17
"""Bytes looked at; a header is shorter."""

_TIME = re.compile(r"^(?:time|t|zeit|temps|tiempo|tempo|seconds?)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the numbers of a file are and what belongs to them.

    Attributes
    ----------
    delimiter : str
        " " stands for any white space; "" for a single column.
    decimal : {".", ","}
    header : int
        Lines before the first line of numbers.
    width : int
        Cells in a line.
    time, counter : Column or None
        A column of times, or one that only counts the samples.
    channels : tuple of Column
    interval, start : float or None
        In s, if the header states them.
    encoding : str
    time_factor : float
        Seconds in a unit of the time column.
    notes : tuple of str
    said : tuple of dict
        How each channel was set, as `settings_in` finds it.
    """

    delimiter: str
    decimal: str
    header: int
    width: int
    time: Column | None
    counter: Column | None
    channels: tuple[Column, ...]
    interval: float | None
    start: float | None
    encoding: str
    time_factor: float = 1.0
    notes: tuple[str, ...] = ()
    said: tuple[Said, ...] = ()


def layout_of(
    sample: bytes,
    name: str,
    *,
    whole: bool = True,
    delimiter: str | None = None,
    decimal: str | None = None,
    time: str | None = None,
) -> Layout:
    r"""Find the layout of a file from its first bytes.

    Parameters
    ----------
    sample : bytes
        The beginning of the file.
    name : str
        Of the file, for messages.
    whole : bool
        Whether the sample is the whole file; else its last line is left out.
    delimiter, decimal : str or None
        Where they are known; else they are found.
    time : str or None
        Name of the time column; "" says that there is none.

    Raises
    ------
    FileError
        If there are no lines of numbers, with the first line and what to do.

    Examples
    --------
    >>> text = "Interval;4 ns\nt / µs;Rail / V\n0,000;1,25\n0,004;1,30\n0,008;1,20\n"
    >>> layout = layout_of(text.encode(), "rail.csv")
    >>> layout.delimiter, layout.decimal, layout.header, layout.channels[0].unit
    (';', ',', 2, 'V')
    """
    text, encoding = _decoded(sample, name)
    lines = text.split("\n" if "\n" in text else "\r")
    if len(lines) > 1 and (not whole or not lines[-1]):
        lines = lines[:-1]
    if not any(line.strip() for line in lines):
        raise FileError(f"{name} is empty. Export the capture again.")
    mark, first, columns = _numbers(lines, name, delimiter, decimal)
    header = [split(line, mark) for line in lines[:first]]
    rows = (split(line, mark) for line in lines[first:])
    data = list(islice(filter(any, rows), 2000))
    point = decimal or _decimal(data, columns, mark)
    if mark == " ":  # a line of words was taken apart
        header = [
            [" ".join(row)] if says_settings([" ".join(row)], point) else row
            for row in header
        ]
    heads = [row for row in header if not says_settings(row, point)]
    names = named_columns(heads, columns, data, point)
    when, counter = _time_column(names, data, point, time, name)
    facts = facts_in(header, point)
    notes: tuple[str, ...] = ()
    factor = 1.0
    if when is not None:
        factor = seconds_in(when.unit or "s") or 0.0
        if not factor:
            raise FileError(
                f"{name} line {first}: the time column {when.name!r} is in "
                f"{when.unit!r}, which is no unit of time. Name the right column "
                "with time = '…'."
            )
        if not when.unit:
            notes = (f"the time column {when.name!r} names no unit; taken as s",)
    channels = tuple(c for c in names if c not in (when, counter))
    if not channels:
        raise FileError(
            f"{name}: its only column of numbers, {names[0].name!r}, is the time. If "
            "it is a channel, say time = '' and give the interval."
        )
    said, odd = _said(header, data, names, channels, point)
    channels = tuple(
        c if c.unit else replace(c, unit=s.get("unit") or "")
        for c, s in zip(channels, said, strict=True)
    )
    width = max(Counter(len(row) for row in data).items(), key=lambda item: item[1])[0]
    return Layout(mark, point, first, width, when, counter, channels,
                  facts.get("interval"), facts.get("start"), encoding, factor,
                  (*notes, *odd), said)  # fmt: skip


def _said(
    header: Sequence[Sequence[str]],
    data: Sequence[Sequence[str]],
    names: Sequence[Column],
    channels: Sequence[Column],
    decimal: str,
) -> tuple[tuple[Said, ...], tuple[str, ...]]:
    """Find settings above the numbers, and beside the first of them."""
    places = [c.index for c in names]
    heads = [c.name for c in names]

    def heading(row: Sequence[str]) -> bool:
        cells = [row[i] for i in places] if len(row) > places[-1] else []
        named = [name_and_unit(cell)[0] for cell in cells]
        return named == heads or bool(cells) and all(map(known_unit, cells))

    above = [row for row in header if not heading(row)]
    beside = [
        [cell for i, cell in enumerate(row) if i not in places] for row in data[:60]
    ]
    return settings_in(above, beside, [c.name for c in channels], decimal)


def _decoded(sample: bytes, name: str) -> tuple[str, str]:
    if sample[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in sample[:400]:
        raise FileError(
            f"{name} is not plain text (UTF-16 or binary). Save it as CSV in UTF-8, or "
            "say what it is with type = 'int16', interval and step."
        )
    try:
        # A character may be cut at the end of the sample.
        return sample[: len(sample) - 3].decode("utf-8-sig") + sample[
            len(sample) - 3 :
        ].decode("utf-8", "ignore"), "utf-8"
    except UnicodeDecodeError:
        return sample.decode("latin-1"), "latin-1"


def _numbers(
    lines: Sequence[str], name: str, delimiter: str | None, decimal: str | None
) -> tuple[str, int, tuple[int, ...]]:
    """Return delimiter, first line of numbers and the columns they stand in."""
    best: tuple[int, int, str, tuple[int, ...]] | None = None
    marks = ("\t", ";", ",", " ", "") if delimiter is None else (delimiter,)
    for rank, mark in enumerate(marks):
        if delimiter is None and mark == "," and decimal == ",":
            continue
        columns = _columns([split(line, mark) for line in lines[-40:]], mark)
        if columns and (best is None or len(columns) > best[0]):
            best = (len(columns), rank, mark, columns)
    if best is None:
        raise FileError(
            f"{name}: no lines of numbers were found; line 1 is {lines[0][:60]!r}. See "
            "that it is a capture in CSV, with at least one number in its last lines."
        )
    mark, columns = best[2], best[3]
    filled = [i for i, line in enumerate(lines) if line.strip()]
    if mark == "," and delimiter is None and decimal is None:
        _refuse_ambiguous(name, [line for line in lines if line.strip(" ,\r")])

    def good(i: int) -> bool:
        return is_data(split(lines[i], mark), columns, mark)

    # A line of numbers in the header stands alone; two in a row are the record.
    for first, second in pairwise([*filled, filled[-1]]):
        if good(first) and good(second):
            return mark, first, columns
    raise FileError(
        f"{name} line {len(lines)}: {lines[-1][:60]!r} stands alone as numbers. Give "
        "delimiter and decimal if they are unusual."
    )


def _refuse_ambiguous(name: str, lines: Sequence[str]) -> None:
    """Refuse ``1,25``: it may be two whole numbers, or one with a decimal comma."""
    data = [split(line, ",") for line in lines[-20:]]
    whole = all(
        len(row) == 2 and row[0].lstrip("+-").isdigit() and row[1].isdigit()
        for row in data
    )
    even = len({len(row[-1]) for row in data}) == 1
    counts = len(data) > 1 and len({row[0] for row in data}) == len(data)
    if not whole or not even or counts:
        return
    rows = (split(line, ",") for line in lines)
    if not any(len(row) == 2 and not row[0][-1:].isdigit() for row in rows):
        raise FileError(
            f"{name}: {','.join(data[-1])!r} may be one number with a decimal comma or "
            "two numbers. Say decimal = ',' or delimiter = ','."
        )


def _columns(rows: Sequence[Sequence[str]], mark: str) -> tuple[int, ...]:
    """Return the columns of numbers that most of the last lines agree on."""
    found = Counter(
        (len(row), tuple(i for i, cell in enumerate(row) if is_number(cell, mark)))
        for row in rows
        if any(row)
    )
    found = Counter({key: n for key, n in found.items() if key[1]})
    if not found:
        return ()
    width = Counter[int]()
    for (cells, _), n in found.items():
        width[cells] += n
    usual = width.most_common(1)[0][0]
    whole = [row for row in rows if len(row) == usual]
    counts = {i: sum(is_number(row[i], mark) for row in whole) for i in range(usual)}
    blank = {i: sum(row[i] in MISSING for row in whole) for i in range(usual)}
    # A column with values only here and there is one of numbers all the same.
    return tuple(
        i
        for i, n in counts.items()
        if n and (n + blank[i] == len(whole) or n >= max(counts.values()) / 4)
    )


def is_data(row: Sequence[str], columns: Sequence[int], delimiter: str) -> bool:
    """Tell whether a line holds numbers, or nothing, in each of the columns."""
    if len(row) <= columns[-1]:
        return False
    cells = [row[i] for i in columns]
    numbers = [is_number(cell, delimiter) for cell in cells]
    missing = [cell in MISSING for cell in cells]
    return any(numbers) and all(n or m for n, m in zip(numbers, missing, strict=True))


def _decimal(
    rows: Sequence[Sequence[str]], columns: Sequence[int], delimiter: str
) -> str:
    cells = [row[i] for row in rows for i in columns if i < len(row)]
    commas = any("," in cell for cell in cells) and delimiter != ","
    return "," if commas else "."


def _time_column(
    columns: Sequence[Column],
    data: Sequence[Sequence[str]],
    decimal: str,
    wanted: str | None,
    name: str,
) -> tuple[Column | None, Column | None]:
    """Tell the column of times, or the one that counts; None for none."""
    if wanted == "":
        return None, None
    if wanted is not None:
        for column in columns:
            if wanted in (column.name, str(column.index + 1)):
                return column, None
        known = ", ".join(repr(c.name) for c in columns)
        raise FileError(f"{name}: there is no column {wanted!r}; it has {known}.")
    first = columns[0]
    steps = _equal_steps(first, data, decimal)
    counts = steps == 1.0 and not first.decimals
    timed = seconds_in(first.unit) is not None if first.unit else bool(
        _TIME.match(first.name))  # fmt: skip
    if counts and not timed:
        if COUNT.match(first.name):
            return None, first
        if len(columns) > 1 and first.name.startswith("column "):
            return None, first
    if timed:
        return first, None
    if len(columns) > 1 and steps and first.name.startswith(("column ", "x", "X")):
        return first, None
    return None, None


def _equal_steps(
    column: Column, data: Sequence[Sequence[str]], decimal: str
) -> float | None:
    """Return the step of a column that rises evenly, None if it does not."""
    cells = [row[column.index].replace(decimal, ".") for row in data[:50]
             if column.index < len(row) and row[column.index] not in MISSING
             ]  # fmt: skip
    try:
        values = [float(cell) for cell in cells]
    except ValueError:  # a stray word: what reads the numbers names its line
        return None
    steps = [b - a for a, b in zip(values, values[1:], strict=False)]
    if not steps or min(steps) <= 0 or max(steps) > 1.05 * min(steps):
        return None
    return steps[0]

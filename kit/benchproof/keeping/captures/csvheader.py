"""What the header of an instrument's CSV says: names, units, and an interval."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_POINT_ONLY = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
MISSING = ("", "nan", "NaN", "NAN", "-nan", "null", "NULL", "--", "---", "#N/A")
"""Cells that hold no value."""

_INTERVAL = re.compile(
    r"^(?:sampl\w*\s+)?(?:interval|period|increment)|^[xt]\W?\s?incr|"
    r"^(?:delta|Δ|d)\s?[tx]$|time\s?(?:step|increment)|sampl\w*\s+time",
    re.IGNORECASE,
)
_RATE = re.compile(r"sampl\w*\s?(?:rate|frequency)", re.IGNORECASE)
_START = re.compile(r"^(?:start|first)(?:\s+time)?$|^[xt]\W?\s?(?:origin|zero|start)$",
                    re.IGNORECASE)  # fmt: skip
COUNT = re.compile(r"^(?:x|n|no|nr|index|sample|point|sequence|row)s?\b", re.IGNORECASE)
"""Headings of a column that counts the samples."""
_NAME_UNIT = re.compile(r"^(?P<name>.*?)\s*(?:[(\[]\s*(?P<unit>[^()\[\]]*?)\s*[)\]]|"
                        r"\s(?:in|/)\s(?P<word>\S+)|/(?P<after>[^/\s]+))$")  # fmt: skip

_WORDS = {"volt": "V", "volts": "V", "ampere": "A", "amperes": "A", "amps": "A",
          "sec": "s", "second": "s", "seconds": "s"}  # fmt: skip
"""Units as headings spell them."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of numbers.

    Attributes
    ----------
    index : int
        From 0, in the line.
    name, unit : str
        As the header has them; "" if it has none.
    decimals : int
        Digits behind the decimal point of the longest number seen, after the
        exponent is applied.
    """

    index: int
    name: str
    unit: str = ""
    decimals: int = 0


def split(line: str, delimiter: str) -> list[str]:
    """Split a line into stripped cells; quotes around a cell are taken off."""
    if delimiter == " ":
        return line.split()
    cells = line.split(delimiter) if delimiter else [line]
    return [cell.strip().strip('"').strip() for cell in cells]


def is_number(cell: str, delimiter: str) -> bool:
    """Tell whether a cell is a number; a comma is decimal unless it separates."""
    pattern = _POINT_ONLY if delimiter == "," else _NUMBER
    return bool(pattern.fullmatch(cell))


def decimals_in(cells: Sequence[str], decimal: str) -> int:
    """Return the digits behind the point of the finest number, exponent applied.

    Examples
    --------
    >>> decimals_in(["1.25", "-3.5E-03", "7"], ".")
    4
    """
    finest = 0
    for cell in filter(_NUMBER.fullmatch, cells):
        mantissa, _, exponent = cell.lower().partition("e")
        digits = len(mantissa.partition(decimal)[2])
        finest = max(finest, digits - int(exponent or 0))
    return finest


def name_and_unit(head: str) -> tuple[str, str]:
    """Split a heading into a name and a unit.

    Examples
    --------
    >>> name_and_unit("CH1 (mV)"), name_and_unit("Voltage / V"), name_and_unit("Rail")
    (('CH1', 'mV'), ('Voltage', 'V'), ('Rail', ''))
    """
    match = _NAME_UNIT.match(head.strip())
    if not match:
        return head.strip(), ""
    unit = match["unit"] or match["word"] or match["after"] or ""
    if known_unit(unit) is None:
        return head.strip(), ""
    return match["name"].strip(" ,"), unit


def known_unit(text: str) -> Unit | None:
    """Return a unit of a heading, None if it is none."""
    try:
        return unit_of(_WORDS.get(text.lower(), text)) if text else None
    except InputError:
        return None


def named_columns(
    header: Sequence[Sequence[str]],
    columns: Sequence[int],
    data: Sequence[Sequence[str]],
    decimal: str,
) -> tuple[Column, ...]:
    """Name the columns from the last lines of the header that fit them."""
    fitting = [row for row in header[-4:] if _heads(row, columns)]
    above, below = ([], *fitting)[-2:] if fitting else ([], [])
    # A line of units only stands below the line of names.
    units_line = bool(below) and all(
        known_unit(cell) is not None or COUNT.match(cell)
        for cell in (below[i].strip("()[] ") for i in columns)
    )
    names = above if units_line and above else below
    found = []
    for place, i in enumerate(columns):
        name, unit = name_and_unit(names[i]) if names else ("", "")
        if units_line and above:
            unit = below[i].strip("()[] ")
            unit = unit if known_unit(unit) else ""
        cells = [row[i] for row in data if i < len(row) and row[i] not in MISSING]
        name = name or f"column {place + 1}"
        found.append(Column(i, name, unit, decimals_in(cells, decimal)))
    return tuple(found)


def _heads(row: Sequence[str], columns: Sequence[int]) -> bool:
    """Tell whether a line may be headings: a text for each column of numbers."""
    if len(row) <= columns[-1]:
        return False
    cells = [row[i] for i in columns]
    return all(cell and not _NUMBER.fullmatch(cell) for cell in cells)


def seconds_in(unit: str) -> float | None:
    """Return the seconds in a unit of time, None if it is none.

    Examples
    --------
    >>> seconds_in("ms"), seconds_in("V")
    (0.001, None)
    """
    known = known_unit(unit)
    if known is None or known.dimension != unit_of("s").dimension:
        return None
    return known.factor


def facts_in(header: Sequence[Sequence[str]], decimal: str) -> dict[str, float]:
    """Find interval and start in the header: beside their word or below it."""
    facts: dict[str, float] = {}
    for at, line in enumerate(header):
        row = apart(line, decimal)
        for i, cell in enumerate(row):
            key, _, rest = (
                part.strip() for part in re.sub("=", ":", cell).partition(":")
            )
            word, inner = name_and_unit(key)
            kind = _kind(word)
            if kind is None or kind in facts:
                continue
            beside = [rest] if rest else [c for c in row[i + 1 : i + 3]]
            below = [header[at + 1][i]] if at + 1 < len(header) and (
                i < len(header[at + 1])) else []  # fmt: skip
            value = _seconds(beside, inner, word, decimal)
            if value is None:
                value = _seconds(below, inner, word, decimal)
            if value is not None:
                facts[kind] = value
    return facts


def apart(line: Sequence[str], decimal: str) -> Sequence[str]:
    """Split a line of a single cell: above one column its mark is another one."""
    if len(line) != 1 or re.search("[:=]", line[0]):
        return line
    for mark in "\t;,":
        if mark in line[0]:
            whole = line[0].split(mark, 1 if mark == decimal else -1)
            return [cell.strip() for cell in whole]
    return line


def tells_time(word: str) -> bool:
    """Tell whether a word of the header stands for interval or start."""
    return _kind(name_and_unit(word)[0]) is not None


def _kind(word: str) -> str | None:
    if _INTERVAL.search(word) or _RATE.search(word):
        return "interval"
    return "start" if _START.search(word) else None


def _seconds(cells: Sequence[str], unit: str, word: str, decimal: str) -> float | None:
    """Read a time, or a rate as its reciprocal, from a cell and perhaps the next."""
    if not cells:
        return None
    match = re.match(rf"({_NUMBER.pattern})\s*(.*)$", cells[0])
    if not match:
        return None
    try:
        number = float(match[1].replace(decimal, "."))
    except ValueError:  # the other mark is decimal in this file
        return None
    following = cells[1] if len(cells) > 1 else ""
    beside = match[2].strip(' ,;"')
    symbol = beside or unit or following
    symbol = re.sub(r"(?:Sa|S|samples?|points?|pts)/s$", "Hz", symbol)
    symbol = re.sub(r"(?<=s)/(?:Sa|samples?|points?|pts?)$", "", symbol)
    known = known_unit(symbol)
    dimension = known.dimension if known else ()
    rate = dimension == unit_of("Hz").dimension
    timed = rate or dimension == unit_of("s").dimension
    if beside and not timed:
        return None  # a word beside the number: better asked than taken for s
    # What follows and is no unit of time is another fact.
    factor = known.factor if known and timed else 1.0
    if rate or _RATE.search(word):
        return 1 / (number * factor) if number > 0 else None
    return number * factor

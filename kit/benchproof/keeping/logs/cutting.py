"""Many rows at once: where their cells are is found first, they are cut on demand.

What could be read in another way than `rowformat` reads it is left to that, from the
first such row on; so are a torn row and every refusal.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from typing import TYPE_CHECKING, overload

import numpy as np

from benchproof.keeping.logs.rowformat import Row

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Places = NDArray[np.int32]
    Bytes = NDArray[np.uint8]

_QUOTE, _COMMA, _NEWLINE, _RETURN, _ZERO = b'",\n\r0'
_LARGEST = 2**31 - 1  # bytes, which 32-bit places can count


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Whole rows that follow a header, and where each cell begins and ends.

    Parameters
    ----------
    body : bytes
        The rows.
    starts, ends : array of int
        Place in it of each cell, a row per row and a column per column.
    lines : array of int
        Line of the file on which each row starts.
    columns : mapping of str to int
        Place of each column.
    size, newlines : int
        Number of bytes and of lines of header and rows.
    """

    body: bytes
    starts: Places
    ends: Places
    lines: Places
    columns: Mapping[str, int]
    size: int
    newlines: int

    def __len__(self) -> int:
        return len(self.lines)

    def column(self, name: str) -> list[str]:
        """Return the cells of one column."""
        raw = self._raw(name, name)
        text = b"\0".join(raw).decode()  # there is none in a log
        if '"' in text or not raw:
            return [_split(cell)[0] for cell in raw]
        return text.split("\0")

    def cells(self, first: str, last: str) -> list[tuple[str, ...]]:
        """Return the cells of adjacent columns, one tuple a row.

        Rows that are the same there share the tuple.
        """
        raw = self._raw(first, last)
        known = {said: _split(said) for said in set(raw)}
        return [known[said] for said in raw]

    def _raw(self, first: str, last: str) -> list[bytes]:
        starts = self.starts[:, self.columns[first]].tolist()
        ends = self.ends[:, self.columns[last]].tolist()
        return [self.body[a:b] for a, b in zip(starts, ends, strict=True)]

    def row(self, i: int) -> Row:
        """Return one row, from 0."""
        cells = _split(self.body[self.starts[i, 0] : self.ends[i, -1]])
        return Row(int(self.lines[i]), cells, self.columns)

    def __iter__(self) -> Iterator[Row]:
        cells = map(tuple, _reader(self.body.decode()))
        return map(Row, self.lines.tolist(), cells, repeat(self.columns))


def _reader(text: str) -> Iterator[list[str]]:
    # Not splitlines(), which also splits at characters that cells may hold.
    return csv.reader(io.StringIO(text, newline="\n"), strict=True)


def _split(raw: bytes) -> tuple[str, ...]:
    text = raw.decode()
    return tuple(next(_reader(text)) if '"' in text else text.split(","))


class LogRows(Sequence[Row]):
    """Rows of a log: many that are cut when asked for, and those behind them.

    Attributes
    ----------
    cut : Cut
    later : list of Row
    """

    def __init__(self, cut: Cut, later: list[Row]) -> None:
        self.cut = cut
        self.later = later

    def __len__(self) -> int:
        return len(self.cut) + len(self.later)

    def __iter__(self) -> Iterator[Row]:
        yield from self.cut
        yield from self.later

    def extend(self, rows: list[Row]) -> None:
        """Add rows behind the others."""
        self.later += rows

    @overload
    def __getitem__(self, asked: int) -> Row: ...
    @overload
    def __getitem__(self, asked: slice) -> list[Row]: ...
    def __getitem__(self, asked: int | slice) -> Row | list[Row]:
        first = len(self.cut)
        if isinstance(asked, slice):
            start, stop, step = asked.indices(len(self))
            if step == 1 and start >= first:
                return self.later[start - first : stop - first]
            return list(self)[asked]
        place = range(len(self))[asked]
        return self.cut.row(place) if place < first else self.later[place - first]


def cut_rows(data: bytes, columns: Mapping[str, int], prefix: str) -> Cut | None:
    r"""Find the leading rows of a file that can be read in one way only.

    Parameters
    ----------
    data : bytes
        All of the file, to its end.
    columns : mapping of str to int
        Place of each column; the first holds the row id.
    prefix : str
        What row ids start with.

    Returns
    -------
    Cut or None
        None if not even the header, or the text as a whole, is sound, and for 2 GB.

    Examples
    --------
    >>> data = b'row,at\nr-0001,"P1, asleep"\nr-0002,P2\nr-0003,'
    >>> cut = cut_rows(data, {"row": 0, "at": 1}, "r")
    >>> cut.cells("at", "at"), data[cut.size :]
    ([('P1, asleep',), ('P2',)], b'r-0003,')
    """
    header = ",".join(columns).encode()
    head = data.find(b"\n") + 1
    whole = data.rfind(b"\n") + 1
    if data[:head].removesuffix(b"\n").removesuffix(b"\r") != header or not head:
        return None
    body = data[head:whole]
    if not body or len(body) > _LARGEST or b"\0" in body or not _is_utf8(body):
        return None
    codes = np.frombuffer(body, np.uint8)
    ends, breaks = _cell_ends(codes, len(columns))
    starts = np.append(np.int32(-1), ends.ravel())[:-1].reshape(ends.shape) + 1
    rows = _last_sound(codes, starts, ends, prefix)
    starts, ends = starts[:rows], ends[:rows]
    lines = 2 + np.searchsorted(breaks, starts[:, 0]).astype(np.int32)
    size = int(ends[-1, -1]) + 1 if rows else 0
    newlines = int(np.searchsorted(breaks, size)) + 1
    ends[:, -1] -= codes[ends[:, -1] - 1] == _RETURN
    return Cut(body[:size], starts, ends, lines, columns, head + size, newlines)


def _is_utf8(body: bytes) -> bool:
    try:
        body.decode()
    except UnicodeDecodeError:
        return False
    return True


def _cell_ends(codes: Bytes, width: int) -> tuple[Places, Places]:
    """Return where the cells of well-formed rows end, and where lines do."""
    is_mark = (codes == _COMMA) | (codes == _NEWLINE)
    is_mark |= (codes == _QUOTE) | (codes == _RETURN)
    marks = np.flatnonzero(is_mark).astype(np.int32)
    kinds = codes[marks]
    is_quote = kinds == _QUOTE
    outside = np.cumsum(is_quote, dtype=np.uint8) & 1 == 0
    odd = _astray(codes, marks[is_quote], marks[(kinds == _RETURN) & outside])
    is_end = outside & ((kinds == _COMMA) | (kinds == _NEWLINE))
    ends = marks[is_end]
    count = len(ends) // width
    ends = ends[: count * width].reshape(count, width)
    is_break = codes[ends] == _NEWLINE
    formed = is_break[:, -1] & ~is_break[:, :-1].any(axis=1) & (ends[:, -1] < odd)
    count = count if formed.all() else int(np.argmin(formed))
    return ends[:count], marks[kinds == _NEWLINE]


def _astray(codes: Bytes, quotes: Places, returns: Places) -> int:
    """Return the place of the first quote or carriage return that is out of place.

    A quoted cell begins and ends with a quote; a quote in it is written twice.
    """
    opening, closing = quotes[0::2], quotes[1::2]
    before = codes[opening - 1]
    may_open = (before == _COMMA) | (before == _NEWLINE) | (before == _QUOTE)
    after = codes[closing + 1]
    may_close = (after == _COMMA) | (after == _NEWLINE)
    may_close |= (after == _QUOTE) | (after == _RETURN)
    # The first byte has none before it: index -1 is the newline at the end.
    at_end = codes[returns + 1] == _NEWLINE
    odd = [opening[~may_open], closing[~may_close], returns[~at_end]]
    return min([int(places[0]) for places in odd if len(places)] or [len(codes)])


def _last_sound(codes: Bytes, starts: Places, ends: Places, prefix: str) -> int:
    """Count the leading rows that are numbered as they should be, in short cells."""
    sound = (ends - starts).max(axis=1, initial=0) <= csv.field_size_limit()
    stem = f"{prefix}-".encode()
    first, last = starts[:, 0], ends[:, 0]
    numbers = np.arange(1, len(first) + 1, dtype=np.int32)
    digits = 4 + np.searchsorted(10 ** np.arange(4, 9), numbers, "right")
    sound &= last - first == len(stem) + digits
    for place, code in enumerate(stem):
        sound &= codes.take(first + place, mode="clip") == code
    for power in range(int(digits.max(initial=0))):
        seen = codes.take(last - 1 - power, mode="clip")
        sound &= (seen == numbers // 10**power % 10 + _ZERO) | (digits <= power)
    return len(sound) if sound.all() else int(np.argmin(sound))

"""Whole columns of a long ledger, looked at as bytes: no row of it is cut.

What is not plain here (quotes, signs, other words) is left to who reads row by row.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from benchproof.keeping.logs.cutting import Cut

_DIGITS = 9


def numbers_of(cut: Cut, column: str) -> NDArray[np.int64]:
    r"""Return the whole numbers of a column, -1 where something else stands.

    Examples
    --------
    >>> from benchproof.keeping.logs.cutting import cut_rows
    >>> data = b"row,place\nt-0001,12\nt-0002,x\nt-0003,\n"
    >>> numbers_of(cut_rows(data, {"row": 0, "place": 1}, "t"), "place").tolist()
    [12, -1, -1]
    """
    codes, first, last = _cells(cut, column, column)
    width = last - first
    sound = (width > 0) & (width <= _DIGITS)
    found = np.zeros(len(cut), np.int64)
    for place in range(min(int(width.max(initial=0)), _DIGITS)):
        here = width > place
        digit = codes[last - 1 - place] - np.uint8(ord("0"))  # others wrap beyond 9
        sound &= ~here | (digit <= 9)
        found += np.where(here, digit.astype(np.int64) * 10**place, 0)
    return np.where(sound, found, -1)


def rows_with(cut: Cut, column: str, words: Sequence[str]) -> NDArray[np.bool_]:
    r"""Tell in which rows a column holds one of some words.

    Examples
    --------
    >>> from benchproof.keeping.logs.cutting import cut_rows
    >>> data = b"row,outcome\nt-0001,lost\nt-0002,lots\n"
    >>> cut = cut_rows(data, {"row": 0, "outcome": 1}, "t")
    >>> rows_with(cut, "outcome", ["lost", "kept"]).tolist()
    [True, False]
    """
    codes, first, last = _cells(cut, column, column)
    found = np.zeros(len(cut), bool)
    for raw in (word.encode() for word in words):
        same = last - first == len(raw)
        for place, code in enumerate(raw):
            same &= codes[np.minimum(first + place, last)] == code
        found |= same
    return found


def runs_of(cut: Cut, first: str, last: str) -> Iterator[tuple[int, int]]:
    r"""Yield where rows begin and end that are the same in adjacent columns.

    Examples
    --------
    >>> from benchproof.keeping.logs.cutting import cut_rows
    >>> data = b"row,kind\nt-0001,plan\nt-0002,planned\nt-0003,planned\n"
    >>> list(runs_of(cut_rows(data, {"row": 0, "kind": 1}, "t"), "kind", "kind"))
    [(0, 1), (1, 3)]
    """
    codes, starts, ends = _cells(cut, first, last)
    width = ends - starts
    same = width[1:] == width[:-1]
    for place in range(int(width.max(initial=0))):
        code = codes[np.minimum(starts + place, ends)]
        same &= code[1:] == code[:-1]
    begins = [0, *(np.flatnonzero(~same) + 1).tolist()]
    return zip(begins, [*begins[1:], len(cut)], strict=True)


def _cells(
    cut: Cut, first: str, last: str
) -> tuple[NDArray[np.uint8], NDArray[np.int32], NDArray[np.int32]]:
    """Return the bytes, and where the cells begin and end in them."""
    codes = np.frombuffer(cut.body, np.uint8)
    return codes, cut.starts[:, cut.columns[first]], cut.ends[:, cut.columns[last]]

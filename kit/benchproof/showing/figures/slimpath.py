"""A drawn path in fewer letters: steps from point to point, in tenths."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise

__all__ = ["slim_path"]

_TOKEN = re.compile(r"[A-Za-z]|[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?")
_PAIRS = {"M": 1, "L": 1, "Q": 2, "C": 3}
"""How many points follow each command we know."""
_TENTHS = 10


def slim_path(path: str) -> str:
    """Return a path with each point as a step of whole tenths from the one before.

    Rounding does not add up: a step leads to the rounded place of its point.

    Parameters
    ----------
    path : str
        Absolute moves, lines and curves (M, L, Q, C, Z). A path with any other
        command is returned as it is.

    References
    ----------
    SVG 1.1, 8.3.

    Examples
    --------
    >>> slim_path("M 0.5 10.02 L 1.25 9 L 1.5 9 L 1.52 9.01 C 2 9 3 8 4 8 z")
    'M.5 10l.7-1h.3c.5 0 1.5-1 2.5-1z'
    """
    try:
        return _glued(_steps(_TOKEN.findall(path)))
    except (KeyError, ValueError, IndexError):
        return path


def _steps(tokens: list[str]) -> Iterator[tuple[str, list[int]]]:
    """Yield each command that says something with its numbers, in tenths."""
    here = start = (0, 0)
    command, is_first, at = "", False, 0
    while at < len(tokens):
        if tokens[at].isalpha():
            command, at = tokens[at], at + 1
        if command in {"Z", "z"}:
            here, command = start, ""
            yield "z", []
            continue
        count = 2 * _PAIRS[command]
        flat = [round(_TENTHS * float(t)) for t in tokens[at : at + count]]
        at += count
        there = (flat[-2], flat[-1])
        if command == "M":
            start, command, is_first = there, "L", True
            yield "M", flat
        elif there != here or command != "L" or is_first:
            is_first = False
            step = [n - here[i % 2] for i, n in enumerate(flat)]
            yield _shortest(command.lower(), step)
        here = there


def _shortest(letter: str, step: list[int]) -> tuple[str, list[int]]:
    """Return a line along an axis by its one number."""
    if letter == "l" and step[1] == 0:
        return "h", step[:1]
    if letter == "l" and step[0] == 0:
        return "v", step[1:]
    return letter, step


def _glued(steps: Iterable[tuple[str, list[int]]]) -> str:
    """Write steps with only the letters and spaces that keep them apart."""
    text = said = number = ""
    for letter, tenths in steps:
        is_new = letter != said or letter in "Mz"
        text += letter if is_new else ""
        said, number = letter, "" if is_new else number
        for before, written in pairwise([number, *map(_written, tenths)]):
            number = written
            is_apart = number[0] == "-" or (number[0] == "." and "." in before)
            text += number if is_apart or not before else f" {number}"
    return text


def _written(tenths: int) -> str:
    text = f"{tenths / _TENTHS:.12g}"
    return text.replace("0.", ".", 1) if abs(tenths) < _TENTHS else text

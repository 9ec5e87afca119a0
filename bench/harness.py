"""Time a path beside its floor, in turn, and print the ratios of the medians."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

Act = Callable[[], object]
Candidate = Callable[[], Act]
"""Prepares, untimed, what is then timed once: memory of the last time would tell."""


def again(act: Act) -> Candidate:
    """Make a candidate of something that needs no preparing."""
    return lambda: act


def medians(repeats: int, *candidates: Candidate) -> list[float]:
    """Return the median seconds of each candidate; they run in turn, after one go.

    Taking turns lets a busy moment of the machine fall on all of them alike.
    """
    for prepare in candidates:
        prepare()()
    gc.collect()
    times: list[list[float]] = [[] for _ in candidates]
    for _ in range(repeats):
        for prepare, taken in zip(candidates, times, strict=True):
            act = prepare()
            start = time.perf_counter()
            act()
            taken.append(time.perf_counter() - start)
    return [statistics.median(taken) for taken in times]


@dataclass(frozen=True)
class Line:
    """One line of the report: times in seconds, None where there is no such thing."""

    path: str
    seconds: float | None = None
    floor_seconds: float | None = None
    target: float | None = None
    note: str = ""

    def cells(self) -> tuple[str, ...]:
        """Return path, time, floor, ratio, target, and whether it was met."""
        ratio = None
        if self.seconds is not None and self.floor_seconds:
            ratio = self.seconds / self.floor_seconds
        shown = "" if ratio is None else f"{ratio:.2f}"
        limit = "" if self.target is None else f"{self.target:g}"
        words = [] if ratio is None or self.target is None else [_word(self, ratio)]
        note = "; ".join([*words, *filter(None, [self.note])])
        return (self.path, _time(self.seconds), _time(self.floor_seconds),
                shown, limit, note)  # fmt: skip


def _word(line: Line, ratio: float) -> str:
    return "met" if line.target is not None and ratio <= line.target else "missed"


def _time(seconds: float | None) -> str:
    if seconds is None:
        return ""
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


HEADS = ("path", "time", "floor", "ratio", "target", "")


def report(lines: Sequence[Line]) -> str:
    """Return the lines as one table of text."""
    rows = [HEADS, *(line.cells() for line in lines)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    shown = []
    for row in rows:
        first, *numbers, last = row
        middle = [n.rjust(w) for n, w in zip(numbers, widths[1:-1], strict=True)]
        shown.append("  ".join([first.ljust(widths[0]), *middle, last]).rstrip())
    rule = "-" * max(map(len, shown))
    return "\n".join([shown[0], rule, *shown[1:]])

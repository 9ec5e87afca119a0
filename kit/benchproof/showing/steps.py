"""The cells of a run as lines: in place on a terminal, elsewhere one by one."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

from benchproof.values.tables import visible

__all__ = ["StepLines"]

_REWRITE = "\r\x1b[K"
"""Goes to the start of the line and clears it."""

_WIDEST = 78


class StepLines:
    """Tells each cell of a run with the seconds it took.

    On a terminal one line is written over and over, and its seconds count up. A file
    or a pipe gets a line per cell, whose seconds follow when the cell has ended.

    Parameters
    ----------
    stream : text stream
        Where the lines go.
    clock : callable
        Returns seconds.
    every : float
        Seconds after which the line on a terminal is written anew.

    Examples
    --------
    >>> import io
    >>> seconds = iter([0.0, 1.25, 1.25, 2.0])
    >>> lines = io.StringIO()
    >>> with StepLines(lines, clock=lambda: next(seconds)) as steps:
    ...     steps(1, 2, "Sample · x = 1")
    ...     steps(2, 2, "Sample · y = 2")
    >>> print(lines.getvalue(), end="")
    [1/2] Sample · x = 1  1.2 s
    [2/2] Sample · y = 2  0.8 s
    """

    def __init__(
        self,
        stream: TextIO,
        clock: Callable[[], float] = time.monotonic,
        every: float = 1.0,
    ) -> None:
        self._stream, self._clock, self._every = stream, clock, every
        self._terminal = stream.isatty()
        self._step, self._began = "", 0.0
        self._lock, self._closed = threading.Lock(), threading.Event()

    def __enter__(self) -> StepLines:
        if self._terminal:
            self._write(f"{_REWRITE}starting the kernel")
            threading.Thread(target=self._count, daemon=True).start()
        return self

    def __call__(self, number: int, count: int, title: str) -> None:
        """Begin a cell; the one before has ended."""
        with self._lock:
            self._end()
            self._step = visible(f"[{number}/{count}] {title}")
            self._began = self._clock()
            if self._terminal:
                self._rewrite(self._began)
            else:
                self._write(self._cut(_WIDEST))

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """End the last line; on a terminal it stays only if the run stopped there."""
        with self._lock:
            self._closed.set()
            if self._terminal and kind is None:
                self._write(_REWRITE)
            elif self._terminal:
                self._write("\n")
            else:
                self._end()

    def _end(self) -> None:
        if self._step and not self._terminal:
            self._write(f"  {self._clock() - self._began:.1f} s\n")

    def _count(self) -> None:
        while not self._closed.wait(self._every):
            with self._lock:
                if self._step and not self._closed.is_set():
                    self._rewrite(self._clock())

    def _rewrite(self, now: float) -> None:
        seconds = f"  {now - self._began:.0f} s"
        width = shutil.get_terminal_size().columns - 1 - len(seconds)
        self._write(f"{_REWRITE}{self._cut(width)}{seconds}")

    def _cut(self, width: int) -> str:
        step = self._step
        return step if len(step) <= width else f"{step[: max(width - 1, 0)]}…"

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()

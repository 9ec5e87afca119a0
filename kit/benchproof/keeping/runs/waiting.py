"""How far long work has come: a line on a terminal, one display in a notebook.

Work of less than two seconds shows nothing. Nor does work nobody waits for: where
output goes to a file, or a notebook runs without a person, nothing is written.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from benchproof.values.inturn import Progress
from benchproof.values.tables import escaped, visible

LONG = 2.0
"""Seconds from which work is worth a bar."""

_SOON = 0.5  # from then on what is left can be foretold
_EVERY = 0.2
_WIDTH = 20

Show = Callable[[str, float], None]
"""Takes the line and the fraction; an empty line takes away what was shown."""


@contextmanager
def waiting(
    title: str,
    progress: Progress | None = None,
    *,
    show: Show | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Progress]:
    """Give a callback that shows the fraction done while a block of code runs.

    Parameters
    ----------
    title : str
        What is being done, e.g. ``reading rail.csv``.
    progress : callable, optional
        Called instead, where somebody shows it in another way.
    show : callable, optional
        Where it is shown; else a terminal or a notebook, if there is either.
    clock : callable
        Returns seconds.

    Examples
    --------
    >>> seconds = iter([0.0, 1.0, 3.0])
    >>> said = lambda line, done: print(line or "(cleared)")
    >>> with waiting("reading", show=said, clock=lambda: next(seconds)) as done:
    ...     done(0.25)
    ...     done(0.75)
    reading: 25 %, about 3 s left
    reading: 75 %, about 1 s left
    (cleared)
    """
    if progress is not None:
        yield progress
        return
    show = show or _screen()
    if show is None:
        yield lambda done: None
        return
    bar = _Bar(title, show, clock)
    try:
        yield bar
    finally:
        bar.close()


class _Bar:
    """Decides when a line is worth showing, and words it."""

    def __init__(self, title: str, show: Show, clock: Callable[[], float]) -> None:
        self._title, self._show, self._clock = visible(title), show, clock
        self._began = clock()
        self._shown: float | None = None

    def __call__(self, done: float) -> None:
        now = self._clock()
        if self._shown is not None and now - self._shown < _EVERY:
            return
        taken = now - self._began
        whole = taken / done if done > 0 else 0.0
        if self._shown is None and (taken < _SOON or max(taken, whole) < LONG):
            return
        self._shown = now
        left = f", about {whole - taken:.0f} s left" if done > 0 else ""
        self._show(f"{self._title}: {done:.0%}{left}".replace("%", " %"), done)

    def close(self) -> None:
        if self._shown is not None:
            self._show("", 1.0)


def _screen() -> Show | None:
    """Find where a person looks: their notebook, their terminal, or nowhere."""
    # Asking for IPython would load it where a plain program runs.
    shell = sys.modules.get("IPython") and sys.modules["IPython"].get_ipython()
    kernel = getattr(shell, "kernel", None)
    if kernel is not None:
        # A front end with a person behind it takes input; a headless run, whose
        # outputs are kept and compared, does not. There is no public name for it.
        return _in_notebook() if getattr(kernel, "_allow_stdin", False) else None
    return _on_terminal if sys.stderr is not None and sys.stderr.isatty() else None


def _on_terminal(line: str, done: float) -> None:
    bar = f"[{'#' * round(_WIDTH * done):{_WIDTH}}] " if line else ""
    sys.stderr.write(f"\r\x1b[K{bar}{line}")
    sys.stderr.flush()


def _in_notebook() -> Show:
    """Return what makes one display and writes it over and over."""
    handles: list[Any] = []

    def show(line: str, done: float) -> None:
        from IPython.display import display

        meter = f'<progress value="{done:.3f}" max="1"></progress> ' if line else ""
        said = {"text/plain": line, "text/html": meter + escaped(line)}
        if handles:
            handles[0].update(said, raw=True)
        else:
            handles.append(display(said, raw=True, display_id=True))  # type: ignore[no-untyped-call]

    return show

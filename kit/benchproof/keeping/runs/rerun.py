"""Run a case's notebook from top to bottom in a fresh kernel."""

from __future__ import annotations

import datetime as dt
import math
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchproof.keeping.comparisons.compare import Comparison, compare_results
from benchproof.keeping.live.instrument import RERUN
from benchproof.keeping.logs.durable import write_whole
from benchproof.keeping.runs.interrupts import Interrupt
from benchproof.keeping.runs.lastrun import NOTEBOOK as NOTEBOOK
from benchproof.keeping.runs.lastrun import notebook_code_hash as notebook_code_hash
from benchproof.keeping.runs.lastrun import read_results, stamp
from benchproof.keeping.runs.runfailures import (
    cell_failure,
    first_line,
    number_of,
    start_failure,
    stop_message,
)
from benchproof.values.errors import FileError, InputError, RunError

KERNEL = "python3"

Progress = Callable[[int, int, str], None]
"""Called before each code cell with its number, their count and its title.

The title is the heading the cell stands under and its first line.
"""


@dataclass(frozen=True, slots=True)
class Run:
    """What a run gave: its results, and what moved since the run before, if any."""

    results: dict[str, Any]
    moved: Comparison | None


def run_case(
    folder: Path | str,
    *,
    progress: Progress = lambda number, count, line: None,
    cell_timeout: float = 600,
    now: dt.datetime | None = None,
) -> Run:
    """Execute the case's notebook in a fresh kernel and write results.json.

    Parameters
    ----------
    folder : path
        The case.
    progress : callable
        Told of each cell as it starts.
    cell_timeout : float
        Seconds one cell may take, above 0.
    now : datetime, optional
        Time of the run; the clock's if not given.

    Raises
    ------
    RunError
        If a cell fails, takes too long, or the kernel is missing or dies: naming the
        cell and line. What ran so far is kept in the notebook, results.json is left
        alone.
    KeyboardInterrupt
        If it is stopped (Ctrl+C), saying in which cell; the same is kept.
    FileError
        If there is no notebook.
    InputError
        If `cell_timeout` is not above 0.

    Examples
    --------
    In a script::

        done = run_case("garden-pump-trips-its-socket")
        done.results["verdicts"]
    """
    if not 0 < cell_timeout < math.inf:
        raise InputError(
            f"cell_timeout is {cell_timeout:g}; give the seconds a cell may take, "
            "above 0."
        )
    folder = Path(folder).resolve()
    path = folder / NOTEBOOK
    notebook = read_notebook(path)
    before = _results_before(folder)
    moment = stamp(now or dt.datetime.now(dt.UTC))
    _execute(notebook, path, moment, progress, cell_timeout)
    results = read_results(folder)
    moved = None
    if before:
        labels = (before["ran_at"], results["ran_at"])
        moved = compare_results(before, results, labels)
    return Run(results, moved)


def _results_before(folder: Path) -> dict[str, Any] | None:
    """Return the results of the run before; a broken file is as good as none."""
    try:
        return read_results(folder)
    except FileError:
        return None


def read_notebook(path: Path) -> Any:
    """Read a notebook.

    Raises
    ------
    FileError
        If it is missing or no notebook.
    """
    import nbformat

    try:
        return nbformat.read(path, as_version=4)
    except FileNotFoundError:
        raise FileError(
            f"{path.name} is missing from {path.parent.name}. Name a case folder, or "
            "make one with: benchproof new 'A title'"
        ) from None
    except Exception as problem:  # nbformat raises many kinds for a broken file
        raise FileError(
            f"{path.name}: not a readable notebook ({problem}). Restore it from a copy."
        ) from None


def _execute(
    notebook: Any, path: Path, moment: str, progress: Progress, cell_timeout: float
) -> None:
    import nbformat

    cells = [c for c in notebook.cells if c.cell_type == "code"]
    last = nbformat.v4.new_code_cell(
        "from benchproof.keeping.runs.results import save_results as _save_results\n"
        f"_save_results({str(path.parent)!r}, {moment!r}, "
        f"{notebook_code_hash(notebook)!r})"
    )
    for cell in cells:  # what this run does not reach must not look as if it had
        cell.outputs, cell.execution_count = [], None
    titles = _titles(notebook)
    notebook.cells.append(last)
    reached: list[Any] = []
    interrupt = Interrupt()

    def started(cell: Any, cell_index: int) -> None:
        if interrupt.asked:  # between two cells, or of a cell that took no notice
            raise _StoppedError
        if cell.cell_type == "code":
            reached[:] = [cell]
        if number := number_of(cell, cells):
            progress(number, len(cells), titles[number - 1])

    client = _client(notebook, path.parent, cell_timeout)
    client.on_cell_start = started

    def ready(notebook: Any) -> None:
        interrupt.listen(client)

    client.on_notebook_start = ready
    try:
        # What is re-run is what was recorded: no instrument is asked.
        client.execute(env={**os.environ, RERUN: "1"})
    except Exception as problem:
        if not reached and not interrupt.asked:
            raise RunError(start_failure(problem, KERNEL)) from problem
        at = reached[0] if reached else last
        if interrupt.asked:
            raise KeyboardInterrupt(stop_message(cells, at)) from problem
        raise RunError(cell_failure(cells, at, problem, cell_timeout)) from problem
    finally:
        notebook.cells.remove(last)
        if reached:
            _write_notebook(notebook, path)


class _StoppedError(Exception):
    """Somebody stopped the run between two cells."""


def _client(notebook: Any, folder: Path, cell_timeout: float) -> Any:
    from nbclient import NotebookClient
    from traitlets.config import Config

    return NotebookClient(
        notebook,
        timeout=math.ceil(cell_timeout),
        kernel_name=KERNEL,
        config=Config(KernelManager={"transport_encryption": "auto"}),
        resources={"metadata": {"path": str(folder)}},
        store_widget_state=False,
        record_timing=False,
    )


def _titles(notebook: Any) -> list[str]:
    """Return for each code cell the heading it stands under and its first line."""
    heading, found = "", []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            # The first level is the notebook's own title.
            for line in re.findall(r"^#{2,6} +(.+?)[ #]*$", cell.source, re.MULTILINE):
                heading = line
        elif cell.cell_type == "code":
            line = first_line(cell) or "(empty)"
            found.append(f"{heading} · {line}" if heading else line)
    return found


def _write_notebook(notebook: Any, path: Path) -> None:
    """Write whole or not at all, with the fields that only record this machine cut."""
    import nbformat

    notebook.metadata.pop("language_info", None)
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
    text = nbformat.writes(notebook).removesuffix("\n") + "\n"
    scratch = path.with_suffix(".ipynb.new")
    # Bytes: the same on every system. Synced: a person's notes hang on this file.
    with open(scratch, "wb", buffering=0) as file:
        write_whole(file.fileno(), text.encode())
    scratch.replace(path)

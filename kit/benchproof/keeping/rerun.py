"""Run a case's notebook from top to bottom in a fresh kernel."""

from __future__ import annotations

import datetime as dt
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchproof.keeping.compare import Comparison, compare_results
from benchproof.keeping.live.instrument import RERUN
from benchproof.keeping.results import code_hash, read_results, stamp
from benchproof.values.errors import FileError, RunError

NOTEBOOK = "investigation.ipynb"

Progress = Callable[[int, int, str], None]
"""Called before each code cell with its number, their count and its first line."""


@dataclass(frozen=True, slots=True)
class Run:
    """What a run gave: its results, and what moved since the run before, if any."""

    results: dict[str, Any]
    moved: Comparison | None


def run_case(
    folder: Path | str,
    *,
    progress: Progress = lambda number, count, line: None,
    cell_timeout: int = 600,
    now: dt.datetime | None = None,
) -> Run:
    """Execute the case's notebook in a fresh kernel and write results.json.

    Parameters
    ----------
    folder : path
        The case.
    progress : callable
        Told of each cell as it starts.
    cell_timeout : int
        Seconds one cell may take.
    now : datetime, optional
        Time of the run; the clock's if not given.

    Raises
    ------
    RunError
        If a cell fails, takes too long, or the kernel dies: naming the cell and
        line. What ran so far is kept in the notebook, results.json is left alone.
    FileError
        If there is no notebook.
    """
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


def notebook_code_hash(notebook: Any) -> str:
    """Hash a notebook's code, to tell whether it changed since the run."""
    return code_hash(c.source for c in notebook.cells if c.cell_type == "code")


def _execute(
    notebook: Any, path: Path, moment: str, progress: Progress, cell_timeout: int
) -> None:
    import nbformat
    from nbclient import NotebookClient
    from traitlets.config import Config

    cells = [c for c in notebook.cells if c.cell_type == "code"]
    last = nbformat.v4.new_code_cell(
        "from benchproof.keeping.results import save_results as _save_results\n"
        f"_save_results({str(path.parent)!r}, {moment!r}, "
        f"{notebook_code_hash(notebook)!r})"
    )
    for cell in cells:  # what this run does not reach must not look as if it had
        cell.outputs, cell.execution_count = [], None
    notebook.cells.append(last)

    reached = [last]

    def started(cell: Any, cell_index: int) -> None:
        if cell.cell_type == "code":
            reached[:] = [cell]
        if number := _number_of(cell, cells):
            progress(number, len(cells), _first_line(cell))

    client = NotebookClient(
        notebook,
        timeout=cell_timeout,
        kernel_name="python3",
        config=Config(KernelManager={"transport_encryption": "auto"}),
        resources={"metadata": {"path": str(path.parent)}},
        store_widget_state=False,
        record_timing=False,
        on_cell_start=started,
    )
    try:
        # What is re-run is what was recorded: no instrument is asked.
        client.execute(env={**os.environ, RERUN: "1"})
    except Exception as problem:
        raise _run_error(notebook, reached[0], last, problem) from problem
    finally:
        notebook.cells.remove(last)
        _write_notebook(notebook, path)


def _number_of(cell: Any, cells: list[Any]) -> int:
    """Return a cell's number from 1; 0 for one that is not the author's code."""
    return next((i for i, c in enumerate(cells, 1) if c is cell), 0)


def _first_line(cell: Any) -> str:
    return str(cell.source).strip().partition("\n")[0]


def _write_notebook(notebook: Any, path: Path) -> None:
    """Write whole or not at all, with the fields that only record this machine cut."""
    import nbformat

    notebook.metadata.pop("language_info", None)
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
    scratch = path.with_suffix(".ipynb.new")
    nbformat.write(notebook, scratch)
    scratch.replace(path)


def _run_error(notebook: Any, reached: Any, last: Any, problem: Exception) -> RunError:
    """Say in a sentence where the notebook stopped and why."""
    kind = type(problem).__name__
    cells = [c for c in notebook.cells if c.cell_type == "code" and c is not last]
    number = _number_of(reached, cells)
    errors = [o for o in reached.outputs if o.output_type == "error"]
    output = _error_text(errors[0]) if errors else ""
    kept = "What ran so far is kept in the notebook; results.json was not changed."
    if number == 0:
        return RunError(
            f"{output or problem} Correct the notebook and run again. {kept}"
        )
    where = f"cell {number} ({_first_line(reached)!r})"
    if "Timeout" in kind:
        return RunError(
            f"{where} took longer than allowed. Shorten it, or run with a longer "
            f"--cell-timeout. {kept}"
        )
    if "DeadKernel" in kind:
        return RunError(
            f"{where}: the kernel died (out of memory, or a crash in a library). Run "
            f"the cells up to there in JupyterLab to see more. {kept}"
        )
    if not output:
        return RunError(f"{where}: {kind}: {problem}. {kept}")
    return RunError(f"{where}: {output} Correct it and run again. {kept}")


def _error_text(output: Any) -> str:
    traceback = re.sub(r"\x1b\[[0-9;]*m", "", "\n".join(output.traceback))
    line = re.search(r"(?:Cell In\[\d+\], line |----> ?)(\d+)", traceback)
    at = f"line {line[1]}: " if line else ""
    return f"{at}{output.ename}: {output.evalue}"

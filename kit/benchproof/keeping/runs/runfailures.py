"""What to say when a notebook stops before its end: where, what, and what next."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

KEPT = "What ran so far is kept in the notebook; results.json was not changed."

_LONGEST = 600
"""Characters of an error's own words that a message repeats."""

_FRAME = re.compile(r"Cell In\[(\d+)\], line (\d+)")
_ARROW = re.compile(r"----> ?(\d+)")


def start_failure(problem: Exception, kernel: str) -> str:
    """Say why no cell ran: the kernel is missing, or it did not start.

    Parameters
    ----------
    problem : Exception
        What was raised before the first cell.
    kernel : str
        Name of the kernel that was asked for.

    Examples
    --------
    >>> start_failure(RuntimeError("Kernel died"), "python3").partition(".")[0]
    "the kernel 'python3' did not start (RuntimeError: Kernel died), so no cell ran"
    """
    kind = type(problem).__name__
    if kind == "NoSuchKernel":
        said = (
            f"no kernel {kernel!r} is installed here, so no cell ran. Install it where "
            "benchproof is: python -m pip install ipykernel"
        )
    else:
        said = (
            f"the kernel {kernel!r} did not start ({kind}: {problem}), so no cell ran. "
            "See where it should be: jupyter kernelspec list"
        )
    return f"{said}. Notebook and results.json were not changed."


def cell_failure(
    cells: Sequence[Any], reached: Any, problem: Exception, cell_timeout: float
) -> str:
    """Say in which cell a run stopped, at which line, and why.

    Parameters
    ----------
    cells : sequence of notebook cells
        The author's code cells, in order.
    reached : notebook cell
        The last that was started; one that is not among `cells` writes the results.
    problem : Exception
        What stopped it.
    cell_timeout : float
        Seconds a cell was given.
    """
    kind = type(problem).__name__
    if not number_of(reached, cells):
        output = _error_of(reached)
        said = _sentence(output.evalue if output else f"{kind}: {problem}")
        return f"{said} Correct the notebook and run again. {KEPT}"
    where = place_of(reached, cells)
    if "Timeout" in kind:
        return (
            f"{where} took longer than the {cell_timeout:g} s allowed. Shorten it, or "
            f"run with a longer --cell-timeout. {KEPT}"
        )
    if "DeadKernel" in kind:
        return (
            f"{where}: the kernel died (out of memory, or a crash in a library). Run "
            f"the cells up to there in JupyterLab to see more. {KEPT}"
        )
    if output := _error_of(reached):
        at, said = _line_of(output, reached, cells), f"{output.ename}: {output.evalue}"
        return f"{where}{at}: {_sentence(said)} Correct it and run again. {KEPT}"
    return f"{where}: {_sentence(f'{kind}: {problem}')} {KEPT}"


def stop_message(cells: Sequence[Any], reached: Any) -> str:
    """Say where somebody stopped a run."""
    at_end = not number_of(reached, cells)
    where = "after the last cell" if at_end else f"in {place_of(reached, cells)}"
    return f"stopped {where}. {KEPT}"


def number_of(cell: Any, cells: Sequence[Any]) -> int:
    """Return a cell's number from 1; 0 for one that is not the author's code."""
    return next((i for i, c in enumerate(cells, 1) if c is cell), 0)


def place_of(cell: Any, cells: Sequence[Any]) -> str:
    """Return ``cell 3 of 7 ('x = 1')``."""
    return f"cell {number_of(cell, cells)} of {len(cells)} ({first_line(cell)!r})"


def first_line(cell: Any) -> str:
    """Return the first line of a cell that says something."""
    return str(cell.source).strip().partition("\n")[0]


def _error_of(cell: Any) -> Any | None:
    return next((o for o in cell.outputs if o.output_type == "error"), None)


def _line_of(output: Any, reached: Any, cells: Sequence[Any]) -> str:
    """Name the line that failed and, if it called a function of another cell, its."""
    traceback = re.sub(r"\x1b\[[0-9;]*m", "", "\n".join(output.traceback))
    frames = _FRAME.findall(traceback)
    arrow = _ARROW.search(traceback)
    line = frames[0][1] if frames else arrow[1] if arrow else ""
    if not line:
        return ""
    inner = next((c for c in cells if frames and _ran_as(c, frames[-1][0])), reached)
    said = f", {_quoted(reached, line)}"
    if inner is reached:
        return said
    return f"{said}, in cell {number_of(inner, cells)}, {_quoted(inner, frames[-1][1])}"


def _ran_as(cell: Any, count: str) -> bool:
    return bool(cell.execution_count == int(count))


def _quoted(cell: Any, line: str) -> str:
    lines = str(cell.source).splitlines()
    index = int(line) - 1
    text = lines[index].strip() if index < len(lines) else ""
    return f"line {line} ({text!r})" if text else f"line {line}"


def _sentence(words: str) -> str:
    """Return an error's words on one line, ended by a full stop."""
    # Of a text that was compiled, Python names a file that is nobody's.
    flat = " ".join(re.sub(r" \(\S+\.py, line \d+\)", "", words).split())
    if len(flat) > _LONGEST:
        flat = flat[: _LONGEST - 1] + "…"
    return flat if flat.endswith((".", "…", "!", "?")) else f"{flat}."

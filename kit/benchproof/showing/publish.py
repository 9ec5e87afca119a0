"""Publish a case: its notebook and results as one HTML file, as PDF, as figures."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

from benchproof.keeping.runs.lastrun import (
    NOTEBOOK,
    changed_since,
    read_results,
    shown_notebook,
)
from benchproof.showing.page.writeup import CodeView, render_writeup
from benchproof.values.errors import RunError

FOLDER = "write-up"

RERUN = (
    "python -m venv .venv",
    ".venv/bin/pip install 'benchproof=={version}'",
    ".venv/bin/benchproof run {name}",
)


def publish_case(folder: Path | str, *, code: CodeView = "folded") -> Path:
    """Write the case's write-up: one HTML file that opens offline.

    Parameters
    ----------
    folder : path
        A case that has been run.
    code : {"folded", "hidden", "shown"}
        How the notebook's code appears.

    Returns
    -------
    pathlib.Path
        ``write-up/NAME.html`` in the case.

    Raises
    ------
    RunError
        If readings or notebook changed since the last run.
    FileError
        If the case was not run.

    Examples
    --------
    After a run (``benchproof run CASE``)::

        publish_case("garden-pump-trips-its-socket")
    """
    folder = Path(folder).resolve()
    page = render_writeup(*_as_run(folder), code=code)
    return _written(folder, f"{folder.name}.html", page.encode("utf-8"))


def publish_pdf(folder: Path | str, *, code: CodeView = "hidden") -> Path:
    """Write the case's write-up as PDF: folds open, pages numbered.

    Parameters
    ----------
    folder : path
        A case that has been run.
    code : {"folded", "hidden", "shown"}
        How the notebook's code appears; folded code is printed too.

    Returns
    -------
    pathlib.Path
        ``write-up/NAME.pdf`` in the case.

    Raises
    ------
    RunError
        If something changed since the last run, or WeasyPrint is not installed.
    FileError
        If the case was not run.

    Examples
    --------
    After a run (``benchproof run CASE``)::

        publish_pdf("garden-pump-trips-its-socket")
    """
    from benchproof.showing.pdf import pdf_of

    folder = Path(folder).resolve()
    page = render_writeup(*_as_run(folder), code=code)
    return _written(folder, f"{folder.name}.pdf", pdf_of(page))


def publish_figures(folder: Path | str) -> list[Path]:
    """Write the case's figures one by one, and its summary.

    Parameters
    ----------
    folder : path
        A case that has been run.

    Returns
    -------
    list of pathlib.Path
        ``write-up/figures/…`` in the case: PNG and SVG of 1920 by 1080 pixels, the
        summary as HTML, and as PDF where WeasyPrint is installed.

    Raises
    ------
    RunError
        If readings or notebook changed since the last run.
    FileError
        If the case was not run.

    Examples
    --------
    After a run (``benchproof run CASE``)::

        publish_figures("garden-pump-trips-its-socket")
    """
    from benchproof.showing.exports import exported_figures
    from benchproof.showing.pdf import pdf_of

    folder = Path(folder).resolve()
    notebook, results = _as_run(folder)
    files = exported_figures(results, notebook)
    if importlib.util.find_spec("weasyprint"):
        files["summary.pdf"] = pdf_of(files["summary.html"].decode("utf-8"), sheet="")
    return [
        _written(folder, f"figures/{name}", content) for name, content in files.items()
    ]


def _as_run(folder: Path) -> tuple[Any, dict[str, Any]]:
    """Return notebook and results of a case in which nothing changed since its run."""
    results = read_results(folder)
    notebook = shown_notebook(folder / NOTEBOOK)
    changed = list(changed_since(folder, notebook, results))
    if changed:
        raise RunError(
            f"{', '.join(changed)} changed since the last run, so the numbers may "
            f"be stale. Run it first: benchproof run {folder.name}"
        )
    version = results["versions"].get("benchproof", "VERSION")
    results["rerun"] = [
        line.format(version=version, name=folder.name) for line in RERUN
    ]
    return notebook, results


def _written(folder: Path, name: str, content: bytes) -> Path:
    target = folder / FOLDER / name
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(content)
    return target

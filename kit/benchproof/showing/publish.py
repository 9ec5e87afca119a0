"""Publish a case: its notebook and results as one HTML file, as PDF, as figures."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

from benchproof.keeping.opening import open_case
from benchproof.keeping.rerun import NOTEBOOK, notebook_code_hash, read_notebook
from benchproof.keeping.results import declared_hashes, read_results
from benchproof.showing.exports import exported_figures
from benchproof.showing.pdf import pdf_of
from benchproof.showing.writeup import CodeView, render_writeup
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
    """
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
    """
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
    notebook = read_notebook(folder / NOTEBOOK)
    _refuse_stale(folder, notebook, results)
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


def _refuse_stale(folder: Path, notebook: Any, results: dict[str, Any]) -> None:
    changed = []
    if notebook_code_hash(notebook) != results["code_sha256"]:
        changed.append("the notebook's code")
    now, then = declared_hashes(folder), results["declared_sha256"]
    changed += sorted(n for n in now.keys() | then.keys() if now.get(n) != then.get(n))
    rows, digest = open_case(folder).book.fingerprint()
    if (rows, digest) != (results["readings"]["rows"], results["readings"]["sha256"]):
        changed.append("readings.csv")
    if changed:
        raise RunError(
            f"{', '.join(changed)} changed since the last run, so the numbers may "
            f"be stale. Run it first: benchproof run {folder.name}"
        )

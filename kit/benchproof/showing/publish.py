"""Publish a case: its notebook and results as one HTML file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from benchproof.keeping.case import open_case
from benchproof.keeping.rerun import NOTEBOOK, notebook_code_hash, read_notebook
from benchproof.keeping.results import declared_hashes, read_results
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
    results = read_results(folder)
    notebook = read_notebook(folder / NOTEBOOK)
    _refuse_stale(folder, notebook, results)
    version = results["versions"].get("benchproof", "VERSION")
    results["rerun"] = [
        line.format(version=version, name=folder.name) for line in RERUN
    ]
    html = render_writeup(notebook, results, code=code)
    target = folder / FOLDER / f"{folder.name}.html"
    target.parent.mkdir(exist_ok=True)
    target.write_text(html, encoding="utf-8")
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

"""What the last run left: its results and notebook, and whether they still hold.

Nothing here opens the case, so that a page of it is written without computing it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from benchproof.keeping.logs.log import AppendLog
from benchproof.values.errors import FileError

FORMAT = 1
NAME = "results.json"
NOTEBOOK = "investigation.ipynb"

_LOGS = {
    "readings": ("readings.csv", "r"),
    "trials": ("trials.csv", "t"),
    "predictions": ("predictions.csv", "p"),
}
"""The logs whose rows results.json counts and hashes, with what a row's name begins."""


def read_results(path: Path) -> dict[str, Any]:
    """Read results.json of a case folder, or the file itself.

    Raises
    ------
    FileError
        If it is missing, malformed or of a newer format.
    """
    file = path / NAME if path.is_dir() else path
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        if not path.exists():
            raise FileError(
                f"{path.name} is not there. Name a case folder, a bundle or a results "
                "file."
            ) from None
        raise FileError(
            f"{file.name} is missing from {file.parent.name or 'this folder'}: "
            "the case has not been run. Run it first: benchproof run CASE"
        ) from None
    except (json.JSONDecodeError, UnicodeDecodeError) as problem:
        raise FileError(
            f"{file.name}: {problem}. Run the case again to rewrite it."
        ) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise FileError(
            f"{file.name}: not a results file of format {FORMAT}. Run the case again, "
            "or install a newer benchproof."
        )
    return data


def arms_in(results: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the counts that results hold, those of each round.

    Returns
    -------
    list of dict
        As `benchproof.keeping.reports.evidence.arms_of` returns those of a case.
    """
    found = [
        {"name": name, **quantity["counted"]}
        for r in results.get("rounds") or ()
        for name, quantity in r["quantities"].items()
        if quantity.get("counted", {}).get("round") == r["number"]
    ]
    names = list(dict.fromkeys(arm["name"] for arm in found))
    found.sort(key=lambda arm: names.index(arm["name"]))
    return found + list(results.get("rates") or ())


class Node(dict[str, Any]):
    """An object of a notebook, its fields as attributes too."""

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except KeyError:
            raise AttributeError(name) from None


def shown_notebook(path: Path) -> Any:
    """Read a notebook to show it, in a tenth of the time that checking it takes.

    Texts kept as lists of lines are joined.

    Raises
    ------
    FileError
        If it is missing or no notebook.
    """
    try:
        notebook = json.loads(path.read_text(encoding="utf-8"), object_hook=Node)
        if notebook["nbformat"] == 4:
            for cell in notebook.cells:
                _complete(cell)
            return notebook
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        pass
    # Older, broken or missing: what reads notebooks in earnest says so.
    from benchproof.keeping.runs.rerun import read_notebook

    return read_notebook(path)


def _complete(cell: Node) -> None:
    cell["source"] = _joined(cell["source"])
    cell.setdefault("metadata", Node())
    if cell["cell_type"] == "code":
        cell["execution_count"] = cell.get("execution_count")
        for output in cell["outputs"]:
            if "text" in output:
                output["text"] = _joined(output["text"])


def _joined(text: Any) -> str:
    return "".join(text) if isinstance(text, list) else str(text)


def changed_since(
    folder: Path, notebook: Any, results: Mapping[str, Any]
) -> Iterator[str]:
    """Name what is no longer as it was when the case was run.

    Parameters
    ----------
    folder : pathlib.Path
        The case.
    notebook, results
        As they were read.

    Raises
    ------
    FileError
        If a log cannot be read.
    """
    if notebook_code_hash(notebook) != results["code_sha256"]:
        yield "the notebook's code"
    now, then = declared_hashes(folder), results["declared_sha256"]
    yield from sorted(n for n in now.keys() | then.keys() if now.get(n) != then.get(n))
    for entry, (name, prefix) in _LOGS.items():
        said = results.get(entry)
        if said and not _is_same_log(folder / name, prefix, said):
            yield name


def _is_same_log(path: Path, prefix: str, said: Mapping[str, Any]) -> bool:
    if not path.exists():
        return int(said["rows"]) == 0
    # Its own first line: another one than at the run shows in the hash.
    with path.open(encoding="utf-8", errors="replace") as lines:
        columns = tuple(lines.readline().strip("\ufeff\r\n").split(","))
    log = AppendLog(path, columns, prefix)
    rows = len(log.rows())
    same: bool = rows == said["rows"] and log.prefix_sha256(rows) == said["sha256"]
    return same


def declared_hashes(folder: Path) -> dict[str, str]:
    """Hash the files a person edits beside the notebook."""
    files = [folder / name for name in ("case.toml", "instruments.toml")]
    return {
        f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in files if f.exists()
    }


def notebook_code_hash(notebook: Any) -> str:
    """Hash a notebook's code, to tell whether it changed since the run."""
    return code_hash(c.source for c in notebook.cells if c.cell_type == "code")


def code_hash(cells: Iterable[str]) -> str:
    """Hash the source of a notebook's code cells."""
    return hashlib.sha256("\n\f\n".join(cells).encode()).hexdigest()


def write_json(path: Path, data: Any) -> None:
    """Write JSON so that a crash leaves the old file or the new one, never half."""
    scratch = path.with_suffix(".json.new")
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    scratch.write_text(text + "\n", encoding="utf-8")
    scratch.replace(path)


def stamp(moment: dt.datetime) -> str:
    """Write a UTC-aware moment as ``2026-11-25T11:20:31Z``."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

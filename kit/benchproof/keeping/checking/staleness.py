"""Is what is published still what was run? Hashes, prose, answers, raw records."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from benchproof.keeping import capturefiles
from benchproof.keeping.case import Case
from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.checking.names import require_safe_name
from benchproof.keeping.checking.sums import file_sha256, read_sums
from benchproof.keeping.inquiry import foretold
from benchproof.keeping.inquiry.signing import STALE
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.reports.report import readings_table
from benchproof.keeping.runs.rerun import NOTEBOOK, notebook_code_hash
from benchproof.keeping.runs.results import NAME, declared_hashes
from benchproof.keeping.trials import rows as trial_rows
from benchproof.keeping.trials.ledger import NAME as TRIALS
from benchproof.values.errors import FileError
from benchproof.values.tables import Table

LOG = "readings.csv"


def check_log(case: Case, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Compare the first rows of the log with the hash the run left."""
    rows, digest = int(results["readings"]["rows"]), results["readings"]["sha256"]
    there = case.book.rows
    for torn in case.book.log.recovered:
        yield Finding("open", LOG, "", torn)
    if there < rows:
        said = f"{rows} rows were there at the run, {there} are left. Put it back."
        yield Finding("fault", LOG, "", said)
        return
    if case.book.log.prefix_sha256(rows) != digest:
        yield from _changed_rows(case, results, rows)
    if there > rows:
        said = f"{there - rows} rows were added since the run: run the case again"
        yield Finding("open", LOG, f"r-{rows + 1:04d}", said)


_OTHER_LOGS = {
    "trials": (TRIALS, trial_rows.COLUMNS, "t"),
    "predictions": (foretold.NAME, foretold.COLUMNS, "p"),
}
"""Entry of the results that holds rows and hash: file, columns, prefix of its rows."""


def check_other_logs(folder: Path, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Compare the first rows of the other logs with the hashes the run left."""
    for key, (name, columns, prefix) in _OTHER_LOGS.items():
        log = AppendLog(folder / name, columns, prefix)
        there, kept = len(log.rows()), results.get(key)
        if kept is None:
            if there:
                said = "the results hold no hash of it: it was read, not compared"
                yield Finding("note", name, "", said)
            continue
        rows = int(kept["rows"])
        if there < rows or log.prefix_sha256(rows) != kept["sha256"]:
            said = f"the first {rows} rows are not those of the run: they were edited"
            yield Finding("fault", name, "", said)
        elif there > rows:
            said = f"{there - rows} rows were added since the run: run the case again"
            yield Finding("open", name, "", said)


def _changed_rows(
    case: Case, results: Mapping[str, Any], rows: int
) -> Iterator[Finding]:
    """Name the readings that differ from those the results show, where they do."""
    said = f"the first {rows} rows are not those of the run: recorded rows were edited"
    yield Finding("fault", LOG, "", said)
    now = {row[0]: row for row in _readings(readings_table(case))}
    kept = [t for t in results["tables"] if t["id"] == "readings"]
    for row in kept[0]["rows"] if kept else []:
        cells = row["cells"] if isinstance(row, dict) else row
        fresh = now.get(cells[0])
        if fresh is None:
            yield Finding("fault", LOG, cells[0], "this reading is gone")
        elif list(fresh[:5]) != list(cells[:5]):
            said = f"{' '.join(cells[1:5])!r} at the run, {' '.join(fresh[1:5])!r} now"
            yield Finding("fault", LOG, cells[0], said)


def _readings(table: Table) -> tuple[tuple[str, ...], ...]:
    return table.rows


def check_declared(folder: Path, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Compare case.toml and instruments.toml with their hashes at the run."""
    now, then = declared_hashes(folder), dict(results["declared_sha256"])
    for name in sorted(now.keys() | then.keys()):
        if now.get(name) != then.get(name):
            said = "changed since the run, so numbers may be stale: run the case again"
            yield Finding("open", name, "", said)


def check_notebook(notebook: Any, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Compare the code with the run's, and the conclusions shown with its results."""
    if notebook_code_hash(notebook) != results["code_sha256"]:
        said = "its code changed since the run: prose and numbers in it may be stale"
        yield Finding("open", NOTEBOOK, "", said)
    shown = _shown(notebook)
    for statement in results["statements"]:
        if statement.startswith(STALE):
            said = f"{statement.removeprefix(STALE)}: rewrite it, or sign it again"
            yield Finding("fault", NOTEBOOK, "signed sentence", said)
        if _plain(statement) not in shown:
            said = (
                f"no cell shows this conclusion of the run: {statement.strip()[:60]!r}"
            )
            yield Finding("open", NOTEBOOK, "conclusion", said)


def _shown(notebook: Any) -> str:
    texts = [
        _joined(text)
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        for kind, text in output.get("data", {}).items()
        if kind in ("text/markdown", "text/plain")
    ]
    return "\n".join(map(_plain, texts))


def _joined(text: Any) -> str:
    return "".join(map(str, text)) if isinstance(text, list) else str(text)


def _plain(text: str) -> str:
    """Drop what publishing may change in a text: white space, escaped brackets."""
    return re.sub(r"\s+", " ", text.replace("&lt;", "<")).strip()


def check_answers(case: Case, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Name what a careful reader would ask: hazards, the claim, prior predictions."""
    for hazard in case.file.hazards:
        if not hazard.answer.strip():
            said = "does it apply, and what was done? It has no answer"
            yield Finding("open", "case.toml", f"hazard {hazard.kind}", said)
    if not case.file.claim.text:
        yield Finding("note", "case.toml", "claim", "no claim is stated")
    told = [s for v in results["verdicts"] for s in v["predictions"]]
    timeless = [s for s in told if not _written(s).startswith(("before ", "after "))]
    if timeless:
        said = (
            f"{len(timeless)} predictions carry no time stamp: nothing here shows that "
            "they were written before the readings (a history kept in git may)"
        )
        yield Finding("note", NAME, "predictions", said)
    for late in (s for s in told if _written(s).startswith("after ")):
        yield Finding("note", NAME, late["text"], f"written {_written(late)}")


def _written(prediction: Mapping[str, Any]) -> str:
    """Return when a prediction was written, in words; "" in results without it."""
    return str(prediction.get("written") or "")


def check_captures(folder: Path, results: Mapping[str, Any]) -> Iterator[Finding]:
    """Compare captures with their hashes: of the run, and in the files beside them."""
    left_out = _left_out(folder)
    for name, digest in dict(results.get("captures") or {}).items():
        path = folder / capturefiles.FOLDER / require_safe_name(name)
        row = f"{capturefiles.FOLDER}/{name}"
        if path.is_file() and file_sha256(path) != digest:
            yield Finding("fault", row, "", "not the file that was read at the run")
        elif not path.exists() and row not in left_out:
            yield Finding("fault", row, "", "read at the run, but missing")
    for name, digest in left_out.items():
        if not (folder / name).exists():
            said = f"not in this bundle; its SHA-256 is {digest}"
            yield Finding("note", name, "", said)
    place = folder / capturefiles.FOLDER
    for name in sorted(_downloaded(place)):
        row = f"{capturefiles.FOLDER}/{name}.bin"
        if row in left_out and not (folder / row).exists():
            continue
        try:
            capturefiles.saved_capture(folder, name)
        except FileError as problem:
            yield Finding("fault", row, "", str(problem))


def _downloaded(place: Path) -> set[str]:
    """Name the captures an instrument sent: data, or words that stand alone."""
    stems: dict[str, set[str]] = {}
    for path in place.glob("*.*"):
        stems.setdefault(path.stem, set()).add(path.suffix)
    return {n for n, kinds in stems.items() if ".bin" in kinds or kinds == {".json"}}


LEFT_OUT = "left-out.sha256"
"""In a bundle: hashes of raw records that were too large to travel in it."""


def _left_out(folder: Path) -> dict[str, str]:
    path = folder / LEFT_OUT
    return read_sums(path.read_text(encoding="utf-8")) if path.exists() else {}

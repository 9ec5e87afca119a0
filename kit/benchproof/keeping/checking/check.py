"""Check a case or a bundle; nothing in it is executed unless that is asked for."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchproof.keeping.checking.declarations import read_declarations
from benchproof.keeping.checking.findings import (
    Finding,
    Findings,
    sorted_findings,
)
from benchproof.keeping.checking.hostility import check_cells, check_outputs
from benchproof.keeping.checking.rebuilding import Rebuilt, rebuild_case
from benchproof.keeping.checking.recomputing import (
    compare_quantities,
    compare_statements,
)
from benchproof.keeping.checking.rejudging import (
    compare_criteria,
    compare_verdicts,
    declare_hypotheses,
)
from benchproof.keeping.checking.rerunning import rerun_findings
from benchproof.keeping.checking.staleness import (
    check_answers,
    check_captures,
    check_declared,
    check_log,
    check_notebook,
    check_other_logs,
)
from benchproof.keeping.checking.sums import NAME as SUMS
from benchproof.keeping.checking.sums import check_sums
from benchproof.keeping.checking.unpacking import unpack_bundle
from benchproof.keeping.logs.collecting import collecting_paused
from benchproof.keeping.runs.rerun import NOTEBOOK, Progress, read_notebook
from benchproof.keeping.runs.results import NAME, read_results
from benchproof.keeping.runs.saved import open_results
from benchproof.values.errors import BenchproofError, FileError

_LARGEST = {
    "case.toml": 1_000_000,
    "instruments.toml": 1_000_000,
    NAME: 200_000_000,
    NOTEBOOK: 200_000_000,
    "readings.csv": 200_000_000,
    "trials.csv": 200_000_000,
}
"""Bytes; what a person writes is a thousand times smaller."""

_CONFUSED = (
    RecursionError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
)
"""The kinds that files made to confuse raise; ours are ValueErrors too."""


@dataclass(slots=True)
class _Report:
    """Collects while the parts of a check go on."""

    findings: list[Finding] = field(default_factory=list)
    recomputed: list[str] = field(default_factory=list)
    compared: list[str] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)


def check_case(
    path: Path | str,
    *,
    run: bool = False,
    progress: Progress = lambda number, count, line: None,
    cell_timeout: int = 600,
) -> Findings:
    """Check a case folder or a bundle.

    Without `run`, nothing of it is executed: hashes are compared, every measurand is
    computed again from readings.csv and instruments.toml, and so are formulas that
    are plain arithmetic, predictions and verdicts.

    Parameters
    ----------
    path : path
        A case folder, an unpacked bundle or a bundle (a zip file).
    run : bool
        Also run the notebook, in a fresh kernel on a copy. It is then executed with
        your rights: read it first.
    progress : callable
        Told of each cell as it starts.
    cell_timeout : int
        Seconds one cell may take.

    Returns
    -------
    Findings
        Its `status` is 0 if nothing contradicts and nothing is open, else 1.

    Raises
    ------
    FileError
        If it cannot be checked: no case, not run yet, damaged, or a hostile archive.

    Examples
    --------
    >>> check_case("no-such-case")
    Traceback (most recent call last):
    ...
    benchproof.values.errors.FileError: no-such-case is not there. Name a case folder
    or a bundle.
    """
    path = Path(path)
    if not path.exists():
        raise FileError(f"{path.name} is not there. Name a case folder or a bundle.")
    report = _Report()
    with ExitStack() as stack:
        folder = path
        if path.is_file():
            place = tempfile.TemporaryDirectory(prefix="benchproof-check-")
            folder = Path(stack.enter_context(place))
            unpack_bundle(path, folder)
        try:
            with collecting_paused():
                _check_folder(folder, report, whole=path.is_file())
            if run:
                results = read_results(folder)
                _extend(report, rerun_findings(folder, results, progress, cell_timeout))
                report.compared.append("a fresh run of the notebook, number by number")
        except _CONFUSED as odd:
            if isinstance(odd, BenchproofError):
                raise
            raise FileError(
                f"{path.name}: a file in it is not what benchproof writes "
                f"({type(odd).__name__}: {str(odd)[:80]}). It cannot be checked."
            ) from None
    if not run:
        report.unchecked.append(
            "what only a run can show: figures, outputs, helper functions. Read the "
            "notebook, then: benchproof check --run"
        )
    return Findings(
        path.resolve().name,
        sorted_findings(report.findings),
        tuple(report.recomputed),
        tuple(report.compared),
        tuple(report.unchecked),
    )


def _check_folder(folder: Path, report: _Report, *, whole: bool) -> None:
    _refuse_oversized(folder)
    if whole or (folder / SUMS).exists():
        if not (folder / SUMS).exists():
            raise FileError(f"{SUMS} is missing: this is no bundle of a case.")
        _extend(report, check_sums(folder, whole=whole))
        report.compared.append(f"every file with its hash in {SUMS}")
    results = read_results(folder)
    _check_results(folder, report)
    notebook = read_notebook(folder / NOTEBOOK)
    code = [str(c.source) for c in notebook.cells if c.cell_type == "code"]
    declared = read_declarations(code)
    rebuilt = rebuild_case(folder, results, declared)
    parts: list[Callable[[], Iterable[Finding]]] = [
        lambda: check_log(rebuilt.case, results),
        lambda: check_other_logs(folder, results),
        lambda: check_declared(folder, results),
        lambda: check_notebook(notebook, results),
        lambda: check_answers(rebuilt.case, results),
        lambda: check_captures(folder, results),
        lambda: check_cells(folder),
        lambda: check_outputs(notebook) if whole else (),
    ]
    for part in parts:
        _extend(report, part())
    report.compared.append(
        "log, case.toml, instruments.toml, captures and code with the hashes of the run"
    )
    declare_hypotheses(rebuilt, results["verdicts"])
    _extend(report, compare_quantities(rebuilt, rebuilt.case, results["quantities"]))
    _extend(report, compare_verdicts(rebuilt, rebuilt.case, results["verdicts"]))
    _extend(report, compare_criteria(rebuilt, results["verdicts"], declared))
    _extend(report, compare_statements(rebuilt, results["statements"], declared))
    _check_rounds(rebuilt, results, report)
    _extend(report, rebuilt.findings)
    _say_what_was_done(rebuilt, results, report)


def _check_rounds(rebuilt: Rebuilt, results: dict[str, Any], report: _Report) -> None:
    numbers = [r.number for r in rebuilt.case.book.record.rounds]
    if [r["number"] for r in results["rounds"]] != numbers:
        said = "not the rounds that the log opens: run the case again"
        report.findings.append(Finding("fault", NAME, "rounds", said))
        return
    if len(numbers) == 1:
        return  # it is what was compared already
    for r in results["rounds"]:
        view, where = rebuilt.case.at_round(r["number"]), f"round {r['number']}, "
        _extend(report, compare_quantities(rebuilt, view, r["quantities"], where))
        _extend(report, compare_verdicts(rebuilt, view, r["verdicts"], where))


def _refuse_oversized(folder: Path) -> None:
    for name, largest in _LARGEST.items():
        path = folder / name
        if path.is_symlink() or (path.exists() and not path.is_file()):
            raise FileError(f"{name}: no plain file. A case holds copies, not links.")
        if path.exists() and path.stat().st_size > largest:
            raise FileError(f"{name}: {path.stat().st_size} bytes are too many.")


def _check_results(folder: Path, report: _Report) -> None:
    """Let the reader of saved results judge their form and their own consistency."""
    try:
        open_results(folder)
        report.compared.append("u of every quantity with its contributions")
    except FileError as problem:
        report.findings.append(Finding("fault", NAME, "", str(problem)))


def _extend(report: _Report, found: Iterable[Finding]) -> None:
    report.findings += found


def _say_what_was_done(
    rebuilt: Rebuilt, results: dict[str, Any], report: _Report
) -> None:
    state, record = rebuilt.case.state(), rebuilt.case.book.record
    formulas = len(state.formulas)
    predictions = sum(len(v["predictions"]) for v in results["verdicts"])
    report.recomputed.append(
        f"{len(record.names())} measurands from {len(record.readings)} readings, "
        f"{formulas} derived quantities, {predictions} predictions, "
        f"{len(results['verdicts'])} verdicts"
    )
    by_reason: dict[str, list[str]] = {}
    for name, why in rebuilt.stored.items():
        by_reason.setdefault(why, []).append(name)
    for why, names in by_reason.items():
        it = "it" if len(names) == 1 else "them"
        said = f"{', '.join(names)}: taken as results.json has {it} ({why})"
        report.unchecked.append(said)

"""results.json: what the last full run computed, as plain data."""

from __future__ import annotations

import math
import platform
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.inquiry.sample import does_not_show
from benchproof.keeping.opening import opened_case
from benchproof.keeping.reports.evidence import counted, evidence_of, replicated_of
from benchproof.keeping.reports.report import report_tables
from benchproof.keeping.runs.lastrun import (
    FORMAT,
    NAME,
    code_hash,
    declared_hashes,
    read_results,
    stamp,
    write_json,
)
from benchproof.keeping.trials.asdata import coverage_of, rates_of
from benchproof.values.sources import Source

__all__ = [
    "NAME",
    "code_hash",
    "declared_hashes",
    "read_results",
    "results_of",
    "save_results",
    "stamp",
    "versions",
    "write_json",
]


def save_results(folder: str, ran_at: str, code_sha256: str) -> None:
    """Write the results of a case this process opened; called by `run` at its end.

    Parameters
    ----------
    folder : str
        Of the case.
    ran_at : str
        UTC stamp of the run.
    code_sha256 : str
        Of the notebook's code, so that later edits show.
    """
    case = opened_case(Path(folder))
    data = results_of(case)
    data |= {
        "ran_at": ran_at,
        "code_sha256": code_sha256,
        "declared_sha256": declared_hashes(case.folder),
    }
    write_json(case.folder / NAME, data)


def results_of(case: Case) -> dict[str, Any]:
    """Collect everything computed: quantities, budgets, verdicts, rounds, versions."""
    count, digest = case.book.fingerprint()
    attempts, ledger = case.trials.ledger.fingerprint()
    views = _views(case)
    quantities = _quantities(case)
    return {
        "format": FORMAT,
        "title": case.file.title,
        "invented": case.file.invented,
        "claim": asdict(case.file.claim),
        "does_not_show": does_not_show(case),
        "readings": {"rows": count, "sha256": digest},
        "trials": {"rows": attempts, "sha256": ledger},
        "readings_hash": f"sha256 {digest} over {count} rows of readings.csv",
        "captures": case.captures.hashes(),
        "quantities": quantities,
        "sources": _sources([case, *views]),
        "joints": _joints([case, *views]),
        "verdicts": evidence_of(case),
        "rates": rates_of(case),
        "coverage": coverage_of(case),
        "replications": replicated_of(case),
        "predictions": _predictions(case),
        "rounds": rounds_of(case, quantities),
        "statements": list(case.defined.statements.values()),
        "tables": report_tables(case),
        "versions": versions(),
    }


def _predictions(case: Case) -> dict[str, Any]:
    """Return the hash of predictions.csv, and what was changed or left out since."""
    count, digest = case.foretold.fingerprint()
    gone = case.verdicts(ended=True).withdrawn
    return {
        "rows": count,
        "sha256": digest,
        "withdrawn": [asdict(w) for w in gone],
    }


def rounds_of(case: Case, now: Mapping[str, Any] | None = None) -> list[dict[str, Any]]:
    """Return the rounds up to the case's own, each as it stood at its end.

    Parameters
    ----------
    now : mapping, optional
        The quantities as they are; what a round has in common with them is not kept
        twice.

    Returns
    -------
    list of dict
        ``number``, ``because``, ``time``, ``quantities``, ``verdicts``.
    """
    return [
        {"number": r.number, "because": r.because, "time": r.time}
        | _round(view, now or {})
        for r, view in zip(case.book.record.rounds, _views(case), strict=False)
    ]


def _views(case: Case) -> list[Case]:
    numbers = [r.number for r in case.book.record.rounds]
    return [case.at_round(n) for n in numbers if n <= case.round_number]


def _round(view: Case, now: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a round had; contributions only where its value is no longer that.

    `namedresults` takes the others from the quantities as they are now.
    """
    quantities = _quantities(view)
    for name, entry in quantities.items():
        if entry == now.get(name):
            entry.pop("contributions", None)
    return {"quantities": quantities, "verdicts": evidence_of(view)}


def _quantities(case: Case) -> dict[str, Any]:
    return {name: _quantity(case, name) for name in case.names()}


def _quantity(case: Case, name: str) -> dict[str, Any]:
    state = case.state()
    entry: dict[str, Any] = {"text": str(case[name])}
    if name in state.formulas:
        entry["formula"] = state.formulas[name].text.strip()
        entry["unit"] = state.formulas[name].unit.symbol
    if arm := counted(case, name):
        entry["counted"] = arm
    if state.missing(name):
        return entry
    budget = state.budget(name)
    unit = budget.unit.difference()
    entry |= {
        "unit": budget.unit.symbol,
        "value": budget.unit.from_si(budget.value),
        "standard_uncertainty": budget.standard_uncertainty / unit.factor,
        "degrees_of_freedom": _finite(budget.degrees_of_freedom),
        "coverage_factor": budget.coverage_factor,
        "level": budget.level,
    }
    entry["contributions"] = {
        line.source.name: line.contribution / unit.factor for line in budget.lines
    }
    return entry


def _sources(views: Sequence[Case]) -> dict[str, Any]:
    """Describe every source that a quantity of a view names among its contributions.

    Where two views describe one differently, the first has the word.
    """
    found: dict[str, Any] = {}
    for view in views:
        state = view.state()
        measured = [name for name in view.names() if not state.missing(name)]
        for line in (line for name in measured for line in state.budget(name).lines):
            found.setdefault(line.source.name, _source(line.source))
    return found


def _source(source: Source) -> dict[str, Any]:
    unit = source.unit
    return {
        "evaluation": source.evaluation,
        "distribution": source.distribution,
        "shape": source.shape,
        "unit": unit.symbol,
        "standard_uncertainty": source.standard_uncertainty / unit.factor,
        "degrees_of_freedom": _finite(source.degrees_of_freedom),
        "instrument": source.instrument,
    }


def _joints(views: Sequence[Case]) -> list[dict[str, Any]]:
    joints = {j.names: j for view in reversed(views) for j in view.state().graph.joints}
    return [
        {
            "names": list(joint.names),
            "correlation": [list(row) for row in joint.correlation],
            "degrees_of_freedom": _finite(joint.degrees_of_freedom),
        }
        for joint in joints.values()
    ]


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def versions() -> dict[str, str]:
    """Return the versions of Python and of benchproof's direct dependencies."""
    found = {"python": platform.python_version()}
    try:
        wanted = metadata.requires("benchproof") or []
        found["benchproof"] = metadata.version("benchproof")
    except metadata.PackageNotFoundError:
        wanted = []
    direct = [re.split(r"[^\w.-]", r, maxsplit=1)[0] for r in wanted if ";" not in r]
    for name in direct:
        found[name] = metadata.version(name)
    return found

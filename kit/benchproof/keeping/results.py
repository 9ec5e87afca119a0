"""results.json: what the last full run computed, as plain data."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import platform
import re
from collections.abc import Iterable
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.evidence import counted, evidence_of
from benchproof.keeping.inquiry.sample import does_not_show
from benchproof.keeping.opening import opened_case
from benchproof.keeping.report import report_tables
from benchproof.values.errors import FileError
from benchproof.values.sources import Source

FORMAT = 1
NAME = "results.json"


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


def declared_hashes(folder: Path) -> dict[str, str]:
    """Hash the files a person edits beside the notebook."""
    files = [folder / name for name in ("case.toml", "instruments.toml")]
    return {
        f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in files if f.exists()
    }


def write_json(path: Path, data: Any) -> None:
    """Write JSON so that a crash leaves the old file or the new one, never half."""
    scratch = path.with_suffix(".json.new")
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    scratch.write_text(text + "\n", encoding="utf-8")
    scratch.replace(path)


def results_of(case: Case) -> dict[str, Any]:
    """Collect everything computed: quantities, budgets, verdicts, rounds, versions."""
    count, digest = case.book.fingerprint()
    attempts, ledger = case.trials.ledger.fingerprint()
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
        "quantities": _quantities(case, sources=True),
        "sources": _sources(case),
        "joints": _joints(case),
        "verdicts": evidence_of(case),
        "predictions": _predictions(case),
        "rounds": [
            _round(case, r.number, r.because, r.time) for r in case.book.record.rounds
        ],
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


def _round(case: Case, number: int, because: str, time: str) -> dict[str, Any]:
    view = case.at_round(number)
    return {
        "number": number,
        "because": because,
        "time": time,
        "quantities": _quantities(view, sources=False),
        "verdicts": evidence_of(view),
    }


def _quantities(case: Case, *, sources: bool) -> dict[str, Any]:
    return {name: _quantity(case, name, sources) for name in case.names()}


def _quantity(case: Case, name: str, sources: bool) -> dict[str, Any]:
    state = case.state()
    entry: dict[str, Any] = {"text": str(case[name])}
    if name in state.formulas:
        entry["formula"] = state.formulas[name].text.strip()
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
    if sources:
        entry["contributions"] = {
            line.source.name: line.contribution / unit.factor for line in budget.lines
        }
    return entry


def _sources(case: Case) -> dict[str, Any]:
    """Describe every source that a quantity names among its contributions."""
    state = case.state()
    measured = [name for name in case.names() if not state.missing(name)]
    lines = [line for name in measured for line in state.budget(name).lines]
    return {line.source.name: _source(line.source) for line in lines}


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


def _joints(case: Case) -> list[dict[str, Any]]:
    return [
        {
            "names": list(joint.names),
            "correlation": [list(row) for row in joint.correlation],
            "degrees_of_freedom": _finite(joint.degrees_of_freedom),
        }
        for joint in case.state().graph.joints
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


def code_hash(cells: Iterable[str]) -> str:
    """Hash the source of a notebook's code cells."""
    return hashlib.sha256("\n\f\n".join(cells).encode()).hexdigest()


def stamp(moment: dt.datetime) -> str:
    """Write a UTC-aware moment as ``2026-11-25T11:20:31Z``."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

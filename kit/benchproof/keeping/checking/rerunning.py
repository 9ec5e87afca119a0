"""Run a copy of a case in a fresh kernel and compare every number and verdict."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.checking.recomputing import values_agree
from benchproof.keeping.runs.rerun import NOTEBOOK, Progress, run_case
from benchproof.keeping.runs.results import NAME
from benchproof.values.errors import RunError


def rerun_findings(
    folder: Path, stored: Mapping[str, Any], progress: Progress, cell_timeout: int
) -> Iterator[Finding]:
    """Run the notebook on a copy; the case itself is not touched.

    This executes the notebook's code with the rights of whoever calls it.

    Parameters
    ----------
    folder : pathlib.Path
        Of the case, or an unpacked bundle.
    stored : mapping
        Its results.json.
    """
    leave = shutil.ignore_patterns("write-up", ".*", "__pycache__")
    with tempfile.TemporaryDirectory(prefix="benchproof-check-") as place:
        copy = Path(place) / "case"
        shutil.copytree(folder, copy, ignore=leave, symlinks=True)
        try:
            fresh = run_case(copy, progress=progress, cell_timeout=cell_timeout).results
        except RunError as problem:
            yield Finding("fault", NOTEBOOK, "", f"does not run: {problem}")
            return
    yield from compare_runs(stored, fresh)


def compare_runs(
    stored: Mapping[str, Any], fresh: Mapping[str, Any]
) -> Iterator[Finding]:
    """Compare two runs of one case: numbers within rounding, words exactly."""
    yield from _environment(stored["versions"], fresh["versions"])
    if stored["readings"] != fresh["readings"]:
        said = "the notebook records readings that the log does not hold"
        yield Finding("open", "readings.csv", "", said)
    yield from _numbers(stored["quantities"], fresh["quantities"], "")
    yield from _words(stored["verdicts"], fresh["verdicts"], "")
    rounds = {r["number"]: r for r in fresh["rounds"]}
    for r in stored["rounds"]:
        again, where = rounds.get(r["number"]), f"round {r['number']}, "
        if again is None:
            yield Finding("fault", NAME, where.strip(", "), "the run has no such round")
            continue
        yield from _numbers(r["quantities"], again["quantities"], where)
        yield from _words(r["verdicts"], again["verdicts"], where)
    if stored["statements"] != fresh["statements"]:
        said = "the run fills its conclusions in otherwise: the prose is stale"
        yield Finding("fault", NAME, "statements", said)


def _environment(then: Mapping[str, str], now: Mapping[str, str]) -> Iterator[Finding]:
    for name in sorted(then.keys() | now.keys()):
        was, is_now = then.get(name, "absent"), now.get(name, "absent")
        if was != is_now:
            said = f"{was} at the run, {is_now} here"
            yield Finding("note", "versions", name, said)


def _numbers(
    then: Mapping[str, Any], now: Mapping[str, Any], where: str
) -> Iterator[Finding]:
    for name in dict.fromkeys([*then, *now]):
        before, after = then.get(name), now.get(name)
        texts = [e["text"] if e else "(absent)" for e in (before, after)]
        if before and after and "value" in before and "value" in after:
            u = after["standard_uncertainty"]
            same = before["unit"] == after["unit"]
            same = same and values_agree(before, after["value"], u)
        else:
            same = texts[0] == texts[1]
        if not same:
            said = f"results.json has {texts[0]}, the fresh run {texts[1]}"
            yield Finding("fault", NAME, f"{where}{name}", said)


def _words(then: list[Any], now: list[Any], where: str) -> Iterator[Finding]:
    said, fresh = _outcomes(then), _outcomes(now)
    for name in dict.fromkeys([*said, *fresh]):
        was, is_now = said.get(name, "(absent)"), fresh.get(name, "(absent)")
        if was != is_now:
            differs = f"results.json says {was!r}, the fresh run {is_now!r}"
            yield Finding("fault", NAME, f"{where}{name}", differs)


def _outcomes(verdicts: list[Any]) -> dict[str, str]:
    words = {v["name"]: v["verdict"] for v in verdicts}
    for v in verdicts:
        for p in v["predictions"]:
            words[f"{v['name']}: {p['text']}"] = p["verdict"]
    return words

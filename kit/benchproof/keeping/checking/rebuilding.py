"""A case rebuilt from its files without running its notebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.checking.criteria import called
from benchproof.keeping.checking.declarations import (
    CORRECTIONS,
    Call,
    Declarations,
)
from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.checking.plainformulas import NotPlainError, plain_formula
from benchproof.keeping.runs.results import NAME
from benchproof.keeping.state.constants import Constant
from benchproof.values.errors import BenchproofError
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

_MOST = 5_000
"""Quantities; a person's case has a hundred."""


@dataclass(slots=True)
class Rebuilt:
    """A case whose constants and formulas were read, not run.

    Attributes
    ----------
    case : Case
    stored : dict
        Quantities taken from results.json as they stand there, and why.
    findings : list of Finding
    """

    case: Case
    stored: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def rests_on_stored(self, name: str) -> bool:
        """Tell whether a quantity needs one that was only taken over.

        What it takes for its readings to count is needed too.
        """
        formulas, open_ = self.case.defined.formulas, [name]
        conditions = self.case.defined.conditions.values()
        seen: set[str] = set()
        while open_:
            step = open_.pop()
            if step in self.stored:
                return True
            if step in seen:
                continue
            seen.add(step)
            if step in formulas:
                open_ += formulas[step].arguments
            for condition in conditions:
                if condition.measurand == step:
                    asked = (condition.criterion.quantity, condition.criterion.other)
                    open_ += [other for other in asked if other]
        return False

    def lacks_value(self, names: Iterable[str]) -> bool:
        """Tell whether one of these quantities has no value to be judged by."""
        state = self.case.state()
        return any(n and state.knows(n) and state.missing(n) for n in names)


def rebuild_case(
    folder: Path, results: Mapping[str, Any], declared: Declarations
) -> Rebuilt:
    """Read readings, constants, correlations and plain formulas of a case.

    Parameters
    ----------
    results : mapping
        Of results.json: which quantities there are, and the text of their formulas.
    declared : Declarations
        Of the notebook.

    Raises
    ------
    FileError
        If case.toml, instruments.toml or readings.csv cannot be read.
    """
    rebuilt = Rebuilt(Case(folder))
    case, quantities = rebuilt.case, dict(list(results["quantities"].items())[:_MOST])
    for call in declared.named("constant"):
        _declare(rebuilt, call, case.constant)
    corrections = [c for c in declared.calls if c.name in CORRECTIONS]
    corrected = {c.arguments[0] for c in corrections if c.arguments}
    for name, entry in quantities.items():
        if "formula" in entry and name not in corrected:
            _declare_formula(rebuilt, name, entry, results, declared)
    for name, entry in quantities.items():
        if "value" not in entry and name not in (*case.names(), *corrected):
            case.defined.declare(name, "")
    # A correction brings a constant of its instrument along, which is then known;
    # one that corrects by a value still to be taken over has its turn after that.
    waiting = [c for c in corrections if not _is_declared(rebuilt, c)]
    for name, entry in quantities.items():
        if "value" in entry and name not in corrected and not _knows(case, name):
            _take_over_told(rebuilt, name, entry, results, declared)
    for call in waiting:
        _declare(rebuilt, call, getattr(case.corrections, call.name))
    for call in declared.named("correlate"):
        _declare(rebuilt, call, case.correlate)
    for call in declared.named("valid_only_if"):
        _declare(rebuilt, call, case.valid_only_if)
    return rebuilt


def _is_declared(rebuilt: Rebuilt, call: Call) -> bool:
    """Try a correction; tell whether everything it needs was known."""
    before = len(rebuilt.findings)
    _declare(rebuilt, call, getattr(rebuilt.case.corrections, call.name))
    failed = len(rebuilt.findings) > before
    del rebuilt.findings[before:]
    return not failed


def _knows(case: Case, name: str) -> bool:
    if name in case.book.record.by_measurand or name in case.names():
        return True
    try:
        return case.state().knows(name)
    except BenchproofError:  # a formula needs what is still to be taken over
        return False


def _take_over_told(
    rebuilt: Rebuilt,
    name: str,
    entry: Mapping[str, Any],
    results: Mapping[str, Any],
    declared: Declarations,
) -> None:
    why = "its declaration is not written out in the notebook"
    _take_over(rebuilt, name, entry, results, why)
    # It may come from a capture, say; but then the notebook names it.
    if not re.search(rf"\b{re.escape(name)}\b", declared.code):
        said = "neither the log nor the notebook has this quantity"
        rebuilt.findings.append(Finding("fault", NAME, name, said))


def _declare(rebuilt: Rebuilt, call: Call, declare: Callable[..., object]) -> None:
    """Declare what a call of the notebook declares; its refusal is a finding."""
    try:
        arguments = [
            called(rebuilt.case, a) if isinstance(a, Call) else a
            for a in call.arguments
        ]
        declare(*arguments, **call.keywords)
    except (BenchproofError, TypeError, AttributeError, ValueError) as problem:
        rebuilt.findings.append(
            Finding("fault", "investigation.ipynb", call.name, str(problem))
        )


def _declare_formula(
    rebuilt: Rebuilt,
    name: str,
    entry: Mapping[str, Any],
    results: Mapping[str, Any],
    declared: Declarations,
) -> None:
    text = str(entry["formula"])
    in_notebook = _squeezed(text) in _squeezed(declared.code)
    if not in_notebook and not CORRECTIONS & declared.loose:
        said = "its formula is not in the notebook's code as results.json has it"
        rebuilt.findings.append(Finding("open", NAME, name, said))
    unit = str(entry.get("unit", ""))
    try:
        formula = plain_formula(name, unit_of(unit), text)
    except NotPlainError as why:
        if "value" in entry:
            _take_over(rebuilt, name, entry, results, str(why))
        else:
            rebuilt.case.defined.declare(name, unit)
            rebuilt.stored[name] = "it has no value; its bound, if any, needs a run"
        return
    rebuilt.case.defined.formulas[name] = formula
    rebuilt.case.defined.version += 1


def _squeezed(text: str) -> str:
    """Drop what indenting a cell changes."""
    return "\n".join(line.strip() for line in text.strip().splitlines())


def _take_over(
    rebuilt: Rebuilt,
    name: str,
    entry: Mapping[str, Any],
    results: Mapping[str, Any],
    why: str,
) -> None:
    """Let a value of results.json stand for itself, with its contributions."""
    unit = unit_of(str(entry["unit"]))
    step = unit.difference().factor
    parts = []
    for source, contribution in dict(entry["contributions"]).items():
        found = _source(source, results["sources"][source])
        u = found.standard_uncertainty
        parts.append((found, float(contribution) * step / u if u else 0.0))
    value = unit.to_si(float(entry["value"]))
    estimate = Estimate(value, tuple(parts))
    text = str(entry["text"])
    rebuilt.case.defined.constants[name] = Constant(name, unit, estimate, text)
    rebuilt.case.defined.version += 1
    rebuilt.stored[name] = why


def _source(name: str, entry: Mapping[str, Any]) -> Source:
    unit = unit_of(str(entry["unit"]))
    dof = entry["degrees_of_freedom"]
    return Source(
        name,
        entry["evaluation"],
        entry["distribution"],
        float(entry["standard_uncertainty"]) * unit.factor,
        unit,
        float("inf") if dof is None else float(dof),
        str(entry["instrument"]),
        float(entry.get("shape", 0.0)),
    )

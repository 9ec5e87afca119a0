"""Numbers and verdicts of results.json against the log, without running anything."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.checking.declarations import Call, Declarations
from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.checking.rebuilding import Rebuilt
from benchproof.keeping.inquiry.signing import signed_text
from benchproof.keeping.measurand import filled
from benchproof.keeping.runs.results import NAME
from benchproof.values.errors import BenchproofError

TOLERANCE_OF_VALUE = 1e-9
TOLERANCE_OF_U = 1e-6
"""Relative to the value and to u: rounding in another order, on another machine."""


def values_agree(stored: Mapping[str, Any], value: float, u: float) -> bool:
    """Tell whether a stored value and its u are those computed again.

    Parameters
    ----------
    stored : mapping
        With ``value`` and ``standard_uncertainty``, in the quantity's unit.
    value, u : float
        In the same unit.

    Examples
    --------
    >>> values_agree({"value": 12.0, "standard_uncertainty": 0.1}, 12.0, 0.1)
    True
    >>> values_agree({"value": 12.0, "standard_uncertainty": 0.1}, 12.001, 0.1)
    False
    """
    before, u_before = float(stored["value"]), float(stored["standard_uncertainty"])
    room = TOLERANCE_OF_VALUE * abs(value) + TOLERANCE_OF_U * u
    # Not greater than is not the same: a NaN agrees with nothing.
    near = abs(before - value) <= room
    return near and abs(u_before - u) <= TOLERANCE_OF_U * u + 1e-15 * abs(value)


def compare_quantities(
    rebuilt: Rebuilt, view: Case, stored: Mapping[str, Any], where: str = ""
) -> Iterator[Finding]:
    """Compare every quantity with what the log and plain formulas give.

    Parameters
    ----------
    view : Case
        The rebuilt case, or one of its rounds.
    stored : mapping
        The quantities of results.json, or of one of its rounds.
    where : str
        Put before the names in findings: ``round 1, ``.
    """
    for name in view.names():
        if name not in stored:
            said = "recorded or declared, but not in the results: run the case again"
            yield Finding("fault", NAME, f"{where}{name}", said)
    for name, entry in stored.items():
        if name in rebuilt.stored or (where and rebuilt.rests_on_stored(name)):
            continue
        try:
            yield from _differences(view, name, entry, f"{where}{name}")
        except BenchproofError as problem:
            said = f"cannot be computed from the log: {problem}"
            yield Finding("fault", NAME, f"{where}{name}", said)


def _differences(
    view: Case, name: str, entry: Mapping[str, Any], row: str
) -> Iterator[Finding]:
    state = view.state()
    shown = str(view[name])
    if bool(state.missing(name)) == ("value" in entry):
        said = f"results.json shows {entry['text']!r}, the log gives {shown!r}"
        yield Finding("fault", NAME, row, said)
        return
    if not state.missing(name):
        budget = state.budget(name)
        step = budget.unit.difference().factor
        value, u = budget.unit.from_si(budget.value), budget.standard_uncertainty / step
        if entry["unit"] != budget.unit.symbol or not values_agree(entry, value, u):
            yield Finding("fault", NAME, row, _moved(entry, shown, value, u))
            return
        lines = {b.source.name: b.contribution / step for b in budget.lines}
        if "contributions" in entry and not _same(entry["contributions"], lines, u):
            said = "its contributions are not those that the log and formulas give"
            yield Finding("fault", NAME, row, said)
        pairs = (
            (entry["degrees_of_freedom"], budget.degrees_of_freedom),
            (entry["coverage_factor"], budget.coverage_factor),
        )
        if not all(_close(a, b) for a, b in pairs):
            said = "its degrees of freedom or coverage factor do not follow"
            yield Finding("fault", NAME, row, said)
    if entry["text"] != shown:
        said = f"results.json shows {entry['text']!r}, the log gives {shown!r}"
        yield Finding("fault", NAME, row, said)


def _moved(entry: Mapping[str, Any], shown: str, value: float, u: float) -> str:
    was = f"{entry['value']:.9g}, u = {entry['standard_uncertainty']:.4g}"
    return (
        f"results.json has {was} {entry['unit']}; the log gives {value:.9g}, "
        f"u = {u:.4g} ({shown})"
    )


def _same(stored: Mapping[str, Any], fresh: Mapping[str, float], u: float) -> bool:
    room = TOLERANCE_OF_U * u
    return stored.keys() == fresh.keys() and all(
        abs(float(stored[n]) - fresh[n]) <= room + 1e-300 for n in fresh
    )


def _close(stored: float | None, fresh: float) -> bool:
    before = math.inf if stored is None else float(stored)
    return before == fresh or math.isclose(before, fresh, rel_tol=1e-5)


def compare_statements(
    rebuilt: Rebuilt, stored: list[str], declared: Declarations
) -> Iterator[Finding]:
    """Fill the notebook's conclusions again and compare with the stored ones."""
    written: set[str] = set()
    for call in [*declared.named("conclude"), *declared.named("signed")]:
        fill = _signed if call.name == "signed" else _statement
        try:
            written.add(fill(rebuilt, call))
        except (BenchproofError, TypeError, LookupError) as problem:
            said = f"a conclusion cannot be filled in again: {problem}"
            yield Finding("open", "investigation.ipynb", "conclude", said)
    is_complete = not {"conclude", "signed"} & declared.loose and _shows_all(rebuilt)
    for statement in stored:
        if statement not in written and is_complete:
            said = f"not what log and formulas give: {statement.strip()[:80]!r}"
            yield Finding("fault", NAME, "statements", said)


def _shows_all(rebuilt: Rebuilt) -> bool:
    """Tell whether every value shows as it did: one taken over is of one round only."""
    bounds = rebuilt.stored.keys() - rebuilt.case.defined.constants.keys()
    rounds = rebuilt.case.book.record.rounds
    return not rebuilt.stored or (len(rounds) == 1 and not bounds)


def _statement(rebuilt: Rebuilt, call: Call) -> str:
    (text,) = call.arguments
    view = rebuilt.case
    view = view if call.at_round is None else view.at_round(call.at_round)
    words = {v.hypothesis.name: v.word for v in view.verdicts().verdicts}
    return filled(text, words, view.shown)


def _signed(rebuilt: Rebuilt, call: Call) -> str:
    """Return a signed sentence as it shows now: with its mark, where it is stale."""
    sentence, against = call.arguments
    view = rebuilt.case
    view = view if call.at_round is None else view.at_round(call.at_round)
    return signed_text(view, sentence, against)

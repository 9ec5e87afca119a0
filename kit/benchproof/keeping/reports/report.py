"""The tables a write-up shows, taken from a case at the end of a run."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from benchproof.keeping.corrections import corrections_table
from benchproof.keeping.inquiry.comparing import separations_table, weights_table
from benchproof.keeping.inquiry.objections import errata_table
from benchproof.keeping.inquiry.replications import replication_table
from benchproof.keeping.inquiry.sample import limits_table, rests_table
from benchproof.keeping.reports.energytables import energy_table
from benchproof.keeping.reports.overview import overview_table
from benchproof.keeping.reports.surveytables import (
    contact_table,
    mating_table,
    pair_table,
)
from benchproof.keeping.state.validity import validity_table
from benchproof.keeping.trials.casetables import TRIAL_REPORTS
from benchproof.keeping.zerochecks import zeros_table
from benchproof.measuring.instruments import Function, Instrument
from benchproof.measuring.readings import Reading, Standing, standing
from benchproof.reasoning.cautions import DEFER, UNANSWERED, caution_for
from benchproof.values.statements import unsaid
from benchproof.values.tables import RowState, Table, columns
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def report_tables(case: Case) -> list[dict[str, Any]]:
    """Return every table of the write-up as plain data.

    Returns
    -------
    list of dict
        ``id``, ``section``, ``title``, ``columns``, ``rows`` and ``notes``.
    """
    tables = [
        (what, section, REPORTS[what](case)) for what, section in _SECTIONS.items()
    ]
    state = case.state()
    tables += [
        (f"budget-{name}", "budgets", case.budget(name).table())
        for name in state.formulas
        if not state.missing(name)
    ]
    return [_plain(*entry) for entry in tables if entry[2].rows]


_SECTIONS = {
    "differences": "sample",
    "rests": "sample",
    "matrix": "rivals",
    "splits": "rivals",
    "hazards": "hazards",
    "energy": "hazards",
    "instruments": "instruments",
    "zeros": "instruments",
    "contacts": "contacts",
    "pairs": "contacts",
    "mating": "contacts",
    "readings": "readings",
    "captures": "captures",
    "validity": "readings",
    "corrections": "readings",
    "constants": "derived",
    "correlations": "derived",
    "quantities": "derived",
    "plans": "trials",
    "attempts": "trials",
    "rates": "trials",
    "untried": "trials",
    "weights": "evidence",
    "replications": "evidence",
    "next": "next",
    "overturns": "next",
    "rounds": "rounds",
    "errata": "rounds",
}
"""In which section of the write-up each report stands."""


def _plain(name: str, section: str, table: Table) -> dict[str, Any]:
    rows: list[Any] = []
    for i, row in enumerate(table.rows):
        state = table.state(i)
        rows.append({"cells": list(row), "state": state} if state else list(row))
    return {
        "id": name,
        "section": section,
        "title": table.title,
        "columns": [{"title": c.title, "numeric": c.numeric} for c in table.columns],
        "rows": rows,
        "notes": list(table.notes),
    }


def claim_table(case: Case) -> Table:
    """Return the claim, word for word, and where it comes from."""
    claim = case.file.claim
    rows = (
        ("Claim, verbatim", claim.text or UNANSWERED),
        ("Source", claim.source or UNANSWERED),
        ("Date", claim.date or UNANSWERED),
        ("How often", claim.how_often or UNANSWERED),
    )
    return Table("The claim", columns("", " "), rows)


def predictions_table(case: Case) -> Table:
    """Return every prediction beside what was seen."""
    return case.verdicts().predictions()


def differences_table(case: Case) -> Table:
    """Return what differs between the reported device and the tested one."""
    rows = tuple(
        (d.field, d.reported, d.tested, d.same, ", ".join(d.touches) or "not said")
        for d in case.file.differences
    )
    heads = columns(
        "Field", "Reported device", "Tested sample", "The same?", "Bears on"
    )
    return Table("Reported device and tested sample", heads, rows)


def hazards_table(case: Case) -> Table:
    """Return the hazards with their answers, cautions and what remains open."""
    rows = tuple(
        (h.kind, h.answer.strip() or UNANSWERED, caution_for(h.kind))
        for h in case.file.hazards
    )
    heads = columns("Hazard", "Does it apply, and what was done?", "Usual caution")
    return Table("Hazards", heads, rows, (DEFER,))


def instruments_table(case: Case) -> Table:
    """Return one row per range: accuracy line and calibration state."""
    rows = tuple(
        row
        for instrument in case.instruments.values()
        for row in _instrument_rows(instrument, case)
    )
    heads = columns("Instrument", "Function", "Ranges", "Accuracy", "Calibration")
    notes = tuple(
        f"{i.name}: {i.description}" for i in case.instruments.values() if i.description
    )
    return Table("Instruments and ranges", heads, rows, notes)


def _instrument_rows(instrument: Instrument, case: Case) -> list[tuple[str, ...]]:
    """Return a row per function and accuracy line; one for what has no function."""
    state = instrument.calibration_state(case.book.clock().date())
    rows = [
        row
        for function in instrument.functions
        for row in _range_rows(instrument, function, state)
    ]
    return rows or [(instrument.name, "captures", "", "see the captures", state)]


def _range_rows(
    instrument: Instrument, function: Function, state: str
) -> list[tuple[str, ...]]:
    lines: dict[str, list[str]] = {}
    for r in function.ranges:
        lines.setdefault(r.accuracy.text, []).append(r.label)
    name = f"{function.name} [{unit_of(function.unit).symbol}]"
    return [
        (instrument.name, name, ", ".join(labels), text, state)
        for text, labels in lines.items()
    ]


def readings_table(case: Case) -> Table:
    """Return every reading in order, those that no longer count included."""
    record = case.book.record
    stands: dict[str, Standing] = {}
    for name in record.names():
        stands.update(standing(record, record.of(name)))
    measured = case.state().measured
    invalid = {m.name: m.reason for m in measured.values() if m.status == "invalid"}
    rows, states = [], []
    for reading in record.readings:
        said = stands[reading.row]
        why = reading.because
        if said == "struck":
            why = record.strikes[reading.row].because
        if said == "counts" and reading.measurand in invalid:
            why = "; ".join(filter(None, [why, invalid[reading.measurand]]))
        rows.append(_reading_row(reading, said, why))
        states.append(_STATE[said])
    heads = columns("Row", "Measurand", "Reading>", "With", "Where", "Round>", "Note")
    return Table("Readings", heads, tuple(rows), (), tuple(states))


_STATE: dict[Standing, RowState] = {
    "counts": "",
    "earlier round": "",
    "superseded": "superseded",
    "struck": "struck",
}


def _reading_row(reading: Reading, said: Standing, why: str) -> tuple[str, ...]:
    value = f"{reading.value.text} {unit_of(reading.value.unit).symbol}".strip()
    how = " ".join(filter(None, [reading.instrument, reading.function, reading.range]))
    note = "; ".join(filter(None, ["" if said == "counts" else said, why]))
    return (
        reading.row, reading.measurand, value, how or "not stated", reading.at,
        str(reading.round), note,
    )  # fmt: skip


def constants_table(case: Case) -> Table:
    """Return the declared constants."""
    constants = case.state().constants.values()
    rows = tuple((c.name, c.text, c.source or "not stated") for c in constants)
    notes = tuple(f"{c.name}: {said}." for c in constants if (said := unsaid(c.text)))
    return Table("Constants", columns("Constant", "Value>", "Source"), rows, notes)


def correlations_table(case: Case) -> Table:
    """Return the correlations a person declared."""
    rows = tuple(
        (c.first, c.second, f"{c.coefficient:g}", c.because)
        for c in case.defined.correlations.values()
    )
    heads = columns("Quantity", "Quantity", "Coefficient>", "Because")
    return Table("Declared correlations", heads, rows)


def quantities_table(case: Case) -> Table:
    """Return every quantity with its value, its uncertainty and how it came about."""
    state = case.state()
    rows = []
    for name in case.names():
        if name in state.constants:
            continue
        expanded = ""
        if not state.missing(name):
            budget = state.budget(name)
            expanded = budget.summary().partition(", ")[2] or budget.without_spread
        measured = state.measured.get(name)
        how = _HOW.get(measured.status if measured else "", "measured")
        if name in state.formulas:
            how = f"from {', '.join(state.formulas[name].arguments)}"
        flags = measured.flags if measured else ()
        notes = list(flags)
        if not state.missing(name):
            notes += [*filter(None, [state.nonlinear(name)]), *state.warnings(name)]
        if name in state.formulas:
            notes += filter(None, [state.bound_text(name)[1]])
        rows.append((name, str(case[name]), expanded, how, "; ".join(notes)))
    heads = columns("Quantity", "Value>", "Expanded", "How", "Note")
    return Table("Quantities", heads, tuple(rows))


_HOW = {"pending": "to be measured", "invalid": "measured, but invalid"}


def rounds_table(case: Case) -> Table:
    """Return the rounds with the verdicts as they stood at the end of each."""
    rows = []
    for r in case.book.record.rounds:
        verdicts = case.at_round(r.number).verdicts().verdicts
        words = "; ".join(f"{v.hypothesis.name} {v.word}" for v in verdicts)
        why = r.because or "first measurement"
        rows.append((str(r.number), why, r.time[:10], words))
    heads = columns("Round>", "Why", "Opened", "Verdicts at its end")
    return Table("Rounds", heads, tuple(rows))


REPORTS: dict[str, Callable[[Case], Table]] = {
    "overview": overview_table,
    "claim": claim_table,
    "differences": differences_table,
    "hazards": hazards_table,
    "energy": energy_table,
    "rests": rests_table,
    "limits": limits_table,
    "predictions": predictions_table,
    "matrix": lambda case: case.matrix().table(),
    "splits": lambda case: case.matrix().pairs(),
    "weights": weights_table,
    "instruments": instruments_table,
    "zeros": zeros_table,
    "contacts": contact_table,
    "pairs": pair_table,
    "mating": mating_table,
    "readings": readings_table,
    "captures": lambda case: case.captures.findings_table(),
    "validity": validity_table,
    "corrections": corrections_table,
    "constants": constants_table,
    "correlations": correlations_table,
    "quantities": quantities_table,
    **TRIAL_REPORTS,
    "next": lambda case: case.next_steps().table(),
    "overturns": lambda case: case.next_steps().overturns(),
    "separations": separations_table,
    "rounds": rounds_table,
    "errata": errata_table,
    "replications": replication_table,
}
"""What ``case.report(name)`` offers."""

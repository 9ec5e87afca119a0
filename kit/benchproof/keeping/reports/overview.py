"""A case at a glance: what is known, and what is pending, stale, forbidden and next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchproof.keeping.reports.energytables import energy_overview, overview_notes
from benchproof.measuring.readings import Reading
from benchproof.values.tables import Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

_NAMED = 8
"""As many names are listed; of more, their count says enough."""

_OPEN = ("undetermined", "not tested")
"""Verdicts that wait for a measurement."""


def overview_table(case: Case) -> Table:
    """Return what is measured, pending, unanswered, stale, forbidden and next."""
    unanswered = [h.kind for h in case.file.hazards if not h.answer.strip()]
    answered = "none" if case.file.hazards else "no hazard is listed in case.toml"
    rows = (
        ("Claim", case.file.claim.text or "not stated"),
        ("Readings", f"{len(case.book.record.readings)} recorded"),
        ("Round", str(case.round_number)),
        *_measured_rows(case),
        *_rival_rows(case),
        ("Hazards unanswered", ", ".join(unanswered) or answered),
        *_forbidden_rows(case),
        *energy_overview(case),
    )
    notes = (
        *case.book.log.recovered,
        *_clock_notes(case.book.record.readings),
        *overview_notes(case),
        *filter(None, [case.ahead()]),
    )
    title = case.file.title + (" (invented data)" if case.file.invented else "")
    return Table(title, columns("Case", ""), rows, notes)


def _measured_rows(case: Case) -> list[tuple[str, str]]:
    measured = case.state().measured.values()
    waiting = [m.name for m in measured if m.status == "pending"]
    invalid = [m.name for m in measured if m.status == "invalid"]
    older = [
        m.name
        for m in measured
        if m.readings and m.readings[0].round < case.round_number
    ]
    rows = [("Still to be measured", ", ".join(waiting) or "nothing waiting")]
    if invalid:
        rows.append(("Invalid readings", ", ".join(invalid)))
    if older:
        rows.append(("Carried over from an earlier round", _listed(older)))
    return rows


def _rival_rows(case: Case) -> list[tuple[str, str]]:
    """Return what the verdicts wait for, where rivals are stated already."""
    if not case.defined.hypotheses:
        return []
    undecided = [
        f"{v.hypothesis.name} ({v.word})"
        for v in case.verdicts().verdicts
        if v.word in _OPEN
    ]
    steps = case.next_steps().steps
    following = f"measure {steps[0].asked}" if steps else "no prediction is open"
    return [("Undetermined", _listed(undecided) or "no rival"), ("Next", following)]


def _forbidden_rows(case: Case) -> list[tuple[str, str]]:
    pairs = [
        f"{p.first}-{p.second}" + (f": {p.reason}" if p.reason else "")
        for p in case.file.survey.forbidden
    ]
    return [("Forbidden to join or drive", "; ".join(pairs))] if pairs else []


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _clock_notes(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Say where the computer's clock went back between two readings."""
    back = [
        (before, after)
        for before, after in zip(readings, readings[1:], strict=False)
        if after.time < before.time
    ]
    if not back:
        return ()
    before, after = back[0]
    more = f" and {len(back) - 1} times more" if len(back) > 1 else ""
    return (
        f"The clock of the computer went back: {after.row} says {after.time}, and "
        f"{before.row} before it {before.time}{more}. Rows count in the order they "
        "were recorded; set the clock before you record more.",
    )

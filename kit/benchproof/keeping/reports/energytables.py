"""The energy sources a case names, as a table and as lines of the overview."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchproof.reasoning.cautions import DEFER, UNANSWERED, caution_for
from benchproof.reasoning.energies import Energy
from benchproof.reasoning.energyfacts import AS_STATED, facts_of, grounds_of
from benchproof.values.tables import Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

NONE_NAMED = "No energy source is named in case.toml. That is an omission, no finding."


def energy_table(case: Case) -> Table:
    """Return what is known of each energy source, its limits, check and stop rule."""
    energies = case.file.energies
    rows = tuple(row for energy in energies for row in _rows(energy))
    heads = columns("Energy source", "What", "Value", "What it means")
    notes = grounds_of(energies) if energies else (NONE_NAMED,)
    return Table("Energy sources", heads, rows, (*notes, DEFER))


def _rows(energy: Energy) -> list[tuple[str, ...]]:
    """Put what to do before the numbers."""
    when = f"when: {energy.when or 'not stated'}"
    lines = [
        ("kind", energy.kind, caution_for(energy.kind)),
        ("stop rule", *_answer(energy.stop, AS_STATED)),
        ("what was checked", *_answer(energy.check, when)),
    ]
    if energy.deferred:
        lines.append(("left undone", energy.deferred, "leaving it is a result too"))
    lines += [(fact.what, fact.value, fact.means) for fact in facts_of(energy)]
    return [(energy.name, *line) for line in lines]


def _answer(said: str, remark: str) -> tuple[str, str]:
    return (said, remark) if said else (UNANSWERED, "answer it before you begin")


_HEADLINES = ("energy", "cell", "power")
"""Facts that the overview shows, beside those above a limit."""


def energy_overview(case: Case) -> tuple[tuple[str, str], ...]:
    """Return a line of the overview for each energy source.

    Returns
    -------
    tuple of (str, str)
        One line that says so where none is named.
    """
    energies = case.file.energies
    if not energies:
        return (("Energy sources", "none is named in case.toml"),)
    return tuple((f"Energy: {energy.name}", _line(energy)) for energy in energies)


def _line(energy: Energy) -> str:
    """Return kind, what exceeds a limit, check, stop rule and the usual caution."""
    facts = [f for f in facts_of(energy) if f.above or f.key in _HEADLINES]
    found = [f"{f.what} {f.value}" + (f", {f.means}" if f.above else "") for f in facts]
    check = f"checked: {energy.check or UNANSWERED}"
    stop = f"stop rule: {energy.stop or UNANSWERED}"
    return (
        f"{'; '.join([energy.kind, *found, check, stop])}. {caution_for(energy.kind)}"
    )


def overview_notes(case: Case) -> tuple[str, ...]:
    """Return what stands below the overview where an energy source is named."""
    return (DEFER,) if case.file.energies else ()

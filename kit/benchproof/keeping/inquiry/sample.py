"""What a case does not show: said by its author, and following from its gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchproof.keeping.inquiry.objections import open_objections
from benchproof.reasoning.samplelimits import Deviation, not_shown, resting_on
from benchproof.values.tables import Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def does_not_show(case: Case) -> list[str]:
    """Return what the case says it does not show, and what follows from its gaps."""
    said = list(case.file.does_not_show)
    units = case.file.sample.units
    said += not_shown(case.verdicts().verdicts, deviations_of(case), units)
    said += open_objections(case)
    open_ = [h.kind for h in case.file.hazards if not h.answer.strip()]
    if open_:
        said.append(f"Hazard questions without an answer: {', '.join(open_)}.")
    unanswered = [energy.name for energy in case.file.energies if energy.unanswered]
    if unanswered:
        said.append(
            f"Energy sources without a check or a stop rule: {', '.join(unanswered)}."
        )
    return said


def deviations_of(case: Case) -> list[Deviation]:
    """Return the fields of case.toml in which the sample is not known to be alike."""
    return [
        Deviation(d.field, d.same, d.touches)
        for d in case.file.differences
        if d.same != "same"
    ]


def limits_table(case: Case) -> Table:
    """Return what the case does not show, a sentence a row."""
    rows = tuple((sentence,) for sentence in does_not_show(case))
    return Table("What this does not show", columns(" "), rows)


def rests_table(case: Case) -> Table:
    """Return the fields each verdict rests on; a rival that is not there is told."""
    deviations, rivals = deviations_of(case), case.defined.hypotheses
    found = resting_on(case.verdicts().verdicts, deviations)
    unknown = {
        name: d.field for d in deviations for name in d.touches if name not in rivals
    }
    notes = tuple(
        f"case.toml, [[difference]] {field!r} touches {name}, which is no rival here."
        for name, field in unknown.items()
    )
    return Table(found.title, found.columns, found.rows, (*notes, *found.notes))

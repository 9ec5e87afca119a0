"""The tables of all trials of a case, as a write-up shows them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchproof.keeping.trials.planned import PlannedTrial
from benchproof.keeping.trials.rows import Version
from benchproof.keeping.trials.trialtables import (
    ATTEMPT_HEADS,
    attempt_rows,
    blind_line,
    not_done_table,
    progress_line,
    rates_table,
    torn_notes,
    version_notes,
    versions_of,
)
from benchproof.values.tables import RowState, Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def plans_table(case: Case) -> Table:
    """Return every plan: what was planned when, and how far it is."""
    trials, rows, notes = case.trials, [], list(torn_notes(case))
    for name in trials.names():
        plan = trials.rows(name)
        for version in versions_of(plan, trials.up_to):
            power = _latest(case, name, version)
            spec = version.spec
            rows.append(
                (
                    name, str(version.number), str(spec.trial_plan.candidates),
                    str(spec.trial_plan.control or f"none: {spec.no_control}"),
                    f"{spec.stop} ({spec.trial_plan.stop})",
                    f"{version.time}, after {version.after} attempts",
                    version.because or "",
                    progress_line(power),
                )
            )  # fmt: skip
            if spec.blind:
                notes.append(f"{name}, version {version.number}: {blind_line(power)}")
        notes += [f"{name}: {note}" for note in version_notes(plan, trials.up_to)]
    heads = columns("Plan", "Version>", "Conditions", "Control", "Stop rule",
                    "Written", "Changed because", "Progress")  # fmt: skip
    return Table("Trial plans", heads, tuple(rows), tuple(notes))


def _latest(case: Case, name: str, version: Version) -> PlannedTrial:
    """Return a version in the latest round in which it has attempts."""
    made = case.trials.rows(name).made(case.trials.up_to)
    rounds = [m.round for m in made if m.version == version.number]
    return PlannedTrial(case, name, version.number, max(rounds, default=version.round))


def all_attempts_table(case: Case) -> Table:
    """Return the attempts of every plan, those corrected or aborted included."""
    rows: list[tuple[str, ...]] = []
    states: list[RowState] = []
    for name in case.trials.names():
        found, said = attempt_rows(case.trials.rows(name), case.trials.up_to)
        rows += [(name, *row) for row in found]
        states += said
    heads = (*columns("Plan"), *ATTEMPT_HEADS)
    return Table("Attempts", heads, tuple(rows), torn_notes(case), tuple(states))


def all_rates_table(case: Case) -> Table:
    """Return the rates of every plan, one under the other."""
    rows: list[tuple[str, ...]] = []
    notes: tuple[str, ...] = ()
    for name in case.trials.names():
        found = rates_table(case.trials[name])
        outcome = case.trials[name].spec.outcomes[0]
        rows += [(name, outcome, *row) for row in found.rows]
        notes = found.notes
    heads = columns("Plan", "Outcome", "Condition", "Seen", "p against control",
                    "Round>", "Note")  # fmt: skip
    return Table("Rates", heads, tuple(rows), notes)


def all_not_done_table(case: Case) -> Table:
    """Return what was not done in every plan, and why."""
    rows: list[tuple[str, ...]] = []
    notes: list[str] = []
    for name in case.trials.names():
        plan = case.trials.rows(name)
        latest = versions_of(plan, case.trials.up_to)[-1]
        found = not_done_table(_latest(case, name, latest))
        rows += [(name, *row) for row in found.rows]
        notes += [f"{name}: {note}" for note in found.notes]
    heads = columns("Plan", "Condition", "Not done", "Because")
    return Table("Not done", heads, tuple(rows), tuple(notes))


TRIAL_REPORTS = {
    "plans": plans_table,
    "attempts": all_attempts_table,
    "rates": all_rates_table,
    "untried": all_not_done_table,
}
"""What ``case.report(name)`` offers of the trials."""

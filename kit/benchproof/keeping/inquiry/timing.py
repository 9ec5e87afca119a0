"""Predictions held against the first data on them, and those changed since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from benchproof.keeping.inquiry.foretold import Written, digest_of, foretold_beside
from benchproof.keeping.state.state import State
from benchproof.keeping.trials.blinding import unblinded
from benchproof.keeping.trials.rates import RateCriterion
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.verdicts import (
    AFTER,
    BEFORE,
    NOT_RECORDED,
    Hypothesis,
    Judged,
    Prediction,
    Withdrawn,
)

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

Seen = tuple[str, str]
"""A row of the data, ``r-0007``, ``t-0003`` or, of a capture, ``p-0005``, and what was
read or tried."""


def written_of(case: Case, rival: str, judged: Judged) -> Judged:
    """Say when a prediction was written, held against the first data on it.

    The data are those it is judged by: readings of the latest round of its measurand
    or of any input of its derived quantity, and attempts of its arms. One that was
    corrected or struck later counts too: it had been seen.
    """
    record = foretold_beside(case.book, case.folder)
    found = record.of(rival, judged.prediction)
    if found is None:
        why = f": {record.problem}" if record.problem else ""
        return replace(judged, written=NOT_RECORDED + why)
    seen = first_seen(case, judged.prediction.criterion)
    return replace(judged, written=_held(found, seen, record.begun))


def _held(found: Written, seen: Sequence[Seen], begun: Written) -> str:
    late = [(row, name) for row, name in seen if found.follows(row)]
    if not late:
        return f"{BEFORE}, {found.time}"
    row, name = late[0]
    if found.kind == "found" and all(begun.follows(row) for row, _ in late):
        return (
            f"{NOT_RECORDED}: {row} ({name}) stood there when the record of "
            f"predictions was begun, {begun.time}"
        )
    return f"{AFTER}, {found.time}: {row} ({name}) stood there already"


def first_seen(case: Case, criterion: Criterion) -> list[Seen]:
    """Return, for each measurand or arm that bears on a criterion, its first row.

    Of the latest round that has any; one entry each, none for what is not measured.
    """
    if isinstance(criterion, RateCriterion):
        return _attempts_seen(case, criterion)
    record, state = case.book.record, case.state()
    found = []
    for name in filter(None, (criterion.quantity, criterion.other)):
        for measurand in inputs_of(state, name):
            readings = record.of(measurand, case._view)
            latest = [r for r in readings if r.round == readings[-1].round]
            found += [(r.row, measurand) for r in latest[:1]] or _captured(
                case, measurand
            )
    return list(dict.fromkeys(found))


def _captured(case: Case, name: str) -> list[Seen]:
    row = foretold_beside(case.book, case.folder).first_captured(name, case._view)
    return [(row, name)] if row else []


def inputs_of(state: State, name: str) -> list[str]:
    """Return the measurands that a quantity is, or is computed from."""
    if not state.knows(name):
        return []
    names = [name]
    for step in state.graph.order(name):
        names += state.formulas[step].arguments
    return [n for n in dict.fromkeys(names) if n in state.measured]


def _attempts_seen(case: Case, criterion: RateCriterion) -> list[Seen]:
    if criterion.plan not in case.trials.names():
        return []
    made = unblinded(case.trials.rows(criterion.plan), case.trials.up_to)
    found = []
    for condition in filter(None, (criterion.condition, criterion.against)):
        here = [m for m in made if m.condition == condition]
        latest = [m for m in here if m.round == here[-1].round]
        found += [(m.row, f"{criterion.plan}: {condition}") for m in latest[:1]]
    return found


def standing_predictions(case: Case, hypothesis: Hypothesis) -> list[Prediction]:
    """Return the predictions there were at this view's round; all, in the case itself.

    One of which it is not recorded when it was written is kept.
    """
    view, record = case._view, foretold_beside(case.book, case.folder)
    if view is None:
        return hypothesis.predictions
    kept = []
    for prediction in hypothesis.predictions:
        found = record.of(hypothesis.name, prediction)
        if found is None or found.kind == "found" or found.round <= view:
            kept.append(prediction)
    return kept


def withdrawn_predictions(case: Case, *, ended: bool = False) -> tuple[Withdrawn, ...]:
    """Return what was predicted once and changed, or left out, after data on it.

    Parameters
    ----------
    ended : bool
        True at the end of a run: before, what stands in the file behind the last
        prediction of this notebook may only not have been reached yet.
    """
    record = foretold_beside(case.book, case.folder).rows()
    declared = {
        digest_of(rival.name, p): (rival.name, p.text)
        for rival in case.defined.hypotheses.values()
        for p in rival.predictions
    }
    reached = [i for i, w in enumerate(record) if w.sha256 in declared]
    last = len(record) if ended else max(reached, default=-1)
    return tuple(_gone(case, record, declared, last))


def _gone(
    case: Case,
    record: Sequence[Written],
    declared: dict[str, tuple[str, str]],
    last: int,
) -> Iterator[Withdrawn]:
    now = {declared[w.sha256]: w for w in record if w.sha256 in declared}
    for place, old in enumerate(record):
        late = case._view is not None and old.round > case._view
        if old.kind in ("begun", "captured") or old.sha256 in declared or late:
            continue
        successor = now.get((old.rival, old.prediction))
        if successor is None and place > last:
            continue
        rows = _ever_seen(case, old.about)
        if successor is not None and int(successor.row[2:]) > int(old.row[2:]):
            # Changed while nothing was known: a person may look for words.
            rows = [(row, name) for row, name in rows if successor.follows(row)]
        if rows:
            yield Withdrawn(
                old.rival, old.prediction, old.role, old.criterion,
                f"{old.time}", _why(successor, *rows[0]),
            )  # fmt: skip


def _why(successor: Written | None, row: str, name: str) -> str:
    if successor is None:
        return f"no longer in the notebook; {row} ({name}) bears on it"
    return (
        f"changed to {successor.criterion!r} ({successor.role}), written "
        f"{successor.time}; {row} ({name}) bears on it"
    )


def _ever_seen(case: Case, names: Sequence[str]) -> list[Seen]:
    state, found = case.state(), []
    for name in names:
        plan = name.removeprefix("plan ")
        if plan != name:
            known = plan in case.trials.names()
            made = case.trials.rows(plan).made(case.trials.up_to) if known else []
            found += [(m.row, plan) for m in made[:1]]
        for measurand in inputs_of(state, name):
            readings = case.book.record.of(measurand, case._view)
            found += [(r.row, measurand) for r in readings[:1]] or _captured(
                case, measurand
            )
    return found

"""Objections, and the dated list of what changed after them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchproof.keeping.inquiry.timing import first_seen, standing_predictions
from benchproof.measuring.readings import Round
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.reasoning.verdicts import Verdict
from benchproof.values.errors import InputError
from benchproof.values.tables import RowState, Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

Line = tuple[tuple[str, ...], RowState]
"""A row of a table and its state."""


@dataclass(frozen=True, slots=True)
class Objection:
    """What somebody held against the case, and the round it opened.

    Attributes
    ----------
    round : int
    text, by, date : str
        As said; who and when.
    touches : tuple of str
        Rivals whose verdict it could change; empty means all.
    """

    round: int
    text: str
    by: str
    date: str
    touches: tuple[str, ...] = ()

    def touched(self, rival: str) -> bool:
        """Tell whether it could change the verdict on a rival."""
        return not self.touches or rival in self.touches

    def __str__(self) -> str:
        return f"objection by {self.by}, {self.date}: {self.text}"


def raise_objection(
    case: Case, text: str, by: str, date: str, touches: Sequence[str]
) -> Objection:
    """Open a round for an objection; again is harmless. See `Case.objection`.

    Raises
    ------
    InputError
        If something is not said, or a rival is not known. Nothing is opened then.
    """
    for name, said in (("text", text), ("by", by), ("date", date)):
        if not said.strip():
            raise InputError(
                f"objection: {name} is empty. Give the words, by='…' and "
                "date='2026-11-25', so that readers can find it."
            )
    if isinstance(touches, str):
        raise InputError(f"objection: touches={touches!r}; give a list: ['H1'].")
    rivals = case.defined.hypotheses
    for rival in touches:
        if rival not in rivals:
            hint = did_you_mean(rival, rivals) or f"There are {', '.join(rivals)}."
            raise InputError(f"objection touches {rival!r}, which is no rival. {hint}")
    fresh = Objection(0, text, by, date, tuple(touches))
    number = case.new_round(because=str(fresh))
    kept = Objection(number, text, by, date, tuple(touches))
    case.defined.objections[number] = kept
    return kept


def open_objections(case: Case) -> list[str]:
    """Say which verdicts an objection touches that nothing was measured on since."""
    said = []
    for objection in case.defined.objections.values():
        if objection.round > case.round_number:
            continue
        waiting = [
            name
            for name in case.defined.hypotheses
            if objection.touched(name) and not answered(case, name, objection.round)
        ]
        if waiting:
            said.append(
                f"Open to the {objection} (round {objection.round}): "
                f"{', '.join(waiting)}, of which nothing was measured again since."
            )
    return said


def answered(case: Case, rival: str, number: int) -> bool:
    """Tell whether anything that bears on a rival was measured in a round or later."""
    rows = {r.row: r.round for r in case.book.record.readings}
    for prediction in standing_predictions(case, case.defined.hypotheses[rival]):
        for row, _ in first_seen(case, prediction.criterion):
            if rows.get(row, 0) >= number or _tried_since(case, row, number):
                return True
    return False


def _tried_since(case: Case, row: str, number: int) -> bool:
    if not row.startswith("t-"):
        return False
    trials = case.trials
    made = [m for n in trials.names() for m in trials.rows(n).made(trials.up_to)]
    return any(m.row == row and m.round >= number for m in made)


# The dated list -----------------------------------------------------------------


def errata_table(case: Case) -> Table:
    """Return what changed, round by round; what no longer holds is struck.

    A verdict that an objection touches and that stands is listed too.
    """
    rows: list[tuple[str, ...]] = []
    states: list[RowState] = []
    rounds = [r for r in case.book.record.rounds if r.number <= case.round_number]
    for before, after in zip(rounds, rounds[1:], strict=False):
        for row, state in _changes(case, before, after):
            rows.append(row)
            states.append(state)
    heads = columns("Date", "Round>", "What", "It said", "Because")
    notes = ("Crossed out: as it stood before that date.",) if rows else ()
    return Table("Objections and errata", heads, tuple(rows), notes, tuple(states))


def _changes(case: Case, before: Round, after: Round) -> list[Line]:
    old, new = case.at_round(before.number), case.at_round(after.number)
    date, number = after.time[:10], str(after.number)
    why = after.because
    found: list[Line] = [((date, number, "round opened", "", why), "")]
    was = {v.hypothesis.name: v for v in old.verdicts().verdicts}
    objection = case.defined.objections.get(after.number)
    for verdict in new.verdicts().verdicts:
        found += _verdict_rows(new, was, verdict, objection, (date, number))
    for name in new.names():
        texts = (_text(old, name), _text(new, name))
        if texts[0] and texts[0] != texts[1]:
            # It was measured well, of something else or earlier: not struck.
            found.append(((date, number, name, texts[0], ""), "superseded"))
            found.append(((date, number, name, texts[1], "measured again"), ""))
    return found


def _verdict_rows(
    view: Case,
    was: dict[str, Verdict],
    now: Verdict,
    objection: Objection | None,
    stamp: tuple[str, str],
) -> list[Line]:
    name = now.hypothesis.name
    old = was[name].word if name in was else "not tested"
    if old != now.word:
        return [
            ((*stamp, f"verdict on {name}", old, ""), "struck"),
            ((*stamp, f"verdict on {name}", now.word, now.reason), ""),
        ]
    if objection is None or not objection.touched(name):
        return []
    again = answered(view, name, objection.round)
    said = "stands, measured again" if again else "not measured again yet"
    return [((*stamp, f"verdict on {name}", now.word, said), "")]


def _text(view: Case, name: str) -> str:
    """Return a value as shown, "" where there is none to be struck."""
    state = view.state()
    measured = state.measured.get(name)
    if not state.knows(name) or name in state.constants:
        return ""
    if state.missing(name) and not (measured and measured.readings):
        return ""
    return str(view[name])

"""One more reading: how it was taken, and the entry it becomes part of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchproof.keeping.entry.answers import Answer
from benchproof.measuring.readings import Reading, Record, standing
from benchproof.measuring.slips import slip_text
from benchproof.values.tables import RowState, Table, columns
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

_NAMED = re.compile(r"(?!OL\b|0L\b)([^\W\d]\w*)(?:\s*[:=]\s*|\s+|$)(.*)")
_NUMBER = r"(?:[<>]?\s*[-+\N{MINUS SIGN}]?(?:\d+(?:\.\d*)?|\.\d+)(?:\(\d+\))?|OL|0L)"
_BARE = re.compile(rf"{_NUMBER}(?:[\s;]+{_NUMBER})*")

SHOWN = 12
"""How many of the latest readings stay in sight."""


@dataclass(frozen=True, slots=True)
class Taken:
    """How readings are taken; it stays from one to the next until it is changed."""

    using: str = ""
    function: str = ""
    range: str = ""
    at: str = ""


def named(line: str) -> tuple[str, str]:
    """Take a measurand's name off the front of a line.

    Examples
    --------
    >>> named("V_idle 3.912 V"), named("3.912 V"), named("OL Mohm")
    (('V_idle', '3.912 V'), ('', '3.912 V'), ('', 'OL Mohm'))
    """
    match = _NAMED.fullmatch(line)
    return (match[1], match[2]) if match else ("", line)


def with_unit(text: str, unit: str) -> str:
    """Give a bare number the unit that stands beside the field.

    Examples
    --------
    >>> with_unit("3.91", "V"), with_unit("391 mV", "V"), with_unit("OL", "Mohm")
    ('3.91 V', '391 mV', 'OL Mohm')
    """
    return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text


def unit_before(case: Case, measurand: str) -> str:
    """Return the unit a measurand was last typed in, or was declared with."""
    readings = case.book.record.of(measurand)
    return (
        readings[-1].value.unit
        if readings
        else case.defined.declared.get(measurand, "")
    )


def last_entry(record: Record, measurand: str) -> list[Reading]:
    """Return the readings that stand together last in this round, struck ones too."""
    here = [r for r in record.of(measurand) if r.round == record.current_round]
    return [r for r in here if r.entry == here[-1].entry]


def whole_text(before: Sequence[Reading], text: str) -> str:
    """Write an entry again with one more reading: `record` takes whole entries."""
    return ", ".join([*(_typed(r) for r in before), text])


def _typed(reading: Reading) -> str:
    return f"{reading.value.text} {reading.value.unit}".strip()


def answer_for(case: Case, measurand: str, first_new: int) -> Answer:
    """Say what was recorded, and what to look at before the leads come off.

    Parameters
    ----------
    first_new : int
        How many readings the record had before.
    """
    record = case.book.record
    added = [r for r in record.readings[first_new:] if r.measurand == measurand]
    if not added:
        return Answer(
            False,
            f"{measurand}: nothing was added, because an earlier entry of this round "
            "says the same. Type more of its readings, or correct it with a reason.",
        )
    measured = case.state().measured[measurand]
    # That one reading is alone is no news while it is being typed.
    known = [f for f in measured.flags if not f.startswith("one reading")]
    flags = (*_slips(record, added), *known, *measured.warnings)
    said = ", ".join(map(_typed, added))
    count = len(measured.readings)
    noun = "reading" if count == 1 else "readings"
    text = f"{added[-1].row}: {measurand} {said}. {case[measurand]} ({count} {noun})"
    return Answer(True, text, tuple(dict.fromkeys(flags)))


def _slips(record: Record, added: Sequence[Reading]) -> list[str]:
    earlier = record.of(added[0].measurand)[: -len(added)]
    before = [
        _si(r) for r in earlier if r.row not in record.strikes and not r.value.bound
    ]
    found = [(r, slip_text(before, _si(r))) for r in added if not r.value.bound]
    return [f"{_typed(r)} is {said}" for r, said in found if said]


def _si(reading: Reading) -> float:
    return unit_of(reading.value.unit).to_si(reading.value.value)


_STATES: dict[str, RowState] = {"struck": "struck", "superseded": "superseded"}


def latest_readings(case: Case, count: int = SHOWN) -> Table:
    """Return the latest readings, in the order they were taken.

    It is the same however they came in, so that it stays right when the notebook is
    run again without anybody typing.
    """
    record, up_to = case.book.record, case._view
    known = [r for r in record.readings if up_to is None or r.round <= up_to]
    shown = known[-count:]
    if not shown:
        return Table("Latest readings", columns(""), (("No reading yet.",),))
    stands = {}
    for name in dict.fromkeys(r.measurand for r in shown):
        stands.update(standing(record, record.of(name), up_to))
    rows = tuple(
        (
            r.row,
            r.measurand,
            f"{r.value.text} {unit_of(r.value.unit).symbol}".strip(),
            " ".join(filter(None, [r.instrument, r.function, r.range])) or "not stated",
            r.at,
            record.strikes[r.row].because if stands[r.row] == "struck" else r.because,
        )
        for r in shown
    )
    left = len(known) - len(shown)
    notes = (f"{left} earlier: case.report('readings').",) if left else ()
    heads = columns("Row", "Measurand", "Reading>", "With", "Where", "Because")
    states = tuple(_STATES.get(stands[r.row], "") for r in shown)
    return Table("Latest readings", heads, rows, notes, states)

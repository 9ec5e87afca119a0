"""Readings typed one after the other: choose what is measured, type what is seen."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from benchproof.keeping.entry.answers import Answer, Said
from benchproof.keeping.entry.taking import (
    Taken,
    answer_for,
    last_entry,
    named,
    unit_before,
    whole_text,
    with_unit,
)
from benchproof.keeping.recording import Entry
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


class TypedReadings:
    """The first way of entering; what was set stays until it is changed.

    Attributes
    ----------
    measurand : str
    taken : Taken
        Instrument, function, range, and place and state.
    """

    label = "Readings"

    def __init__(self, case: Case) -> None:
        self.case = case
        self.measurand = next(iter(self.names()), "")
        self.taken = Taken(using=only_instrument(case))
        self._adopt(self.measurand)

    @property
    def ways(self) -> dict[str, Any]:
        """What can be asked for."""
        return {"choose": self.choose, "record": self.record, "strike": self.strike}

    def names(self) -> list[str]:
        """Return what can be measured: declared ones first, then those recorded."""
        known = dict.fromkeys([*self.case.defined.declared, *self._recorded()])
        return list(known)

    def _recorded(self) -> list[str]:
        self.case.book.refresh()
        return self.case.book.record.names()

    def choose(self, said: Said) -> Answer:
        """Turn to another measurand; how it was taken last comes back with it."""
        name = said.get("measurand", "")
        self.case.defined.check_kind(name, "measurand", self.case.book.record)
        new = "" if name in self.names() else ", a new measurand"
        self.measurand = name
        self._adopt(name)
        unit = unit_before(self.case, name)
        how = f"in {unit}" if unit else "its unit is typed with the first reading"
        return Answer(True, f"Now {name}{new}: {how}.")

    def _adopt(self, name: str) -> None:
        before = self.case.book.record.of(name)
        planned = self.case.defined.planned.get(name)
        if before:
            self.taken = _taken(before[-1])
        elif planned:
            said = {k: v for k, v in asdict(_taken(planned)).items() if v}
            self.taken = replace(self.taken, **said)

    def record(self, said: Said) -> Answer:
        """Record a line: ``3.912 V``, several readings, or ``V_idle 3.912 V``.

        Raises
        ------
        InputError, RecordingRefusedError
            As `Case.record`; nothing is recorded.
        """
        ahead, text = named(said.get("text", ""))
        name = ahead or said.get("measurand", "") or self.measurand
        if not name:
            raise InputError("Choose or type what is measured first, e.g. V_idle.")
        self.taken = taken_of(said, self.taken)
        if name != self.measurand:
            turned = self.choose({"measurand": name})
            if not text:
                return turned
        if not text:
            raise InputError(f"{name}: type what the display shows, e.g. 3.912 V.")
        return self._record(name, text, said.get("because", ""))

    def _record(self, name: str, text: str, because: str) -> Answer:
        case, taken = self.case, self.taken
        case.book.refresh()
        record = case.book.record
        typed = with_unit(text, unit_before(case, name))
        read_values(typed, name)  # a refusal then speaks of what was typed just now
        before = last_entry(record, name)
        if before and not because and _taken(before[-1]) == taken:
            typed = whole_text(before, typed)
        count = len(record.readings)
        in_round = record.current_round
        case.record(name, typed, because=because, in_round=in_round, **asdict(taken))
        return answer_for(case, name, count)

    def strike(self, said: Said) -> Answer:
        """Cross out one reading, by its row, for a physical reason."""
        row, because = said.get("row", ""), said.get("because", "")
        found = [r for r in self.case.book.record.readings if r.row == row]
        if not found:
            raise InputError(f"There is no reading {row!r}. Choose one of the list.")
        self.case.strike(found[0].measurand, row, because=because)
        return Answer(True, f"{row} is struck: {because}. It stays visible.")

    def shown(self) -> dict[str, Any]:
        """Return what the panel needs to draw this way of entering."""
        record = self.case.book.record
        places = dict.fromkeys(r.at for r in reversed(record.readings) if r.at)
        return {
            "measurand": self.measurand,
            "names": [self._named(name) for name in self.names()],
            "unit": unit_before(self.case, self.measurand),
            "taken": asdict(self.taken),
            "instruments": instruments_shown(self.case),
            "places": list(places)[:20],
        }

    def _named(self, name: str) -> dict[str, Any]:
        here = last_entry(self.case.book.record, name)
        struck = self.case.book.record.strikes
        return {"name": name, "count": sum(r.row not in struck for r in here)}


def taken_of(said: Said, before: Taken) -> Taken:
    """Return how the next reading is taken: as said, and else as before."""
    fields = {k: said[k] for k in ("using", "function", "range", "at") if k in said}
    return replace(before, **fields)


def _taken(how: Reading | Entry) -> Taken:
    return Taken(how.instrument, how.function, how.range, how.at)


def only_instrument(case: Case) -> str:
    """Return the instrument of a case that has just one, else ""."""
    names = list(case.instruments)
    return names[0] if len(names) == 1 else ""


def instruments_shown(case: Case) -> list[dict[str, Any]]:
    """Return each instrument with its functions and their ranges."""
    return [
        {
            "name": instrument.name,
            "functions": [
                {"name": f.name, "ranges": [r.label for r in f.ranges]}
                for f in instrument.functions
            ],
        }
        for instrument in case.instruments.values()
    ]

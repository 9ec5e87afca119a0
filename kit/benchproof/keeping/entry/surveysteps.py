"""The contact survey, cell by cell: which contact is next, and in which state."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

from benchproof.keeping.entry.answers import Answer, Said
from benchproof.keeping.entry.readings import (
    instruments_shown,
    only_instrument,
    taken_of,
)
from benchproof.keeping.entry.taking import (
    Taken,
    answer_for,
    last_entry,
    whole_text,
    with_unit,
)
from benchproof.keeping.survey import NOT_MEASURED
from benchproof.measuring.contacts import SurveyPlan, resistance_name, voltage_name
from benchproof.values.errors import InputError, RecordingRefusedError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True)
class Cell:
    """One reading that the survey asks for.

    `kind` is ``voltage`` in a powered state and ``ohms`` in an unpowered one, where
    the red lead is on the contact; `name` is its measurand.
    """

    name: str
    contact: str
    state: str
    kind: Literal["voltage", "ohms"]


def cells_of(plan: SurveyPlan) -> list[Cell]:
    """Return every cell, state by state: contacts change faster than states.

    Ohms between a pair that case.toml forbids are left out: an ohmmeter drives it.
    """
    volts = [
        Cell(voltage_name(c, s), c, s, "voltage")
        for s in plan.powered
        for c in plan.probed
    ]
    ohms = [
        Cell(resistance_name(c, plan.reference, s), c, s, "ohms")
        for s in plan.unpowered
        for c in plan.probed
        if not plan.forbids(c, plan.reference)
    ]
    return volts + ohms


class SurveySteps:
    """The second way of entering: each Enter leads to the next contact."""

    label = "Contact survey"

    def __init__(self, case: Case) -> None:
        self.case = case
        self.taken = Taken(using=only_instrument(case))
        self.passed: set[str] = set()
        self._state = ""

    @property
    def ways(self) -> dict[str, Any]:
        """What can be asked for."""
        return {"record": self.record, "again": self.again}

    def left(self) -> list[Cell]:
        """Return the cells without a reading that counts, those passed over last."""
        self.case.book.refresh()
        record = self.case.book.record
        cells = [
            cell
            for cell in cells_of(self.case.file.survey)
            if all(r.row in record.strikes for r in record.of(cell.name))
        ]
        return [c for c in cells if c.name not in self.passed]

    def record(self, said: Said) -> Answer:
        """Record the reading of the cell that is next; ``-`` passes it over for now.

        Raises
        ------
        InputError, RecordingRefusedError
            As `Survey.voltages` and `Survey.ohms`; nothing is recorded.
        """
        self.taken = taken_of(said, self.taken)
        cell = self._asked(said.get("cell", ""))
        text = said.get("text", "")
        if text in NOT_MEASURED:
            self.passed.add(cell.name)
            return Answer(True, f"{cell.name} is passed over for now.")
        if not text:
            raise InputError(f"{cell.name}: type a reading, or - to pass it over.")
        count = len(self.case.book.record.readings)
        before = last_entry(self.case.book.record, cell.name)
        if cell.kind == "voltage":
            self._voltage(cell, whole_text(before, with_unit(text, "V")))
        else:
            spoken = text.lower() in ("beep", "no beep")
            self._ohms(cell, text if spoken else whole_text(before, text))
        self._state = cell.state
        return answer_for(self.case, cell.name, count)

    def _asked(self, name: str) -> Cell:
        """Return the cell a reading is meant for: the one the panel showed."""
        left = self.left()
        found = [c for c in left if c.name == name]
        if not found:
            raise RecordingRefusedError(
                f"{name or 'this cell'} is not waiting for a reading any more. Nothing "
                "was recorded; look at what is asked for now."
            )
        return found[0]

    def _voltage(self, cell: Cell, text: str) -> None:
        taken = self.taken
        self.case.contacts.voltages(
            cell.state, {cell.contact: text}, using=taken.using,
            function=taken.function, range=taken.range, note=taken.at,
            in_round=self.case.book.record.current_round,
        )  # fmt: skip

    def _ohms(self, cell: Cell, text: str) -> None:
        taken = self.taken
        self.case.contacts.ohms(
            cell.contact, self.case.file.survey.reference, text, state=cell.state,
            using=taken.using, function=taken.function, range=taken.range,
            note=taken.at, in_round=self.case.book.record.current_round,
        )  # fmt: skip

    def again(self, said: Said) -> Answer:
        """Ask for the cells again that were passed over."""
        count, self.passed = len(self.passed), set()
        return Answer(True, f"{count} passed over before are asked for again.")

    def shown(self) -> dict[str, Any]:
        """Return what the panel needs to draw this way of entering."""
        plan, left = self.case.file.survey, self.left()
        common = {
            "there": bool(plan.contacts),
            "left": len(left),
            "of": len(cells_of(plan)),
            "passed": len(self.passed),
            "taken": asdict(self.taken),
            "instruments": instruments_shown(self.case),
        }
        return common | ({"next": self._next(left[0])} if left else {})

    def _next(self, cell: Cell) -> dict[str, Any]:
        plan = self.case.file.survey
        (contact,) = [c for c in plan.contacts if c.name == cell.contact]
        unit = "V" if cell.kind == "voltage" else ""
        return {
            **asdict(cell),
            "where": contact.where,
            "reference": plan.reference,
            "unit": unit,
            "new_state": cell.state != self._state,
        }

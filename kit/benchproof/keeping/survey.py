"""The contact survey of a case: rows of readings in, tables and flags out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchproof.keeping import recording
from benchproof.keeping.measurand import Measurand
from benchproof.keeping.reports.surveytables import (
    contact_table,
    mating_table,
    observed,
    pair_table,
)
from benchproof.measuring.contactflags import Flag, survey_flags
from benchproof.measuring.contacts import SurveyPlan, resistance_name, voltage_name
from benchproof.measuring.readings import Record
from benchproof.values.errors import InputError, UnitError
from benchproof.values.quantities import declared_unit, read_values
from benchproof.values.tables import Table, Tabular
from benchproof.values.units import require_same_dimension, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

NOT_MEASURED = ("-", "\N{EN DASH}", "\N{EM DASH}", "\N{MINUS SIGN}", "?")
"""In a row, for a contact that was left out."""

Row = str | Mapping[str, str]
"""Values in declared order with one unit, or text by contact."""


@dataclass(frozen=True, slots=True, repr=False)
class Survey(Tabular):
    """What was read at the contacts declared in case.toml: ``case.contacts``."""

    case: Case

    @property
    def plan(self) -> SurveyPlan:
        """What case.toml declares.

        Raises
        ------
        InputError
            If it declares no contact.
        """
        if not self.case.file.survey.contacts:
            raise InputError(
                "case.toml declares no contacts. Add a [survey] with states and "
                "reference, and a [[contact]] for each, then restart the kernel."
            )
        return self.case.file.survey

    def voltages(
        self,
        state: str | Mapping[str, Row],
        row: Row = "",
        *,
        using: str = "",
        function: str = "",
        range: str = "",  # noqa: A002 - the trade's word
        note: str = "",
        because: str = "",
        in_round: int | None = None,
    ) -> Survey:
        """Record the voltages against the reference in one state, or in several.

        Everything is checked before anything is written, and written at once. Each
        value is a measurand of its own, e.g. ``V_P1_asleep``; a cell that is
        recorded already changes nothing.

        Parameters
        ----------
        state : str or mapping
            A declared state; or state to row, for a whole table.
        row : str or mapping
            One value for each contact but the reference, in declared order, with
            one unit: ``0.021 3.267 - OL V``; ``-`` is a contact not measured. Or
            contact to text, ``{"P6": "3.284 3.285 V"}``.
        using, function, range, because, in_round
            As for `Case.record`. `because` corrects the cells that differ.
        note : str
            How it was taken, e.g. ``clipped``.

        Raises
        ------
        InputError, UnitError
            If the row does not fit the declared contacts; nothing is recorded.
        RecordingRefusedError
            If other readings are recorded in this round.
        """
        rows = {state: row} if isinstance(state, str) else state
        if not isinstance(state, str) and row:
            raise InputError("voltages: give a state and its row, or a mapping only.")
        entries = []
        units = {}
        for name, text, where in self._cells(rows, note):
            units[name] = _unit(text, name)
            self.case.defined.check_name(name, units[name], self.case.book.record)
            if values := tuple(read_values(text, name)):
                entry = recording.Entry(name, values, using, function, range, where)
                entries.append(entry)
        self._append(entries, because, in_round)
        for name, unit in units.items():
            self.case.defined.declare(name, unit)
        return self

    def ohms(
        self,
        red: str,
        black: str,
        reading: str,
        *,
        state: str,
        using: str = "",
        function: str = "",
        range: str = "",  # noqa: A002 - the trade's word
        note: str = "",
        because: str = "",
        in_round: int | None = None,
    ) -> Measurand:
        """Record the resistance between two contacts, the red lead on the first.

        Swapping the leads is another measurand. A reading in a powered state is
        recorded, since it was taken, and flagged.

        Parameters
        ----------
        red, black : str
            The contacts under the leads.
        reading : str
            ``148 kohm``, ``OL Mohm``, ``? ohm``; ``beep`` and ``no beep`` are below
            and above what the instrument's function declares as ``beeps_below``.
        state : str
            Usually an unpowered one.
        using, function, range, because, in_round
            As for `Case.record`.
        note : str
            How it was taken, e.g. ``clipped``.

        Raises
        ------
        InputError, UnitError
            If contact, state or reading is not understood; nothing is recorded.
        RecordingRefusedError
            If other readings are recorded in this round.
        """
        where = f"ohms {red!r} to {black!r}"
        for contact in (red, black):
            self.plan.check_contact(contact, where)
        if red == black:
            raise InputError(f"{where}: both leads on one contact. Name two.")
        self.plan.check_state(state, where)
        name = resistance_name(red, black, state)
        text = self._spoken(reading, using, function, where)
        require_same_dimension(unit_of(_unit(text, name)), unit_of("ohm"), where)
        return self.case.record(
            name,
            text,
            using=using,
            function=function,
            range=range,
            at=_at(f"{red} to {black}", state, note),
            because=because,
            in_round=in_round,
        )

    def flags(self) -> tuple[Flag, ...]:
        """Return what a careful reader should know, each as a sentence."""
        return survey_flags(observed(self.case))

    def table(self) -> Table:
        """Return one row per contact, with a column per state, and the flags."""
        return contact_table(self.case)

    def pairs(self) -> Table:
        """Return the triangular matrix of resistances, both polarities."""
        return pair_table(self.case)

    def mating(self) -> Table:
        """Return in which order the contacts make and break."""
        return mating_table(self.case)

    def _cells(
        self, rows: Mapping[str, Row], note: str
    ) -> Iterator[tuple[str, str, str]]:
        """Give for each cell its measurand, text, and place."""
        for state, row in rows.items():
            for contact, text in row_cells(self.plan, state, row).items():
                yield voltage_name(contact, state), text, _at(contact, state, note)

    def _append(
        self, entries: Sequence[recording.Entry], because: str, in_round: int | None
    ) -> None:
        """Write what is new of independent entries with one durable append."""

        def decide(record: Record, number: int, time: str) -> recording.Rows:
            rows: recording.Rows = []
            fresh = []
            corrects = any(record.of(e.measurand) for e in entries)
            for entry in entries:
                # Beside corrected cells of a row, others may be new.
                new = corrects and not record.of(entry.measurand)
                added = recording.entry_rows(
                    record,
                    [entry],
                    because="" if new else because,
                    in_round=in_round,
                    number=number + len(rows),
                    time=time,
                )
                fresh += [entry] if added else []
                rows += added
            recording.refuse_useless(fresh, self.case.instruments)
            return rows

        if entries:
            self.case.writable().append(decide)

    def _spoken(self, reading: str, using: str, function: str, where: str) -> str:
        """Turn the beep of a continuity test into the bound it stands for."""
        sign = {"beep": "<", "no beep": ">"}.get(" ".join(reading.lower().split()))
        if sign is None:
            return reading
        instrument = self.case.instruments.get(using)
        functions = instrument.functions if instrument else ()
        said = {
            f.beeps_below
            for f in functions
            if f.beeps_below and function in ("", f.name)
        }
        if len(said) != 1:
            raise InputError(
                f"{where}: {reading!r} says nothing without the one threshold of "
                f"{using or 'an instrument (using=…)'}. Declare it with its function "
                "in instruments.toml: beeps_below = '30 ohm'."
            )
        return f"{sign}{said.pop()}"


def _at(*parts: str) -> str:
    return ", ".join(filter(None, parts))


def row_cells(plan: SurveyPlan, state: str, row: Row) -> dict[str, str]:
    """Take a row apart into one reading text per contact.

    Parameters
    ----------
    state : str
        A declared one.
    row : str or mapping
        As for `Survey.voltages`.

    Returns
    -------
    dict
        Contact to text with a unit of voltage; ``? V`` for one not measured.

    Raises
    ------
    InputError
        If there are too many or too few values, or a contact is not declared.
    """
    where = f"voltages {state!r}"
    plan.check_state(state, where)
    if isinstance(row, str):
        cells = _split(plan, row, where)
    else:
        for contact in row:
            plan.check_contact(contact, where)
        cells = {c: "? V" if t.strip() in NOT_MEASURED else t for c, t in row.items()}
    if plan.reference in cells:
        raise InputError(
            f"{where}: {plan.reference} is the reference: the black lead is on it, and "
            "it has no voltage to itself. Leave it out."
        )
    for contact, text in cells.items():
        at = f"{where}, {contact}"
        require_same_dimension(unit_of(_unit(text, at)), unit_of("V"), at)
    return cells


def _split(plan: SurveyPlan, row: str, where: str) -> dict[str, str]:
    *values, unit = [part.rstrip(",;") for part in row.split()] or [""]
    if not values or unit in NOT_MEASURED or re.match(r"[\d.+<>-]|OL\b", unit):
        raise UnitError(f"{where}: {row!r} does not end in a unit. Write '… 3.284 V'.")
    if len(values) != len(plan.probed):
        raise InputError(
            f"{where}: {len(values)} values for {len(plan.probed)} contacts "
            f"({', '.join(plan.probed)}; the black lead is on {plan.reference}). Give "
            "one value for each in that order, '-' where it was not measured. Nothing "
            "was recorded."
        )
    texts = ["?" if value in NOT_MEASURED else value for value in values]
    named = zip(plan.probed, texts, strict=True)
    cells = {contact: f"{text} {unit}" for contact, text in named}
    for contact, text in cells.items():
        read_values(text, f"{where}, {contact}")
    return cells


def _unit(text: str, where: str) -> str:
    """Return the unit of a reading text, understood as a whole."""
    read_values(text, where)
    return declared_unit(text, where)

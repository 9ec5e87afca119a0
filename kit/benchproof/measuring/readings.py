"""Recorded readings, and which of them count: rounds, corrections and strikes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, Protocol

from benchproof.values.errors import FileError, InputError
from benchproof.values.quantities import (
    ReadValue,
    plain_value,
    read_values,
    whole_number,
)

Standing = Literal["counts", "superseded", "earlier round", "struck"]

COLUMNS = (
    "row",
    "kind",
    "round",
    "measurand",
    "value",
    "unit",
    "instrument",
    "function",
    "range",
    "at",
    "together",
    "entry",
    "because",
    "time",
)
"""Of readings.csv. `value` and `unit` are what was typed; nothing is converted."""


class Cells(Protocol):
    """One row of the log: cells of text by column name."""

    def __getitem__(self, column: str, /) -> str:
        """Return the cell of a column."""


class Reading(NamedTuple):
    """One row of the log that holds a number someone read off."""

    # A tuple: 1e5 of them are made four times as fast as frozen dataclasses.

    row: str
    round: int
    measurand: str
    value: ReadValue
    instrument: str = ""
    function: str = ""
    range: str = ""
    at: str = ""
    together: str = ""
    entry: str = ""
    because: str = ""
    time: str = ""


@dataclass(frozen=True, slots=True)
class Round:
    """A re-measuring and why it was opened; round 1 is open from the start."""

    number: int
    because: str = ""
    time: str = ""


@dataclass(frozen=True, slots=True)
class Strike:
    """A reading crossed out, in which round and for what physical reason."""

    round: int
    because: str
    time: str = ""


@dataclass(slots=True)
class Record:
    """Everything the log says, in order: readings, rounds and strikes by row id."""

    rounds: list[Round] = field(default_factory=lambda: [Round(1)])
    strikes: dict[str, Strike] = field(default_factory=dict)
    _readings: list[Reading] = field(default_factory=list)
    _by_measurand: dict[str, list[Reading]] = field(default_factory=dict)
    _waiting: list[Callable[[], Iterable[Reading]]] = field(default_factory=list)

    @property
    def readings(self) -> list[Reading]:
        """All readings, in order."""
        self._make_those_waiting()
        return self._readings

    @property
    def by_measurand(self) -> dict[str, list[Reading]]:
        """The readings of each measurand, in order of first appearance."""
        self._make_those_waiting()
        return self._by_measurand

    @property
    def current_round(self) -> int:
        """Number of the latest round."""
        return self.rounds[-1].number

    def add(self, reading: Reading) -> None:
        """Append a reading."""
        self.add_later(lambda: (reading,))

    def add_later(self, make: Callable[[], Iterable[Reading]]) -> None:
        """Append readings that are made when somebody asks for readings."""
        self._waiting.append(make)

    def _make_those_waiting(self) -> None:
        waiting = self._waiting
        while waiting:
            made = list(waiting[0]())
            self._readings += made
            for reading in made:
                self._by_measurand.setdefault(reading.measurand, []).append(reading)
            del waiting[0]

    def of(self, measurand: str, up_to: int | None = None) -> list[Reading]:
        """Return the readings of one measurand, in every round up to `up_to`."""
        readings = self.by_measurand.get(measurand, [])
        if up_to is None:
            return list(readings)
        return [r for r in readings if r.round <= up_to]

    def names(self) -> list[str]:
        """Return the measurands that have readings, in order of first appearance."""
        return list(self.by_measurand)


def standing(
    record: Record, readings: Iterable[Reading], up_to: int | None = None
) -> dict[str, Standing]:
    """Say of each reading of one measurand whether it counts, and if not, why.

    The last entry of the latest round counts. An earlier entry of that round was
    corrected and is superseded; readings of earlier rounds stay visible; a struck
    reading never counts. Strikes of rounds after `up_to` are left out.

    Returns
    -------
    dict
        Row id to standing.
    """
    rows = list(readings)
    if not rows:
        return {}
    latest, entry = rows[-1].round, rows[-1].entry
    result: dict[str, Standing] = {}
    for reading in rows:
        if _is_struck(record, reading, up_to):
            result[reading.row] = "struck"
        elif reading.round != latest:
            result[reading.row] = "earlier round"
        else:
            result[reading.row] = "counts" if reading.entry == entry else "superseded"
    return result


def _is_struck(record: Record, reading: Reading, up_to: int | None) -> bool:
    strike = record.strikes.get(reading.row)
    return strike is not None and (up_to is None or strike.round <= up_to)


def counting(record: Record, measurand: str, up_to: int | None = None) -> list[Reading]:
    """Return the readings whose mean is the measurand's value in that round."""
    readings = record.of(measurand, up_to)
    if not readings:
        return []
    # As `standing` has it, without a word for each: there may be 1e5.
    latest, entry = readings[-1].round, readings[-1].entry
    last = [r for r in readings if r.entry == entry and r.round == latest]
    if not record.strikes:
        return last
    return [r for r in last if not _is_struck(record, r, up_to)]


def whole_sets(record: Record, groups: Sequence[list[Reading]]) -> list[list[Reading]]:
    """Keep of measurands read together only the sets in which every reading counts.

    Parameters
    ----------
    groups : sequence of list of Reading
        For each measurand, its readings that count.

    Returns
    -------
    list of list of Reading
        In the same order, all of one length.
    """
    places: list[dict[int, Reading]] = []
    for readings in groups:
        first = readings[0]
        entry = [r for r in record.of(first.measurand) if r.entry == first.entry]
        counts = {r.row for r in readings}
        places.append({i: r for i, r in enumerate(entry) if r.row in counts})
    common = sorted(set.intersection(*(set(p) for p in places)))
    return [[p[i] for i in common] for p in places]


def extend_record(record: Record, row: Cells, where: str) -> None:
    """Add one row of the log to the record.

    Raises
    ------
    FileError
        If the row makes no sense.
    """
    number = _round_number(row, where)
    if row["kind"] == "reading":
        if number != record.current_round:
            raise FileError(
                f"{where}, column 'round': a reading of round {number} in round "
                f"{record.current_round}. Restore the row from a copy."
            )
        record.add(_reading(row, number, where))
    elif row["kind"] == "round":
        if number != record.current_round + 1:
            raise FileError(
                f"{where}, column 'round': round {number} follows round "
                f"{record.current_round}. Restore the file from a copy."
            )
        record.rounds.append(Round(number, row["because"], row["time"]))
    elif row["kind"] == "strike":
        record.strikes[row["value"]] = Strike(number, row["because"], row["time"])
    else:
        raise FileError(
            f"{where}, column 'kind': {row['kind']!r} is not reading, round or strike. "
            "Was the file written by a newer benchproof?"
        )


def _round_number(row: Cells, where: str) -> int:
    number = whole_number(row["round"])
    if not number:
        raise FileError(
            f"{where}, column 'round': {row['round'][:30]!r} is not a whole number "
            "from 1. Restore the row from a copy; do not edit recorded rows."
        )
    return number


def _reading(row: Cells, number: int, where: str) -> Reading:
    value = plain_value(row["value"], row["unit"]) or _read_value(row, where)
    return Reading(
        row["row"],
        number,
        row["measurand"],
        value,
        row["instrument"],
        row["function"],
        row["range"],
        row["at"],
        row["together"],
        row["entry"],
        row["because"],
        row["time"],
    )


def _read_value(row: Cells, where: str) -> ReadValue:
    text = f"{row['value']} {row['unit']}".strip()
    try:
        values = read_values(text, f"{where}, columns 'value' and 'unit'")
    except InputError as problem:
        raise FileError(str(problem)) from None
    if len(values) != 1:
        raise FileError(
            f"{where}, column 'value': {text!r} is not one reading. Restore the row "
            "from a copy."
        )
    return values[0]

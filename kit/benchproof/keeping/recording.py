"""What a recording adds to the log: nothing, more readings, a correction, a round.

Each function looks at the record under the log's lock and returns the new rows, so
that running a cell twice, or in two kernels at once, records its readings once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import evaluate
from benchproof.measuring.readings import Reading, Record
from benchproof.values.errors import InputError, RecordingRefusedError
from benchproof.values.quantities import ReadValue

Rows = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class Entry:
    """What one `record` call says: readings of one measurand, taken one way."""

    measurand: str
    values: tuple[ReadValue, ...]
    instrument: str = ""
    function: str = ""
    range: str = ""
    at: str = ""

    def matches(self, readings: Sequence[Reading]) -> bool:
        """Tell whether these readings are the same, taken the same way."""
        return not self.differences(readings) and len(readings) == len(self.values)

    def differences(self, readings: Sequence[Reading]) -> list[str]:
        """Say how recorded readings differ from the beginning of this entry."""
        said = [
            f"{label}: recorded {had!r}, now {has!r}"
            for label, had, has in (
                ("using", readings[0].instrument, self.instrument),
                ("function", readings[0].function, self.function),
                ("range", readings[0].range, self.range),
                ("at", readings[0].at, self.at),
            )
            if had != has
        ]
        had = [_text(r.value) for r in readings]
        has = [_text(v) for v in self.values]
        if has[: len(had)] != had:
            said.append(f"recorded {', '.join(had)}; now {', '.join(has)}")
        return said


def _text(value: ReadValue) -> str:
    return f"{value.text} {value.unit}".strip()


def entry_rows(
    record: Record,
    entries: Sequence[Entry],
    *,
    because: str,
    in_round: int | None,
    number: int,
    time: str,
) -> Rows:
    """Decide which rows record `entries`, which were read together if several.

    Parameters
    ----------
    because : str
        Reason of a correction, "" for plain recording.
    in_round : int or None
        Where given, only readings of that round count as recorded already: for a
        new measurement that happens to agree with an old one.
    number : int
        Number of the next row, for the entry's id.
    time : str
        UTC stamp.

    Raises
    ------
    RecordingRefusedError
        If the measurand already has other readings in this round.
    """
    if all(_known(record, entry, in_round) for entry in entries):
        return []
    if in_round not in (None, record.current_round):
        raise RecordingRefusedError(
            f"{entries[0].measurand}: in_round={in_round} holds other readings or "
            f"none, and readings go to round {record.current_round} now. Correct "
            "in_round=, or leave it out."
        )
    extended = [_extension(record, entry, len(entries) > 1) for entry in entries]
    if all(extended) and not because:
        return [row for part in extended for row in _stamped(part, time)]
    if not because and (rest := _rest_of_set(record, entries, number)):
        return _stamped(rest, time)
    for entry in entries:
        _refuse_contradiction(record, entry, because)
    together = f"e-{number:04d}" if len(entries) > 1 else ""
    rows: Rows = []
    for entry in entries:
        label = f"e-{number + len(rows):04d}"
        rows += [
            _row(record.current_round, entry, value, label, together, because)
            for value in entry.values
        ]
    return _stamped(rows, time)


def _stamped(rows: Rows, time: str) -> Rows:
    return [{**row, "time": time} for row in rows]


def _entries_of(record: Record, measurand: str) -> dict[str, list[Reading]]:
    grouped: dict[str, list[Reading]] = {}
    for reading in record.of(measurand):
        grouped.setdefault(reading.entry, []).append(reading)
    return grouped


def _known(record: Record, entry: Entry, in_round: int | None) -> bool:
    return any(
        entry.matches(readings)
        for readings in _entries_of(record, entry.measurand).values()
        if in_round in (None, readings[0].round)
    )


def _extension(record: Record, entry: Entry, together: bool) -> Rows:
    """More readings behind those already recorded, and taken like them."""
    grouped = list(_entries_of(record, entry.measurand).values())
    if not grouped or grouped[-1][0].round != record.current_round:
        return []
    last = grouped[-1]
    if bool(last[0].together) != together:
        return []
    if len(last) >= len(entry.values) or entry.differences(last):
        return []
    return [
        _row(record.current_round, entry, value, last[0].entry, last[0].together, "")
        for value in entry.values[len(last) :]
    ]


def _rest_of_set(record: Record, entries: Sequence[Entry], number: int) -> Rows:
    """Return the rows that a set lacks which was cut off while it was written.

    When power fails, the first rows of a set may be on the disk and the others not.
    The same cell then records the others; that some of its measurands are there is
    no contradiction if what is there is the beginning of what it says.
    """
    here = [
        [r for r in record.of(e.measurand) if r.round == record.current_round]
        for e in entries
    ]
    labels = {r.together for readings in here for r in readings}
    if len(labels) != 1 or "" in labels:
        return []
    (together,) = labels
    rows: Rows = []
    for entry, readings in zip(entries, here, strict=True):
        if len({r.entry for r in readings}) > 1 or (
            readings
            and (entry.differences(readings) or len(readings) > len(entry.values))
        ):
            return []
        label = readings[0].entry if readings else f"e-{number + len(rows):04d}"
        rows += [
            _row(record.current_round, entry, value, label, together, "")
            for value in entry.values[len(readings) :]
        ]
    return rows


def _refuse_contradiction(record: Record, entry: Entry, because: str) -> None:
    # Readings that were struck are no contradiction: what follows is the retake.
    here = [
        r
        for r in record.of(entry.measurand)
        if r.round == record.current_round and r.row not in record.strikes
    ]
    if because and not record.of(entry.measurand):
        raise RecordingRefusedError(
            f"{entry.measurand}: because= corrects recorded readings, and there are "
            "none yet. Leave because= out."
        )
    if not here or because:
        return
    last = [r for r in here if r.entry == here[-1].entry]
    said = "; ".join(entry.differences(last)) or "fewer readings than recorded"
    raise RecordingRefusedError(
        f"{entry.measurand} already has readings in round {record.current_round}, and "
        f"these differ ({said}). Nothing was recorded or changed. If the recorded ones "
        "are wrong, add because='…' (they stay visible as superseded). If you "
        "measured again, open a round first: case.new_round(because='…')."
    )


def _row(
    round_number: int,
    entry: Entry,
    value: ReadValue,
    label: str,
    together: str,
    because: str,
) -> dict[str, str]:
    return {
        "kind": "reading",
        "round": str(round_number),
        "measurand": entry.measurand,
        "value": value.text,
        "unit": value.unit,
        "instrument": entry.instrument,
        "function": entry.function,
        "range": entry.range,
        "at": entry.at,
        "together": together,
        "entry": label,
        "because": because,
    }


def round_rows(record: Record, because: str, time: str) -> Rows:
    """Decide the row that opens a round; none if that reason opened one already."""
    if not because.strip():
        raise InputError("new_round: say why it is measured again: because='…'.")
    if any(r.because == because for r in record.rounds):
        return []
    number = str(record.current_round + 1)
    row = {"kind": "round", "round": number, "because": because}
    return _stamped([row], time)


def strike_rows(
    record: Record, measurand: str, which: str, because: str, time: str
) -> Rows:
    """Decide the row that strikes one reading; none if it is struck already.

    Parameters
    ----------
    which : str
        The reading as typed (``0.3284 V``), or its row id (``r-0007``).

    Raises
    ------
    InputError
        If no reason is given, or the reading is not found or not unique.
    """
    if not because.strip():
        raise InputError(
            f"strike {measurand}: give the physical reason: because='…'. That a value "
            "looks odd is not one."
        )
    wanted = " ".join(which.split())
    readings = record.of(measurand)
    found = [r for r in readings if wanted in (r.row, _text(r.value), r.value.text)]
    open_ = [r for r in found if r.row not in record.strikes]
    if found and not open_:
        return []
    if len(open_) != 1:
        listed = ", ".join(f"{r.row}: {_text(r.value)}" for r in readings) or "none"
        raise InputError(
            f"strike {measurand}: {which!r} fits {len(open_)} of its readings "
            f"({listed}). Name one by its row, e.g. 'r-0007'."
        )
    row = {
        "kind": "strike",
        "round": str(record.current_round),
        "measurand": measurand,
        "value": open_[0].row,
        "because": because,
    }
    return _stamped([row], time)


def refuse_useless(
    entries: Sequence[Entry], instruments: Mapping[str, Instrument]
) -> None:
    """Evaluate new readings before they are written: none may be useless.

    Raises
    ------
    InputError
        If a reading does not fit its instrument, or has no uncertainty at all.
    """
    for entry in entries:
        readings = [
            Reading(
                "",
                1,
                entry.measurand,
                value,
                entry.instrument,
                entry.function,
                entry.range,
            )  # fmt: skip
            for value in entry.values
        ]
        measured = evaluate(entry.measurand, readings, instruments)
        value = entry.values[0]
        stated = entry.instrument or value.standard_uncertainty is not None
        if measured.status == "measured" and len(readings) == 1 and not stated:
            raise InputError(
                f"{entry.measurand}: one reading without an instrument has no "
                f"uncertainty. Name it with using='…', or state u: '{value.text}(…) "
                f"{value.unit}'. Nothing was recorded."
            )

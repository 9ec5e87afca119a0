"""Taking readings from an instrument: what is there already, and what is asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from benchproof.keeping.live.dialogue import Dialogue, Stopwatch
from benchproof.keeping.live.exchanges import Exchange, keep_exchange
from benchproof.measuring.answers import (
    OVER_RANGE,
    answered_range,
    answered_value,
    written_value,
)
from benchproof.measuring.connections import Query
from benchproof.measuring.instruments import Function, range_for
from benchproof.measuring.readings import Reading, Record
from benchproof.values.errors import (
    BenchproofError,
    ConnectionFailedError,
    RecordingRefusedError,
)

if TYPE_CHECKING:
    from benchproof.keeping.recorder import Recorder


@dataclass(frozen=True, slots=True)
class Taking:
    """What one cell asks for: which measurand, of what, where, how often, and why."""

    measurand: str
    instrument: str
    function: Function
    query: Query
    at: str = ""
    because: str = ""
    in_round: int | None = None
    count: int = 1
    every_s: float = 0.0
    resume: bool = False

    @property
    def where(self) -> str:
        """Name the instrument and function, for messages."""
        return f"{self.measurand}: {self.instrument} {self.function.name}"


def already_taken(record: Record, taking: Taking) -> list[Reading]:
    """Return the readings that answer a cell, of the round in which it first ran.

    Parameters
    ----------
    record : Record
        Without `in_round`, all its rounds are looked through.

    Returns
    -------
    list of Reading
        One entry's, in order; empty if the cell has not recorded anything.
    """
    entries: dict[str, list[Reading]] = {}
    for reading in record.of(taking.measurand):
        entries.setdefault(reading.entry, []).append(reading)
    for readings in entries.values():
        first = readings[0]
        way = (first.instrument, first.function, first.at, first.because)
        if way == (
            taking.instrument, taking.function.name, taking.at, taking.because
        ) and taking.in_round in (None, first.round):  # fmt: skip
            return readings
    return []


def refuse_to_ask(record: Record, taking: Taking, had: Sequence[Reading]) -> None:
    """Refuse what could not be recorded, before the instrument is asked.

    Raises
    ------
    RecordingRefusedError
        If the round is another one, or holds readings taken otherwise.
    """
    now = record.current_round
    if taking.in_round not in (None, now) or (had and had[0].round != now):
        raise RecordingRefusedError(
            f"{taking.measurand}: readings go to round {now} now, not to round "
            f"{taking.in_round or had[0].round}. Nothing was asked. To measure again: "
            f"case.new_round(because='…') and in_round= its number."
        )
    if taking.because and not record.of(taking.measurand):
        raise RecordingRefusedError(
            f"{taking.measurand}: because= corrects recorded readings, and there are "
            "none yet. Nothing was asked; leave because= out."
        )
    here = [r for r in record.of(taking.measurand) if r.round == now]
    if had and here and here[-1].entry != had[0].entry:
        raise RecordingRefusedError(
            f"{taking.measurand}: this series was corrected since; it is not resumed. "
            "Nothing was asked."
        )
    if here and not had and not taking.because:
        taken = ", ".join(
            filter(None, [here[-1].instrument, here[-1].function, here[-1].at])
        )
        raise RecordingRefusedError(
            f"{taking.measurand} already has readings in round {now}, taken otherwise "
            f"({taken or 'no instrument named'}). Nothing was asked. If they are "
            "wrong, add because='…'. If you measure again, open a round first: "
            f"case.new_round(because='…') and in_round={now + 1}."
        )


@dataclass(slots=True)
class Taker:
    """The recording of one cell's readings, one after the other.

    Attributes
    ----------
    texts : list of str
        All readings of the entry as they are written in the log.
    range : str
        Label of the range they were taken on, "" where the instrument is not asked.
    """

    case: Recorder
    taking: Taking
    dialogue: Dialogue
    identity: str
    sleep: Callable[[float], None]
    stopwatch: Stopwatch
    texts: list[str] = field(default_factory=list)
    range: str = ""

    def take_all(self, had: Sequence[Reading]) -> float:
        """Ask for what is missing and record each reading as it comes.

        Parameters
        ----------
        had : sequence of Reading
            Of this series, from before.

        Returns
        -------
        float
            How long it took from the first question to the last, in s.

        Raises
        ------
        ConnectionFailedError
            If one fails; the message says how many were recorded.
        """
        self.texts = [r.value.text for r in had]
        self.range = had[0].range if had else ""
        start, asked = self.stopwatch(), 0.0
        for number in range(self.taking.count - len(had)):
            due = start + number * self.taking.every_s
            if (wait := due - self.stopwatch()) > 0:
                self.sleep(wait)
            asked = self.stopwatch() - start
            try:
                self._take_one(asked)
            except BenchproofError as problem:
                if not self.texts:
                    raise
                raise type(problem)(f"{problem} {self._so_far()}") from None
        return asked

    def _so_far(self) -> str:
        return (
            f"{len(self.texts)} of {self.taking.count} readings of "
            f"{self.taking.measurand} are recorded; running the cell again shows them, "
            "with resume=True it asks for the rest."
        )

    def _take_one(self, after_s: float) -> None:
        query = self.taking.query
        answer = self.dialogue.ask(query.text)
        ranged = self.dialogue.ask(query.range_text) if query.range_text else ""
        text, label = self._read(answer, ranged)
        if self.texts and label != self.range:
            raise ConnectionFailedError(
                f"{self.taking.where}: the range changed from {self.range} to {label} "
                "within a series. Set the instrument to one range."
            )
        row = self._record([*self.texts, text], label)
        self.texts.append(text)
        self.range = label
        keep_exchange(
            self.case.folder,
            Exchange(query.text, answer, query.range_text, ranged, after_s),
            row=row,
            measurand=self.taking.measurand,
            instrument=self.taking.instrument,
            identity=self.identity,
            time=self.case.book.clock(),
        )

    def _read(self, answer: str, ranged: str) -> tuple[str, str]:
        """Return a reading as it is written, and the label of a range it named."""
        function, where = self.taking.function, self.taking.where
        value = answered_value(answer, function.unit, where)
        label = answered_range(function, ranged, where).label if ranged else ""
        if math.isinf(value):
            return OVER_RANGE, label
        # Refused here, as typing it would be, where the range moved on in between.
        used = range_for(function, abs(value), label, where)
        return written_value(value, used.digit), label

    def _record(self, texts: list[str], label: str) -> str:
        """Record a reading behind those before; return its row."""
        record, taking = self.case.book.record, self.taking
        before = len(record.of(taking.measurand))
        self.case.record(
            taking.measurand,
            f"{' '.join(texts)} {taking.function.unit}",
            using=taking.instrument,
            at=taking.at,
            function=taking.function.name,
            range=label,
            # Only the first of a series corrects; the others stand behind it.
            because="" if self.texts else taking.because,
            in_round=record.current_round,
        )
        readings = record.of(taking.measurand)
        if len(readings) == before:
            raise RecordingRefusedError(
                f"{taking.measurand}: {taking.instrument} reads {texts[-1]} "
                f"{taking.function.unit} again, as recorded. There is nothing to "
                "correct: leave because= out."
            )
        return readings[-1].row

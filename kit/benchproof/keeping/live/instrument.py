"""Instruments that are asked: a reading goes straight from the meter to the log.

**Caution.** The kit sends the queries that a person declared in instruments.toml
and nothing else. It switches no output by itself; what a declared text switches,
and whether the bench is safe when a cell runs again, is that person's
responsibility. See `connection_from`.
"""

from __future__ import annotations

import datetime as dt
import os
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchproof.keeping.capturefiles import (
    CaptureFile,
    pending_capture,
    require_name,
    save_capture,
    saved_capture,
)
from benchproof.keeping.live.dialogue import Stopwatch, conversation
from benchproof.keeping.live.taking import (
    Taker,
    Taking,
    already_taken,
    refuse_to_ask,
)
from benchproof.keeping.live.transport import Connect, connect
from benchproof.keeping.measurand import Measurand
from benchproof.measuring.connections import Connection, duration_s, for_channel
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns

if TYPE_CHECKING:
    from benchproof.keeping.recorder import Recorder

RERUN = "BENCHPROOF_RERUN"
"""Environment variable that is ``1`` while a notebook is re-run: nothing is asked."""


@dataclass(frozen=True, slots=True, repr=False)
class LiveReadings(Tabular):
    """A measurand, and whether its readings were taken by this cell or before.

    Attributes
    ----------
    measurand : Measurand
    asked : bool
        Whether the instrument was asked by this call.
    rows : tuple of str
        Rows of readings.csv; empty while nothing is recorded.
    notes : tuple of str
    """

    measurand: Measurand
    asked: bool
    rows: tuple[str, ...]
    notes: tuple[str, ...]

    def table(self) -> Table:
        """Return the measurand's table with the notes below it."""
        table = self.measurand.table()
        return replace(table, notes=(*table.notes, *self.notes))


def live_instrument(case: Recorder, name: str) -> LiveInstrument:
    """Return a declared instrument of a case that can be asked.

    Raises
    ------
    InputError
        If it is not declared, or without a ``resource``.
    """
    if name not in case.instruments:
        known = ", ".join(case.instruments) or "none"
        raise InputError(
            f"live: instrument {name!r} is not in instruments.toml (there: {known}). "
            "Add it there or correct the name."
        )
    instrument = case.instruments[name]
    if instrument.connection is None:
        raise InputError(
            f"live: instruments.toml gives no resource for {name!r}. Add e.g. "
            'resource = "TCPIP::192.0.2.1::5025::SOCKET" and a query for each '
            "function, or record its readings by hand."
        )
    asking = os.environ.get(RERUN) != "1"
    return LiveInstrument(case, instrument, instrument.connection, asking=asking)


class LiveInstrument(Tabular):
    """An instrument of a case, asked through its connection.

    A connection is opened for each call and closed at its end. What is recorded
    already is not asked again, so a notebook re-runs without the instrument.

    Parameters
    ----------
    case : Recorder
    instrument : Instrument
    connection : Connection
    connect : callable
        Opens the transport.
    sleep, stopwatch : callable
        Wait, and count, seconds.
    asking : bool
        False where only what is recorded shall be shown.
    """

    def __init__(
        self,
        case: Recorder,
        instrument: Instrument,
        connection: Connection,
        *,
        connect: Connect = connect,
        sleep: Callable[[float], None] = time.sleep,
        stopwatch: Stopwatch = time.monotonic,
        asking: bool = True,
    ) -> None:
        self._case = case
        self._instrument = instrument
        self._connection = connection
        self._connect = connect
        self._sleep = sleep
        self._stopwatch = stopwatch
        self._asking = asking

    def read(
        self,
        measurand: str,
        *,
        function: str = "",
        at: str = "",
        because: str = "",
        in_round: int | None = None,
    ) -> LiveReadings:
        """Take one reading and record it, unless this cell's is recorded already.

        Parameters
        ----------
        measurand : str
            A Python name, e.g. ``V_idle``.
        function : str
            Of the instrument; needed only where several have a query.
        at : str
            Place and state, e.g. ``socket, idle``.
        because : str
            Why the recorded readings of this round are wrong; takes another.
        in_round : int
            To measure again in a round that was opened for it. Without it, readings
            of any round that were taken this way answer the call: else a notebook
            run again from the top would measure anew, in the latest round, in
            cells that belong to the first.

        Raises
        ------
        ConnectionFailedError
            If the instrument cannot be reached or its answer not be understood;
            nothing is recorded.
        RecordingRefusedError
            If other readings are recorded in this round; nothing is asked.
        InputError
            If the name, function or answer does not fit.
        """
        return self._take(self._taking(measurand, function, at, because, in_round))

    def series(
        self,
        measurand: str,
        *,
        count: int,
        every: str = "0 s",
        function: str = "",
        at: str = "",
        because: str = "",
        in_round: int | None = None,
        resume: bool = False,
    ) -> LiveReadings:
        """Take several readings, evenly in time, each recorded as it comes.

        Parameters
        ----------
        count : int
            How many, >= 1.
        every : str
            From the start of one reading to the start of the next, ``500 ms``.
        resume : bool
            Go on with a series that was interrupted; how long it stood still is
            then in the time stamps only.
        measurand, function, at, because, in_round
            As for `read`, which also says what is raised.
        """
        if count < 1:
            raise InputError(f"{measurand}: count={count}; give a number from 1.")
        taking = self._taking(measurand, function, at, because, in_round)
        every_s = duration_s(every, f"{measurand}, every")
        return self._take(replace(taking, count=count, every_s=every_s, resume=resume))

    def _taking(
        self, measurand: str, function: str, at: str, because: str, number: int | None
    ) -> Taking:
        where = f"live, {self._instrument.name}"
        query = self._connection.query_for(function, where)
        found = next(f for f in self._instrument.functions if f.name == query.function)
        return Taking(
            measurand, self._instrument.name, found, query, at, because, number
        )

    def _take(self, taking: Taking) -> LiveReadings:
        # Declared first: a name that cannot be recorded is refused before asking.
        self._case.record(taking.measurand, f"? {taking.function.unit}")
        self._case.book.refresh()
        record = self._case.book.record
        had = already_taken(record, taking)
        if had and (len(had) >= taking.count or not taking.resume):
            return self._told(taking, had)
        if not self._asking:
            return self._told(taking, had) if had else self._pending(taking)
        refuse_to_ask(record, taking, had)
        with conversation(
            self._instrument.name, self._connection, self._connect, self._stopwatch
        ) as (dialogue, identity):
            taker = Taker(
                self._case, taking, dialogue, identity, self._sleep, self._stopwatch
            )
            lasted = taker.take_all(had)
        return self._asked(taking, identity, lasted, len(had))

    def _pending(self, taking: Taking) -> LiveReadings:
        note = "not asked: this is a re-run, and this cell has recorded nothing yet"
        return LiveReadings(self._case[taking.measurand], False, (), (note,))

    def _told(self, taking: Taking, had: list[Reading]) -> LiveReadings:
        """Show what an earlier run of the cell recorded."""
        number, now = had[0].round, self._case.book.record.current_round
        notes = [
            f"recorded before ({had[0].time}, round {number}, {_span(had)}); the "
            "instrument was not asked again"
        ]
        if len(had) != taking.count:
            notes.append(
                f"{len(had)} readings recorded, {taking.count} asked for: the series "
                "was interrupted, or count= was changed. resume=True asks for more"
            )
        if number != now and taking.in_round is None:
            notes.append(f"to measure again in round {now}, say in_round={now}")
        rows = tuple(r.row for r in had)
        return LiveReadings(self._case[taking.measurand], False, rows, tuple(notes))

    def _asked(
        self, taking: Taking, identity: str, lasted: float, before: int
    ) -> LiveReadings:
        """Show what was just recorded, and what to know about how it was taken."""
        record = self._case.book.record
        readings = already_taken(record, replace(taking, in_round=record.current_round))
        notes = [f"asked now: {identity or 'identity not asked'}; {_span(readings)}"]
        if identity and not self._connection.identity:
            notes.append(
                f"the identity is not checked: add identity = '{identity}' to "
                "instruments.toml"
            )
        gaps = taking.count - before - 1
        # A tenth of the interval is what a reader of "every 500 ms" would accept.
        if gaps > 0 and lasted > 1.1 * gaps * taking.every_s > 0:
            notes.append(
                f"the instrument was slower than every {taking.every_s:g} s: one "
                f"reading in {lasted / gaps:.3g} s"
            )
        notes += self._cautions()
        rows = tuple(r.row for r in readings)
        return LiveReadings(self._case[taking.measurand], True, rows, tuple(notes))

    def _cautions(self) -> list[str]:
        commands = self._connection.commands()
        if not commands:
            return []
        return [
            "caution: instruments.toml declares texts that set something before they "
            f"ask ({', '.join(commands)}); what they switch is for you to see to"
        ]

    def download(self, channel: str, name: str) -> CaptureFile:
        """Save what a channel of the instrument recorded, as it sends it.

        The data go to ``captures/NAME.bin``, how they were taken to
        ``captures/NAME.json``. A capture of that name is shown, not overwritten.

        Parameters
        ----------
        channel : str
            As the instrument calls it, e.g. ``CH1``.
        name : str
            Of the files.

        Raises
        ------
        ConnectionFailedError
            If the block does not come whole; nothing is kept.
        FileError
            If a file of that name is there and is not this capture.
        """
        found = saved_capture(self._case.folder, require_name(name))
        *settings, query = self._capture_asks(channel)
        if found:
            self._require_same(found, channel)
            when = found.facts.get("time", "?")
            return replace(found, note=f"downloaded before ({when}); not asked again")
        if not self._asking:
            note = "not asked: this is a re-run, and nothing was downloaded yet"
            return pending_capture(self._case.folder, name, note)
        with conversation(
            self._instrument.name, self._connection, self._connect, self._stopwatch
        ) as (dialogue, identity):
            said = {text: dialogue.ask(text) for text in settings}
            content = dialogue.ask_block(query)
        time_utc = self._case.book.clock().astimezone(dt.UTC)
        facts = {
            "instrument": self._instrument.name,
            "identity": identity,
            "channel": channel,
            "query": query,
            "settings": said,
            "time": time_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        }
        saved = save_capture(self._case.folder, name, content, facts)
        return replace(saved, note="; ".join(["downloaded now", *self._cautions()]))

    def _capture_asks(self, channel: str) -> list[str]:
        where = f"download, {self._instrument.name}"
        if not self._connection.capture_query:
            raise InputError(
                f"{where}: instruments.toml gives no capture_query. Add e.g. "
                'capture_query = "WAV:DATA? {channel}".'
            )
        asks = (*self._connection.capture_settings, self._connection.capture_query)
        return [for_channel(text, channel, where) for text in asks]

    def _require_same(self, found: CaptureFile, channel: str) -> None:
        took = (found.facts.get("instrument"), found.facts.get("channel"))
        if took != (self._instrument.name, channel):
            raise InputError(
                f"captures/{found.path.name} is of {took[0]}, channel {took[1]}. "
                "Choose another name for another capture."
            )

    def table(self) -> Table:
        """Return what can be asked of the instrument, and in which words."""
        rows = [(q.function, q.text, q.range_text) for q in self._connection.queries]
        if self._connection.capture_query:
            rows.append(("capture", self._connection.capture_query, ""))
        notes = [] if self._asking else ["not asked: this is a re-run"]
        return Table(
            f"{self._instrument.name}: {self._connection.identity or 'any identity'}",
            columns("Function", "Asked by", "Range asked by"),
            tuple(rows),
            (*notes, *self._cautions()),
        )


def _span(readings: list[Reading]) -> str:
    first, last = readings[0].row, readings[-1].row
    return f"row {first}" if first == last else f"rows {first} to {last}"

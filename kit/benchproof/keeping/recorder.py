"""The half of a case that writes: readings, corrections, strikes and rounds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from benchproof.keeping import recording
from benchproof.keeping.casefile import read_case_file, read_instruments
from benchproof.keeping.logs.logbook import Clock, LogBook
from benchproof.keeping.measurand import Measurand
from benchproof.keeping.state.definitions import Definitions
from benchproof.measuring.readings import Record
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.values.errors import InputError, RecordingRefusedError
from benchproof.values.quantities import declared_unit, read_values

if TYPE_CHECKING:
    from benchproof.keeping.live.instrument import LiveInstrument


def utc_now() -> dt.datetime:
    """Return the time of this moment, UTC-aware."""
    return dt.datetime.now(dt.UTC)


class Recorder:
    """A case folder that readings are written to; `Case` adds what follows from them.

    Attributes
    ----------
    folder : pathlib.Path
    file : CaseFile
        What case.toml says.
    instruments : dict
        By name, from instruments.toml.
    book : LogBook
        The readings on disk.
    defined : Definitions
        What the notebook's cells declared.
    """

    def __init__(self, folder: Path, clock: Clock = utc_now) -> None:
        self.folder = folder
        self.file = read_case_file(folder / "case.toml")
        self.instruments = read_instruments(folder / "instruments.toml")
        self.book = LogBook(folder, clock)
        self.defined = Definitions()
        self._view: int | None = None
        self._reached = 1  # the latest round that this run's cells have opened

    def __getitem__(self, name: str) -> Measurand:
        """Return a quantity by name; a case knows them."""
        raise NotImplementedError

    def record(
        self,
        measurand: str,
        reading: str,
        *,
        using: str = "",
        at: str = "",
        function: str = "",
        range: str = "",  # noqa: A002 - the trade's word
        because: str = "",
        in_round: int | None = None,
    ) -> Measurand:
        """Record one or several readings of a measurand; running it twice is harmless.

        Parameters
        ----------
        measurand : str
            A Python name, e.g. ``V_idle``.
        reading : str
            ``12.10 12.09 V``, ``5.00(5) V``, ``OL MΩ``, ``17 of 20``; or ``? V``
            while it is still to be measured.
        using : str
            An instrument of instruments.toml. Without one, state the uncertainty or
            give several readings.
        at : str
            Place and state, e.g. ``socket, idle``.
        function, range : str
            Needed only where the instrument leaves a choice.
        because : str
            The reason why recorded readings of this round are wrong; they stay
            visible as superseded.
        in_round : int
            Needed only where a new measurement gives the same readings as an
            earlier round, which would otherwise count as recorded already.

        Raises
        ------
        InputError, UnitError
            If the text or the instrument does not fit; nothing is recorded.
        RecordingRefusedError
            If other readings are recorded in this round.
        """
        values = tuple(read_values(reading, measurand))
        unit = declared_unit(reading, measurand)
        self.defined.check_name(measurand, unit, self.book.record)
        entry = recording.Entry(measurand, values, using, function, range, at)
        if values:
            self._append_entries([entry], because, in_round)
        else:
            self.defined.planned[measurand] = entry
        self.defined.declare(measurand, unit)
        return self[measurand]

    def record_together(
        self,
        readings: Mapping[str, str],
        *,
        using: str = "",
        at: str = "",
        because: str = "",
        in_round: int | None = None,
    ) -> list[Measurand]:
        """Record measurands that were read at the same moments, set by set.

        The scatter they share is kept as a correlation.

        Parameters
        ----------
        readings : mapping
            Measurand to text, each with the same number of readings.
        using, at, because, in_round
            As for `record`.
        """
        entries = []
        for name, text in readings.items():
            values = tuple(read_values(text, name))
            unit = declared_unit(text, name)
            self.defined.check_name(name, unit, self.book.record)
            entries.append(recording.Entry(name, values, using, at=at))
        sizes = {e.measurand: len(e.values) for e in entries}
        if len(set(sizes.values())) > 1:
            raise InputError(
                f"record_together: {sizes} readings; each set needs one of each."
            )
        if any(sizes.values()):
            self._append_entries(entries, because, in_round)
        for name, text in readings.items():
            self.defined.declare(name, declared_unit(text, name))
        return [self[name] for name in readings]

    def live(self, instrument: str) -> LiveInstrument:
        """Return a declared instrument that is asked over its connection.

        Raises
        ------
        InputError
            If it is not declared, or no ``resource`` is.
        RecordingRefusedError
            If this is the case as it was in an earlier round.
        """
        from benchproof.keeping.live.instrument import live_instrument

        self.writable()
        return live_instrument(self, instrument)

    def strike(self, measurand: str, which: str, *, because: str) -> Measurand:
        """Cross out one reading for a physical reason; it stays visible.

        Parameters
        ----------
        which : str
            The reading as typed, or its row id.
        because : str
            What went wrong at the bench.

        Raises
        ------
        InputError
            If there is no such measurand or reading, or no reason.
        """
        book = self.writable()
        book.refresh()  # another kernel may have recorded it
        names = book.record.names()
        if measurand not in names:
            hint = did_you_mean(measurand, names) or f"There are {', '.join(names)}."
            raise InputError(
                f"strike: nothing is recorded of {measurand!r}. "
                f"{hint if names else 'There are no readings yet.'}"
            )
        book.append(
            lambda record, number, time: recording.strike_rows(
                record, measurand, which, because, time
            )
        )
        return self[measurand]

    def new_round(self, *, because: str) -> int:
        """Open a round: what is recorded from here on is measured again.

        Returns
        -------
        int
            Its number. The same reason opens a round only once.
        """
        self.writable().append(
            lambda record, number, time: recording.round_rows(record, because, time)
        )
        opened = [r.number for r in self.book.record.rounds if r.because == because]
        self._reached = max(self._reached, opened[0])
        return opened[0]

    def ahead(self) -> str:
        """Say so if rounds are on record that no cell of this run has opened; else "".

        When a notebook runs again, a cell above ``case.objection(…)`` finds the
        readings of that round too. A view of one round finds nothing ahead.
        """
        ahead = [r.number for r in self.book.record.rounds if r.number > self._reached]
        if self._view is not None or not ahead:
            return ""
        rounds = "round" if len(ahead) == 1 else "rounds"
        are, them = ("is", "it") if len(ahead) == 1 else ("are", "them")
        return (
            f"{rounds.capitalize()} {', '.join(map(str, ahead))} {are} on record, but "
            f"the notebook has not come to {them} yet: this table mixes rounds. For "
            f"round {self._reached} alone: case.at_round({self._reached})."
        )

    def _append_entries(
        self, entries: list[recording.Entry], because: str, in_round: int | None
    ) -> None:
        def decide(record: Record, number: int, time: str) -> recording.Rows:
            rows = recording.entry_rows(
                record,
                entries,
                because=because,
                in_round=in_round,
                number=number,
                time=time,
            )
            if rows:
                recording.refuse_useless(entries, self.instruments)
            return rows

        self.writable().append(decide)

    def writable(self) -> LogBook:
        """Return the log to append to.

        Raises
        ------
        RecordingRefusedError
            If this is a view of an earlier round.
        """
        if self._view is not None:
            raise RecordingRefusedError(
                f"this is the case as it was in round {self._view}; record in the "
                "case itself."
            )
        return self.book

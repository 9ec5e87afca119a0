"""trials.csv on disk: appended to durably, as readings.csv is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from weakref import WeakKeyDictionary

from benchproof.keeping.logs.collecting import collecting_paused
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.logs.logbook import Clock, LogBook
from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.record import TrialRecord
from benchproof.keeping.trials.rows import COLUMNS
from benchproof.values.errors import RecordingRefusedError

NAME = "trials.csv"

Cells = dict[str, str]
Decide = Callable[[TrialRecord], list[Cells]]
"""From everything the ledger says to the new rows, without round and time."""


class Ledger:
    """The trials of a case: the log on disk and the record it adds up to.

    Attributes
    ----------
    record : TrialRecord
        Grows with the log; nothing in it is ever taken back.
    """

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.record = TrialRecord()
        self.log = AppendLog(folder / NAME, COLUMNS, "t")
        self.clock = clock
        self.refresh()

    @property
    def rows(self) -> int:
        """How many rows of the log are in the record."""
        return self.record.taken

    def refresh(self) -> None:
        """Take in what was recorded since, by another kernel perhaps.

        Raises
        ------
        FileError
            If the file cannot be read or understood.
        """
        self._take(self.log.rows(self.rows))

    def fingerprint(self) -> tuple[int, str]:
        """Return the number of rows recorded, and the hash of their bytes."""
        self.refresh()
        return self.rows, self.log.prefix_sha256(self.rows)

    def append(self, round_number: int, decide: Decide) -> None:
        """Record what `decide` returns, decided and written under the log's lock.

        Parameters
        ----------
        round_number : int
            The round of the case; rows are written into it.
        decide : callable
            If it raises, nothing is written.

        Raises
        ------
        RecordingRefusedError
            If the ledger is already in a later round.
        """

        def under_lock(rows: Sequence[Row]) -> list[Cells]:
            self._take(rows[self.rows :] if self.rows else rows)
            if round_number < self.record.round:
                # Such a row would make the file unreadable for everybody.
                raise RecordingRefusedError(
                    f"{NAME} has attempts of round {self.record.round}, and this case "
                    f"is still in round {round_number}: another kernel opened one, or "
                    "readings.csv is an older copy. Nothing was recorded. Restart the "
                    "kernel."
                )
            time = self.clock().astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            shared = {"round": str(round_number), "time": time}
            return [{**cells, **shared} for cells in decide(self.record)]

        self.log.append(under_lock)
        self.refresh()

    def _take(self, rows: Sequence[Row]) -> None:
        with collecting_paused():
            self.record.extend(rows)


_ledgers: WeakKeyDictionary[LogBook, Ledger] = WeakKeyDictionary()


def ledger_beside(book: LogBook, folder: Path) -> Ledger:
    """Return the ledger that belongs to the readings of a case, opened once.

    All views of a case share its readings, and so its ledger.
    """
    if book not in _ledgers:
        _ledgers[book] = Ledger(folder, book.clock)
    return _ledgers[book]

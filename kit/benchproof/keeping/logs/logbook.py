"""The case's readings: the log on disk and the record it adds up to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path

from benchproof.keeping.logs.collecting import collecting_paused
from benchproof.keeping.logs.cutting import Cut, LogRows
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.recording import Rows
from benchproof.measuring.plainrows import PlainRows
from benchproof.measuring.readings import COLUMNS, Record, extend_record

Clock = Callable[[], dt.datetime]
Decide = Callable[[Record, int, str], Rows]
"""From the record, the next row's number and the time to the new rows."""


class LogBook:
    """readings.csv, and the record of everything it says so far.

    Attributes
    ----------
    record : Record
        Grows with the log; nothing in it is ever taken back.
    rows : int
        How many rows of the log are in the record.
    """

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.record = Record()
        self.rows = 0
        self.log = AppendLog(folder / "readings.csv", COLUMNS)
        self.clock = clock
        self.refresh()

    def refresh(self) -> None:
        """Take in what was recorded since, by another kernel perhaps."""
        self._take(self.log.rows(self.rows))

    def fingerprint(self) -> tuple[int, str]:
        """Return the number of rows recorded, and the hash of their bytes."""
        self.refresh()
        return self.rows, self.log.prefix_sha256(self.rows)

    def append(self, decide: Decide) -> None:
        """Record what `decide` returns, decided and written under the log's lock."""

        def under_lock(rows: Sequence[Row]) -> Rows:
            self._take(rows[self.rows :])
            time = self.clock().astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            return decide(self.record, len(rows) + 1, time)

        self._take(self.log.append(under_lock))

    def _take(self, new: Sequence[Row]) -> None:
        with collecting_paused():
            if isinstance(new, LogRows):
                self._take_cut(new.cut)
                new = new.later
            for row in new:
                self._take_row(row)

    def _take_cut(self, cut: Cut) -> None:
        """Take many rows, of which only those that are not plain are cut."""
        plain = PlainRows(cut)
        self.rows = plain.add_to(self.record, 0)
        while self.rows < len(cut):
            self._take_row(cut.row(self.rows))
            self.rows = plain.add_to(self.record, self.rows)

    def _take_row(self, row: Row) -> None:
        extend_record(self.record, row, f"readings.csv line {row.line}")
        self.rows += 1

"""predictions.csv: when each prediction was first written, held against the data."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.logs.logbook import LogBook
from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.rates import RateCriterion
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.verdicts import Hypothesis, Prediction
from benchproof.values.errors import FileError, InputError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

NAME = "predictions.csv"
COLUMNS = (
    "row",
    "kind",
    "rival",
    "prediction",
    "criterion",
    "role",
    "probability",
    "about",
    "sha256",
    "round",
    "readings",
    "attempts",
    "time",
)
"""Of predictions.csv. `readings` and `attempts` count the rows of readings.csv and
trials.csv at that moment: they order predictions and data even within a second."""

KINDS = ("begun", "prediction", "found", "captured")
"""`begun` opens the file; a `found` prediction was in the notebook of a case that had
data before it had this file. `captured` stands where a quantity was first read from a
capture, which leaves no row in readings.csv."""


@dataclass(frozen=True, slots=True)
class Written:
    """When a prediction was first written.

    Attributes
    ----------
    row, kind, rival, prediction, criterion, role, sha256, time : str
        As in the file.
    about : tuple of str
        The quantities it is on, or ``plan power``.
    round : int
        In which it was written.
    readings, attempts : int
        Rows that readings.csv and trials.csv held then.
    """

    row: str
    kind: str
    rival: str
    prediction: str
    criterion: str
    role: str
    about: tuple[str, ...]
    sha256: str
    round: int
    readings: int
    attempts: int
    time: str

    def follows(self, row: str) -> bool:
        """Tell whether a row of the data (``r-0007``, ``t-0003``) stood there then.

        That of a captured quantity, ``p-0005``, stands in this file itself.
        """
        own = int(self.row.partition("-")[2])
        there = {"t": self.attempts, "r": self.readings, "p": own}[row[0]]
        return int(row.partition("-")[2]) <= there


def digest_of(rival: str, prediction: Prediction) -> str:
    """Return the SHA-256 of everything a prediction says."""
    said = (
        rival,
        prediction.text,
        prediction.criterion.text,
        prediction.role,
        prediction.probability,
    )
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def about(criterion: Criterion) -> tuple[str, ...]:
    """Name what a criterion is on: quantities, or a trial plan."""
    if isinstance(criterion, RateCriterion):
        return (f"plan {criterion.plan}",)
    return tuple(filter(None, (criterion.quantity, criterion.other)))


class Foretold:
    """The record of predictions of one case; rows are appended, never edited.

    Attributes
    ----------
    problem : str
        Why a prediction could not be recorded, e.g. in a folder that may only be
        read; "" if all were.
    """

    def __init__(self, folder: Path) -> None:
        self.log = AppendLog(folder / NAME, COLUMNS, "p")
        self.problem = ""
        self._taken: list[Written] = []
        self._began_late = False
        self.rows()

    def rows(self) -> list[Written]:
        """Return everything recorded so far, in order.

        Raises
        ------
        FileError
            If a row makes no sense, with its line.
        """
        fresh = self.log.rows()[len(self._taken) :]
        self._taken += [_written(row) for row in fresh]
        return self._taken

    def begin(self, case: Case) -> None:
        """Open the file of a case in which nothing has been recorded yet.

        A file that cannot be written must not keep a reading from being recorded.
        """
        if case.book.rows or self.rows():
            return
        try:
            self._append(case, [])
        except FileError as problem:
            self.problem = str(problem)

    def note(self, case: Case, hypothesis: Hypothesis, prediction: Prediction) -> None:
        """Record a prediction that is not recorded yet.

        A file that cannot be written leaves the prediction unrecorded, and says so
        beside it: a copy that may only be read still runs.
        """
        digest = digest_of(hypothesis.name, prediction)
        if any(w.sha256 == digest for w in self.rows()):
            return
        p = prediction.probability
        cells = {
            "rival": hypothesis.name,
            "prediction": prediction.text,
            "criterion": prediction.criterion.text,
            "role": prediction.role,
            "probability": "" if p is None else repr(p),
            "about": "; ".join(about(prediction.criterion)),
            "sha256": digest,
        }
        try:
            self._append(case, [cells])
        except FileError as problem:
            self.problem = str(problem)

    def captured(self, case: Case, name: str, number: int) -> None:
        """Record that a quantity was read from a capture of a round, once.

        A file that cannot be written leaves it unrecorded, and says so.
        """
        digest = _digest_of_capture(name, str(number))
        if any(w.sha256 == digest for w in self.rows()):
            return
        cells = {
            "kind": "captured",
            "prediction": str(number),
            "about": name,
            "sha256": digest,
        }
        try:
            self._append(case, [cells])
        except FileError as problem:
            self.problem = str(problem)

    def first_captured(self, name: str, up_to: int | None) -> str:
        """Return the row that stands for a captured quantity; "" if there is none.

        Of the latest round that has one, up to a round.
        """
        rounds = {
            int(w.prediction): w.row
            for w in self.rows()
            if w.kind == "captured" and w.about == (name,)
        }
        known = [n for n in rounds if up_to is None or n <= up_to]
        return rounds[max(known)] if known else ""

    def _append(self, case: Case, entry: list[dict[str, str]]) -> None:
        case.book.refresh()
        readings, attempts = case.book.rows, case.trials.ledger.rows
        stamp = case.book.clock().astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        shared = {
            "round": str(case.book.record.current_round),
            "readings": str(readings),
            "attempts": str(attempts),
            "time": stamp,
        }

        def decide(rows: Sequence[Row]) -> list[dict[str, str]]:
            known = {row["sha256"] for row in rows}
            fresh = [cells for cells in entry if cells["sha256"] not in known]
            if not rows:
                self._began_late = readings + attempts > 0
            kind = "found" if self._began_late else "prediction"
            begun = [] if rows else [{"kind": "begun"}]
            told = [*begun, *({"kind": kind, **cells} for cells in fresh)]
            return [{**cells, **shared} for cells in told]

        self.log.append(decide)
        self.rows()

    def of(self, rival: str, prediction: Prediction) -> Written | None:
        """Return the record of a prediction as last read, None if there is none."""
        digest = digest_of(rival, prediction)
        return next((w for w in self._taken if w.sha256 == digest), None)

    @property
    def begun(self) -> Written:
        """The row that opened the file, as last read."""
        return self._taken[0]

    def fingerprint(self) -> tuple[int, str]:
        """Return the number of rows recorded, and the hash of their bytes."""
        count = len(self.rows())
        return count, self.log.prefix_sha256(count)


def _written(row: Row) -> Written:
    where = f"{NAME} line {row.line}"
    if row["kind"] not in KINDS:
        raise FileError(
            f"{where}, column 'kind': {row['kind']!r} is not one of "
            f"{', '.join(KINDS)}. Restore the row from a copy; rows are not edited."
        )
    try:
        if row["kind"] != "begun":
            _check_digest(row)
        number, readings, attempts = (
            int(row[name]) for name in ("round", "readings", "attempts")
        )
    except (ValueError, InputError) as problem:
        raise FileError(
            f"{where}: {problem}. Restore the row from a copy; rows are not edited."
        ) from None
    names = tuple(filter(None, row["about"].split("; ")))
    return Written(
        row["row"],
        row["kind"],
        row["rival"],
        row["prediction"],
        row["criterion"],
        row["role"],
        names,
        row["sha256"],
        number,
        readings,
        attempts,
        row["time"],
    )


def _digest_of_capture(name: str, number: str) -> str:
    said = ("captured", name, number)
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def _check_digest(row: Row) -> None:
    if row["kind"] == "captured":
        if _digest_of_capture(row["about"], row["prediction"]) != row["sha256"]:
            raise InputError("the quantity does not have the SHA-256 that stands there")
        int(row["prediction"])
        return
    p = row["probability"]
    said: Sequence[object] = (
        row["rival"],
        row["prediction"],
        row["criterion"],
        row["role"],
        float(p) if p else None,
    )
    if hashlib.sha256(json.dumps(said).encode()).hexdigest() != row["sha256"]:
        raise InputError("the prediction does not have the SHA-256 that stands there")


_records: WeakKeyDictionary[LogBook, Foretold] = WeakKeyDictionary()


def foretold_beside(book: LogBook, folder: Path) -> Foretold:
    """Return the record of predictions that belongs to the readings of a case.

    All views of a case share its readings, and so its predictions.
    """
    if book not in _records:
        _records[book] = Foretold(folder)
    return _records[book]

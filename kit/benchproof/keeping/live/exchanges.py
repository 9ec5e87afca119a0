"""live.csv: what an instrument was asked and what it answered, word for word.

The readings themselves are in readings.csv, written with the digits of their range.
This file is where they came from: which instrument said so, in which words and how
long after the series began. Losing it loses no reading.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from benchproof.keeping.logs.log import AppendLog

COLUMNS = (
    "exchange",
    "row",
    "measurand",
    "instrument",
    "identity",
    "query",
    "answer",
    "range_query",
    "range_answer",
    "after_s",
    "time",
)
"""`row` is that of readings.csv; `after_s` counts from the first of a series."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """One reading's questions and answers, as they were sent."""

    query: str
    answer: str
    range_query: str = ""
    range_answer: str = ""
    after_s: float = 0.0


def keep_exchange(
    folder: Path,
    exchange: Exchange,
    *,
    row: str,
    measurand: str,
    instrument: str,
    identity: str,
    time: dt.datetime,
) -> None:
    """Append one exchange to the case's live.csv.

    Raises
    ------
    FileError
        If it could not be written.
    """
    entry = {
        "row": row,
        "measurand": measurand,
        "instrument": instrument,
        "identity": identity,
        "query": exchange.query,
        "answer": exchange.answer,
        "range_query": exchange.range_query,
        "range_answer": exchange.range_answer,
        "after_s": f"{exchange.after_s:.3f}",
        "time": time.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    }
    AppendLog(folder / "live.csv", COLUMNS, prefix="x").append(lambda rows: [entry])

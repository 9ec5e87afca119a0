"""Timings of the log: one reading written, many read."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from harness import Act, Line, again, medians
from invented import case_folder, reading, readings

KIT = Path(__file__).resolve().parent.parent / "kit"


def append(folder: Path) -> Iterator[Line]:
    from benchproof import open_case
    from benchproof.keeping.logs.log import AppendLog
    from benchproof.measuring.readings import COLUMNS

    made = case_folder(folder, count=1000)
    log = AppendLog(made / "readings.csv", COLUMNS)
    case = open_case(case_folder(folder, count=1000))
    entry = {**reading(1), "time": "2026-01-31T12:00:00Z"}
    line = readings(1).splitlines(keepends=True)[1]
    plain = folder / "plain.csv"
    numbers = iter(range(10**6))

    def by_case() -> Act:
        name = f"W_{next(numbers)}"
        return partial(
            case.record, name, "12.10 V", using="handheld", at="socket, idle"
        )

    floor, by_log, recorded = medians(
        200,
        again(partial(_append_plainly, plain, line)),
        again(partial(log.append, lambda rows: [entry])),
        by_case,
    )
    yield Line("append a reading, the log alone", by_log, floor, 1.3)
    yield Line("append a reading, case.record", recorded, floor, 1.3)


def _append_plainly(path: Path, line: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, line)
    os.fsync(handle)
    os.close(handle)


def load(folder: Path) -> Iterator[Line]:
    import pandas as pd

    from benchproof import open_case
    from benchproof.keeping.logs.log import AppendLog
    from benchproof.measuring.readings import COLUMNS

    made = case_folder(folder, count=100_000)
    path = made / "readings.csv"
    floor, rows, whole, asked = medians(
        5,
        again(partial(pd.read_csv, path)),
        again(lambda: AppendLog(path, COLUMNS).rows()),
        again(partial(open_case, made)),
        lambda: open_case(made).state,
    )
    yield Line("load 1e5 readings, rows alone", rows, floor, 1.5)
    yield Line("load 1e5 readings, open_case", whole, floor, 1.5)
    yield Line("  then evaluate all 1000 measurands", asked, floor)
    case = open_case(made)
    names = iter(range(10**6))

    def record_and_ask() -> object:
        name = f"W_{next(names)}"
        case.record(name, "12.10 V", using="handheld", at="socket, idle")
        return case.state()

    (seconds,) = medians(3, again(record_and_ask))
    yield Line("  then record one more and evaluate", seconds)


def check(folder: Path) -> Iterator[Line]:
    """Time the check of a case of 1e5 readings that was run, without running it."""
    import nbformat
    import pandas as pd

    from benchproof import check_case, open_case
    from benchproof.keeping.runs.rerun import NOTEBOOK, notebook_code_hash
    from benchproof.keeping.runs.results import save_results

    made = case_folder(folder, count=100_000)
    code = "from benchproof import open_case\ncase = open_case()"
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(code)])
    nbformat.write(book, made / NOTEBOOK)
    case = open_case(made)
    save_results(str(made), "2026-01-31T12:00:00Z", notebook_code_hash(book))
    del case
    found = check_case(made)
    floor, seconds = medians(
        5,
        again(partial(pd.read_csv, made / "readings.csv")),
        again(partial(check_case, made)),
    )
    word = "met" if seconds <= 1 else "missed"
    note = f"{len(found.findings)} findings; target 1 s: {word}"
    yield Line("check 1e5 readings without running", seconds, floor, note=note)

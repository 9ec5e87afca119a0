"""Rows of readings.csv, trials.csv and predictions.csv, changed by whatever."""

import pytest
from conftest import CASE, INSTRUMENTS
from fuzzing import EDITS, Unshown, edited, in_time, many, texts, tried
from hypothesis import example, given
from hypothesis import strategies as st

from benchproof import open_case
from benchproof.keeping.inquiry.foretold import Foretold
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.logs.rowformat import RowFormat
from benchproof.keeping.trials.ledger import Ledger
from benchproof.keeping.trials.rows import COLUMNS as TRIAL_COLUMNS
from benchproof.measuring.readings import COLUMNS, Record, extend_record

TIME = "2026-11-25T11:20:31Z"
FORMAT = RowFormat("readings.csv", COLUMNS, "r")
LOGS = ("readings.csv", "trials.csv", "predictions.csv")


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """Return the bytes of the three logs of a small case, by name."""
    folder = tmp_path_factory.mktemp("sound")
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    (folder / "instruments.toml").write_text(INSTRUMENTS, encoding="utf-8")
    case = open_case(folder)
    case.record("V_idle", "12.10 12.12 12.11 V", using="handheld", at='"socket", é')
    case.record_together({"V_a": "1.0(1) V", "I_a": "2.0(1) A"}, at="two\nlines")
    case.record("trips", "3 of 20")
    case.strike("V_idle", "12.12 V", because="a clip had slipped")
    rival = case.hypothesis("H1", "the supply is soft")
    rival.predicts("it sags", case["V_idle"].below("12 V"))
    plan = case.trials.plan(
        "power",
        factors={"supply": ["brick", "bench"]},
        outcomes=["lost", "kept"],
        control={"supply": "bench"},
        stop="3 of each",
        repetitions=3,
        seed=1,
    )
    plan.record("l k k")
    plan.correct(2, "lost", because="misread")
    case.new_round(because="a new clip")
    case.record("V_idle", "12.3(1) V")
    return Unshown({name: (folder / name).read_bytes() for name in LOGS})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fuzzed")
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    (folder / "instruments.toml").write_text(INSTRUMENTS, encoding="utf-8")
    return folder


@many
@given(EDITS, st.sampled_from(LOGS))
def test_changed_bytes_of_a_log_are_read_or_refused(sound, edits, name):
    columns, prefix = {
        "readings.csv": (COLUMNS, "r"),
        "trials.csv": (TRIAL_COLUMNS, "t"),
        "predictions.csv": (
            tuple(sound[name].split(b"\n")[0].decode().split(",")),
            "p",
        ),
    }[name]
    given_bytes = edited(sound[name], edits)
    form = RowFormat(name, columns, prefix)
    part = tried(form.read, given_bytes, 0, 0, at_start=True)
    if part:
        assert part.size + len(part.fragment) == len(given_bytes)
        assert all(len(row.cells) == len(columns) for row in part.rows)


@many
@given(EDITS)
def test_what_can_be_read_can_be_appended_to_and_loses_nothing(sound, folder, edits):
    path = folder / "readings.csv"
    before = edited(sound["readings.csv"], edits)
    path.write_bytes(before)
    torn = path.with_name("readings.csv.torn")
    torn.unlink(missing_ok=True)
    log = AppendLog(path, COLUMNS)
    rows = tried(log.rows)
    added = tried(log.append, lambda rows: [{"value": "1", "time": TIME}])
    # Reading and appending judge the same.
    assert (rows is None) == (added is None)
    after = path.read_bytes()
    if added is None:
        assert after == before
    else:
        aside = torn.read_bytes()[:-1] if torn.exists() else b""
        assert before.endswith(aside)
        assert after.startswith(before[: len(before) - len(aside)])
        with in_time():
            again = AppendLog(path, COLUMNS).rows()
        assert again == rows + added


WORDS = ["V", "mΩ", "OL", "?", "of", "3 of 20", "r-0001", "e-0001", "reading", "round",
         "strike", "handheld", "5.00(5)", "±", "(k=2)"]  # fmt: skip
SOUND_CELLS = {
    "kind": ["reading", "round", "strike"],
    "round": ["1", "2"],
    "measurand": ["V_idle", "trips"],
    "value": ["12.10", "OL", "3 of 20", "5.00(5)", ">60", "r-0001", "5 ± 1 (k=2)"],
    "unit": ["V", "mΩ", "°C", ""],
    "instrument": ["handheld", "steady", ""],
    "function": ["DC V", ""],
    "range": ["60 V", "6.000 V", ""],
    "together": ["e-0001", ""],
    "entry": ["e-0001", "e-0002", ""],
    "because": ["a clip had slipped", ""],
}
CELLS = st.fixed_dictionaries(
    {
        key: st.one_of(st.sampled_from(sound), texts(sound, WORDS))
        for key, sound in SOUND_CELLS.items()
    }
)


def as_row(cells):
    return dict.fromkeys(COLUMNS, "") | cells | {"row": "r-0001", "time": TIME}


@many
@given(CELLS)
@example({**{k: "" for k in COLUMNS}, "kind": "reading", "round": "9" * 5000})
def test_a_row_of_any_cells_is_taken_or_refused(cells):
    record = Record()
    row = as_row(cells)
    tried(extend_record, record, row, "readings.csv line 2")
    if record.readings:
        assert record.readings[0].measurand == row["measurand"]


@many
@given(st.lists(CELLS, min_size=1, max_size=4))
def test_a_case_with_any_readable_rows_opens_and_shows_itself(folder, rows):
    path = folder / "readings.csv"
    entry = [as_row(cells) for cells in rows]
    for row in entry:
        del row["row"]
    try:
        payload = FORMAT.encoded(entry, 1, b"\n")
    except ValueError:
        return
    path.write_bytes(FORMAT.header() + payload)
    case = tried(open_case, folder)
    if case:
        tried(lambda: (case.state(), str(case)))


@many
@given(EDITS, st.sampled_from(LOGS[1:]))
def test_changed_trials_and_predictions_are_taken_or_refused(
    sound, folder, edits, name
):
    for other in LOGS:
        (folder / other).write_bytes(sound[other])
    given_bytes = edited(sound[name], edits)
    (folder / name).write_bytes(given_bytes)
    if name == "trials.csv":
        tried(Ledger, folder, None)
    else:
        tried(Foretold, folder)
    assert (folder / name).read_bytes() == given_bytes


FIELDS = st.sampled_from(["kind", "round", "plan", "version", "attempt", "place",
                          "condition", "outcome", "note"])  # fmt: skip


@many
@given(
    st.integers(1, 5),
    FIELDS,
    texts(
        ["1", "2", "planned", "plan", "lost", "supply=brick"], ["{", "}", "lost", ";"]
    ),
)
@example(2, "version", "²")
@example(2, "place", "²")
@example(5, "attempt", "²")
@example(2, "version", "9" * 5000)
@example(2, "place", "9" * 5000)
@example(2, "round", "9" * 5000)
def test_a_changed_cell_of_an_attempt_is_taken_or_refused(
    sound, folder, line, column, text
):
    form = RowFormat("trials.csv", TRIAL_COLUMNS, "t")
    rows = form.read(sound["trials.csv"], 0, 0, at_start=True).rows
    entry = [dict(zip(TRIAL_COLUMNS[1:], row.cells[1:], strict=True)) for row in rows]
    entry[line - 1][column] = text
    try:
        payload = form.encoded(entry, 1, b"\n")
    except ValueError:
        return
    (folder / "trials.csv").write_bytes(form.header() + payload)
    ledger = tried(Ledger, folder, None)
    if ledger:
        tried(lambda: [plan.made() for plan in ledger.record.plans.values()])

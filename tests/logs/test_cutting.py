"""Many rows at once are read as each of them is read by itself, or left to that."""

import datetime as dt

import pytest
from fuzzing import EDITS, edited
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.keeping.logs import log as logs
from benchproof.keeping.logs.cutting import LogRows, cut_rows
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.logs.logbook import LogBook
from benchproof.keeping.logs.rowformat import RowFormat
from benchproof.measuring.readings import COLUMNS
from benchproof.values.errors import FileError

TIME = "2026-11-25T11:20:31Z"
FORM = RowFormat("readings.csv", COLUMNS, "r")
PLAIN = {"kind": "reading", "round": "1", "measurand": "V", "value": "5.00",
         "unit": "V", "at": "socket, idle", "time": TIME}  # fmt: skip

# What a note may hold that a quick reader could trip over.
NOTES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    st.text(st.sampled_from('",\n\r; aµΩ\u2028\x85\x1c')),
)
KINDS = st.sampled_from(
    [
        *({}, {"value": "12.1", "unit": "Ω"}, {"measurand": "R", "unit": "ohm"}),
        *({"value": "OL"}, {"value": "5.00(5)"}, {"value": "17 of 20", "unit": ""}),
        *({"kind": "strike", "value": "r-0001"}, {"kind": "round", "round": "2"}),
        *({"round": "2"}, {"kind": "rounds"}, {"value": "12,1"}, {"unit": "volts!"}),
    ]
)
ROWS = st.lists(
    st.builds(lambda said, note: PLAIN | said | {"because": note}, KINDS, NOTES),
    max_size=8,
)


@st.composite
def files(draw):
    """Strategy: bytes of a log: as written, spoilt, cut short or saved elsewhere."""
    newline = draw(st.sampled_from([b"\n", b"\r\n"]))
    header = FORM.header().replace(b"\n", newline)
    data = header + FORM.encoded(draw(ROWS), 1, newline)
    spoil = draw(st.sampled_from(["not", "edited", "cut", "saved", "as is"]))
    if spoil == "edited":
        data = edited(data, draw(EDITS))
    elif spoil == "cut":
        data = data[: draw(st.integers(0, len(data)))]
    elif spoil == "saved":
        coding = draw(st.sampled_from(["utf-8-sig", "utf-16", "latin-1", "cp1252"]))
        data = data.decode().encode(coding, "replace")
    return data


def outcome(act):
    try:
        return act()
    except FileError as problem:
        return str(problem)


def facts(path):
    """What a log says, what it told on the way, and what appending leaves of it."""
    log = AppendLog(path, COLUMNS)
    rows = outcome(lambda: [(row.line, row.cells) for row in log.rows()])
    state = (log._offset, log._lines, log._unended, log._fragment, log._tail,
             log._newline, log._digest.hexdigest())  # fmt: skip
    return rows, log.recovered, state


def taken(path):
    """The record that a log adds up to."""
    book = LogBook(path.parent, lambda: dt.datetime(2026, 11, 25, tzinfo=dt.UTC))
    record = book.record
    by_measurand = {name: record.of(name) for name in record.names()}
    return book.rows, record.readings, by_measurand, record.rounds, record.strikes


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("logs") / "readings.csv"


@pytest.mark.parametrize("reader", [facts, taken])
@settings(max_examples=300, deadline=None)
@given(data=files())
def test_many_rows_at_once_are_read_or_refused_as_one_by_one(path, reader, data):
    path.write_bytes(data)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(logs, "_MANY", 10**9)
        careful = outcome(lambda: reader(path))
        patch.setattr(logs, "_MANY", 0)
        quick = outcome(lambda: reader(path))
    assert quick == careful


@settings(max_examples=200, deadline=None)
@given(st.lists(NOTES, min_size=1, max_size=8), st.sampled_from([b"\n", b"\r\n"]))
def test_rows_as_they_are_written_are_all_cut_at_once(notes, newline):
    data = FORM.header().replace(b"\n", newline)
    data += FORM.encoded([PLAIN | {"because": n} for n in notes], 1, newline)
    cut = cut_rows(data, FORM.places, "r")
    assert (len(cut), cut.size) == (len(notes), len(data))
    assert cut.column("because") == notes
    assert cut.cells("at", "at") == [("socket, idle",)] * len(notes)


def cut(*lines, columns=("row", "value", "time")):
    places = {name: place for place, name in enumerate(columns)}
    return cut_rows("\n".join([",".join(columns), *lines, ""]).encode(), places, "r")


SOUND = "r-0001,1,t"


@pytest.mark.parametrize(
    "second",
    [
        *('r-0002,a"b,t', 'r-0002,"a"b,t', 'r-0002,"a,t', "r-0002,a\rb,t", ""),
        *("r-0002,t", "r-0002,1,1,t", "r-0003,1,t", "r-002,1,t"),
        *("r-00002,1,t", "s-0002,1,t"),
        *(' r-0002,"a",t', 'r-0002, "a",t', 'r-0002,"a" ,t', '"r-0002",1,t'),
        f"r-0002,{'1' * 200_000},t",
    ],
)
def test_the_first_row_that_is_not_as_written_ends_what_is_cut(second):
    found = cut(SOUND, second, "r-0003,1,t")
    assert [row.cells for row in found] == [("r-0001", "1", "t")]
    assert found.size == len(f"row,value,time\n{SOUND}\n")


@pytest.mark.parametrize(
    "data",
    [b"", b"row,value,time", b"row;value;time\n", b"\xef\xbb\xbfrow,value,time\n",
     b"row,value,time\nr-0001,\xff,t\n", b"row,value,time\nr-0001,\0,t\n"],
)  # fmt: skip
def test_a_file_that_is_not_sound_as_a_whole_is_not_cut(data):
    assert cut_rows(data, {"row": 0, "value": 1, "time": 2}, "r") is None


def test_a_tiny_file_of_nothing_has_no_rows():
    found = cut_rows(b"row,at\n,\n", {"row": 0, "at": 1}, "a longer prefix")
    assert (len(found), found.size, found.column("at")) == (0, 7, [])


def test_row_numbers_grow_a_digit_after_9999():
    found = cut(*(f"r-{n:04d},1,t" for n in range(1, 10_002)))
    assert len(found) == 10_001
    assert found.row(10_000).cells[0] == "r-10001"


def test_a_row_after_a_note_of_several_lines_knows_its_line():
    found = cut('r-0001,"one\ntwo",t', SOUND.replace("1", "2", 1))
    assert [row.line for row in found] == [2, 4]
    assert found.row(1).line == 4


def test_rows_are_numbered_from_both_ends_and_in_slices():
    found = cut(SOUND, "r-0002,2,t")
    rows = LogRows(found, list(cut(SOUND)))
    assert [row["value"] for row in rows] == ["1", "2", "1"]
    assert (rows[-1]["value"], rows[1]["value"], len(rows)) == ("1", "2", 3)
    assert rows[2:] == rows.later
    assert [row["value"] for row in rows[1:]] == ["2", "1"]
    with pytest.raises(IndexError):
        rows[3]


def test_a_long_log_is_cut_at_once_and_grows_like_any_other(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_bytes(FORM.header() + FORM.encoded([PLAIN] * 1000, 1, b"\n"))
    log = AppendLog(path, COLUMNS)
    assert isinstance(log.rows(), LogRows)
    seen = []
    (new,) = log.append(lambda rows: seen.append(len(rows)) or [PLAIN])
    assert (seen, new["row"], len(log.rows())) == ([1000], "r-1001", 1001)
    assert log.rows(1000) == [new]
    assert [row.line for row in AppendLog(path, COLUMNS).rows()] == list(range(2, 1003))


def test_a_long_log_in_which_a_row_was_edited_is_refused(tmp_path):
    path = tmp_path / "readings.csv"
    data = FORM.header() + FORM.encoded([PLAIN] * 1000, 1, b"\n")
    path.write_bytes(data)
    log = AppendLog(path, COLUMNS)
    log.rows()
    path.write_bytes(data.replace(b"5.00", b"5.01", 1))
    with pytest.raises(FileError, match="line 2, column 'value'"):
        log.rows()

import hashlib
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import textwrap
import threading
import time
from pathlib import Path

import pytest

import benchproof
from benchproof.keeping.logs.log import AppendLog
from benchproof.values.errors import FileError, InputError

COLUMNS = ("row", "value", "because", "time")
HEADER = b"row,value,because,time\n"
TIME = "2026-11-25T11:20:31Z"
KIT = Path(benchproof.__file__).parents[1]

posix_only = pytest.mark.skipif(os.name != "posix", reason="needs a POSIX system")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "readings.csv"


@pytest.fixture
def log(path):
    return AppendLog(path, COLUMNS)


def record(log, *values, because=""):
    entry = [{"value": v, "because": because, "time": TIME} for v in values]
    return log.append(lambda rows: entry)


def values(path):
    return [row["value"] for row in AppendLog(path, COLUMNS).rows()]


def refusal(act, *arguments):
    with pytest.raises(FileError) as caught:
        act(*arguments)
    return str(caught.value)


def python(script, *arguments):
    """Start a Python that knows `log`, and writes each acknowledged row id."""
    head = f"""
    import sys
    from pathlib import Path
    from benchproof.keeping.logs.log import AppendLog
    from benchproof.values.errors import FileError
    log = AppendLog(Path(sys.argv[1]), {COLUMNS})
    def record(value):
        entry = {{"value": value, "time": "{TIME}"}}
        for row in log.append(lambda rows: [entry]):
            print(row["row"], row["value"], flush=True)
    """
    return subprocess.Popen(
        [
            sys.executable,
            "-c",
            textwrap.dedent(head) + textwrap.dedent(script),
            *arguments,
        ],
        env=os.environ | {"PYTHONPATH": str(KIT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_nothing_is_recorded_before_the_first_entry(log, path):
    assert log.rows() == []
    assert not path.exists()


def test_the_first_entry_writes_the_header_and_its_rows(log, path):
    rows = record(log, "12.1", "12.2")
    assert path.read_text() == (
        f"row,value,because,time\nr-0001,12.1,,{TIME}\nr-0002,12.2,,{TIME}\n"
    )
    assert [(row.line, row["row"]) for row in rows] == [(2, "r-0001"), (3, "r-0002")]


def test_an_empty_file_is_taken_for_a_new_log(log, path):
    path.touch()
    assert log.rows() == []
    record(log, "1")
    assert path.read_bytes().startswith(HEADER)


def test_a_header_alone_is_a_log_without_rows(log, path):
    path.write_bytes(HEADER)
    assert log.rows() == []
    assert record(log, "1")[0]["row"] == "r-0001"


def test_another_prefix_gives_other_row_ids(path):
    assert record(AppendLog(path, COLUMNS, prefix="t"), "1")[0]["row"] == "t-0001"


def test_returned_rows_are_those_a_new_log_reads(log, path):
    record(log, "0")
    rows = record(log, 'a "b", c\nd', " ", because="wet\r\nfloor")
    assert AppendLog(path, COLUMNS).rows()[1:] == rows
    assert log.rows()[1:] == rows


def test_an_entry_of_nothing_changes_nothing(log, path):
    assert log.append(lambda rows: []) == []
    assert not path.exists()
    record(log, "1")
    before = path.read_bytes(), path.stat().st_mtime_ns
    assert log.append(lambda rows: []) == []
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


def test_deciding_by_the_rows_makes_recording_idempotent(log, path):
    def once(rows):
        known = any(row["value"] == "12.1" for row in rows)
        return [] if known else [{"value": "12.1", "time": TIME}]

    assert len(log.append(once)) == 1
    assert log.append(once) == []
    assert AppendLog(path, COLUMNS).append(once) == []
    assert values(path) == ["12.1"]


def test_an_error_while_deciding_passes_through_and_leaves_log_and_lock(log, path):
    record(log, "1")

    def decide(rows):
        raise OSError("the meter is off")

    with pytest.raises(OSError, match="^the meter is off$"):
        log.append(decide)
    record(AppendLog(path, COLUMNS), "2")
    assert values(path) == ["1", "2"]


def test_rows_can_be_asked_for_while_deciding(log):
    record(log, "1")
    seen = []
    log.append(lambda rows: seen.extend(log.rows()) or [])
    assert [row["value"] for row in seen] == ["1"]


def test_rows_already_known_can_be_left_out(log):
    record(log, "1", "2", "3")
    assert [row["value"] for row in log.rows(2)] == ["3"]
    assert log.rows(3) == []


def test_recording_while_deciding_is_refused(log):
    with pytest.raises(RuntimeError, match="inside decide"):
        log.append(lambda rows: record(log, "1"))


def test_a_refused_cell_writes_nothing_of_its_entry(log, path):
    with pytest.raises(InputError, match="column 'value'"):
        record(log, "1", "a\0b")
    assert not path.exists()


def test_rows_of_another_writer_are_seen_by_both_calls(log, path):
    other = AppendLog(path, COLUMNS)
    record(log, "1")
    record(other, "2")
    assert [row["value"] for row in log.rows()] == ["1", "2"]
    record(other, "3")
    assert record(log, "4")[0]["row"] == "r-0004"


def test_only_new_bytes_are_read(log, path):
    # 5 MB before the tail: reading them again would take far over 100 times as long.
    record(log, *["x" * 100_000] * 50)
    other = AppendLog(path, COLUMNS)
    started = time.perf_counter()
    assert len(other.rows()) == 50
    everything = time.perf_counter() - started
    tails = []
    for _ in range(5):
        record(log, "1")
        started = time.perf_counter()
        other.rows()
        tails.append(time.perf_counter() - started)
    assert min(tails) < everything / 5
    assert len(other.rows()) == 55


def test_threads_sharing_a_log_lose_nothing(log, path):
    def work():
        for _ in range(25):
            record(log, "1")

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(values(path)) == 100


def test_two_processes_recording_200_rows_each_lose_none(path):
    script = """
    print("ready", flush=True)
    input()
    for place in range(200):
        record(f"{sys.argv[2]}{place}")
    """
    writers = [python(script, str(path), name) for name in "ab"]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    lines = []
    for writer in writers:
        with writer:
            lines += writer.stdout.read().splitlines()
            assert writer.stderr.read() == ""
    rows = AppendLog(path, COLUMNS).rows()
    assert len(rows) == 400
    assert sorted(lines) == sorted(f"{row['row']} {row['value']}" for row in rows)
    for name in "ab":
        mine = [row["value"] for row in rows if row["value"].startswith(name)]
        assert mine == [f"{name}{place}" for place in range(200)]


@posix_only
def test_killing_the_writer_at_any_moment_loses_no_acknowledged_row(path):
    moments = random.Random(5)
    acknowledged = []
    for run in range(20):
        writer = python("while True: record('" + "v" * 500 + f"{run}')", str(path))
        with writer:
            said = writer.stdout.readline()
            time.sleep(moments.uniform(0, 0.03))
            writer.send_signal(signal.SIGKILL)
            said += writer.stdout.read()
            assert writer.stderr.read() == ""
        # What stands after the last line end was not said in full.
        acknowledged += said.split("\n")[:-1]
    log = AppendLog(path, COLUMNS)
    record(log, "last")
    rows = [f"{row['row']} {row['value']}" for row in log.rows()]
    assert len(acknowledged) == len(set(acknowledged)) >= 20
    assert set(acknowledged) <= set(rows)
    # A kill can leave one row written and not yet acknowledged, not more.
    assert len(rows) - len(acknowledged) <= 21


def test_reading_leaves_a_torn_row_where_it_is_and_says_so_once(log, path):
    record(log, "1")
    with path.open("ab") as file:
        file.write(b"r-0002,2,\xc3")
    before = path.read_bytes()
    reader = AppendLog(path, COLUMNS)
    for _ in range(2):
        assert [row["value"] for row in reader.rows()] == ["1"]
    assert path.read_bytes() == before
    assert not path.with_name("readings.csv.torn").exists()
    assert reader.recovered == [
        "readings.csv line 3: the last row is torn, as when a program or the power "
        "stops while writing: 'r-0002,2,\\\\xc3'. It is left out; the next recording "
        "moves it to readings.csv.torn. Record again what it stood for."
    ]


def test_recording_moves_a_torn_row_beside_the_log(log, path):
    record(log, "1")
    with path.open("ab") as file:
        file.write(b'r-0002,2,"wet\nfl')
    assert record(log, "3")[0]["row"] == "r-0002"
    assert values(path) == ["1", "3"]
    assert path.with_name("readings.csv.torn").read_bytes() == b'r-0002,2,"wet\nfl\n'
    assert log.recovered == [
        "readings.csv line 3: the last row is torn, as when a program or the power "
        "stops while writing: 'r-0002,2,\"wet\\nfl'. It was moved to "
        "readings.csv.torn. Record again what it stood for."
    ]


def test_torn_rows_gather_beside_the_log(log, path):
    for torn in (b"r-00", b"r-0002,"):
        record(log, "1")
        with path.open("ab") as file:
            file.write(torn)
    record(log, "2")
    kept = path.with_name("readings.csv.torn").read_bytes()
    assert kept == b"r-00\nr-0002,\n"
    assert values(path) == ["1", "1", "2"]


def test_deciding_on_nothing_leaves_a_torn_row_where_it_is(log, path):
    path.write_bytes(HEADER + b"r-0001,2")
    log.append(lambda rows: [])
    assert path.read_bytes() == HEADER + b"r-0001,2"


@pytest.mark.parametrize(
    "torn", [b"r", HEADER[:-2], b"\xef\xbb\xbf", b"\xef\xbb\xbfro"]
)
def test_a_torn_header_is_set_aside_and_written_anew(log, path, torn):
    path.write_bytes(torn)
    assert log.rows() == []
    record(log, "1")
    record(log, "2")
    assert path.read_bytes().startswith(HEADER)
    assert values(path) == ["1", "2"]
    assert path.with_name("readings.csv.torn").read_bytes() == torn + b"\n"


def test_another_writers_recovery_of_a_torn_row_is_no_edit(log, path):
    record(log, "1")
    with path.open("ab") as file:
        file.write(b"r-0002," + b"9" * 500)
    assert len(log.rows()) == 1
    record(AppendLog(path, COLUMNS), "2")
    assert [row["value"] for row in log.rows()] == ["1", "2"]


@pytest.mark.parametrize("newline", [b"\n", b"\r\n"])
def test_a_whole_row_that_lost_its_newline_is_a_row_and_gets_it_back(path, newline):
    whole = newline.join([HEADER[:-1], f"r-0001,1,,{TIME}".encode()])
    path.write_bytes(whole)
    reader, writer = AppendLog(path, COLUMNS), AppendLog(path, COLUMNS)
    assert [row["value"] for row in reader.rows()] == ["1"]
    assert [row.line for row in record(writer, "2")] == [3]
    assert path.read_bytes() == (
        whole + newline + f"r-0002,2,,{TIME}".encode() + newline
    )
    assert [row.line for row in reader.rows()] == [2, 3]
    assert reader.recovered == writer.recovered == []


def test_a_header_that_lost_its_newline_gets_it_back(log, path):
    path.write_bytes(HEADER[:-1])
    record(log, "1")
    assert path.read_bytes() == HEADER + f"r-0001,1,,{TIME}\n".encode()
    assert [row.line for row in log.rows()] == [2]


def test_text_added_to_a_row_without_newline_is_an_edit(log, path):
    path.write_bytes(HEADER + f"r-0001,1,,{TIME}".encode())
    log.rows()
    with path.open("ab") as file:
        file.write(b"9\n")
    assert f"line 2, column 'time': someone edited recorded rows; '{TIME}'" in refusal(
        log.rows
    )


def test_a_file_a_spreadsheet_saved_is_read_and_goes_on_in_its_manner(log, path):
    record(log, "1, 2", "3")
    saved = b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n")
    path.write_bytes(saved)
    again = AppendLog(path, COLUMNS)
    assert [row["value"] for row in again.rows()] == ["1, 2", "3"]
    record(again, "4")
    assert path.read_bytes() == saved + f"r-0003,4,,{TIME}\r\n".encode()


@pytest.mark.parametrize("call", ["rows", "append"])
@pytest.mark.parametrize(
    ("data", "message"),
    [
        (HEADER.replace(b",", b";"), "line 1: cells are separated by semicolons"),
        (b"row,because,time\n", "line 1: the header should read"),
        (HEADER + b"r-0001,1\n", "line 2: 2 cells instead of 4"),
        (HEADER + f"r-0002,1,,{TIME}\n".encode(), "line 2, column 'row': 'r-0002'"),
        (HEADER + b"r-0001,\xe9\n", "line 2: byte 0xe9 is not UTF-8 text"),
    ],
)
def test_a_file_that_is_not_understood_is_refused_and_left_as_it_is(
    log, path, call, data, message
):
    path.write_bytes(data)
    act = log.rows if call == "rows" else lambda: record(log, "1")
    said = refusal(act)
    assert said.startswith("readings.csv " + message)
    assert "Put the file back" in said
    assert path.read_bytes() == data
    assert os.listdir(path.parent) == ["readings.csv"]


@pytest.mark.parametrize("call", ["rows", "append"])
def test_an_edited_row_is_refused_with_its_line_and_cell(log, path, call):
    record(log, "12.1", "12.2")
    data = path.read_bytes().replace(b"12.2", b"12.9")
    path.write_bytes(data)
    act = log.rows if call == "rows" else lambda: record(log, "1")
    assert refusal(act) == (
        "readings.csv line 3, column 'value': someone edited recorded rows; '12.2' "
        "now reads '12.9'. Put the file back as it was (from git or a backup), then "
        "record the correction as a new row."
    )
    assert path.read_bytes() == data


def test_an_edit_that_lengthens_an_early_row_is_seen(log, path):
    record(log, *map(str, range(100)))
    path.write_bytes(path.read_bytes().replace(b"r-0003,2,", b"r-0003,2.5,"))
    assert "line 4, column 'value': someone edited recorded rows; '2' now" in refusal(
        log.rows
    )


def test_an_early_edit_of_equal_length_in_a_replaced_file_is_seen(log, path):
    record(log, *map(str, range(100)))
    new = path.with_name("new")
    new.write_bytes(
        path.read_bytes().replace(b"r-0003,2,", b"r-0003,7,")
        + f"r-0101,1,,{TIME}\n".encode()
    )
    new.replace(path)
    assert "line 4, column 'value': someone edited recorded rows; '2' now" in refusal(
        log.rows
    )


def test_a_removed_last_row_is_seen(log, path):
    record(log, "1", "2")
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    assert "line 3: someone edited recorded rows; 2 were read, 1 are left" in refusal(
        log.rows
    )


def test_a_changed_layout_is_told_from_changed_cells(log, path):
    record(log, "1", "2")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    said = refusal(log.rows)
    assert "the cells are the same but not the bytes" in said
    assert "restart the kernel" in said


def test_a_file_put_back_is_accepted_again(log, path):
    record(log, "1", "2")
    before = path.read_bytes()
    path.write_bytes(b"")
    refusal(log.rows)
    path.write_bytes(before)
    assert record(log, "3")[0]["row"] == "r-0003"


def test_a_touched_file_is_no_edit(log, path):
    record(log, "1")
    os.utime(path, ns=(1, 1))
    assert len(log.rows()) == 1


def test_a_deleted_log_is_refused_once_it_held_rows(log, path):
    record(log, "1", "2")
    path.unlink()
    assert refusal(log.rows).startswith(
        "readings.csv is gone, and 2 recorded rows with it. Put the file back"
    )
    assert "2 were read, 0 are left" in refusal(record, log, "3")
    assert not path.exists()


def test_a_save_by_an_editor_while_deciding_is_not_overwritten(log, path):
    record(log, "1")
    saved = path.read_bytes() + f"r-0002,2,,{TIME}\n".encode()

    def decide(rows):
        new = path.with_name("new")
        new.write_bytes(saved)
        new.replace(path)
        return [{"value": "3", "time": TIME}]

    assert "NOT recorded. Close that program" in refusal(log.append, decide)
    assert path.read_bytes() == saved


def test_a_missing_folder_says_that_nothing_was_recorded(tmp_path):
    log = AppendLog(tmp_path / "gone" / "readings.csv", COLUMNS)
    assert refusal(record, log, "1") == (
        "readings.csv could not be written (there is no such folder); the entry was "
        "NOT recorded. See that the folder exists, is writable and has free space, "
        "then record again."
    )


def test_a_folder_in_place_of_the_log_is_refused(log, path):
    path.mkdir()
    assert "NOT recorded" in refusal(record, log, "1")
    assert "readings.csv could not be read" in refusal(log.rows)


@posix_only
def test_a_read_only_folder_says_that_nothing_was_recorded():
    # In the system's folder, because pytest's own is closed to other users, and
    # root, who may write everywhere, has to become one.
    script = """
    import os
    if os.geteuid() == 0:
        os.seteuid(65534)
    try:
        record("1")
    except FileError as error:
        print(error)
    """
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o555)
        out, error = python(script, f"{folder}/readings.csv").communicate(timeout=60)
        assert os.listdir(folder) == []
        os.chmod(folder, 0o755)
    assert error == ""
    assert "(Permission denied); the entry was NOT recorded." in out


@posix_only
@pytest.mark.parametrize("before", [0, 3])
def test_a_full_disk_says_so_and_leaves_no_half_row(log, path, before):
    for place in range(before):
        record(log, str(place))
    data = path.read_bytes() if before else b""
    # A limit on file length stops a write half way, as a full disk does.
    script = """
    import resource
    limit = int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    for value in ("x" * 1000, "y"):
        try:
            record(value)
        except FileError as error:
            print(error)
    """
    out, error = python(script, str(path), str(len(data) + 100)).communicate(timeout=60)
    assert error == ""
    said, accepted = out.splitlines()
    assert re.search(r"\(File too large\); the entry was NOT recorded\.", said)
    assert accepted == f"r-{before + 1:04d} y"
    # Cut back at once, not left for the next recording to set aside.
    assert os.listdir(path.parent) == ["readings.csv"]
    assert path.read_bytes().removeprefix(HEADER) == (
        data.removeprefix(HEADER) + f"r-{before + 1:04d},y,,{TIME}\n".encode()
    )


def test_a_hash_of_the_first_rows_covers_exactly_their_bytes(log, path):
    record(log, "1", "a\nb", "3")
    lines = path.read_bytes().splitlines(keepends=True)
    for count, end in [(0, 1), (1, 2), (2, 4), (3, 5)]:
        expected = hashlib.sha256(b"".join(lines[:end])).hexdigest()
        assert log.prefix_sha256(count) == expected


def test_a_hash_of_the_first_rows_stays_when_rows_follow(log):
    before_all = log.prefix_sha256(0)
    record(log, "1", "2")
    before = log.prefix_sha256(2)
    record(log, "3")
    assert log.prefix_sha256(0) == before_all
    assert log.prefix_sha256(2) == before


@pytest.mark.parametrize("newline", [b"\n", b"\r\n"])
def test_a_hash_does_not_depend_on_a_lost_last_newline(log, path, newline):
    path.write_bytes(HEADER[:-1] + newline + f"r-0001,1,,{TIME}".encode())
    before = log.prefix_sha256(1)
    record(log, "2")
    assert log.prefix_sha256(1) == before
    assert AppendLog(path, COLUMNS).prefix_sha256(1) == before


def test_a_hash_shows_an_edit_made_before_opening(log, path):
    record(log, "1", "2", "3")
    before = log.prefix_sha256(2)
    path.write_bytes(path.read_bytes().replace(b"r-0002,2", b"r-0002,5"))
    assert AppendLog(path, COLUMNS).prefix_sha256(2) != before


@pytest.mark.parametrize("count", [-1, 2])
def test_a_hash_of_rows_that_are_not_there_is_refused(log, count):
    record(log, "1")
    assert f"readings.csv: {count} rows were asked for, it holds 1." in refusal(
        log.prefix_sha256, count
    )

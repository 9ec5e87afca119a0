"""What `record`, `record_together`, `strike` and `new_round` add to the log."""

import csv
import subprocess
import sys
import threading

import pytest

from benchproof import open_case
from benchproof.values.errors import InputError, RecordingRefusedError


def log(case):
    path = case.folder / "readings.csv"
    return path.read_bytes() if path.exists() else b""


def rows(case):
    with open(case.folder / "readings.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def values(case, name):
    return [r["value"] for r in rows(case) if r["measurand"] == name and r["kind"]]


def standings(case):
    table = case.report("readings")
    return [(row[2], table.state(i)) for i, row in enumerate(table.rows)]


def test_a_recording_keeps_what_was_typed_and_how_it_was_taken(case):
    case.record("V_idle", "12.10 12.09 V", using="handheld", at="socket, idle")
    first, second = rows(case)
    assert (first["row"], first["kind"], first["round"]) == ("r-0001", "reading", "1")
    assert [r["value"] for r in (first, second)] == ["12.10", "12.09"]
    assert (first["unit"], first["instrument"]) == ("V", "handheld")
    assert first["at"] == "socket, idle"
    assert first["entry"] == second["entry"]
    assert first["time"] == "2026-01-31T12:00:00Z"


def test_recording_the_same_again_writes_nothing(case):
    case.record("V", "5.00 5.01 V", using="handheld", at="rail")
    before = log(case)
    case.record("V", "5.00 5.01 V", using="handheld", at="rail")
    open_case(case.folder).record("V", "5.00 5.01 V", using="handheld", at="rail")
    assert log(case) == before


def test_more_repeats_are_appended_to_the_same_entry(case):
    case.record("V", "5.00 V", using="handheld")
    before = log(case)
    case.record("V", "5.00 5.01 5.02 V", using="handheld")
    assert log(case).startswith(before)
    assert values(case, "V") == ["5.00", "5.01", "5.02"]
    assert len({r["entry"] for r in rows(case)}) == 1
    assert case.state().measured["V"].repeats.count == 3


def test_different_readings_are_refused_with_both_ways_named(case):
    case.record("V", "5.00 5.01 V", using="handheld")
    before = log(case)
    with pytest.raises(RecordingRefusedError) as caught:
        case.record("V", "5.00 5.02 V", using="handheld")
    said = str(caught.value)
    assert "because=" in said
    assert "case.new_round(because=" in said
    assert "5.01 V" in said
    assert "5.02 V" in said
    assert log(case) == before


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"using": "twin"}, "using: recorded 'handheld', now 'twin'"),
        ({"at": "plug"}, "at: recorded 'rail', now 'plug'"),
        ({"range": "60 V"}, "range: recorded '', now '60 V'"),
        ({"function": "DC V"}, "function: recorded '', now 'DC V'"),
    ],
)
def test_the_same_numbers_taken_another_way_are_refused(case, change, named):
    way = {"using": "handheld", "at": "rail"}
    case.record("V", "5.00 V", **way)
    before = log(case)
    with pytest.raises(RecordingRefusedError, match=named.replace("(", r"\(")):
        case.record("V", "5.00 V", **{**way, **change})
    assert log(case) == before


def test_fewer_readings_than_recorded_are_refused(case):
    case.record("V", "5.00 5.01 V", using="handheld")
    with pytest.raises(RecordingRefusedError, match="5.00 V, 5.01 V; now 5.00 V"):
        case.record("V", "5.00 V", using="handheld")


def test_a_correction_supersedes_and_keeps_the_row(case):
    case.record("V", "5.00 V", using="handheld")
    before = log(case)
    case.record("V", "6.00 V", using="handheld", because="read the wrong scale")
    assert log(case).startswith(before)
    assert standings(case) == [("5.00 V", "superseded"), ("6.00 V", "")]
    assert case.budget("V").value == pytest.approx(6.0)
    assert rows(case)[1]["because"] == "read the wrong scale"


def test_a_correction_recorded_twice_is_recorded_once(case):
    case.record("V", "5.00 V", using="handheld")
    for _ in range(2):
        case.record("V", "6.00 V", using="handheld", because="wrong scale")
    assert values(case, "V") == ["5.00", "6.00"]


def test_a_correction_of_nothing_is_refused(case):
    with pytest.raises(RecordingRefusedError, match="there are none yet"):
        case.record("V", "6.00 V", using="handheld", because="wrong scale")
    assert log(case) == b""


def test_a_new_round_keeps_the_old_readings_and_counts_the_new(case):
    case.record("V", "5.00 V", using="handheld")
    before = log(case)
    assert case.new_round(because="objection: another supply") == 2
    case.record("V", "5.20 V", using="handheld")
    assert log(case).startswith(before)
    assert [(r["kind"], r["round"]) for r in rows(case)] == [
        ("reading", "1"),
        ("round", "2"),
        ("reading", "2"),
    ]
    assert case.budget("V").value == pytest.approx(5.2)


def test_what_was_not_measured_again_keeps_its_value_in_a_new_round(case):
    case.record("V", "5.00 V", using="handheld")
    case.new_round(because="objection")
    assert case.budget("V").value == pytest.approx(5.0)


def test_the_same_reason_opens_a_round_only_once(case):
    assert case.new_round(because="objection") == 2
    before = log(case)
    assert case.new_round(because="objection") == 2
    assert open_case(case.folder).new_round(because="objection") == 2
    assert log(case) == before


def test_a_round_without_a_reason_is_refused(case):
    with pytest.raises(InputError, match="say why"):
        case.new_round(because="  ")
    assert log(case) == b""


def notebook(case):
    case.record("V", "5.00 V", using="handheld")
    case.new_round(because="objection")
    case.record("V", "5.00 V", using="handheld", in_round=2)


def test_an_equal_value_named_for_its_round_is_a_new_measurement(case):
    notebook(case)
    assert [r["round"] for r in rows(case) if r["kind"] == "reading"] == ["1", "2"]


def test_a_notebook_run_again_does_not_duplicate_the_second_round(case):
    notebook(case)
    before = log(case)
    notebook(case)
    notebook(open_case(case.folder))
    assert log(case) == before


def test_an_early_cell_run_again_writes_nothing(case):
    notebook(case)
    before = log(case)
    case.record("V", "5.00 V", using="handheld")
    open_case(case.folder).record("V", "5.00 V", using="handheld")
    assert log(case) == before


def test_a_value_carried_over_from_an_earlier_round_says_so(case):
    case.record("V", "5.00 V", using="handheld")
    case.new_round(because="objection")
    assert "not measured again in round 2: carried over" in str(case["V"].table())


@pytest.mark.parametrize("number", [1, 3])
def test_readings_go_to_the_latest_round_only(case, number):
    case.record("V", "5.00 V", using="handheld")
    case.new_round(because="objection")
    before = log(case)
    with pytest.raises(RecordingRefusedError, match="readings go to round 2 now"):
        case.record("V", "5.10 V", using="handheld", in_round=number)
    assert log(case) == before


def test_a_strike_needs_a_reason(case):
    case.record("V", "5.00 5.01 9.99 V", using="handheld")
    before = log(case)
    with pytest.raises(InputError, match="physical reason"):
        case.strike("V", "9.99 V", because="")
    assert log(case) == before


@pytest.mark.parametrize("which", ["9.99 V", "9.99", "r-0003"])
def test_a_struck_reading_stays_visible_and_does_not_count(case, which):
    case.record("V", "5.00 5.02 9.99 V", using="handheld")
    case.strike("V", which, because="probe slipped")
    case.strike("V", which, because="probe slipped")
    assert case.budget("V").value == pytest.approx(5.01)
    assert standings(case)[-1] == ("9.99 V", "struck")
    assert "probe slipped" in str(case.report("readings"))
    assert sum(r["kind"] == "strike" for r in rows(case)) == 1


def test_a_strike_of_a_measurand_that_is_not_there_says_so(case):
    with pytest.raises(InputError, match=r"'V_idle'. There are no readings yet"):
        case.strike("V_idle", "5.00 V", because="probe slipped")
    case.record("V_idle", "5.00 V", using="handheld")
    before = log(case)
    with pytest.raises(InputError, match=r"'V_ilde'. Did you mean V_idle\?"):
        case.strike("V_ilde", "5.00 V", because="probe slipped")
    with pytest.raises(InputError, match=r"'q'. There are V_idle\."):
        case.strike("q", "5.00 V", because="probe slipped")
    assert log(case) == before


def test_a_strike_that_fits_several_readings_lists_their_rows(case):
    case.record("V", "5.00 5.00 V", using="handheld")
    before = log(case)
    with pytest.raises(InputError, match=r"fits 2 of its readings \(r-0001: 5.00 V"):
        case.strike("V", "5.00 V", because="probe slipped")
    with pytest.raises(InputError, match="fits 0 of its readings"):
        case.strike("V", "7.00 V", because="probe slipped")
    assert log(case) == before


def test_running_the_record_cell_after_a_strike_writes_nothing(case):
    case.record("V", "5.00 9.99 V", using="handheld")
    case.strike("V", "9.99 V", because="probe slipped")
    before = log(case)
    case.record("V", "5.00 9.99 V", using="handheld")
    assert log(case) == before


def test_readings_taken_together_share_a_mark(case):
    case.record_together({"V": "5.00 5.02 V", "I": "10.0 10.4 mA"}, using="handheld")
    assert len({r["together"] for r in rows(case)} - {""}) == 1
    assert len({r["entry"] for r in rows(case)}) == 2


def test_sets_of_unlike_size_are_refused(case):
    with pytest.raises(InputError, match="each set needs one of each"):
        case.record_together({"V": "5.00 5.02 V", "I": "10.0 mA"}, using="handheld")
    assert log(case) == b""


def test_sets_of_which_one_reading_was_struck_are_not_paired_anew(case):
    case.record_together(
        {"V": "1.0(0) 2.0(0) 3.0(0) 4.0(0) V", "W": "2.0(0) 4.0(0) 6.0(0) 8.0(0) V"}
    )
    case.strike("V", "r-0002", because="probe slipped")
    case.strike("W", "r-0007", because="probe slipped")
    flags = case.state().measured["V"].flags
    # Sets 1 and 4 are whole, and there W is twice V.
    dropped = any("not used" in flag for flag in flags)
    assert dropped or case.correlation("V", "W") == pytest.approx(1)


def test_two_cases_open_on_one_folder_lose_nothing(case):
    other = open_case(case.folder)
    wrong = []

    def work(mine, name):
        try:
            for i in range(20):
                mine.record(f"{name}{i}", f"{i + 1}.00 V", using="handheld")
        except Exception as problem:
            wrong.append(problem)

    threads = [
        threading.Thread(target=work, args=pair) for pair in [(case, "a"), (other, "b")]
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert [r["row"] for r in rows(case)] == [f"r-{i:04d}" for i in range(1, 41)]
    expected = {f"{n}{i}" for n in "ab" for i in range(20)}
    assert {r["measurand"] for r in rows(case)} == expected
    assert case.budget("b7").value == pytest.approx(8.0)


WORKER = """\
import sys
from benchproof import open_case
case = open_case(sys.argv[1])
for i in range(15):
    case.record(f"{sys.argv[2]}{i}", f"{i + 1}.00 V", using="handheld")
    case.record("shared", "5.00 5.01 V", using="handheld")
"""


def test_two_processes_on_one_folder_lose_nothing_and_duplicate_nothing(case):
    command = [sys.executable, "-c", WORKER, str(case.folder)]
    running = [subprocess.Popen([*command, name]) for name in "ab"]
    assert [p.wait(timeout=60) for p in running] == [0, 0]
    recorded = [r["measurand"] for r in rows(case)]
    assert recorded.count("shared") == 2
    alone = [name for name in recorded if name != "shared"]
    assert sorted(alone) == sorted(f"{n}{i}" for n in "ab" for i in range(15))
    assert [r["row"] for r in rows(case)] == [f"r-{i:04d}" for i in range(1, 33)]


def test_a_set_left_out_because_one_reading_was_struck_is_flagged_in_both(case):
    case.record_together({"V": "1.0 2.0 3.0 V", "W": "2.0 4.0 6.0 V"})
    case.strike("V", "r-0001", because="probe slipped")
    for name in ("V", "W"):
        measured = case.state().measured[name]
        assert measured.repeats.count == 2
        assert any("1 sets read together left out" in flag for flag in measured.flags)


def test_sets_of_which_none_is_whole_keep_their_unit_and_wait(case):
    case.record_together({"V": "1.0 2.0 V", "W": "2.0 4.0 V"})
    case.strike("V", "r-0001", because="probe slipped")
    case.strike("W", "r-0004", because="probe slipped")
    measured = case.state().measured["V"]
    assert measured.status == "pending"
    assert measured.unit.symbol == "V"
    assert measured.flags


def test_a_reading_taken_again_after_a_strike_needs_no_further_reason(case):
    case.record("R_leak", "1.900 Mohm", using="handheld", at="fingers on the tips")
    case.strike("R_leak", "1.900 Mohm", because="fingers on the probe tips")
    case.record("R_leak", "OL Mohm", using="handheld", at="clipped")
    assert str(case["R_leak"]).startswith(">")
    rows = case.book.record.of("R_leak")
    assert [r.row in case.book.record.strikes for r in rows] == [True, False]
    case.record("R_leak", "OL Mohm", using="handheld", at="clipped")
    assert len(case.book.record.of("R_leak")) == 2

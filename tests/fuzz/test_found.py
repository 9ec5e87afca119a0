"""Inputs that fuzzing found, each once read with an error that was not ours."""

import json
import math
import zipfile
from functools import partial

import pytest
from bundling import make_case
from conftest import CASE, INSTRUMENTS
from fuzzing import tried

from benchproof import open_case
from benchproof.keeping.captures.csvlayout import layout_of
from benchproof.keeping.casefile import read_case_file
from benchproof.keeping.checking.check import check_case
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.trials.record import TrialRecord
from benchproof.keeping.trials.rows import COLUMNS as TRIAL_COLUMNS
from benchproof.measuring.accuracy import accuracy_line
from benchproof.measuring.influences import influence_from
from benchproof.measuring.readings import COLUMNS, Record, extend_record
from benchproof.values.errors import FileError, InputError, UnitError
from benchproof.values.quantities import read_values
from benchproof.values.units import unit_of

MANY = "9" * 5000
"""Python refuses to make a number of them, in words of its own."""


@pytest.mark.parametrize(
    "text", [f"1 of {MANY}", f"1e{MANY} V", f"1e-{MANY} V", ">1e400 V", "<1e400 V"]
)
def test_a_number_no_instrument_shows_is_refused(text):
    with pytest.raises(InputError, match="is not a count|is too large"):
        read_values(text)


@pytest.mark.parametrize(
    "text", [f"0.2(<{MANY * 10}m (95 %)", f"1 V ({MANY * 10}", f"±({MANY * 10} foot)"]
)
@pytest.mark.parametrize(
    "read",
    [
        read_values,
        accuracy_line,
        partial(influence_from, "zero drift", unit="V", where="meter"),
    ],
)
def test_digits_without_end_are_refused_in_time(read, text):
    assert tried(read, text) is None


@pytest.mark.parametrize("text", ["1e400 % of full scale", "1e400 digits", "1e400 V"])
def test_an_accuracy_without_end_is_refused(text):
    with pytest.raises(InputError, match="accuracy '1e400"):
        accuracy_line(text)


@pytest.mark.parametrize("text", ["%%", "%**2", "%*V*%"])
def test_a_power_of_a_per_cent_is_refused_as_it_could_not_be_read_back(text):
    with pytest.raises(UnitError, match="is not known"):
        unit_of(text)


@pytest.mark.parametrize("text", ["m**12.102", "V/Hz**0.5", "1/s**0.25", "A**1.5/m"])
def test_a_broken_power_is_read_back_as_it_is_shown(text):
    unit = unit_of(text)
    assert unit_of(unit.symbol) == unit


@pytest.mark.parametrize(
    "text",
    [
        "Kim⁹⁹⁹⁹⁹⁹⁹⁹⁹",
        "TiM**9_9999999",
        "Mibit²²²²²²²²²",
        "m⁹⁹⁹",
        "m**1e308m**2",
        "m**1e3082",
        "m**(1e3)",
        "m**0.0000001",
        "m**2··10",
    ],
)
def test_a_power_that_takes_for_ever_is_refused_before_it_is_worked_out(text):
    with pytest.raises(UnitError, match="is not known"):
        unit_of(text)


@pytest.mark.parametrize("value", [MANY, "[" * 5000, "2026-02-31", "1e400"])
def test_toml_that_python_cannot_hold_is_refused_or_read(tmp_path, value):
    path = tmp_path / "case.toml"
    path.write_text(f"{CASE}sample = {{ units = {value} }}\n", encoding="utf-8")
    with pytest.raises(FileError, match=r"^case\.toml"):
        read_case_file(path)


def row(**cells):
    return dict.fromkeys(COLUMNS, "") | {"kind": "reading", "round": "1"} | cells


@pytest.mark.parametrize("text", ["²", "٣", MANY, "-1", ""])
def test_a_round_that_is_no_plain_number_is_refused(text):
    with pytest.raises(FileError, match="line 2, column 'round'"):
        extend_record(Record(), row(round=text), "readings.csv line 2")


def test_a_recorded_reading_without_end_is_refused():
    with pytest.raises(FileError, match="columns? .value."):
        extend_record(Record(), row(value=MANY, unit="V"), "readings.csv line 2")


@pytest.mark.parametrize("text", ["²", "٣", MANY])
@pytest.mark.parametrize(
    ("line", "column"),
    [(1, "round"), (2, "round"), (2, "version"), (2, "place"), (5, "attempt")],
)
def test_a_cell_of_trials_that_is_no_plain_number_is_refused(
    case_folder, line, column, text
):
    plan = open_case(case_folder).trials.plan(
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
    rows = AppendLog(case_folder / "trials.csv", TRIAL_COLUMNS, "t").rows()
    cells = list(rows[line - 1].cells)
    cells[TRIAL_COLUMNS.index(column)] = text
    rows[line - 1] = type(rows[0])(line + 1, tuple(cells), rows[0].columns)
    with pytest.raises(FileError, match=f"line {line + 1}, column '{column}'"):
        TrialRecord().extend(rows)


def test_a_header_that_ends_inside_a_character_is_refused_and_left(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_bytes(b"row,kind\x80")
    with pytest.raises(FileError, match="line 1: "):
        AppendLog(path, COLUMNS).rows()
    assert path.read_bytes() == b"row,kind\x80"


@pytest.mark.parametrize("barred", ["1", '"P1"', "{ a = 1 }", "[1]", '[["P1"]]'])
def test_forbidden_pairs_that_are_no_list_of_pairs_are_refused(tmp_path, barred):
    survey = f'[survey]\nstates = ["on"]\nreference = "P1"\nforbidden = {barred}\n'
    path = tmp_path / "case.toml"
    path.write_text(CASE + survey + '[[contact]]\nname = "P1"\n', encoding="utf-8")
    with pytest.raises(FileError, match="write two contacts and the reason"):
        read_case_file(path)


@pytest.mark.parametrize(
    "text",
    [
        "Time,Rail\n0,000;1,25\n0,004;1,30\n0,008;1,20\n",
        "0\t12.5\t1\n1\t12.6\t2\nTime2\t\t3\n3\tnan\t4\n",
        "X,CH1\nSequence,Volt\n1,25\n1,\nSequence,Volt\n1,25\n1,30\n",
        "rate\nindex\tCH1\tCH2\n 1 2\n1 2 3\n2 3 4\n",
    ],
)
@pytest.mark.parametrize("decimal", [None, "."])
def test_a_word_or_a_gap_among_the_numbers_is_no_crash(text, decimal):
    layout = tried(layout_of, text.encode(), "rail.csv", decimal=decimal)
    assert layout is None or layout.channels


def test_a_fact_with_the_other_decimal_mark_is_left_out():
    text = "Interval;006,3\nCH1;CH2\n1.5;2\n1.6;3\n1.7;4\n"
    assert layout_of(text.encode(), "rail.csv", decimal=".").interval is None


def test_a_bundle_without_its_first_byte_is_called_damaged(tmp_path):
    path = tmp_path / "pump.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("case.toml", CASE)
        archive.writestr("instruments.toml", INSTRUMENTS)
    path.write_bytes(path.read_bytes()[1:])
    with pytest.raises(FileError, match=r"^pump\.zip: damaged"):
        check_case(path)


@pytest.mark.parametrize("key", ["readings", "trials"])
def test_a_count_of_rows_without_end_is_refused(tmp_path, key):
    folder = make_case(tmp_path / "pump", INSTRUMENTS)
    path = folder / "results.json"
    results = json.loads(path.read_text(encoding="utf-8"))
    results[key]["rows"] = math.inf
    path.write_text(json.dumps(results), encoding="utf-8")
    with pytest.raises(FileError, match="not what benchproof writes"):
        check_case(folder)

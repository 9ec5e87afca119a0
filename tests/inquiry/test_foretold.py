"""predictions.csv: appended to, never edited, refused with the line if it was."""

import pytest

from benchproof import open_case
from benchproof.keeping.inquiry.foretold import NAME
from benchproof.values.errors import FileError, InputError


def declare(case, limit="8.80 V"):
    rival = case.hypothesis("H1", "the supply sags")
    rival.predicts("the rail falls", case["V_min"].below(limit))
    return rival


def lines(case):
    return (case.folder / NAME).read_text().splitlines()


def test_a_prediction_is_one_row_however_often_it_is_declared(case):
    for _ in range(3):
        declare(case)
    assert len(lines(case)) == 3  # header, begun, prediction
    declare(case, "8.70 V")
    assert len(lines(case)) == 4
    declare(case)
    assert len(lines(case)) == 4


def test_every_part_of_a_prediction_counts_as_a_change(case):
    criterion = case["lost"].at_least(0.5)
    rival = case.hypothesis("H1", "x")
    rival.predicts("lost", criterion)
    rival.predicts("lost", criterion, role="symptom")
    rival.predicts("lost", criterion, role="symptom", probability=0.8)
    assert len({row.split(",")[8] for row in lines(case)[2:]}) == 3


def test_nothing_is_written_by_opening_or_asking(case_folder):
    case = open_case(case_folder)
    assert case.verdicts().verdicts == ()
    assert case.next_steps().steps == ()
    assert not (case_folder / NAME).exists()


def test_text_with_commas_and_lines_comes_back_whole(case):
    text = 'it falls, "deep"\nand soon; really'
    case.hypothesis("H1", "x").predicts(text, case["V_min"].below("8.80 V"))
    assert open_case(case.folder).foretold.rows()[1].prediction == text


def test_a_file_that_was_edited_is_refused_with_its_line(case):
    declare(case)
    path = case.folder / NAME
    path.write_text(path.read_text().replace("V_min below 8.80", "V_min below 9.80"))
    with pytest.raises(FileError, match=r"predictions.csv line 3.*SHA-256"):
        declare(open_case(case.folder))


def test_a_kind_nobody_knows_is_refused(case):
    declare(case)
    path = case.folder / NAME
    path.write_text(path.read_text().replace("p-0002,prediction", "p-0002,guess"))
    with pytest.raises(FileError, match="column 'kind': 'guess'"):
        declare(open_case(case.folder))


def test_a_probability_of_nought_or_one_is_refused_before_it_is_recorded(case):
    rival = declare(case)
    with pytest.raises(InputError, match="single attempt decide"):
        rival.predicts("x", case["lost"].at_least(0.5), probability=1.0)
    assert "lost" not in (case.folder / NAME).read_text()


def test_a_case_that_only_reads_begins_the_file_before_its_first_reading(case):
    case.record("V_min", "7.50 V", using="handheld")
    lines = (case.folder / NAME).read_text().splitlines()
    assert len(lines) == 2
    assert "begun" in lines[1]
    assert lines[1].endswith(",1,0,0,2026-01-31T12:00:00Z")


def test_a_captured_quantity_has_a_row_of_its_own_once(case):
    declare(case)
    for _ in range(2):
        case.foretold.captured(case, "V_dip", 1)
    assert [row.split(",")[1] for row in lines(case)[1:]] == [
        "begun", "prediction", "captured",
    ]  # fmt: skip
    assert case.foretold.first_captured("V_dip", None) == "p-0003"
    assert case.foretold.first_captured("V_dip", 0) == ""


def test_an_edited_row_of_a_captured_quantity_is_refused(case):
    case.foretold.captured(case, "V_dip", 1)
    path = case.folder / NAME
    path.write_text(path.read_text().replace("V_dip", "V_top"))
    again = open_case(case.folder)
    with pytest.raises(FileError, match="does not have the SHA-256"):
        again.foretold.rows()

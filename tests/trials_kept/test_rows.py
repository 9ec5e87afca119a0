"""What the ledger says, and rows of it that make no sense."""

import pytest

from benchproof.keeping.trials.ledger import Ledger
from benchproof.values.errors import FileError


@pytest.fixture
def edited(power, again, case_folder):
    """Edit the ledger's text, then open it afresh."""
    power.record("k l")
    path = case_folder / "trials.csv"

    def edit(old, new):
        text = path.read_text(encoding="utf-8")
        assert text.count(old) >= 1
        path.write_text(text.replace(old, new), encoding="utf-8")
        return again().trials.names()

    return edit


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (",power,1,2,2,", ",power,1,1,2,", "line 4, column 'attempt': attempt '1'"),
        (",power,1,2,2,", ",power,1,2,1,", "place 1 has an outcome already"),
        (",power,1,2,2,", ",power,9,2,2,", "there is no version '9'"),
        (",power,1,2,2,", ",power,1,2,two,", "'two' is no place"),
        (",lost,,,", ",gone,,,", "'gone' is not an outcome of the plan"),
        (",lost,,,", ",,,,", "column 'outcome'"),
        ("t-0003,planned,", "t-0003,thought,", "'thought' is not one of plan"),
        ("t-0003,planned,1,", "t-0003,planned,0,", "'0' after round 1"),
        ("t-0003,planned,1,power", "t-0003,planned,1,tower", "was not written before"),
        ('"seed"": 1', '"seed"": 2', "does not have this SHA-256"),
    ],
)
def test_an_edited_ledger_is_refused_with_line_and_column(edited, old, new, message):
    with pytest.raises(FileError, match=message):
        edited(old, new)


def test_a_correction_of_an_attempt_that_is_not_there_is_refused(power, edited):
    power.correct(2, "kept", because="misread")
    with pytest.raises(FileError, match="there is no attempt '7'"):
        edited("corrected,1,power,1,2,", "corrected,1,power,1,7,")


def test_attempts_can_be_seen_as_they_were_in_a_round(mount, power):
    power.record("k l")
    mount.new_round(because="the worn socket came")
    power.in_round(2).record("l l")
    power.correct(2, "kept", because="misread")
    rows = power.rows
    assert [m.outcome for m in rows.made(1)] == ["kept", "lost"]
    assert [m.outcome for m in rows.made()] == ["kept", "kept", "lost", "lost"]
    assert [m.number for m in rows.made(in_round=2)] == [3, 4]


def test_a_record_counts_the_rows_it_took_in(power, case_folder):
    power.record("k l k")
    ledger = Ledger(case_folder, power.case.book.clock)
    assert ledger.rows == 4
    assert ledger.record.plans["power"].made()[1].outcome == "lost"

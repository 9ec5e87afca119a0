"""Long ledgers: what is read by column says what is read row by row."""

import random

import pytest

from benchproof.keeping.logs.cutting import LogRows
from benchproof.keeping.logs.log import AppendLog
from benchproof.keeping.trials.record import TrialRecord
from benchproof.keeping.trials.rows import COLUMNS
from benchproof.values.errors import FileError


@pytest.fixture
def long(plan, mount):
    """Two plans, a second version, aborted, unplanned and corrected attempts."""
    source = random.Random(3)
    power = plan(mount, 200)
    row = [source.choice("lk") for _ in power.spec.places]
    power.record(" ".join(row[:300]), sitting="a")
    power.aborted(301, because="the pack ran down")
    power.correct(7, "lost", because="misread")
    other = mount.trials.plan(
        "drop", outcomes=["blank", "fine"], factors={"liquid": ["brine", "tap"]},
        no_control="the bench is dry", stop="50 of each", repetitions=50, seed=2,
    )  # fmt: skip
    other.record("b f " * 20)
    power.record(" ".join(row[:500]))
    power.outcome(
        "l l k", planned=False, because="by request", supply="brick", axes="both"
    )
    longer = plan(mount, 220, because="more of each")
    longer.record(" ".join(row))
    mount.new_round(because="again")
    longer.in_round(2).record(" ".join(row[:50]))
    return mount.folder / "trials.csv"


def read_both_ways(path):
    rows = AppendLog(path, COLUMNS, "t").rows()
    assert isinstance(rows, LogRows)
    found = []
    for given in (rows, list(rows)):
        record = TrialRecord()
        try:
            record.extend(given)
        except FileError as problem:
            found.append(str(problem))
        else:
            found.append(
                {
                    name: (plan.made(), plan.made(1), plan.filled, len(plan.versions),
                           plan.skips, len(plan.attempts))
                    for name, plan in record.plans.items()
                } | {"": (record.round, record.taken)}
            )  # fmt: skip
    return found


def test_a_ledger_read_by_column_is_the_ledger_read_row_by_row(long):
    by_column, by_row = read_both_ways(long)
    assert by_column == by_row
    assert len(by_column["power"][0]) == 300 + 1 + 200 + 3 + 300 + 50


DAMAGE = [
    (",power,1,250,250,", ",power,1,251,250,"),
    (",power,1,250,250,", ",power,1,+250,250,"),
    (",power,1,250,250,", ",power,1,250,249,"),
    (",power,1,250,250,", ",power,1,250,,"),
    (",power,1,250,250,", ",power,1,250,-3,"),
    (",power,1,250,250,", ",power,9,250,250,"),
    (",kept,a,", ",gone,a,"),
    (",lost,a,", ",,a,"),
    ("t-0100,planned,1,", "t-0100,planned,2,"),
    ("t-0100,planned,1,", "t-0100,thought,1,"),
    ("t-0100,planned,1,power", "t-0100,planned,1,tower"),
]


@pytest.mark.parametrize(("old", "new"), DAMAGE)
def test_an_edited_row_of_a_long_ledger_is_refused_in_the_same_words(long, old, new):
    text = long.read_text(encoding="utf-8")
    assert old in text
    long.write_text(text.replace(old, new, 1), encoding="utf-8")
    by_column, by_row = read_both_ways(long)
    assert by_column == by_row
    assert isinstance(by_column, str)


def test_what_is_read_later_goes_on_from_a_long_ledger(long, again):
    case = again()
    power = case.trials["power"].in_round(2)
    before = len(power.rows.made())
    power.outcome("k", at=51)
    assert len(power.rows.made()) == before + 1
    assert power.rows.made()[-1].number == before + 1

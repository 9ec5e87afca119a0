"""The tables of one plan."""

import pytest

from benchproof.keeping.trials.trialtables import progress_line
from benchproof.values.tables import as_html


def cells(table, first):
    return next(row for row in table.rows if row[0].startswith(first))


def test_the_rates_of_the_mount_are_those_worked_out_by_hand(lost_alignment):
    shown = lost_alignment.rates()
    row = cells(shown, "supply brick, axes both")
    assert row[1].startswith("17 of 20, p from 62.1 % to 96.8 %")
    # Fisher, two-sided, of 17/20 against 0/20
    assert row[2].startswith("2.6e-08")
    control = cells(shown, "supply bench, axes one")
    assert control[0].endswith("(control)")
    assert control[1] == "0 of 20, p < 14 % (95 %, one-sided)"


def test_a_condition_that_was_not_tried_stands_in_the_rates(power):
    assert [row[1] for row in power.rates().rows] == ["not tried"] * 4


def test_progress_counts_what_was_planned_done_left_and_why_not(mount, plan):
    power = plan(mount, 2)
    power.record("k l")
    power.skip(3, because="the shop closed")
    power.aborted(4, because="a cable fell out")
    power.outcome("l", planned=False, because="a visitor", supply="brick",
                  axes="both")  # fmt: skip
    assert progress_line(power) == (
        "planned 8, done 2, left 5; 1 skipped; 1 aborted; 1 outside the plan"
    )
    assert sum(int(row[1]) for row in power.progress().rows) == 8
    assert "the shop closed" in str(power.progress())


def test_attempts_out_of_the_planned_order_are_told(power):
    power.record("k - k")
    power.record("k l k")
    assert power.progress().notes == (
        "1 attempts made after a later place of the order",
    )


def test_a_corrected_outcome_stays_visible(power):
    power.record("k l")
    power.correct(2, "kept", because="the log shows it was kept")
    shown = power.ledger()
    assert [row[4] for row in shown.rows] == ["kept", "lost", "kept"]
    assert shown.states == ("", "superseded", "")


def test_coverage_has_contacts_by_state_with_reasons_for_blanks(mount):
    pairs = mount.trials.plan(
        "bridge", contacts="survey", states=["asleep", "awake"], repetitions=1,
        outcomes=["blank", "fine"], control={"state": "awake"}, stop="once", seed=3,
    )  # fmt: skip
    place = pairs.spec.places.index("joined=P1+P3; state=asleep") + 1
    pairs.outcome("fine", at=place)
    pairs.skip(joined="P2+P3", state="awake", because="no time")
    shown = pairs.coverage()
    assert [c.title for c in shown.columns] == ["Tried", "asleep", "awake"]
    assert cells(shown, "P1–P2")[1] == "not tried: shorts the pack"
    assert cells(shown, "P1–P3")[1:] == ("1 of 1", "0 of 1")
    assert cells(shown, "P2–P3")[2] == "0 of 1; skipped: no time"
    assert cells(shown, "nothing joined")[1:] == ("not in the plan", "0 of 1 c")


def test_what_is_left_open_has_no_reason_and_says_so(mount, plan):
    power = plan(mount, 1)
    power.record("k k k")
    (row,) = power.not_done().rows
    assert row[1:] == ("left open: 1", "no reason given")


def test_a_changed_plan_is_told_with_its_reason(power, plan):
    power.record("k l")
    changed = plan(power.case, 10, because="the socket wears out")
    assert "Changed to version 2 after 2 attempts: the socket wears out." in (
        changed.table().notes
    )


@pytest.mark.parametrize("text", ["<b>loose</b>", "=1+1"])
def test_a_note_is_shown_and_not_obeyed(power, text):
    power.aborted(1, because=text)
    assert "<b>loose" not in as_html(power.ledger())
    assert "\n=1" not in power.ledger().to_csv()
    assert ",=1" not in power.ledger().to_csv()


def test_a_condition_outside_the_plan_has_its_rows_too(power):
    power.outcome("l", planned=False, because="only one at hand", supply="car battery")
    assert cells(power.progress(), "supply car battery")[1] == "0"
    assert cells(power.rates(), "supply car battery")[1].startswith("1 of 1")
    assert "none was planned" in str(power.rates())

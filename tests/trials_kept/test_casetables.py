"""The tables of all trials, as the write-up takes them."""

import pytest

from benchproof.keeping.trials.casetables import TRIAL_REPORTS


@pytest.mark.parametrize("what", TRIAL_REPORTS)
def test_a_case_without_trials_has_empty_tables(mount, what):
    assert TRIAL_REPORTS[what](mount).rows == ()


def test_every_version_of_a_plan_has_its_row(power, plan):
    power.record("k l")
    plan(power.case, 10, because="the socket wears out")
    shown = TRIAL_REPORTS["plans"](power.case)
    assert [row[1] for row in shown.rows] == ["1", "2"]
    assert shown.rows[1][6] == "the socket wears out"


def test_every_attempt_of_every_plan_is_listed(power, mount):
    power.record("k l")
    bridge = mount.trials.plan(
        "bridge", contacts="survey", outcomes=["blank", "fine"], repetitions=1,
        seed=1, stop="once", control={},
    )  # fmt: skip
    bridge.record("f f")
    bridge.aborted(3, because="the clip slipped")
    shown = TRIAL_REPORTS["attempts"](mount)
    assert [row[0] for row in shown.rows] == ["power"] * 2 + ["bridge"] * 3
    assert len(TRIAL_REPORTS["rates"](mount).rows) == 7


def test_what_was_not_done_is_listed_for_every_plan(power, mount):
    shown = TRIAL_REPORTS["untried"](mount)
    assert {row[2] for row in shown.rows} == {"left open: 20"}


def test_a_view_of_a_round_leaves_out_what_came_later(power, mount):
    power.record("k l")
    mount.new_round(because="the worn socket came")
    power.in_round(2).record("l l")
    assert len(TRIAL_REPORTS["attempts"](mount.at_round(1)).rows) == 2
    assert len(TRIAL_REPORTS["attempts"](mount).rows) == 4

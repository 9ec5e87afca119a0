"""One arm: exact limits, stop rules, sittings, order, and what is outside the plan."""

import pytest

from benchproof.keeping.trials.arms import MOST_JUDGED, Arm, arms_of
from benchproof.reasoning.trials import (
    StoppedCount,
    exact_limits,
    lower_bound,
    percent_down,
    percent_up,
    upper_bound,
)

BOTH = "supply=brick; axes=both"


def arm_of(hits, **more):
    return Arm("axes=both", "lost", 1, hits, more.pop("planned", hits), **more)


def test_a_zero_keeps_its_bound(lost_alignment):
    arms = arms_of(lost_alignment.rows, "lost")
    assert arms["supply=brick; axes=one"].shown() == (
        "0 of 20, p < 14 % (95 %, one-sided)"
    )
    # 1 - 0.05^(1/20) = 13.9 %
    high = arms["supply=brick; axes=one"].bounds((False,) * 20, 0.95)[1]
    assert high == pytest.approx(1 - 0.05 ** (1 / 20))


def test_the_bounds_of_a_shuffled_arm_are_exact():
    hits = (True, False, False, True, False, True, True, False)
    arm = arm_of(hits)
    assert arm.effect == 1
    assert arm.bounds(hits, 0.95) == (lower_bound(4, 8), upper_bound(4, 8))


def test_an_arm_that_ended_at_its_first_occurrence_is_analysed_as_such():
    arm = arm_of((False,) * 6 + (True,), stop_at=1)
    assert "stopped as planned at occurrence 1, in attempt 7" in arm.shown()
    high = arm.bounds(arm.hits, 0.95)[1]
    assert high == pytest.approx(StoppedCount(1, 7).upper_bound())
    assert high < upper_bound(1, 7)


def test_attempts_after_the_stop_rule_had_ended_an_arm_are_told():
    arm = arm_of((False, True, True, False), stop_at=1)
    assert "in attempt 2" in arm.shown()
    assert "went on for 2 after the stop rule had ended it" in arm.notes()


def test_sittings_that_differ_widen_the_limits():
    hits = (True, False) * 10
    arm = arm_of(hits, sittings=((9, 10), (1, 10)))
    note, effect = arm.sitting_note()
    assert effect > 2
    assert note.startswith("2 sittings, correlation within one")
    low, high = arm.bounds(hits, 0.95)
    assert low < lower_bound(10, 20) < upper_bound(10, 20) < high
    assert any("limits widened" in n for n in arm.notes())


def test_what_is_shown_of_a_clustered_arm_has_the_wider_limits():
    arm = arm_of((True, False) * 10, sittings=((9, 10), (1, 10)))
    low, high = arm.bounds(arm.hits, 0.975)
    shown = f"p from {percent_down(low)} to {percent_up(high)} (95 %, clustered)"
    assert arm.shown() == f"10 of 20, {shown}"
    assert low < exact_limits(10, 20)[0] < exact_limits(10, 20)[1] < high


def test_a_clustered_arm_that_ended_at_an_occurrence_keeps_the_wider_limits():
    hits = (False,) * 12 + (True,) * 6
    low, high = arm_of(hits, stop_at=6).bounds(hits, 0.975)
    assert low < StoppedCount(6, 18, 6).limits()[0]
    assert arm_of(hits, stop_at=6).shown() == (
        "stopped as planned at occurrence 6, in attempt 18: p from "
        f"{percent_down(low)} to {percent_up(high)} (95 %, clustered)"
    )


def test_the_notes_of_a_clustered_arm_hold_no_limits_that_are_too_narrow():
    hits = (True,) * 8 + (False,) * 8
    notes = arm_of(hits, planned=hits[2:], hours=0.5).notes()
    assert notes[0].endswith("too narrow: clustered")
    low, high = arm_of(hits).bounds(hits[2:], 0.975)
    shown = f"p from {percent_down(low)} to {percent_up(high)} (95 %, clustered)"
    assert notes[1] == f"2 outside the plan counted; planned only: 6 of 14, {shown}"
    assert notes[-1] == "limits widened accordingly"
    plain = arm_of((True, False, False, True), hours=0.5).notes()
    assert "clustered" not in " ".join(plain)


def test_a_zero_of_the_plan_beside_clustered_attempts_outside_it_has_two_limits():
    hits = (False,) * 12 + (True,) * 6
    arm = arm_of(hits, planned=(False,) * 5, stop_at=6)
    assert arm.shown().startswith(
        "occurrence 6, the planned end, not reached: 0 of 5, p from 0 % to "
    )


def test_like_outcomes_in_a_row_are_flagged():
    arm = arm_of((True,) * 10 + (False,) * 10)
    assert "like outcomes follow one another" in " ".join(arm.notes())
    assert arm.bounds(arm.hits, 0.95)[0] < lower_bound(10, 20)


def test_a_very_long_arm_says_that_its_order_was_not_judged():
    arm = arm_of((True, False) * (MOST_JUDGED // 2 + 1))
    assert arm.order_flag() == ("order not judged: more than 10000 attempts", 1.0)


def test_attempts_outside_the_plan_and_aborted_ones_are_counted_and_told(power):
    power.outcome("l l", planned=False, because="a visitor", supply="brick",
                  axes="both")  # fmt: skip
    power.aborted(power.spec.places.index(BOTH) + 1, because="a cable fell out")
    power.outcome("k", at=power.spec.places.index(BOTH) + 1)
    arm = arms_of(power.rows, "lost")[BOTH]
    assert (arm.count, arm.unplanned, arm.aborted) == ((2, 3), 2, 1)
    assert arm.readings().keys() == {"all attempts", "planned only"}
    assert any("2 outside the plan counted; planned only: 0 of 1" in n
               for n in arm.notes())  # fmt: skip


def test_the_latest_round_with_an_outcome_counts(mount, power):
    place = power.spec.places.index(BOTH) + 1
    power.outcome("l", at=place)
    mount.new_round(because="the worn socket came")
    power.in_round(2).aborted(place, because="a cable fell out")
    assert arms_of(power.rows, "lost")[BOTH].round == 1
    power.in_round(2).outcome("k", at=place)
    arm = arms_of(power.rows, "lost")[BOTH]
    assert (arm.round, arm.count) == (2, (0, 1))
    assert arms_of(power.rows, "lost", up_to=1)[BOTH].count == (1, 1)


def test_attempts_without_a_sitting_belong_to_their_day(power):
    power.record("k l")
    power.record("k l k l", sitting="evening")
    arms = arms_of(power.rows, "lost").values()
    assert {n for a in arms for _, n in a.sittings} <= {1, 2}


def test_attempts_without_a_sitting_join_the_only_named_one_of_their_day(power):
    place = power.spec.places.index(BOTH) + 1
    power.outcome("l", at=place)
    more = {"planned": False, "because": "a visitor", "supply": "brick",
            "axes": "both"}  # fmt: skip
    power.outcome("l k", sitting="evening", **more)
    assert arms_of(power.rows, "lost")[BOTH].sittings == ((2, 3),)
    power.outcome("k", sitting="night", **more | {"because": "another visitor"})
    # Two have names now, and nobody said in which of them the first one was made.
    assert arms_of(power.rows, "lost")[BOTH].sittings == ((1, 1), (1, 2), (0, 1))


def test_a_condition_that_was_not_tried_says_so():
    assert Arm("axes=both", "lost").shown() == "not tried"

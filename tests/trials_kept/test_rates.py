"""Predictions on rates, judged by exact limits and by Fisher's test."""

import pytest

from benchproof.keeping.trials.arms import Arm
from benchproof.keeping.trials.rates import judge_rate
from benchproof.reasoning.trials import compare_counts
from benchproof.reasoning.verdicts import Prediction
from benchproof.values.errors import InputError


@pytest.fixture
def both(power):
    return power.rate("lost", supply="brick", axes="both")


@pytest.fixture
def one(power):
    return power.rate("lost", supply="brick", axes="one")


def judged(criterion, arm, other=None, level=0.95):
    return judge_rate(Prediction("as predicted", criterion), arm, other, level)


def test_a_rate_shows_what_is_known_now(power, both):
    assert str(both) == "(not tried yet)"
    power.outcome("l", at=power.spec.places.index("supply=brick; axes=both") + 1)
    assert str(both) == "1 of 1"
    assert both.table().rows[1][1].startswith("1 of 1")


def test_what_was_not_tried_is_not_measured(both, one):
    assert judged(both.at_least(0.5), both.arm).outcome == "not measured"
    criterion = both.higher_than(one)
    assert judged(criterion, both.arm, one.arm).outcome == "not measured"


def test_seventeen_of_twenty_is_at_least_a_half(lost_alignment, both):
    found = judged(both.at_least(0.5), both.arm)
    assert (found.outcome, found.count) == ("met", (17, 20))
    assert judged(both.at_most(0.5), both.arm).outcome == "contradicted"
    assert judged(both.at_least(0.85), both.arm).outcome == "undetermined"


def test_a_zero_of_twenty_meets_at_most_fifteen_percent(lost_alignment, one):
    assert judged(one.at_most(0.15), one.arm).outcome == "met"
    assert judged(one.at_most(0.13), one.arm).outcome == "undetermined"


def test_higher_than_another_arm_is_judged_by_fisher(lost_alignment, both, one):
    found = judged(both.higher_than(one), both.arm, one.arm)
    # one-sided: comb(20, 17) of comb(40, 17) splits, by hand
    assert found.outcome == "met"
    assert "Fisher's exact test, one-sided" in found.detail
    assert judged(one.higher_than(both), one.arm, both.arm).outcome == "contradicted"


def test_two_like_arms_are_undetermined(one, both):
    alike = Arm("a", "lost", 1, (True, False, False, True), (True, False, False, True))
    assert judged(both.higher_than(one), alike, alike).outcome == "undetermined"


def test_unplanned_attempts_may_not_turn_the_outcome(both):
    planned = (True, False, True, True, False, True, False, True)
    arm = Arm("a", "lost", 1, planned + (True,) * 40, planned)
    found = judged(both.at_least(0.5), arm)
    assert found.outcome == "undetermined"
    assert "all attempts: met; planned only: undetermined" in found.detail


def test_aborted_attempts_say_what_they_could_have_changed(both):
    hits = (True, True, False, True, True, True, True, False, True, True)
    arm = Arm("a", "lost", 1, hits, hits, aborted=6)
    found = judged(both.at_least(0.45), arm)
    assert found.outcome == "met"
    assert found.flips == "undetermined if all aborted had not shown it"


def test_arms_that_ended_at_an_occurrence_are_not_compared_by_fisher(both, one):
    arm = Arm("a", "lost", 1, (False, True), (False, True), stop_at=1)
    found = judged(both.higher_than(one), arm, arm)
    assert found.outcome == "undetermined"
    assert "needs their number fixed beforehand" in found.detail


def test_clustered_arms_are_compared_by_what_they_are_worth(both, one):
    run, control = (True,) * 5 + (False,) * 5, (False,) * 10
    shuffled = (True, False) * 5
    clustered = Arm("a", "lost", 1, run, run, sittings=((5, 5), (0, 5)))
    plain = Arm("a", "lost", 1, shuffled, shuffled)
    base = Arm("b", "lost", 1, control, control)
    assert judged(both.higher_than(one), plain, base).outcome == "met"
    assert judged(both.higher_than(one), clustered, base).outcome == "undetermined"


def test_a_rate_is_compared_with_another_condition_of_its_plan(both, power):
    with pytest.raises(InputError, match="another condition of"):
        both.higher_than(both)
    with pytest.raises(InputError, match="same plan and outcome"):
        both.higher_than(power.rate("kept", supply="brick", axes="one"))


def test_a_probability_lies_between_0_and_1(both):
    with pytest.raises(InputError, match="is no probability"):
        both.at_least(50)


def test_clustered_arms_are_compared_as_what_they_are_worth(one, both):
    hits = (True,) * 8 + (False,) * 8
    first = Arm("a", "lost", 1, hits, hits)
    other = Arm("b", "lost", 1, (False,) * 16, (False,) * 16)
    found = judged(both.higher_than(one), first, other)
    assert f"{first.shown()}; against {other.shown()}: p = " in found.detail
    assert "clustered" in first.shown()
    # 16 attempts in two runs are worth 16 (1 - r)/(1 + r) with r = 14/16: about one.
    assert "as 0 of 1 against 0 of 16 independent attempts" in found.detail
    assert found.outcome == "undetermined"
    assert compare_counts((8, 16), (0, 16), "more").p_value < 0.05


def test_the_sentence_of_two_plain_arms_is_that_of_their_counts(one, both):
    hits = (True, False, False, True)
    alike = Arm("a", "lost", 1, hits, hits)
    said = compare_counts((2, 4), (2, 4), "more").sentence().rstrip(".")
    assert judged(both.higher_than(one), alike, alike).detail.startswith(said)

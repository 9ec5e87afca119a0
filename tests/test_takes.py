"""What would settle a prediction, checked by settling it that way."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.decisions.rule import Criterion, decide_value
from benchproof.reasoning.takes import (
    largest_settling,
    takes_count,
    takes_value,
)
from benchproof.reasoning.trials import decide_count
from benchproof.values.units import unit_of

OFTEN = Criterion("lost", 0.5, math.inf, "lost in at least 50 % of attempts")
SELDOM = Criterion("lost", -math.inf, 0.15, "lost in at most 15 % of attempts")


@given(st.floats(0.001, 0.09))
def test_the_u_that_is_asked_for_settles_it_and_a_little_more_does_not(distance):
    def settled(u):
        return decide_value(8.8 + distance, u, 8.8) != "undetermined"

    wanted = largest_settling(settled, 0.06)
    # JCGM 106, clause 8: the guard band of a one-sided 95 % limit is 1.6449 u.
    assert wanted == pytest.approx(min(distance / 1.644854, 0.06), rel=1e-5)


def test_a_value_on_its_limit_is_settled_by_no_u():
    assert math.isnan(
        largest_settling(lambda u: decide_value(8.8, u, 8.8) != "undetermined", 0.06)
    )


def test_more_attempts_at_the_same_rate_settle_a_count():
    said = takes_count(6, 10, OFTEN, 0.95)
    assert said.text.startswith("about 68 more attempts if it goes on at 6 of 10")
    assert decide_count(round(0.6 * 78), 78, 0.5, math.inf) == "met"
    assert decide_count(6, 10, 0.5, math.inf) == "undetermined"
    assert said.effort == pytest.approx(7.8)


def test_the_fewest_attempts_are_those_of_one_kind_only():
    said = takes_count(6, 10, OFTEN, 0.95).text
    assert "at the fewest 6 more, if all show it" in said
    assert decide_count(12, 16, 0.5, math.inf) == "met"
    assert decide_count(11, 15, 0.5, math.inf) == "undetermined"


def test_a_single_attempt_is_one_attempt():
    rare = Criterion("stops", -math.inf, 0.05, "stops in at most 5 % of attempts")
    assert takes_count(0, 0, rare, 0.95).text.startswith("1 attempt if all show it, ")


def test_before_the_first_attempt_both_ways_out_are_named():
    said = takes_count(0, 0, SELDOM, 0.95)
    assert said.text == "2 attempts if all show it, 19 attempts if none shows it"
    assert decide_count(0, 19, -math.inf, 0.15) == "met"
    assert decide_count(0, 18, -math.inf, 0.15) == "undetermined"


def test_a_rate_on_its_limit_needs_more_attempts_than_anyone_makes():
    said = takes_count(5, 10, OFTEN, 0.95)
    assert "stays undetermined however often" in said.text
    assert math.isinf(said.effort)


# Values ------------------------------------------------------------------------------


def budget(case, name):
    return case.budget(name)


def limit(lower=-math.inf, upper=math.inf):
    return Criterion("V", lower, upper, "V", unit_of("V"))


def test_repeats_are_asked_for_where_they_dominate(case):
    case.record("V", "5.00(0) 5.20(0) 4.90(0) 5.10(0) V")
    found = budget(case, "V")
    u, n = found.standard_uncertainty, 4
    said = takes_value(found, limit(lower=found.value - 0.8 * u), 0.95)
    # u has to come down to 0.8 u/1.6449, and it goes with 1/√n.
    more = math.ceil(n * (1.644854 / 0.8) ** 2)
    assert f"about {more} readings instead of 4" in said.text
    assert said.effort == pytest.approx(more / n)
    assert "100 % of the variance" in said.dominates


def test_another_instrument_is_asked_for_where_its_accuracy_dominates(case):
    case.record("V", "5.000 V", using="handheld")
    found = budget(case, "V")
    u = found.standard_uncertainty
    said = takes_value(found, limit(lower=found.value - 1.5 * u), 0.95)
    assert "another range or instrument, so that handheld" in said.text
    assert "more repeats do not help" in said.text
    needed = said.text.partition("if the value stays")[0]
    assert needed.startswith("u of ")


def test_where_no_source_alone_would_do_that_is_said(case):
    case.record("V", "5.000 V", using="handheld")
    found = budget(case, "V")
    u = found.standard_uncertainty
    said = takes_value(found, limit(lower=found.value - 0.01 * u), 0.95)
    assert "no single source does it" in said.text
    assert said.effort == pytest.approx(164.5, rel=1e-3)


def test_a_value_on_its_limit_asks_for_another_prediction(case):
    case.record("V", "5.000 V", using="handheld")
    found = budget(case, "V")
    said = takes_value(found, limit(lower=found.value), 0.95)
    assert "no smaller u settles it" in said.text
    assert math.isinf(said.effort)

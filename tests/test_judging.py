"""From a criterion and an observation to an outcome, its words and where it flips."""

import math

import pytest

from benchproof.measuring.measurands import Measured, pending
from benchproof.reasoning.budgets.bounds import Bounded
from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.judging import (
    censored_text,
    judge_bounded,
    judge_budget,
    judge_difference,
    judge_measured,
    require_unit,
)
from benchproof.reasoning.verdicts import Prediction
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

VOLT, MILLIVOLT, OHM, ONE = map(unit_of, ("V", "mV", "ohm", ""))
INFINITE = math.inf


def expected(lower=-INFINITE, upper=INFINITE, unit=VOLT, **compared):
    return Prediction("as said", Criterion("x", lower, upper, "x", unit, **compared))


def budget(value, u, unit=VOLT, dof=INFINITE):
    parts = ((Source("x", "A", "t", u, VOLT, dof), 1.0),) if u else ()
    return budget_of(Graph({"x": Estimate(value, parts)}, {"x": unit}, {}), "x")


# By a value with its uncertainty.


@pytest.mark.parametrize(
    ("value", "outcome", "probability", "flips"),
    [
        # The guard band of u = 0.1 V is 0.164 V wide; P = Φ((10 - value)/u).
        (9.7, "met", "> 0.99", "undetermined at 9.84 V, 0.14 V away"),
        (9.9, "undetermined", "0.84", "met at 9.84 V, 0.064 V away"),
        (10.1, "undetermined", "0.16", "contradicted at 10.16 V, 0.064 V away"),
        (10.3, "contradicted", "< 0.01", "undetermined at 10.16 V, 0.14 V away"),
    ],
)
def test_a_value_is_judged_with_its_probability_and_where_that_flips(
    value, outcome, probability, flips
):
    found = judge_budget(expected(upper=10.0), budget(value, 0.1), 0.95)
    assert found.outcome == outcome
    assert found.detail == f"{value:.2f}(10) V, probability {probability}"
    assert found.flips == flips


def test_few_degrees_of_freedom_ask_for_more_distance():
    # One-sided 95 %: 1.645 of the normal, 6.314 of t with one degree of freedom.
    prediction = expected(upper=10.0)
    assert judge_budget(prediction, budget(9.7, 0.1), 0.95).outcome == "met"
    few = judge_budget(prediction, budget(9.7, 0.1, dof=1), 0.95)
    assert few.outcome == "undetermined"
    assert few.flips.startswith("met at 9.37 V")


def test_a_stricter_level_is_the_one_that_decides():
    found = judge_budget(expected(upper=10.0), budget(9.8, 0.1), 0.99)
    assert found.outcome == "undetermined"


def test_where_an_outcome_flips_is_said_in_the_unit_of_the_quantity():
    found = judge_budget(expected(upper=10e-3), budget(9.7e-3, 0.1e-3, MILLIVOLT), 0.95)
    assert found.detail.startswith("9.70(10) mV, ")
    assert found.flips == "undetermined at 9.84 mV, 0.14 mV away"


def test_an_exact_value_flips_at_the_limit_and_says_no_more():
    assert judge_budget(expected(upper=10.0), budget(9.0, 0.0), 0.95).flips == ""


def test_a_value_without_limits_flips_nowhere():
    assert judge_budget(expected(), budget(9.0, 0.1), 0.95).flips == "at no value"


@pytest.mark.parametrize(
    ("drawn", "outcome", "words"),
    [
        ((0.02, 0.97, 0.01), "met", "0.97"),
        ((0.30, 0.60, 0.10), "undetermined", "0.60"),
        ((0.0, 0.04, 0.96), "contradicted", "0.04"),
    ],
)
def test_draws_decide_instead_of_the_budget_where_they_are_given(drawn, outcome, words):
    # By the budget alone the value would be met.
    found = judge_budget(expected(0.0, 10.0), budget(5.0, 0.1), 0.95, drawn)
    assert found.outcome == outcome
    assert found.detail == f"5.00(10) V, Monte Carlo: probability {words}"
    assert found.flips == ""


# By a difference.


@pytest.mark.parametrize(
    ("difference", "relation", "outcome"),
    [
        (0.1, "agrees", "met"),
        (0.25, "agrees", "undetermined"),
        (0.4, "agrees", "contradicted"),
        (0.1, "differs", "undetermined"),
        (0.4, "differs", "met"),
    ],
)
def test_two_values_agree_below_two_u_and_differ_above_three(
    difference, relation, outcome
):
    prediction = expected(other="y", relation=relation)
    found = judge_difference(prediction, budget(difference, 0.1), 0.95)
    assert found.outcome == outcome
    assert found.flips.endswith("away")


def test_a_margin_is_held_against_the_difference_in_its_unit():
    prediction = expected(other="y", relation="agrees", margin=0.5)
    assert judge_difference(prediction, budget(0.3, 0.1), 0.95).outcome == "met"
    assert judge_difference(prediction, budget(0.45, 0.1), 0.95).outcome == (
        "undetermined"
    )
    wrong = expected(unit=OHM, other="y", relation="agrees", margin=0.5)
    with pytest.raises(InputError, match="prediction on x"):
        judge_difference(wrong, budget(0.3, 0.1), 0.95)
    # Without a margin a criterion has no unit to fit.
    plain = expected(unit=OHM, other="y", relation="agrees")
    assert judge_difference(plain, budget(0.1, 0.1), 0.95).outcome == "met"


# By what is no value.


def test_a_count_is_judged_by_its_exact_bounds():
    measured = Measured("x", ONE, "count", count=(17, 20))
    found = judge_measured(expected(lower=0.5, unit=ONE), measured, 0.95)
    assert (found.outcome, found.count) == ("met", (17, 20))
    assert found.detail == "17 of 20, 95 % interval 62.1 % to 96.8 %"
    low = judge_measured(expected(upper=0.5, unit=ONE), measured, 0.95)
    assert low.outcome == "contradicted"
    # 17 of 20 is above 64 % with 95 %, not with 99 %.
    strict = judge_measured(expected(lower=0.64, unit=ONE), measured, 0.99)
    assert strict.outcome == "undetermined"


def test_a_censored_reading_is_judged_by_its_bound():
    measured = Measured("x", OHM, "censored", bound=(">", 58.8e6))
    found = judge_measured(expected(lower=1e6, unit=OHM), measured, 0.95)
    assert (found.outcome, found.detail) == ("met", "> 58.8 MΩ")
    found = judge_measured(expected(upper=1e6, unit=OHM), measured, 0.95)
    assert found.outcome == "contradicted"


def test_a_bound_is_written_in_the_unit_of_its_measurand():
    measured = Measured("x", MILLIVOLT, "censored", bound=("<", 0.5e-3))
    assert censored_text(measured) == "< 0.5 mV"


def test_what_is_not_measured_is_not_judged():
    found = judge_measured(expected(lower=1.0), pending("x", VOLT), 0.95)
    assert (found.outcome, found.detail) == ("not measured", "not measured yet")
    for seen in ({"count": (17, 20)}, {"bound": (">", 2.0)}):
        invalid = Measured("x", VOLT, "invalid", reason="too cold", **seen)
        found = judge_measured(expected(lower=1.0), invalid, 0.95)
        assert found.outcome == "not measured"


def test_a_derived_bound_is_judged_with_what_it_rests_on():
    bounded = Bounded(
        "x", VOLT, "<", 0.5, 0.0, 0.5, 0.95, ("R",), "< 0.5 V", "from R > 60 MΩ"
    )
    found = judge_bounded(expected(upper=1.0), bounded)
    assert (found.outcome, found.detail) == ("met", "< 0.5 V, from R > 60 MΩ")
    assert judge_bounded(expected(lower=1.0), bounded).outcome == "contradicted"


def test_limits_of_another_dimension_are_refused_with_what_they_are_on():
    criterion = expected(lower=1.0, unit=OHM).criterion
    require_unit(criterion, unit_of("kohm"))
    for judge in (
        lambda p: judge_budget(p, budget(1.0, 0.1), 0.95),
        lambda p: judge_measured(p, Measured("x", VOLT, "count", count=(1, 2)), 0.95),
        lambda p: judge_measured(
            p, Measured("x", VOLT, "censored", bound=(">", 1.0)), 0.95
        ),
        lambda p: require_unit(p.criterion, VOLT),
    ):
        with pytest.raises(InputError, match="prediction on x: x: 'Ω' cannot"):
            judge(expected(lower=1.0, unit=OHM))

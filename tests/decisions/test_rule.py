# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.reasoning.decisions.rule import (
    Criterion,
    conformance_probability,
    decide,
    decide_censored,
    decide_value,
    probability_text,
)
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

# A first call imports scipy, and the machine may be busy: no deadline.
unhurried = settings(deadline=None)

INFINITE = math.inf


def normal_below(z):
    return 0.5 * math.erfc(-z / math.sqrt(2))


@unhurried
@given(st.floats(-5, 5), st.floats(0.01, 10), st.floats(-5, 5))
def test_one_sided_conformance_is_the_normal_distribution(value, u, limit):
    below = conformance_probability(value, u, upper=limit)
    assert below == pytest.approx(normal_below((limit - value) / u), abs=1e-12)


@unhurried
@given(st.floats(-5, 5), st.floats(0.01, 10), st.floats(-5, 5))
def test_below_and_above_add_up_to_one(value, u, limit):
    below = conformance_probability(value, u, upper=limit)
    above = conformance_probability(value, u, lower=limit)
    assert below + above == pytest.approx(1, abs=1e-12)


def test_within_two_limits_is_the_probability_between_them():
    found = conformance_probability(0.0, 1.0, -1.0, 2.0)
    expected = normal_below(2) - normal_below(-1)
    assert found == pytest.approx(expected, abs=1e-12)


def test_few_degrees_of_freedom_make_a_decision_less_certain():
    # One degree of freedom is the Cauchy distribution: 1/2 + atan(2)/π.
    few = conformance_probability(0.0, 1.0, upper=2.0, degrees_of_freedom=1)
    assert few == pytest.approx(0.5 + math.atan(2) / math.pi, abs=1e-12)
    assert few < conformance_probability(0.0, 1.0, upper=2.0)


@pytest.mark.parametrize(
    ("value", "expected"), [(0.9, 0.0), (1.0, 1.0), (1.5, 1.0), (2.0, 1.0), (2.1, 0.0)]
)
def test_a_value_of_zero_u_is_inside_or_outside(value, expected):
    assert conformance_probability(value, 0.0, 1.0, 2.0) == expected


@pytest.mark.parametrize("u", [0.0, 0.1])
def test_limits_that_hold_nothing_have_no_probability(u):
    assert conformance_probability(1.5, u, 2.0, 1.0) == 0.0


@pytest.mark.parametrize("u", [-0.1, math.nan])
def test_an_uncertainty_that_cannot_be_is_refused(u):
    with pytest.raises(InputError, match="give one >= 0"):
        conformance_probability(1.0, u, upper=2.0)


@pytest.mark.parametrize(
    ("probability", "outcome"),
    [
        (1.0, "met"),
        (0.95, "met"),
        (0.949, "undetermined"),
        (0.5, "undetermined"),
        (0.051, "undetermined"),
        (0.049, "contradicted"),
        (0.0, "contradicted"),
    ],
)
def test_the_decision_rule_has_three_outcomes(probability, outcome):
    assert decide(1 - probability, probability, 0.0) == outcome
    assert decide(0.0, probability, 1 - probability) == outcome


def test_a_stricter_level_widens_the_undetermined_zone():
    assert decide(0.03, 0.97, 0.0) == "met"
    assert decide(0.03, 0.97, 0.0, level=0.99) == "undetermined"
    assert decide(0.97, 0.03, 0.0, level=0.99) == "undetermined"


def test_what_may_lie_on_either_side_is_undetermined():
    assert decide(0.49, 0.02, 0.49) == "undetermined"


def test_a_value_inside_the_guard_band_is_undetermined():
    # The guard band is 1.645 u wide on either side of the limit.
    inside, outside = 10 - 1.6 * 0.1, 10 - 1.7 * 0.1
    assert decide_value(inside, 0.1, upper=10) == "undetermined"
    assert decide_value(outside, 0.1, upper=10) == "met"
    assert decide_value(10.17, 0.1, upper=10) == "contradicted"


@pytest.mark.parametrize(
    ("bound", "lower", "upper", "outcome"),
    [
        # More than 58 MΩ.
        ((">", 58e6), 1e6, INFINITE, "met"),
        ((">", 58e6), 58e6, INFINITE, "met"),
        ((">", 58e6), 100e6, INFINITE, "undetermined"),
        ((">", 58e6), -INFINITE, 1e6, "contradicted"),
        ((">", 58e6), -INFINITE, 100e6, "undetermined"),
        ((">", 58e6), 1e6, 100e6, "undetermined"),
        ((">", 58e6), 1e6, 2e6, "contradicted"),
        ((">", 58e6), 1e6, 58e6, "contradicted"),
        # Less than half a millivolt.
        (("<", 0.5e-3), -INFINITE, 1e-3, "met"),
        (("<", 0.5e-3), -INFINITE, 0.5e-3, "met"),
        (("<", 0.5e-3), 0.5e-3, INFINITE, "contradicted"),
        (("<", 0.5e-3), -INFINITE, 0.1e-3, "undetermined"),
        (("<", 0.5e-3), 1e-3, INFINITE, "contradicted"),
        (("<", 0.5e-3), 0.1e-3, INFINITE, "undetermined"),
        (("<", 0.5e-3), 0.1e-3, 1e-3, "undetermined"),
    ],
)
def test_a_censored_reading_decides_only_what_its_bound_can(
    bound, lower, upper, outcome
):
    assert decide_censored(bound, lower, upper) == outcome


@pytest.mark.parametrize(("lower", "upper"), [(2.0, 1.0), (1.0, 1.0)])
def test_limits_in_the_wrong_order_are_refused(lower, upper):
    with pytest.raises(InputError, match="V_min: the lower limit must lie below"):
        Criterion("V_min", lower, upper, "V_min")


def test_a_criterion_of_limits_is_what_five_arguments_make():
    found = Criterion("V_min", 8.8, INFINITE, "V_min above 8.80 V", unit_of("V"))
    assert (found.relation, found.other, found.margin) == ("limits", "", None)


@pytest.mark.parametrize("relation", ["agrees", "differs"])
@pytest.mark.parametrize("margin", [None, 0.05])
def test_a_criterion_may_compare_two_quantities(relation, margin):
    found = compared("V_2", relation, margin)
    assert (found.other, found.relation, found.margin) == ("V_2", relation, margin)


def compared(other, relation, margin=None, lower=-INFINITE, upper=INFINITE):
    return Criterion(
        "V_1", lower, upper, "V_1 beside V_2", unit_of("V"), other, relation, margin
    )


@pytest.mark.parametrize("other", ["", "V_1"])
def test_a_comparison_names_another_quantity(other):
    with pytest.raises(InputError, match="V_1 beside V_2: name another quantity"):
        compared(other, "agrees")


@pytest.mark.parametrize("limits", [{"lower": 1.0}, {"upper": 1.0}])
def test_a_comparison_has_no_limits(limits):
    with pytest.raises(InputError, match="so give no limits"):
        compared("V_2", "agrees", **limits)


@pytest.mark.parametrize("margin", [0.0, -0.1, math.nan, INFINITE])
def test_a_margin_is_a_difference_above_zero(margin):
    with pytest.raises(InputError, match="V_1 beside V_2: the margin is"):
        compared("V_2", "differs", margin)


@pytest.mark.parametrize(("other", "margin"), [("V_2", None), ("", 0.1)])
def test_limits_and_a_comparison_are_two_criteria(other, margin):
    with pytest.raises(InputError, match="Write one criterion for each"):
        compared(other, "limits", margin, lower=1.0)


def test_an_unknown_relation_is_refused():
    with pytest.raises(InputError, match="relation 'equals' is not known"):
        compared("V_2", "equals")


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (0.0, "< 0.01"),
        (0.004, "< 0.01"),
        (0.005, "0.01"),
        (0.6242, "0.62"),
        (0.995, "0.99"),
        (0.996, "> 0.99"),
        (1.0, "> 0.99"),
    ],
)
def test_a_probability_is_shown_as_0_or_1_only_if_it_must(probability, text):
    assert probability_text(probability) == text


# JCGM 106:2012, 7.3 (a Zener diode's breakdown voltage; from memory, recomputed).
def test_the_zener_diode_of_the_standard_conforms_with_92_per_cent():
    found = conformance_probability(-5.47, 0.05, upper=-5.40)
    assert found == pytest.approx(0.92, abs=0.005)


# The same through a case.


def outcome_of(case, criterion):
    rival = case.hypothesis("H1", "A statement")
    rival.predicts("a prediction", criterion)
    (verdict,) = case.verdicts().verdicts
    return verdict.judged[0]


def test_an_over_range_reading_counts_from_the_top_less_its_accuracy(case):
    case.record("R_leak", "OL Mohm", using="handheld")
    # 60 MΩ less 0.8 % and 5 digits of 10 kΩ: 59.47 MΩ.
    assert str(case["R_leak"]) == "> 59.47 MΩ"
    assert outcome_of(case, case["R_leak"].above("59 Mohm")).outcome == "met"


def test_an_over_range_reading_does_not_show_more_than_its_bound(case):
    case.record("R_leak", "OL Mohm", using="handheld")
    judged = outcome_of(case, case["R_leak"].above("60 Mohm"))
    assert judged.outcome == "undetermined"
    assert judged.detail == "> 59.47 MΩ"


def test_a_formula_of_a_censored_reading_is_judged_by_the_bound_that_follows(case):
    case.record("R_leak", "OL Mohm", using="handheld")
    case.constant("V_in", "3.0(1) V")

    @case.derive(unit="uA")
    def I_leak(V_in, R_leak):
        return V_in / R_leak

    judged = outcome_of(case, case["I_leak"].below("1 uA"))
    assert judged.outcome == "met"
    assert "R_leak > 59.47 MΩ" in judged.detail
    assert str(case["I_leak"]).startswith("< 0.0532")  # 3.16 V over 59.47 MΩ
    assert outcome_of(case, case["I_leak"].below("10 nA")).outcome == "undetermined"


def test_what_was_not_measured_is_shown_as_not_measured(case):
    case.record("V_min", "? V")
    judged = outcome_of(case, case["V_min"].above("8.80 V"))
    assert (judged.outcome, judged.detail) == ("not measured", "not measured yet")


def test_a_limit_in_another_unit_is_refused_by_name(case):
    case.constant("V_min", "8.82(6) V")
    with pytest.raises(InputError, match="prediction on V_min.*'A' cannot be conver"):
        outcome_of(case, case["V_min"].above("8.80 A"))


def test_a_limit_may_be_written_in_another_prefix(case):
    case.constant("V_min", "8.82(6) V")
    assert outcome_of(case, case["V_min"].above("8000 mV")).outcome == "met"


def test_a_formula_of_a_count_says_that_it_takes_none(case):
    case.record("lost", "3 of 20")

    @case.derive(unit="dimensionless")
    def twice(lost):
        return 2 * lost

    rival = case.hypothesis("H1", "It is lost often")
    rival.predicts("often", twice.above("0.1 dimensionless"))
    (judged,) = case.verdicts().verdicts[0].judged
    assert judged.outcome == "undetermined"
    assert judged.detail == "lost is a count, not a quantity with a unit"

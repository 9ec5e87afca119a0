# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import numpy as np
import pytest

from benchproof.reasoning.budget import (
    budget_of,
    covariance,
    coverage_factor,
    effective_degrees_of_freedom,
    quadratic,
)
from benchproof.reasoning.formulas import formula_from
from benchproof.reasoning.graph import Graph
from benchproof.values.errors import FormulaError, InputError, PendingError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

VOLT = unit_of("V")


def source(name, u, dof=math.inf):
    return Source(name, "A", "t", u, VOLT, dof)


def graph_of(function, inputs, joints=()):
    formula = formula_from(function, VOLT)
    units = dict.fromkeys([*inputs, formula.name], VOLT)
    return Graph(inputs, units, {formula.name: formula}, tuple(joints))


def total(a, b):
    return a + b


def gap(a, b):
    return a - b


def two(u_a=3.0, u_b=4.0, dof=math.inf):
    return {
        "a": Estimate(1.0, ((source("a", u_a, dof), 1.0),)),
        "b": Estimate(2.0, ((source("b", u_b, dof), 1.0),)),
    }


def joint(r, dof=math.inf):
    return Joint(("a", "b"), ((1.0, r), (r, 1.0)), dof)


# Combining.


def test_independent_sources_add_in_squares():
    assert budget_of(graph_of(total, two()), "total").standard_uncertainty == 5.0
    assert budget_of(graph_of(gap, two()), "gap").standard_uncertainty == 5.0


@pytest.mark.parametrize(
    ("r", "function", "u"),
    [(1.0, total, 7.0), (1.0, gap, 1.0), (-1.0, total, 1.0), (-1.0, gap, 7.0)],
)
def test_full_correlation_adds_or_subtracts_plainly(r, function, u):
    graph = graph_of(function, two(), [joint(r)])
    found = budget_of(graph, function.__name__).standard_uncertainty
    assert found == pytest.approx(u, rel=1e-12)


def test_correlation_is_shown_as_a_share_of_its_own():
    added = budget_of(graph_of(total, two(), [joint(0.5)]), "total")
    # u² = 9 + 16 + 2·0.5·12 = 37, of which 12 by correlation.
    assert added.correlation_share == pytest.approx(12 / 37)
    taken = budget_of(graph_of(gap, two(), [joint(0.5)]), "gap")
    assert taken.correlation_share == pytest.approx(-12 / 13)
    assert taken.table().rows[-1][0] == "correlation of these"


def test_shares_add_up_to_the_whole():
    budget = budget_of(graph_of(total, two(), [joint(-0.3)]), "total")
    shares = sum(line.share for line in budget.lines) + budget.correlation_share
    assert shares == pytest.approx(1, abs=1e-12)


def test_the_largest_share_comes_first():
    budget = budget_of(graph_of(total, two(u_a=1.0, u_b=2.0)), "total")
    assert [line.source.name for line in budget.lines] == ["b", "a"]


def test_contributions_keep_their_sign():
    budget = budget_of(graph_of(gap, two()), "gap")
    found = {line.source.name: line.contribution for line in budget.lines}
    assert found == {"a": 3.0, "b": -4.0}


def test_a_shared_source_cancels_in_a_difference():
    gain = source("gain", 0.5)
    inputs = {"a": Estimate(5.0, ((gain, 5.0),)), "b": Estimate(4.0, ((gain, 4.0),))}
    budget = budget_of(graph_of(gap, inputs), "gap")
    assert budget.standard_uncertainty == 0.5
    assert len(budget.lines) == 1


def test_covariance_of_a_quantity_with_itself_is_its_variance():
    graph = graph_of(gap, two(), [joint(0.5)])
    variance = budget_of(graph, "gap").standard_uncertainty ** 2
    assert covariance(graph, "gap", "gap") == pytest.approx(variance)


def test_covariance_reaches_through_correlated_groups():
    graph = graph_of(gap, two(), [joint(0.5)])
    # cov(a - b, b) = cov(a, b) - var(b) = 0.5·12 - 16.
    assert covariance(graph, "gap", "b") == pytest.approx(-10.0)


def test_a_quadratic_form_is_what_numpy_says():
    vector, other = [1.0, -2.0, 0.5], [0.3, 0.7, -1.0]
    matrix = [[1.0, 0.2, -0.4], [0.2, 1.0, 0.1], [-0.4, 0.1, 1.0]]
    expected = np.array(vector) @ np.array(matrix) @ np.array(other)
    assert quadratic(vector, matrix, other) == pytest.approx(expected)


# Zero.


def test_a_quantity_of_exact_numbers_has_u_zero_and_says_so():
    inputs = {"a": Estimate(1.0), "b": Estimate(2.0)}
    budget = budget_of(graph_of(total, inputs), "total")
    assert budget.standard_uncertainty == budget.expanded_uncertainty == 0.0
    assert math.isinf(budget.degrees_of_freedom)
    assert budget.lines == ()
    assert budget.result() == "3 V"
    assert budget.summary() == "3 V (exact)"
    assert "total = 3 V (exact)" in str(budget)


def test_sources_of_zero_have_no_share_and_do_no_harm():
    budget = budget_of(graph_of(total, two(0.0, 0.0)), "total")
    assert budget.standard_uncertainty == 0.0
    assert [line.share for line in budget.lines] == [0.0, 0.0]


def test_sources_that_cancel_leave_u_zero():
    graph = graph_of(gap, two(3.0, 3.0, dof=4), [joint(1.0, dof=4)])
    budget = budget_of(graph, "gap")
    assert budget.standard_uncertainty == 0.0
    assert math.isinf(budget.degrees_of_freedom)


# Degrees of freedom and coverage.


def test_two_equal_sources_have_twice_the_degrees_of_freedom():
    budget = budget_of(graph_of(total, two(1.0, 1.0, dof=4)), "total")
    assert budget.degrees_of_freedom == pytest.approx(8)
    assert budget.coverage_factor == coverage_factor(0.95, 8)


def test_sets_read_together_have_the_degrees_of_freedom_of_the_sets():
    graph = graph_of(total, two(1.0, 1.0, dof=4), [joint(0.5, dof=4)])
    budget = budget_of(graph, "total")
    assert budget.degrees_of_freedom == pytest.approx(4)
    assert budget.caveats == ()


def test_declared_correlation_brings_a_caveat():
    budget = budget_of(graph_of(total, two(), [joint(0.5)]), "total")
    assert "compare with case.monte_carlo" in budget.caveats[0]


def test_a_certain_part_raises_the_degrees_of_freedom():
    assert effective_degrees_of_freedom([(1.0, 4), (1.0, math.inf)]) == (
        pytest.approx(16)
    )
    assert math.isinf(effective_degrees_of_freedom([(1.0, math.inf)]))
    assert math.isinf(effective_degrees_of_freedom([]))


def test_effective_degrees_of_freedom_do_not_depend_on_the_unit():
    # 1e-200 V squared underflows to nothing in the plain formula's fourth power.
    terms = [(1.0, 3), (2.0, 7)]
    expected = effective_degrees_of_freedom(terms)
    small = effective_degrees_of_freedom([(1e-90 * u, dof) for u, dof in terms])
    assert small == pytest.approx(expected)


def test_degrees_of_freedom_are_truncated_never_rounded_up():
    assert coverage_factor(0.95, 4.99) == coverage_factor(0.95, 4)
    # But the noise of a sum does not cost a whole degree.
    assert coverage_factor(0.95, 5 - 1e-12) == coverage_factor(0.95, 5)


def test_many_degrees_of_freedom_approach_the_normal_distribution():
    assert coverage_factor(0.95) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(0.95, 1e6) == pytest.approx(1.959964, abs=1e-5)


@pytest.mark.parametrize(
    ("level", "dof"),
    [(0.0, 5), (1.0, 5), (95, 5), (0.95, 0.9), (0.95, 0), (0.95, math.nan)],
)
def test_a_level_or_degrees_of_freedom_that_cannot_be_are_refused(level, dof):
    with pytest.raises(InputError, match="give a level between 0 and 1"):
        coverage_factor(level, dof)


def test_a_higher_level_widens_u_but_not_the_standard_uncertainty():
    graph = graph_of(total, two(dof=4))
    usual, strict = budget_of(graph, "total"), budget_of(graph, "total", 0.99)
    assert strict.expanded_uncertainty > usual.expanded_uncertainty
    assert strict.standard_uncertainty == usual.standard_uncertainty


# What is shown, through a case.


def test_a_budget_shows_result_expanded_uncertainty_and_degrees_of_freedom(case):
    case.constant("R", "127.732(71) ohm", dof=4)
    assert case.budget("R").summary() == (
        "127.732(71) Ω, U = 0.20 Ω (k = 2.78, 95 %, 4 degrees of freedom)"
    )


def test_a_budget_names_its_sources_by_instrument_function_and_range(case):
    case.record("V_idle", "12.10 12.11 12.09 V", using="handheld")
    assert sorted(line.source.name for line in case.budget("V_idle").lines) == [
        "V_idle · handheld · DC V · 60 V · offset",
        "V_idle · repeatability",
        "handheld · DC V · 60 V · gain",
    ]


def test_a_budget_in_a_prefixed_unit_agrees_with_the_plain_one(case):
    case.constant("V_in", "3.000(30) V")
    case.constant("I_in", "2.000(40) mA")

    @case.derive(unit="kohm")
    def R_kilo(V_in, I_in):
        return V_in / I_in

    @case.derive(unit="ohm")
    def R_plain(V_in, I_in):
        return V_in / I_in

    kilo, plain = case.budget("R_kilo"), case.budget("R_plain")
    assert kilo.standard_uncertainty == plain.standard_uncertainty
    assert kilo.result() == "1.500(34) kΩ"
    assert plain.result() == "1500(34) Ω"


def test_a_temperature_has_its_uncertainty_in_kelvin(case):
    case.constant("case_top", "57.5(8) °C")
    budget = case.budget("case_top")
    assert budget.result() == "57.50(80) °C"
    assert "U = 1.6 K" in budget.summary()


def test_an_unmeasured_quantity_has_no_budget_and_says_what_it_waits_for(case):
    case.record("V_min", "? V")
    case.constant("drop", "0.4 V")

    @case.derive(unit="V")
    def rail(V_min, drop):
        return V_min + drop

    with pytest.raises(PendingError, match="rail has no value: V_min is not measured"):
        case.budget("rail")


def test_an_unknown_quantity_has_no_budget_and_gets_a_suggestion(case):
    case.record("V_min", "? V")
    with pytest.raises(FormulaError, match="'V_mim' is not .* Did you mean V_min"):
        case.budget("V_mim")


def test_a_branching_formula_still_has_a_linear_budget(case):
    case.constant("V_in", "3.00(3) V")
    case.constant("limit", "1.0 V")

    @case.derive(unit="V")
    def cut(V_in, limit):
        return 2 * V_in if V_in > limit else limit

    # Central differences: nine digits.
    assert case.budget("cut").standard_uncertainty == pytest.approx(0.06, rel=1e-8)


def test_degrees_of_freedom_below_one_are_refused(case):
    with pytest.raises(InputError, match="-3 degrees of freedom; at least 1"):
        case.constant("drop", "0.40(5) V", dof=-3)


def test_zero_degrees_of_freedom_are_refused(case):
    with pytest.raises(InputError, match="0 degrees of freedom; at least 1"):
        case.constant("drop", "0.40(5) V", dof=0)

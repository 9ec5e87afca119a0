"""Slope and intercept as plain formulas, for derived quantities."""

import math

import numpy as np
import pytest

from benchproof.measuring.lines.line import fit_line
from benchproof.measuring.lines.slopes import line_intercept, line_slope
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import partials
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

X = [0.0, 1.0, 2.65, 4.0]
Y = [12.10, 11.84, 11.39, 11.02]


def test_slope_and_intercept_are_those_of_the_fit():
    line = fit_line(X, Y)
    assert line_slope(X, Y) == pytest.approx(line.slope, rel=1e-12)
    assert line_intercept(X, Y) == pytest.approx(line.intercept, rel=1e-12)


# Invented supply, worked by hand: (12.10 - 11.39)/2.65.
def test_two_points_give_the_source_resistance():
    assert -line_slope([0, 2.65], [12.10, 11.39]) == pytest.approx(0.268, abs=5e-4)
    assert line_intercept([0, 2.65], [12.10, 11.39]) == pytest.approx(12.10)


def test_two_loads_give_their_source():
    amperes, volts = [4.0 / 1000, 4.5 / 2250], [4.0, 4.5]
    assert -line_slope(amperes, volts) == pytest.approx(250, rel=1e-9)
    assert line_intercept(amperes, volts) == pytest.approx(5, rel=1e-9)


def test_arrays_of_draws_are_taken_element_by_element():
    rng = np.random.default_rng(3)
    x = [v + 0.01 * rng.standard_normal(50) for v in X]
    y = [12.10, *(v + 0.01 * rng.standard_normal(50) for v in Y[1:])]
    slopes, intercepts = line_slope(x, y), line_intercept(x, y)
    assert slopes.shape == intercepts.shape == (50,)
    one = [v[7] for v in x], [12.10, *(v[7] for v in y[1:])]
    assert slopes[7] == pytest.approx(line_slope(*one), rel=1e-12)
    assert intercepts[7] == pytest.approx(line_intercept(*one), rel=1e-12)


def R_source(a, b, c, p, q, r):  # noqa: N802, a resistance
    return -line_slope([a, b, c], [p, q, r])


def test_the_graph_differentiates_the_slope_exactly():
    formula = formula_from(R_source, unit_of("ohm"))
    point = [*X[:3], *Y[:3]]
    slopes = partials(formula, point)
    # By y the slope is linear: (x - mean)/Σ(x - mean)².
    u = np.array(X[:3]) - np.mean(X[:3])
    assert slopes[3:] == pytest.approx(tuple(-u / (u @ u)), rel=1e-12)
    step = [v + 1e-6 * (i == 1) for i, v in enumerate(point)]
    change = (R_source(*step) - R_source(*point)) / 1e-6
    assert slopes[1] == pytest.approx(change, rel=1e-4)


def test_a_gain_shared_by_a_whole_axis_moves_the_slope_in_proportion():
    assert line_slope(X, [1.003 * v for v in Y]) == pytest.approx(
        1.003 * line_slope(X, Y)
    )


def test_an_offset_shared_by_a_whole_axis_cancels_in_the_slope():
    assert line_slope(X, [v + 0.03 for v in Y]) == pytest.approx(line_slope(X, Y))


def test_slope_of_budget_and_monte_carlo_count_the_shared_gain(case):
    case.record("V_idle", "12.10 V", using="handheld", at="socket, idle")
    case.record("V_half", "11.74 V", using="handheld", at="socket, half load")
    case.record("V_full", "11.39 V", using="handheld", at="socket, full load")
    case.constant("I_half", "1.33 A")
    case.constant("I_full", "2.65 A")

    @case.derive(unit="ohm")
    def resistance(V_idle, V_half, V_full, I_half, I_full):
        return -line_slope([0.0, I_half, I_full], [V_idle, V_half, V_full])

    # Gain 0.5 % of each reading, shared; 3 digits of 10 mV, one's own: rectangular.
    u = np.array([0, 1.33, 2.65]) - np.mean([0, 1.33, 2.65])
    slope = abs(line_slope([0, 1.33, 2.65], [12.10, 11.74, 11.39]))
    own = 0.03 / math.sqrt(3) / math.sqrt(u @ u)
    expected = math.hypot(0.005 * slope / math.sqrt(3), own)
    assert case.budget("resistance").standard_uncertainty == pytest.approx(expected)
    drawn = case.monte_carlo("resistance")
    assert drawn.standard_uncertainty == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(("x", "y"), [([1], [1]), ([1, 2], [1]), ([], [])])
def test_fewer_than_two_points_are_refused(x, y):
    with pytest.raises(InputError, match="line_slope: .*at least two points"):
        line_slope(x, y)


@pytest.mark.parametrize("x", [[2, 2], [np.array([1.0, 2]), np.array([3.0, 2])]])
def test_points_at_one_x_are_refused(x):
    with pytest.raises(InputError, match="line_intercept: all 2 .*differ in x"):
        line_intercept(x, [1, 2])

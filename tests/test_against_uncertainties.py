"""Budgets against an independent library, and Monte Carlo against budgets."""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat, umath

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.covariation import covariance
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.runs import monte_carlo_of
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

ONE = unit_of("")

# Each step: what the kit is given, what the library is given, and how many arguments.
STEPS = {
    "+": (lambda a, b: a + b, lambda a, b: a + b, 2),
    "-": (lambda a, b: a - b, lambda a, b: a - b, 2),
    "*": (lambda a, b: a * b, lambda a, b: a * b, 2),
    "/": (lambda a, b: a / b, lambda a, b: a / b, 2),
    "sqrt": (lambda a: np.sqrt(a), lambda a: umath.sqrt(a), 1),
    "exp": (lambda a: np.exp(a), lambda a: umath.exp(a), 1),
}


def allowed(step, values):
    """Keep every value within ±100 and away from where a step has no derivative."""
    if step == "/" and abs(values[1]) < 0.1:
        return False
    if step == "sqrt" and values[0] < 0.01:
        return False
    if step == "exp" and abs(values[0]) > 4:
        return False
    return abs(float(STEPS[step][0](*values))) <= 100


@st.composite
def expressions(draw):
    """Draw (sources, inputs, steps): inputs share sources, steps share everything."""
    size = st.floats(0.001, 0.1)
    sources = {f"s{i}": draw(size) for i in range(draw(st.integers(1, 3)))}
    inputs, values = {}, {}
    for i in range(draw(st.integers(1, 4))):
        name, value = f"x{i}", draw(st.floats(0.5, 3))
        slopes = {s: draw(st.floats(-2, 2)) for s in sources}
        inputs[name], values[name] = (value, slopes), value
    steps = []
    for i in range(draw(st.integers(1, 7))):
        names = draw(st.lists(st.sampled_from(sorted(values)), min_size=2, max_size=2))
        fitting = [
            step
            for step, (_, _, count) in STEPS.items()
            if allowed(step, [values[n] for n in names[:count]])
        ]
        if not fitting:
            continue
        step = draw(st.sampled_from(fitting))
        taken = tuple(names[: STEPS[step][2]])
        values[f"y{i}"] = float(STEPS[step][0](*(values[n] for n in taken)))
        steps.append((f"y{i}", step, taken))
    return sources, inputs, steps


def graph_of(sources, inputs, steps):
    made = {n: Source(n, "B", "normal", u) for n, u in sources.items()}
    estimates = {
        name: Estimate(value, tuple((made[s], c) for s, c in slopes.items()))
        for name, (value, slopes) in inputs.items()
    }
    formulas = {
        name: Formula(name, ONE, STEPS[step][0], taken) for name, step, taken in steps
    }
    units = dict.fromkeys([*estimates, *formulas], ONE)
    return Graph(estimates, units, formulas)


def library_values(sources, inputs, steps):
    errors = {name: ufloat(0.0, u) for name, u in sources.items()}
    values = {
        name: value + sum(c * errors[s] for s, c in slopes.items())
        for name, (value, slopes) in inputs.items()
    }
    for name, step, taken in steps:
        values[name] = STEPS[step][1](*(values[n] for n in taken))
    return values


# Both are exact but for rounding. Products of values up to 100 lose some digits
# where large parts cancel, hence the absolute term.
def close(expected):
    return pytest.approx(expected, rel=1e-8, abs=1e-8)


@settings(max_examples=150, deadline=None)
@given(expressions())
def test_budgets_of_random_formulas_agree_with_the_library(expression):
    graph, library = graph_of(*expression), library_values(*expression)
    for name, expected in library.items():
        budget = budget_of(graph, name)
        assert budget.value == close(expected.nominal_value)
        assert budget.standard_uncertainty == close(expected.std_dev)


@settings(max_examples=60, deadline=None)
@given(expressions())
def test_covariances_of_random_formulas_agree_with_the_library(expression):
    from uncertainties import covariance_matrix

    graph, library = graph_of(*expression), library_values(*expression)
    first, last = list(library)[0], list(library)[-1]
    expected = covariance_matrix([library[first], library[last]])[0][1]
    assert covariance(graph, first, last) == close(expected)


@st.composite
def linear_models(draw):
    shapes = st.sampled_from(["normal", "rectangular", "triangular", "arcsine"])
    count = draw(st.integers(1, 5))
    return [
        (draw(st.floats(-10, 10)), draw(st.floats(0.01, 5)), draw(shapes))
        for _ in range(count)
    ]


def linear_graph(model):
    slopes = [slope for slope, _, _ in model]
    inputs = {
        f"x{i}": Estimate(1.0, ((Source(f"x{i}", "B", shape, u), 1.0),))
        for i, (_, u, shape) in enumerate(model)
    }

    def total(*values):
        return sum(c * v for c, v in zip(slopes, values, strict=True))

    formula = Formula("total", ONE, total, tuple(inputs))
    return Graph(inputs, dict.fromkeys([*inputs, "total"], ONE), {"total": formula})


DRAWS = 20_000


@settings(max_examples=60, deadline=None, derandomize=True)
@given(linear_models())
def test_monte_carlo_agrees_with_the_budget_of_random_linear_models(model):
    graph = linear_graph(model)
    budget = budget_of(graph, "total")
    drawn = monte_carlo_of(graph, "total", draws=DRAWS)
    u = budget.standard_uncertainty
    # Five standard deviations of a mean and of a standard deviation of that many
    # normal draws; the other shapes scatter less.
    assert drawn.value == pytest.approx(budget.value, abs=5 * u / math.sqrt(DRAWS))
    assert drawn.standard_uncertainty == pytest.approx(
        u, abs=5 * u / math.sqrt(2 * DRAWS)
    )


@settings(max_examples=30, deadline=None, derandomize=True)
@given(linear_models())
def test_monte_carlo_intervals_of_normal_sums_agree_with_the_budget(model):
    graph = linear_graph([(c, u, "normal") for c, u, _ in model])
    budget = budget_of(graph, "total")
    drawn = monte_carlo_of(graph, "total", draws=DRAWS)
    half, u = budget.expanded_uncertainty, budget.standard_uncertainty
    # An end at 97.5 % scatters by sqrt(p·q/n)/density = 2.67 u/sqrt(n); five of them.
    ends = (budget.value - half, budget.value + half)
    assert drawn.symmetric == pytest.approx(ends, abs=5 * 2.67 * u / math.sqrt(DRAWS))


# The same through a case: values in cells are numbers of that library.


def test_a_value_in_a_cell_has_the_uncertainty_of_its_budget(case):
    case.record("V_idle", "12.10 12.11 12.09 V", using="handheld")
    case.record("V_slew", "11.39 V", using="handheld")
    case.record("I_slew", "2.65 A", using="clamp")

    @case.derive(unit="mohm")
    def R_source(V_idle, V_slew, I_slew):
        return (V_idle - V_slew) / I_slew

    by_hand = (case["V_idle"].value - case["V_slew"].value) / case["I_slew"].value
    by_hand = by_hand.to("mohm").magnitude
    assert R_source.value.magnitude.std_dev == close(R_source.standard_uncertainty)
    assert by_hand.std_dev == close(R_source.standard_uncertainty)
    assert (by_hand - R_source.value.magnitude).std_dev == close(0.0)


def test_values_read_together_keep_their_correlation_in_cells(case):
    case.record_together({"V": "1.0 1.2 1.1 1.4 V", "W": "2.0 2.3 2.1 2.3 V"})

    @case.derive(unit="V")
    def gap(V, W):
        return W - V

    by_hand = case["W"].value - case["V"].value
    assert by_hand.magnitude.std_dev == close(gap.standard_uncertainty)


def test_a_quantity_minus_itself_is_exactly_nothing(case):
    case.record("V", "12.10 V", using="handheld")
    gone = case["V"].value - case["V"].value
    assert (gone.magnitude.nominal_value, gone.magnitude.std_dev) == (0.0, 0.0)


def test_sets_added_later_reach_the_values_in_cells(case):
    case.record_together({"V": "1.0 1.2 1.1 V", "W": "1.0 1.2 1.1 V"})

    @case.derive(unit="V")
    def gap(V, W):
        return W - V

    assert gap.value.magnitude.std_dev == close(0.0)
    case.record_together({"V": "1.0 1.2 1.1 1.3 0.9 V", "W": "1.0 1.2 1.1 0.9 1.3 V"})
    assert gap.value.magnitude.std_dev == close(gap.standard_uncertainty)

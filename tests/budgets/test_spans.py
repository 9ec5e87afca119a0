# ruff: noqa: N802

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.budgets.spans import (
    between_text,
    bound_text,
    evaluate_along,
    span_of,
)
from benchproof.values.errors import FormulaError
from benchproof.values.units import unit_of

VOLT, OHM = unit_of("V"), unit_of("ohm")


def graph_of(function, unit=VOLT):
    formula = formula_from(function, unit)
    units = {**dict.fromkeys(formula.arguments, VOLT), formula.name: unit}
    return Graph({}, units, {formula.name: formula})


def test_an_over_range_span_starts_at_the_limit_and_goes_far():
    span = span_of("R", (">", 60e6), OHM)
    assert span.bound == "R > 60 MΩ"
    assert span.ends()[0] == 60e6
    assert span.ends()[-1] >= 1e20 * 60e6
    assert np.all(np.diff(span.points) > 0)
    assert span.ends(decades_before=3)[-1] == pytest.approx(
        span.ends()[-1] / 1e3, rel=0.1
    )


@pytest.mark.parametrize("limit", [-5.0, 0.0])
def test_a_lower_bound_that_is_not_positive_passes_through_zero(limit):
    points = span_of("V", (">", limit), VOLT).points
    assert (points[0], 0.0 in points) == (limit, True)
    assert np.all(np.diff(points) > 0)
    assert points[-1] > 1e18


def test_a_reading_below_resolution_spans_both_signs_and_has_two_sides():
    span = span_of("V", ("<", 0.5), VOLT)
    above, below = span.sides()
    assert (above[0], below[0], above[-1]) == (0.5, -0.5, 0.0)
    assert np.all(np.diff(above) < 0)
    assert [math.copysign(1, e) for e in span.ends()] == [1, 1, -1, -1]


def test_a_temperature_below_a_limit_reaches_to_absolute_zero():
    celsius = unit_of("degC")
    span = span_of("T", ("<", celsius.to_si(-20.0)), celsius)
    assert span.ends() == pytest.approx([253.15, 0.0])


def test_a_few_points_hold_both_ends():
    for bound in ((">", 60.0), ("<", 0.5)):
        span = span_of("V", bound, VOLT)
        few = span.probe(9)
        assert len(few) == 9
        assert {few[0], few[-1]} == {span.points[0], span.points[-1]}


def branching(x):
    return x if x > 2 else 2.0


def by_math(x):
    return math.sqrt(x)


def reducing(x):
    return np.max([x, 2.0]) if np.ndim(x) == 0 else np.max(x)


@pytest.mark.parametrize(
    ("function", "expected"),
    [
        (branching, [2.0, 4.0]),
        (by_math, [1.0, 2.0]),
        (reducing, [2.0, 4.0]),
    ],
)
def test_formulas_made_for_single_numbers_are_taken_point_by_point(function, expected):
    found = evaluate_along(
        graph_of(function), function.__name__, {"x": np.array([1.0, 4.0])}
    )
    assert found.tolist() == expected


def test_a_point_without_a_real_value_is_not_a_number():
    def root(x):
        return math.sqrt(x - 2)

    found = evaluate_along(graph_of(root), "root", {"x": np.array([1.0, 6.0])})
    assert np.isnan(found[0])
    assert found[1] == 2.0


def test_a_formula_that_fails_whatever_the_bound_says_so_itself():
    def broken(y):
        raise ValueError("no such table")

    def outer(x, broken):
        return x + broken

    inner, formula = formula_from(broken, VOLT), formula_from(outer, VOLT)
    units = dict.fromkeys(("x", "y", "broken", "outer"), VOLT)
    from benchproof.values.sources import Estimate

    graph = Graph({"y": Estimate(1.0)}, units, {"broken": inner, "outer": formula})
    with pytest.raises(FormulaError, match="no such table"):
        evaluate_along(graph, "outer", {"x": np.array([1.0, 2.0])})


@pytest.mark.parametrize(
    ("sign", "limit", "unit", "shown"),
    [
        ("<", 50e-9, "A", "< 50 nA"),
        (">", 58.8e6, "ohm", "> 58.8 MΩ"),
        ("<", 51.0204081e-9, "A", "< 51.03 nA"),
        (">", 51.0204081e-9, "A", "> 51.02 nA"),
        ("<", -0.0500011, "V", "< -0.05 V"),
        (">", -0.0500011, "V", "> -0.05001 V"),
        ("<", 0.0, "V", "< 0 V"),
        ("<", 1.23456e-9, "V/s", "< 1.235e-09 V/s"),
    ],
)
def test_a_bound_is_rounded_to_the_side_on_which_it_stays_true(
    sign, limit, unit, shown
):
    assert bound_text(sign, limit, unit_of(unit)) == shown


@given(
    st.floats(1e-12, 1e12, allow_nan=False) | st.floats(-1e12, -1e-12),
    st.sampled_from(["<", ">"]),
)
def test_a_shown_bound_is_not_tighter_than_the_bound(limit, sign):
    shown = float(bound_text(sign, limit, unit_of("")).split()[1])
    slack = 2e-9 * abs(limit)
    assert shown >= limit - slack if sign == "<" else shown <= limit + slack
    assert shown == pytest.approx(limit, rel=2e-3)


@pytest.mark.parametrize(
    ("lower", "upper", "shown"),
    [
        (11.99951, 12.00049, "11.99951 … 12.00049 V"),
        (11.9995123, 12.0004887, "11.999512 … 12.000489 V"),
        (-2e-6, 2e-6, "within ±2 µV"),
        (3.0, 3.0, "3 V"),
        (0.0, 0.0, "0 V"),
        (-15.334e-12, 115.41e-12, "-15.34 … 115.5 pV"),
    ],
)
def test_two_ends_are_rounded_outwards(lower, upper, shown):
    assert between_text(lower, upper, VOLT) == shown

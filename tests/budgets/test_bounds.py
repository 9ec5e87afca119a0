# Quantities are named as at the bench (V, I, R_leak), not as code usually is.
# ruff: noqa: E741, N802

import math

import numpy as np
import pytest

from benchproof.reasoning.budgets.bounds import (
    Bounded,
    at_bounds,
    bound_of,
    decide_bounded,
)
from benchproof.reasoning.budgets.coverage import coverage_factor
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.decisions.rule import decide_censored
from benchproof.values.errors import FormulaError, InputError, PendingError
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

OVER = {"R": (">", 60e6)}
UNITS = {"V": "V", "R": "ohm", "R1": "ohm", "R2": "ohm", "I": "A", "x": "V", "y": "V"}


def estimate(value, u=0.0, dof=math.inf, name="stated"):
    parts = ((Source(name, "B", "normal", u, unit_of("V"), dof), 1.0),) if u else ()
    return Estimate(value, parts)


def graph_of(*functions, unit="A", **inputs):
    formulas = [formula_from(f, unit_of(unit)) for f in functions]
    units = {name: unit_of(symbol) for name, symbol in UNITS.items()}
    units |= {f.name: f.unit for f in formulas}
    known = {
        n: v if isinstance(v, Estimate) else Estimate(v) for n, v in inputs.items()
    }
    return Graph(known, units, {f.name: f for f in formulas})


def leak(V, R):
    return V / R


def test_three_volts_over_sixty_megohms_leak_less_than_fifty_nanoamperes():
    # Formula sheet F13: I <= V/L; 3 V, 60 MΩ: 50 nA.
    found = bound_of(graph_of(leak, V=3.0), "leak", OVER)
    assert (found.sign, found.text) == ("<", "< 50 nA")
    assert found.limit == pytest.approx(50e-9, rel=1e-12)
    assert (found.lower, found.monotonic_in) == (0.0, ("R",))
    assert found.note == "from R > 60 MΩ"


@pytest.mark.parametrize(
    ("dof", "factor"), [(math.inf, 1.6449), (4, 2.1318)], ids=["normal", "t"]
)
def test_an_uncertain_voltage_moves_the_bound_out_by_a_one_sided_factor(dof, factor):
    # One-sided 95 % points of the normal and of t with 4 degrees of freedom: standard
    # tables, from memory (1.645, 2.132).
    found = bound_of(graph_of(leak, V=estimate(3.0, 0.03, dof)), "leak", OVER)
    assert found.limit == pytest.approx((3 + factor * 0.03) / 60e6, rel=1e-5)
    assert found.text.endswith("nA (95 %)")


def test_a_one_sided_bound_holds_as_often_as_it_says():
    # V is drawn around its true value; the bound must lie above the true leak through
    # exactly 60 MΩ in 95 % of cases. 2000 seeded draws: 0.95 within 4 deviations.
    rng = np.random.default_rng(7)
    held = 0
    for voltage in rng.normal(3.0, 0.3, 2000):
        graph = graph_of(leak, V=estimate(float(voltage), 0.3))
        held += bound_of(graph, "leak", OVER).limit >= 3.0 / 60e6
    assert abs(held / 2000 - 0.95) < 4 * math.sqrt(0.95 * 0.05 / 2000)


def test_a_negative_voltage_bounds_the_leak_from_below():
    found = bound_of(graph_of(leak, V=-3.0), "leak", OVER)
    assert (found.sign, found.text, found.upper) == (">", "> -50 nA", 0.0)


def test_a_voltage_of_unsure_sign_bounds_the_leak_on_both_sides():
    u = 0.002
    found = bound_of(graph_of(leak, V=estimate(0.001, u)), "leak", OVER)
    k = coverage_factor(0.95)
    assert found.lower == pytest.approx((0.001 - k * u) / 60e6)
    assert found.upper == pytest.approx((0.001 + k * u) / 60e6)
    assert "…" in found.text


def test_what_grows_with_a_factor_of_unsure_sign_can_be_anything():
    def product(V, R):
        return V * R

    bounds = {"R": (">", 60e6)}
    sure = graph_of(product, unit="V*ohm", V=estimate(3.0, 0.5))
    lower = (3 - coverage_factor(0.90) * 0.5) * 60e6
    assert bound_of(sure, "product", bounds).lower == pytest.approx(lower)
    for voltage in (3.0, 0.0):  # 3 V less 1.64 times 2 V is below zero
        unsure = graph_of(product, unit="V*ohm", V=estimate(voltage, 2.0))
        with pytest.raises(FormulaError, match="it can be anything"):
            bound_of(unsure, "product", bounds)


def test_a_voltage_of_zero_still_bounds_the_leak_by_its_uncertainty():
    found = bound_of(graph_of(leak, V=estimate(0.0, 0.002)), "leak", OVER)
    half = coverage_factor(0.95) * 0.002 / 60e6
    assert (found.lower, found.upper) == pytest.approx((-half, half))
    assert found.text.startswith("within ±65.34 pA")


def test_a_power_so_high_that_its_variance_overflows_is_taken_as_infinite():
    def tenth(R):
        return R**10

    found = bound_of(graph_of(tenth, unit=""), "tenth", {"R": (">", 10.0)})
    assert (found.lower, found.upper) == (pytest.approx(1e10), math.inf)


def test_an_uncertain_bound_of_what_has_no_end_names_its_level():
    def tenth(V, R):
        return V * R**10

    graph = graph_of(tenth, unit="V", V=estimate(1.0, 0.1))
    found = bound_of(graph, "tenth", {"R": (">", 10.0)})
    assert found.lower == pytest.approx(1e10 * (1 - 0.1 * coverage_factor(0.90)))
    assert found.text.endswith("(95 %)")


def test_no_voltage_leaks_nothing():
    found = bound_of(graph_of(leak, V=0.0), "leak", OVER)
    assert (found.lower, found.upper, found.text) == (0.0, 0.0, "0 A")


def test_what_falls_towards_a_known_value_is_bounded_from_above():
    def total(V, R):
        return V + 6e6 / R

    found = bound_of(graph_of(total, unit="V", V=12.0), "total", OVER)
    assert (found.sign, found.limit) == ("<", pytest.approx(12.1, rel=1e-12))
    assert found.lower == pytest.approx(12.0, rel=1e-12)


def test_a_parallel_resistance_lies_between_the_bound_and_the_known_one():
    def parallel(R1, R):
        return R1 * R / (R1 + R)

    found = bound_of(graph_of(parallel, unit="ohm", R1=1e6), "parallel", OVER)
    assert found.lower == pytest.approx(1e6 * 60e6 / 61e6, rel=1e-12)
    assert found.upper == pytest.approx(1e6, rel=1e-12)
    assert (found.sign, found.text) == (">", "0.9836 … 1 MΩ")


def test_what_grows_without_end_is_bounded_from_one_side_only():
    def total(V, x):
        return V + x

    found = bound_of(graph_of(total, unit="V", V=12.0), "total", {"x": (">", 60.0)})
    assert (found.text, found.upper) == ("> 72 V", math.inf)


def test_two_over_range_readings_add_up_their_leaks():
    def both(V, R1, R2):
        return V / R1 + V / R2

    bounds = {"R1": (">", 60e6), "R2": (">", 30e6)}
    found = bound_of(graph_of(both, V=3.0), "both", bounds)
    assert found.limit == pytest.approx(150e-9, rel=1e-12)
    assert set(found.monotonic_in) == {"R1", "R2"}


def test_the_bound_runs_through_intermediate_results_and_their_own_inputs():
    def drop(V, x):
        return V - x

    def through(drop, R):
        return drop / R

    graph = graph_of(
        drop, through, V=estimate(5.0, 0.03), x=estimate(2.0, 0.04, 9, "x")
    )
    found = bound_of(graph, "through", OVER)
    dof = 0.05**4 / (0.04**4 / 9)  # JCGM 100:2008, equation (G.2b)
    k = coverage_factor(0.90, dof)
    assert found.limit == pytest.approx((3 + k * 0.05) / 60e6, rel=1e-9)


# Readings below resolution: the sign is not known --------------------------------


def test_a_reading_below_resolution_may_have_either_sign():
    def power(V, I):
        return V * I

    graph = graph_of(power, unit="W", V=5.0)
    found = bound_of(graph, "power", {"I": ("<", 1e-6)})
    assert (found.lower, found.upper) == pytest.approx((-5e-6, 5e-6))
    assert (found.sign, found.text) == ("<", "within ±5 µW")


def test_a_square_of_a_reading_below_resolution_is_not_negative():
    def loss(I, R):
        return I * I * R

    found = bound_of(graph_of(loss, unit="W", R=100.0), "loss", {"I": ("<", 1e-5)})
    assert (found.lower, found.text) == (0.0, "< 10 nW")


def test_two_readings_below_resolution_take_the_worst_corner():
    def power(V, I):
        return V * I

    bounds = {"V": ("<", 2.0), "I": ("<", 1e-6)}
    found = bound_of(graph_of(power, unit="W"), "power", bounds)
    assert (found.lower, found.upper) == pytest.approx((-2e-6, 2e-6))


def test_an_upper_bound_below_zero_reaches_to_minus_infinity():
    def twice(x):
        return 2 * x

    found = bound_of(graph_of(twice, unit="V"), "twice", {"x": ("<", -60.0)})
    assert (found.lower, found.text) == (-math.inf, "< -120 V")


def test_a_small_correction_below_resolution_widens_a_result_on_both_sides():
    def total(V, x):
        return V + x

    graph = graph_of(total, unit="V", V=estimate(12.0, 1e-4))
    found = bound_of(graph, "total", {"x": ("<", 5e-4)})
    half = 5e-4 + coverage_factor(0.95) * 1e-4
    assert (found.lower, found.upper) == pytest.approx(
        (12 - half, 12 + half), rel=1e-12
    )


# Refusals ------------------------------------------------------------------------


def turning(R):
    return np.sin(R / 1e8)


def pole(R):
    return 1 / (R - 1e9)


def undefined(R):
    return np.sqrt(1e9 - R)


@pytest.mark.parametrize(
    ("function", "said"),
    [
        (turning, r"turns back near R = 1[56]\d MΩ"),  # at 157; steps of 2.6 %
        (pole, r"turns back near R = 1(\.0\d)? GΩ"),
        (undefined, r"has no value near R = 1.\d+ GΩ"),
    ],
)
def test_a_formula_that_is_not_monotonic_is_refused_with_the_place(function, said):
    with pytest.raises(FormulaError, match=said) as caught:
        bound_of(graph_of(function, unit=""), function.__name__, OVER)
    assert "R > 60 MΩ" in str(caught.value)
    assert str(caught.value).endswith("Measure R on a range that holds it.")


def test_a_quotient_by_something_below_resolution_can_be_anything():
    with pytest.raises(FormulaError, match="it can be anything"):
        bound_of(graph_of(leak, V=3.0), "leak", {"R": ("<", 0.1)})


def test_a_difference_of_two_over_range_readings_can_be_anything():
    def gap(x, y):
        return x - y

    bounds = {"x": (">", 60.0), "y": (">", 60.0)}
    with pytest.raises(FormulaError, match="it can be anything"):
        bound_of(graph_of(gap, unit="V"), "gap", bounds)


def test_a_turn_that_another_censored_input_brings_about_is_found():
    def rising(R1, R2):  # in R1 it turns where R2 is near 10 kΩ, at neither of its ends
        x = R2 / 1e4
        return R1 - 8 * x / (1 + x) ** 2 * R1**2 / (R1 + 1e4)

    bounds = {"R1": (">", 1e3), "R2": (">", 1e3)}
    for end in (1e3, 1e20):
        graph = graph_of(rising, unit="ohm", R2=end)
        assert bound_of(graph, "rising", {"R1": (">", 1e3)}).sign == ">"
    with pytest.raises(FormulaError, match="turns back near R1"):
        bound_of(graph_of(rising, unit="ohm"), "rising", bounds)


def test_an_input_that_is_not_measured_is_named():
    with pytest.raises(PendingError, match="leak has no value: V is not measured yet"):
        bound_of(graph_of(leak), "leak", OVER)


@pytest.mark.parametrize(
    ("bounds", "level", "said"),
    [
        ({"R": ("=", 1.0)}, 0.95, "R: = 1.0 is no bound"),
        ({"R": (">", math.inf)}, 0.95, "is no bound"),
        (OVER, 0.5, "level 0.5"),
        (OVER, 1.0, "level 1.0"),
    ],
)
def test_bounds_and_levels_without_meaning_are_refused(bounds, level, said):
    with pytest.raises(InputError, match=said):
        bound_of(graph_of(leak, V=3.0), "leak", bounds, level)


def test_more_than_five_censored_inputs_are_refused():
    def total(a, b, c, d, e, f):
        return a + b + c + d + e + f

    graph = graph_of(total, unit="ohm")
    for name in "abcdef":
        graph.units[name] = unit_of("ohm")
    bounds = dict.fromkeys("abcdef", (">", 1.0))
    with pytest.raises(FormulaError, match="6 of its inputs are only known as a bound"):
        bound_of(graph, "total", bounds)
    graph.inputs["f"] = Estimate(1.0)
    del bounds["f"]
    assert bound_of(graph, "total", bounds).lower == pytest.approx(6.0)


def test_a_quantity_without_a_censored_input_is_refused():
    with pytest.raises(FormulaError, match="0 of its inputs are only known as a bound"):
        bound_of(graph_of(leak, V=3.0, R=1e6), "leak", {"x": (">", 1.0)})


# With real readings, and on to a verdict -----------------------------------------


def test_an_over_range_reading_bounds_the_leak_by_the_meters_own_accuracy(case):
    # 60 MΩ range, ±(0.8 % + 5 digits of 10 kΩ): at least 59.47 MΩ.
    case.record("R", "OL Mohm", using="handheld")
    measured = case.state().measured["R"]
    assert (measured.status, measured.estimate) == ("censored", None)
    found = bound_of(graph_of(leak, V=3.0), "leak", {"R": measured.bound})
    assert found.limit == pytest.approx(3 / 59.47e6, rel=1e-12)
    assert found.text == "< 50.45 nA"


def test_the_graph_at_its_bounds_has_a_value_and_leaves_the_other_alone():
    graph = graph_of(leak, V=3.0)
    assert at_bounds(graph, OVER).value("leak") == pytest.approx(50e-9)
    assert "R" not in graph.inputs


@pytest.mark.parametrize(
    ("lower", "upper", "outcome"),
    [
        (-math.inf, 1e-6, "met"),
        (1e-6, math.inf, "contradicted"),
        (-math.inf, 20e-9, "undetermined"),
        (20e-9, math.inf, "undetermined"),
    ],
)
def test_a_bounded_leak_is_judged_as_a_censored_reading_would_be(lower, upper, outcome):
    found = bound_of(graph_of(leak, V=3.0), "leak", OVER)
    assert decide_bounded(found, lower, upper) == outcome
    assert decide_censored((found.sign, found.limit), lower, upper) == outcome


def test_a_quantity_bounded_on_both_sides_can_lie_inside_limits():
    found = Bounded("P", unit_of("W"), "<", 5e-6, -5e-6, 5e-6, 0.95, ("I",), "", "")
    assert decide_bounded(found, -1e-5, 1e-5) == "met"
    assert decide_bounded(found, -5e-6, 5e-6) == "met"
    assert decide_bounded(found, 5e-6, 1e-5) == "contradicted"
    assert decide_bounded(found, -1e-5, -5e-6) == "contradicted"
    assert decide_bounded(found, -1e-6, 1e-6) == "undetermined"
    assert decide_bounded(found, 6e-6, 1e-5) == "contradicted"

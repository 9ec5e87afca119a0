# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: E741, N802

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph, order, partials, unknown_name
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

ONE = unit_of("")


def graph_of(functions, **values):
    inputs = {
        name: Estimate(value, ((Source(name, "B", "normal", 0.1), 1.0),))
        for name, value in values.items()
    }
    formulas = {f.__name__: formula_from(f, ONE) for f in functions}
    return Graph(inputs, dict.fromkeys([*inputs, *formulas], ONE), formulas)


def slopes(function, *values):
    return partials(formula_from(function, ONE), values)


# Order.


def test_formulas_come_after_those_they_depend_on():
    def third(second, first):
        return second + first

    def second(first):
        return first

    def first(x):
        return x

    graph = graph_of([third, second, first], x=1.0)
    assert graph.order("third") == ["first", "second", "third"]


def test_an_input_needs_no_formula():
    graph = graph_of([], x=1.0)
    assert graph.order("x") == []
    assert graph.value("x") == 1.0
    assert graph.sensitivities("x") == {"x": 1.0}


def test_a_cycle_is_refused_and_names_its_way_round():
    def a(b):
        return b

    def b(c):
        return c

    def c(a):
        return a

    with pytest.raises(FormulaError, match=r"a: a quantity cannot .*a ← b ← c ← a"):
        graph_of([a, b, c]).value("a")


def test_a_quantity_of_itself_is_refused():
    def a(a):
        return a

    with pytest.raises(FormulaError, match=r"\(a ← a\)"):
        graph_of([a]).value("a")


def test_a_cycle_elsewhere_does_not_disturb():
    def a(b):
        return b

    def b(a):
        return a

    def y(x):
        return x

    assert graph_of([a, b, y], x=2.0).value("y") == 2.0


def test_an_unknown_name_is_refused_with_the_asker_and_the_nearest_names():
    def R(V_idel):
        return V_idel

    with pytest.raises(FormulaError) as caught:
        graph_of([R], V_idle=1.0).value("R")
    message = str(caught.value)
    assert message.startswith("R: 'V_idel' is not a recorded")
    assert "Did you mean V_idle?" in message
    assert "case.record('V_idel', '? V')" in message


def test_an_unknown_name_unlike_all_others_gets_no_guess():
    assert "Did you mean" not in str(unknown_name("zzz", ["V_idle"]))


def test_a_chain_of_thousands_is_ordered_without_recursion():
    def step(x):
        return x

    formulas = {
        f"q{i}": type(formula_from(step, ONE))(f"q{i}", ONE, step, (f"q{i - 1}",))
        for i in range(1, 5001)
    }
    assert len(order(formulas, ["q0"], "q5000")) == 5000


# Values.


def test_the_result_of_a_formula_is_a_plain_number():
    def y(x):
        return np.array(2.0) * x

    value = graph_of([y], x=3.0).value("y")
    assert type(value) is float
    assert value == 6.0


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_result_that_is_not_finite_is_refused_with_its_arguments(bad):
    def y(x):
        return x * bad

    with pytest.raises(FormulaError, match=r"y: the result is .* for x = 3 \(SI\)"):
        graph_of([y], x=3.0).value("y")


def test_a_formula_that_fails_names_itself_and_its_arguments():
    def y(x, z):
        return x / z

    with pytest.raises(FormulaError, match="y: the formula failed with ZeroDivision"):
        graph_of([y], x=3.0, z=0.0).value("y")


def test_a_formula_without_return_is_told_so():
    def y(x):
        x + 1  # noqa: B018 - the mistake that is tested

    with pytest.raises(FormulaError, match="NoneType, not a number.*forget 'return'"):
        graph_of([y], x=3.0).value("y")


# Derivatives. The complex step is exact to rounding, central differences to about
# 1e-9 of value over argument; tolerances are ten times that.
EXACT = {"rel": 1e-14}
CENTRAL = {"rel": 1e-8}


@pytest.mark.parametrize(
    ("function", "at", "slope"),
    [
        (lambda x: x**3, 2.0, 12.0),
        (lambda x: 1 / x, 0.5, -4.0),
        (np.sqrt, 4.0, 0.25),
        (np.exp, 1.0, math.e),
        (np.log, 2.0, 0.5),
        (np.cos, 1.0, -math.sin(1.0)),
        (np.arctan, 2.0, 0.2),
        (lambda x: np.where(x > 1, x * x, x), 3.0, 6.0),
        (lambda x: np.where(x > 1, x * x, x), 0.5, 1.0),
    ],
)
def test_derivatives_of_numpy_formulas_are_exact(function, at, slope):
    def y(x):
        return function(x)

    assert slopes(y, at) == pytest.approx((slope,), **EXACT)


@pytest.mark.parametrize(("at", "slope"), [(-3.0, -1.0), (3.0, 1.0)])
def test_abs_has_the_derivative_of_its_side(at, slope):
    def y(x):
        return abs(x)

    assert slopes(y, at) == pytest.approx((slope,), **CENTRAL)


@pytest.mark.parametrize("function", [np.abs, np.fabs, abs])
def test_an_absolute_difference_keeps_the_uncertainty_of_both(function):
    def y(a, b):
        return function(a - b)

    assert slopes(y, 1.0, 3.0) == pytest.approx((-1.0, 1.0), **CENTRAL)


def test_functions_that_refuse_complex_numbers_get_central_differences():
    def y(x):
        return math.exp(x)

    assert slopes(y, 1.0) == pytest.approx((math.e,), **CENTRAL)


def test_a_formula_that_branches_has_the_derivative_of_the_branch_taken():
    def y(x):
        return 5 * x if x > 1 else x

    assert slopes(y, 2.0) == pytest.approx((5.0,), **CENTRAL)
    assert slopes(y, 0.5) == pytest.approx((1.0,), **CENTRAL)


def test_a_formula_that_drops_the_imaginary_part_is_found_out():
    def y(x):
        return np.real(x) ** 2

    assert slopes(y, 3.0) == pytest.approx((6.0,), **CENTRAL)


def test_a_formula_that_conjugates_is_found_out():
    def y(x):
        return complex(x).conjugate() * 2 if isinstance(x, complex) else 2 * x

    assert slopes(y, 3.0) == pytest.approx((2.0,), **CENTRAL)


def test_a_complex_detour_to_a_real_result_has_the_right_derivative():
    def y(R, X):
        return abs(complex(R, X)) if not isinstance(R, complex) else cmath.nan

    assert slopes(y, 3.0, 4.0) == pytest.approx((0.6, 0.8), **CENTRAL)


def test_a_sum_has_the_same_derivatives_at_any_scale():
    def y(a, b):
        return a + 2 * b

    for scale in (1e-12, 1e-6, 1.0, 1e6, 1e12):
        assert slopes(y, scale, 3 * scale) == pytest.approx((1.0, 2.0), **EXACT)


def test_sharing_cancels_and_adds_up_through_the_graph():
    def half(x):
        return x / 2

    def gone(x, half):
        return x - 2 * half

    def more(x, half):
        return x + 2 * half

    graph = graph_of([half, gone, more], x=1.5)
    assert graph.sensitivities("gone") == {"x": 0.0}
    assert graph.sensitivities("more") == {"x": 2.0}


def test_a_source_shared_by_two_inputs_has_one_sensitivity():
    def y(a, b):
        return 3 * a - b

    gain = Source("gain", "B", "rectangular", 0.01)
    inputs = {
        "a": Estimate(2.0, ((gain, 2.0),)),
        "b": Estimate(5.0, ((gain, 5.0),)),
    }
    formulas = {"y": formula_from(y, ONE)}
    graph = Graph(inputs, dict.fromkeys(["a", "b", "y"], ONE), formulas)
    assert {n: s for n, (_, s) in graph.parts("y").items()} == {"gain": 1.0}


def test_each_formula_is_evaluated_a_few_times_however_often_it_is_shared():
    calls = []

    def double(x):
        calls.append(1)
        return x + x

    kind = type(formula_from(double, ONE))
    formulas = {
        f"q{i}": kind(f"q{i}", ONE, double, (f"q{i - 1}",)) for i in range(1, 101)
    }
    # Each is used twice by the next one: 2^100 paths, 100 formulas.
    graph = Graph(
        {"q0": Estimate(1.0)}, dict.fromkeys([*formulas, "q0"], ONE), formulas
    )
    assert graph.sensitivities("q100") == {"q0": 2.0**100}
    assert len(calls) < 500


def test_no_derivative_is_refused_and_points_to_monte_carlo():
    def y(x):
        if isinstance(x, complex):
            raise TypeError("real numbers only")
        return math.inf if x > 1 else 0.0

    with pytest.raises(FormulaError, match=r"y: no derivative .*case\.monte_carlo"):
        slopes(y, 1.0)


def test_abs_first_met_at_zero_has_the_right_derivative_later():
    def y(a, b):
        return abs(a - b)

    slopes(y, 1.0, 1.0)
    assert slopes(y, 2.0, 1.0) == pytest.approx((1.0, -1.0), **CENTRAL)


def test_a_branch_first_met_later_has_its_own_derivative():
    def y(a, b):
        return np.maximum(a, abs(b))

    slopes(y, 2.0, -1.0)
    assert slopes(y, 1.0, -2.0) == pytest.approx((0.0, -1.0), **CENTRAL)


def test_a_zero_correction_of_a_small_current_has_the_right_derivative():
    def y(V, I, I_zero):
        return V / (I - I_zero)

    V, I = 3.0, 2e-6
    assert slopes(y, V, I, 0.0) == pytest.approx(
        (1 / I, -V / I**2, V / I**2), **CENTRAL
    )


def test_a_zero_correction_of_a_small_capacitance_has_a_derivative():
    def y(L, C, C_stray):
        with np.errstate(invalid="ignore"):
            return np.sqrt(L * (C + C_stray))

    L, C = 1e-6, 12e-12
    slope = math.sqrt(L / C) / 2
    found = slopes(y, L, C, 0.0)
    assert found[1:] == pytest.approx((slope, slope), **CENTRAL)


# What was found out once is kept, and only for the graph it holds for.


def test_an_altered_graph_does_not_remember_the_values_of_the_first():
    def y(x):
        return x**2

    graph = graph_of([y], x=3.0)
    assert graph.value("y") == 9.0
    assert graph.sensitivities("y") == pytest.approx({"x": 6.0})
    altered = replace(graph, inputs={"x": Estimate(5.0)})
    assert altered.value("y") == 25.0
    assert altered.sensitivities("y") == pytest.approx({"x": 10.0})
    assert graph.value("y") == 9.0


def test_asking_again_evaluates_nothing():
    calls = []

    def y(x):
        calls.append(x)
        return 2 * x

    graph = graph_of([y], x=3.0)
    first = graph.sensitivities("y")
    count = len(calls)
    first["x"] = 0.0  # one's own copy
    assert graph.sensitivities("y") == {"x": 2.0}
    assert len(calls) == count


def test_an_integer_estimate_is_as_good_as_any():
    def y(a, b):
        return a / b

    assert slopes(y, 3, 4) == pytest.approx((0.25, -3 / 16), **EXACT)


def test_inputs_used_by_several_formulas_are_found_in_any_order():
    def first(a):
        return 2 * a

    def second(first, a, b):
        return first * b - a

    def third(second, first, b):
        return second + first / b

    graph = graph_of([third, second, first], a=2.0, b=4.0)
    # third = 2ab - a + 2a/b.
    assert graph.order("third") == ["first", "second", "third"]
    assert graph.sensitivities("third") == pytest.approx(
        {"a": 8 - 1 + 0.5, "b": 4 - 4 / 16}
    )


# Through a case.


def test_a_zero_correction_of_a_large_number_keeps_its_uncertainty(case):
    case.constant("f_seen", "1000000.0(1) Hz")
    case.constant("f_zero", "0.0(1.0) Hz")

    @case.derive(unit="Hz")
    def f_size(f_seen, f_zero):
        return abs(f_seen - f_zero)

    assert f_size.standard_uncertainty == pytest.approx(math.hypot(0.1, 1.0), **CENTRAL)


def test_redefining_a_formula_into_a_cycle_is_refused_and_changes_nothing(case):
    case.constant("V", "1.00(1) V")

    @case.derive(unit="V")
    def first(V):
        return V

    @case.derive(unit="V")
    def second(first):
        return 2 * first

    def closing(second):
        return second

    closing.__name__ = "first"
    with pytest.raises(FormulaError, match="first ← second ← first"):
        case.derive(unit="V")(closing)
    assert str(second) == "2.000(20) V"


def test_a_formula_of_something_undeclared_is_refused_by_name(case):
    case.record("V_idle", "? V")

    def R(V_idel):
        return V_idel

    with pytest.raises(FormulaError, match="R: 'V_idel'.*Did you mean V_idle"):
        case.derive(unit="V")(R)

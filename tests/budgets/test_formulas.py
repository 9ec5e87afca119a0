# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: E741, N802

import math

import numpy as np
import pytest

from benchproof.reasoning.budgets.formulas import check_dimension, formula_from
from benchproof.values.errors import FormulaError
from benchproof.values.units import unit_of

UNITS = {
    "V": unit_of("V"),
    "V_other": unit_of("mV"),
    "I": unit_of("mA"),
    "R": unit_of("kohm"),
    "C": unit_of("uF"),
    "t": unit_of("ms"),
    "T": unit_of("°C"),
    "E": unit_of("V^2/Hz"),
    "f": unit_of("kHz"),
    "share": unit_of("%"),
}
VALUES = {
    "V": 12.1,
    "V_other": 0.7,
    "I": 0.02,
    "R": 470.0,
    "C": 1e-3,
    "t": 2.5e-3,
    "T": 300.0,
    "E": 1e-16,
    "f": 1e3,
    "share": 0.2,
}


def check(function, unit, **values):
    formula = formula_from(function, unit_of(unit))
    point = {**VALUES, **values}
    check_dimension(formula, [point[n] for n in formula.arguments], UNITS)


# Making one.


def test_a_formula_takes_its_name_arguments_and_text_from_the_function():
    def R_source(V, I):
        return V / I

    formula = formula_from(R_source, unit_of("ohm"))
    assert (formula.name, formula.arguments) == ("R_source", ("V", "I"))
    assert "return V / I" in formula.text
    assert formula([12.0, 2.0]) == 6.0


def test_a_function_without_a_file_has_no_text():
    space = {}
    exec("def made(V): return V", space)
    assert formula_from(space["made"], unit_of("V")).text == ""


def test_a_function_of_nothing_is_refused():
    def constant():
        return 1.0

    with pytest.raises(FormulaError, match="constant: write the quantities it needs"):
        formula_from(constant, unit_of("V"))


@pytest.mark.parametrize("function", [lambda *V: V, lambda **V: V, lambda V, *, I: V])
def test_arguments_that_are_not_plain_names_are_refused(function):
    with pytest.raises(FormulaError, match="as plain arguments"):
        formula_from(function, unit_of("V"))


def test_a_default_is_refused_as_a_hidden_constant():
    def y(V, V_drop=0.4):
        return V - V_drop

    with pytest.raises(FormulaError, match=r"V_drop has a default.*case\.constant\('V"):
        formula_from(y, unit_of("V"))


def test_a_failing_formula_says_with_what_it_was_called_and_what_to_do():
    def y(V, R):
        raise ValueError("the reason")

    formula = formula_from(y, unit_of("A"))
    with pytest.raises(FormulaError) as caught:
        formula([12.0, np.ones(3)])
    message = str(caught.value)
    assert "y: the formula failed with ValueError: the reason" in message
    assert "V=12.0, R" in message
    assert "np.where" in message
    assert isinstance(caught.value.__cause__, ValueError)


# Sound ones pass.


@pytest.mark.parametrize(
    ("function", "unit"),
    [
        (lambda V, I: V / I, "ohm"),
        (lambda V, I: V / I, "kohm"),
        (lambda V, V_other: V - V_other, "mV"),
        (lambda V_other, V: V_other - V, "V"),
        (lambda V, R: V**2 / R, "mW"),
        (lambda C, V: C * V**2 / 2, "J"),
        (lambda V, t, R, C: V * np.exp(-t / (R * C)), "V"),
        (lambda R, C, V, V_other: R * C * np.log(V / V_other), "ms"),
        (lambda E, f: np.sqrt(E * f), "µV"),
        (lambda E: np.sqrt(E), "V/Hz^0.5"),
        (lambda V, V_other: V_other / V, "%"),
        (lambda V, share: V * (1 - share), "V"),
        (lambda T, V, I, R: T + 0 * V / (I * R) * T, "K"),
        (lambda V, V_other: np.maximum(V, V_other), "V"),
        (lambda V, V_other: max(V, V_other), "V"),
    ],
)
def test_a_sound_formula_passes(function, unit):
    check(function, unit)


def test_a_sound_solver_passes():
    # Constant power drawn through a resistance, by iteration.
    def V_load(V, R, I):
        load = V
        for _ in range(200):
            load = V - R * (V * I / 40) / load
        return load

    check(V_load, "V")


# Unsound ones do not.


@pytest.mark.parametrize(
    ("function", "unit", "got"),
    [
        (lambda V, I: V * I, "ohm", "gives W, not Ω"),
        (lambda V, I: V / I, "V", "gives Ω, not V"),
        (lambda V, t: V / t, "V", "gives V/s, not V"),
        (lambda V, V_other: V / V_other, "V", "gives a plain number, not V"),
        (lambda V: V, "", "gives V, not a plain number"),
        (lambda V: V**2, "V", r"not V \(it takes V \[V\]\)"),
    ],
)
def test_a_wrong_unit_is_refused_and_the_right_one_named(function, unit, got):
    with pytest.raises(FormulaError, match=got):
        check(function, unit)


@pytest.mark.parametrize(
    ("function", "unit"),
    [
        (lambda V, I: V + I, "V"),
        (lambda V, R, C: V + R * C, "V"),
        (lambda V, t: np.exp(-t) * V, "V"),
        (lambda V: np.log(V), ""),
        (lambda T: T - 273.15, "K"),
    ],
)
def test_unlike_units_are_refused(function, unit):
    with pytest.raises(FormulaError, match="unlike units are added or compared"):
        check(function, unit)


def test_a_bare_number_that_hides_a_unit_is_refused_with_the_way_out():
    def y(V):
        return V - 0.4

    with pytest.raises(FormulaError) as caught:
        check(y, "V")
    message = str(caught.value)
    assert "A bare number inside the formula may hide a unit" in message
    assert "case.constant('name', '0.40 V')" in message
    assert "it takes V [V]" in message


def test_a_bare_factor_without_a_unit_is_welcome():
    check(lambda V: 0.5 * V, "V")


def test_a_bare_number_near_the_quantity_is_refused_too():
    def y(V):
        return V - 0.4

    with pytest.raises(FormulaError, match="unlike units"):
        check(y, "V", V=0.45)


def test_a_residual_of_rounding_noise_is_not_called_unsound():
    def residual(I, R, V):
        return I * R - V

    check(residual, "V", I=1.1, R=11.0, V=12.1)


def test_a_wrong_unit_does_not_hide_behind_a_first_result_of_zero(case):
    case.constant("V_one", "1.0(1) V")
    case.constant("V_two", "1.0(1) V")

    def gap(V_one, V_two):
        return V_one - V_two

    def declare_and_move_on():
        # Refused at once, or when the result is no longer zero; either will do.
        case.derive(unit="A")(gap)
        case.constant("V_two", "2.0(1) V")
        case.budget("gap")

    with pytest.raises(FormulaError, match="gives V, not A"):
        declare_and_move_on()


def test_units_are_checked_again_when_an_argument_changes_its_unit(case):
    case.constant("drop", "1.0(1) V")

    @case.derive(unit="V")
    def twice(drop):
        return 2 * drop

    case.constant("drop", "1.0(1) A")
    with pytest.raises(FormulaError, match="gives A, not V"):
        case.budget("twice")


# Through a case.


def test_a_wrong_unit_is_refused_when_the_formula_is_declared(case):
    case.constant("V_in", "3.0(1) V")

    def double(V_in):
        return 2 * V_in

    with pytest.raises(FormulaError, match="double: the formula gives V, not A"):
        case.derive(unit="A")(double)


def test_a_wrong_unit_is_refused_once_its_quantities_are_measured(case):
    case.record("V_in", "? V")

    @case.derive(unit="A")
    def double(V_in):
        return 2 * V_in

    case.record("V_in", "3.000 V", using="handheld")
    with pytest.raises(FormulaError, match="double: the formula gives V, not A"):
        case.budget("double")


def test_a_derived_name_cannot_take_that_of_a_constant(case):
    case.constant("drop", "1.0(1) V")
    case.constant("V_in", "3.0(1) V")

    def drop(V_in):
        return V_in

    with pytest.raises(ValueError, match="'drop' is already a constant"):
        case.derive(unit="V")(drop)
    assert math.isclose(case["drop"].standard_uncertainty, 0.1)


# Formulas that are not made for many draws at once say what to write instead.

DRAWS = np.linspace(1.0, 5.0, 7)


@pytest.mark.parametrize(
    "function",
    [
        lambda V: V if V > 3 else 3.0,
        lambda V: min(V, 3.0),
        lambda V: max(V, 3.0),
        lambda V: 2 * V if V > 1 and V < 3 else V,
    ],
)
def test_a_formula_that_branches_on_many_draws_is_told_to_use_where(function):
    formula = formula_from(function, unit_of("V"))
    assert formula([4.0]) == function(4.0)
    with pytest.raises(FormulaError, match=r"It branches on an argument.*np\.where\("):
        formula([DRAWS])


@pytest.mark.parametrize("function", [lambda V: math.sqrt(V), lambda V: float(V)])
def test_a_formula_that_takes_one_number_at_a_time_is_told_to_use_numpy(function):
    formula = formula_from(function, unit_of("V"))
    assert formula([4.0]) == function(4.0)
    with pytest.raises(FormulaError, match="takes one number at a time: use np.sqrt"):
        formula([DRAWS])


def test_a_branching_formula_is_told_so_by_monte_carlo(case):
    case.constant("V_in", "3.00(3) V")

    @case.derive(unit="V")
    def cut(V_in):
        return 2 * V_in if V_in * 5 > V_in else V_in

    with pytest.raises(FormulaError, match=r"cut: .*It branches on an argument"):
        case.monte_carlo("cut")


# Temperatures.


def test_a_wrong_unit_of_a_temperature_says_that_the_formula_sees_kelvin():
    with pytest.raises(
        FormulaError, match=r"takes T \[°C\]; inside the formula T in K"
    ):
        check(lambda T: T - 273.15, "K")
    with pytest.raises(FormulaError) as caught:
        check(lambda V, I: V * I, "ohm")
    assert "in K" not in str(caught.value)


def test_a_coefficient_per_degree_celsius_fits_a_difference_of_temperatures(case):
    case.constant("T_hot", "60.0(5) °C")
    case.constant("T_cold", "20.0(5) °C")
    case.constant("slope", "4.00(10) mohm/°C")

    @case.derive(unit="ohm")
    def R_rise(T_hot, T_cold, slope):
        return slope * (T_hot - T_cold)

    assert str(R_rise) == "0.1600(49) Ω"

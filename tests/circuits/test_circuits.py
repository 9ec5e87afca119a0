"""The formula sheet as a whole: its front door, and its use in derived quantities."""

import ast
import inspect
from pathlib import Path

import numpy as np
import pytest

from benchproof.measuring import circuits
from benchproof.measuring.circuits import limits
from benchproof.reasoning.budgets.formulas import Formula, check_dimension
from benchproof.reasoning.budgets.graph import partials
from benchproof.values.units import unit_of

FOLDER = Path(circuits.__file__).parent
PUBLIC = [getattr(circuits, name) for name in circuits.__all__]
FUNCTIONS = [item for item in PUBLIC if inspect.isfunction(item)]

# Result's unit, then unit and SI value of each argument, away from every limit.
SHEET = {
    circuits.unloaded_voltage: ("V", "V 3.267", "ohm 101e3", "ohm 10e6"),
    circuits.loaded_reading: ("V", "V 3.3", "ohm 101e3", "ohm 10e6"),
    circuits.burden_voltage: ("V", "A 0.038", "ohm 1.8", "V 3.0"),
    circuits.unburdened_current: ("A", "A 9e-3", "ohm 100", "ohm 900"),
    circuits.loop_residual: ("V", "V 12.1", "V 11.39", "V 0.55"),
    circuits.nulled_resistance: ("ohm", "ohm 150.7", "ohm 0.3"),
    circuits.four_wire_resistance: ("ohm", "V 6e-4", "A 0.1"),
    circuits.parallel_resistance: ("ohm", "ohm 1e3", "ohm 2e3", "ohm 3e3"),
    circuits.resistance_without_body: ("ohm", "ohm 1e6", "ohm 2.4e6"),
    circuits.over_range_bound: ("ohm", "ohm 60e6", "% 0.02"),
    circuits.leakage_bound: ("A", "V 3.0", "ohm 60e6"),
    circuits.without_thermal_emf: ("V", "V 612e-6", "V -588e-6"),
    circuits.thermal_emf: ("V", "V 612e-6", "V -500e-6"),
    circuits.total_rms: ("V", "V 12.52", "V 3.6"),
    circuits.ripple_factor: ("", "V 14.855", "V 0.842"),
    circuits.average_responding_bias: ("", " 1.2"),
    circuits.half_wave_reading: ("V", "V 14.86"),
    circuits.coupling_droop: ("", "s 1e-3", "Hz 10"),
    circuits.quantisation_step: ("V", "V 1.0"),
    circuits.quantisation_uncertainty: ("V", "V 0.03125"),
    circuits.full_screen_limit: ("V", "V 2.0", " 0.03"),
    circuits.transferred_voltage: ("V", "V 8.98", "V 12.31", "V 12.06", "V 0.02"),
    circuits.probe_voltage: ("V", "V 1.49", " 10", " 1"),
    circuits.rise_time_of_bandwidth: ("s", "Hz 1e8"),
    circuits.bandwidth_of_rise_time: ("Hz", "s 17e-9"),
    circuits.device_rise_time: ("s", "s 13.99e-6", "s 3.5e-6"),
    circuits.pole_frequency: ("Hz", "ohm 1e5", "F 12e-12"),
    circuits.pole_rise_time: ("s", "ohm 1e5", "F 12e-12"),
    circuits.ground_lead_resonance: ("Hz", "H 100e-9", "F 12e-12"),
    circuits.shunt_time_constant: ("s", "H 8e-9", "ohm 10e-3"),
    circuits.settling_time: ("s", "s 2.0", " 0.01"),
    circuits.interval_uncertainty: ("s", "s 1e-5"),
    circuits.least_sample_rate: ("Hz", "s 1.5e-3"),
    circuits.source_resistance: ("ohm", "V 12.1", "V 11.39", "A 0.1", "A 2.65"),
    circuits.open_circuit_voltage: ("V", "V 4.0", "A 4e-3", "ohm 250"),
    circuits.supply_current: ("A", "V 6.0", "V 12.0", "ohm 0.03", "A 3.6", "A 1.2"),
    circuits.rate_of_fall: ("V/s", "A 4.95", "A 3.6", "F 2200e-6"),
    circuits.hiccup_duty: ("", "s 25e-3", "s 1.8"),
    circuits.hiccup_rms_current: ("A", "A 3.6", " 0.0137"),
    circuits.hiccup_mean_current: ("A", "A 3.6", " 0.0137"),
    circuits.ripple_bound: ("V", "A 0.43", "Hz 50", "F 1e-3"),
    circuits.charging_capacitance: ("F", "F 2200e-6", "F 1500e-6"),
    circuits.inrush_peak: ("A", "V 11.7", "ohm 0.317"),
    circuits.inrush_i2t: ("A^2*s", "V 11.7", "ohm 0.317", "F 2200e-6"),
    circuits.damping_ratio: ("", "ohm 0.317", "H 2.4e-6", "F 892e-6"),
    circuits.overshoot: ("", " 0.2"),
    circuits.damped_inrush_time: ("s", "ohm 0.317", "H 2.4e-6", "F 892e-6"),
    circuits.damped_inrush_peak: ("A", "V 11.7", "ohm 0.317", "H 2.4e-6", "F 892e-6"),
    circuits.stored_energy: ("J", "F 1e-3", "V 19"),
    circuits.bleed_time: ("s", "ohm 1e3", "F 1e-3", "V 19", "V 1"),
    circuits.hold_up_at_constant_current: ("s", "F 2.2e-3", "V 11", "V 8.8", "A 1.35"),
    circuits.hold_up_at_constant_power: ("s", "F 2.2e-3", "V 11", "V 8.8", "W 15"),
    circuits.led_string_current: ("A", "V 14.855", " 3", "V 2.8", "ohm 150", "ohm 10"),
    circuits.led_string_sensitivity: ("", "V 14.855", " 3", "V 2.8"),
    circuits.constant_power_limit: ("W", "V 12", "ohm 0.5"),
    circuits.constant_power_voltage: ("V", "V 12", "ohm 0.5", "W 30"),
    circuits.wire_resistance: (
        "ohm",
        *("m 6", "m^2 0.5e-6", "K 300", "ohm*m 1.7241e-8", "1/K 3.93e-3", "K 293.15"),
    ),
    circuits.dissipation: ("W", "ohm 150", "A 22.9e-3", " 1.328"),
    circuits.dissipation_across: ("W", "ohm 150.1", "V 5.38"),
    circuits.derated_power: ("W", "W 0.25", "K 369.15", "K 343.15", "K 428.15"),
    circuits.temperature_rise: ("K", "K/W 230", "W 0.1962"),
    circuits.temperature_rise_at: ("K", "s 600", "K 45.1", "s 450"),
    circuits.final_temperature: ("K", "K 319.35", "K 330.65", "K 336.45"),
    circuits.thermal_time_constant: ("s", "K 319.35", "K 330.65", "K 336.45", "s 300"),
    circuits.winding_rise: (
        "K",
        *("ohm 10.8", "ohm 12.6", "K 295.15", "K 296.15", "K 38.65"),
    ),
    circuits.infrared_temperature: ("K", "K 333.15", " 0.95", " 0.3", "K 296.15"),
    circuits.self_discharge_current: ("A", "C 792", " 0.01", "s 31.558e6"),
    circuits.battery_life: ("s", "C 792", "A 20.31e-6", "A 0.251e-6", " 0.9"),
    circuits.droop_current: ("A", "F 1e-3", "V 30.6e-3", "s 9", "A 0.3e-6"),
    circuits.burst_dip: ("V", "C 357.6e-6", "F 4700e-6"),
    circuits.averaging_shunt_current: (
        "A",
        *("V 20.31e-3", "ohm 1e3", "F 4700e-6", "C 357.6e-6", "V 0.9", "s 600"),
    ),
    circuits.cell_dip: ("V", "A 38e-3", "ohm 41", "s 4.2e-3", "F 1e-4"),
    circuits.critical_leak: ("ohm", "ohm 47e3", "V 3.3", "V 1.42", "ohm 1e3"),
    circuits.film_resistance: ("ohm", "m 1.2e-3", "m 4e-3", "m 50e-6", "S/m 3.8"),
    circuits.film_thickness: ("m", "m 1.2e-3", "m 4e-3", "ohm 4.33e3", "S/m 3.8"),
    circuits.body_discharge_peak: ("A", "V 2e3", "ohm 1500"),
}

# Plain functions of numbers that a derived quantity cannot hold, and why.
ELSEWHERE = {
    **dict.fromkeys(
        ["form_factor", "average_responding_reading", "i2t_of_trace"], "of a trace"
    ),
    **dict.fromkeys(["polarity_reverses", "probe_factor"], "an answer, not a value"),
    **dict.fromkeys(
        ["gauge_area", "gauge_diameter", "platinum_resistance", "platinum_temperature"],
        "a table with units inside",
    ),
    "seawater_conductivity": "a table with units inside",
    "ideal_signal_to_noise_db": "in dB",
    "cable_resistance": "has units inside",
    "track_current": "a fit to charts, with units inside",
    "average_current": "takes lists; tested with its module",
    "operating_voltage": "takes a function; tested with its module",
    "node_voltages": "takes a network; tested with its module",
    **dict.fromkeys(["operating_points", "contact_discharge"], "returns facts"),
    **dict.fromkeys(
        ["worst_case_gap", "mean_gap", "gap_deviation", "draw_gaps", "monte_carlo_gap"],
        "of a chain",
    ),
    **dict.fromkeys(["preferred_values", "nearest_preferred"], "of a table"),
}


def formula_of(function):
    unit, *arguments = SHEET[function]
    names = [f"x{i}" for i in range(len(arguments))]
    units = {
        n: unit_of(a.partition(" ")[0]) for n, a in zip(names, arguments, strict=True)
    }
    values = [float(a.partition(" ")[2]) for a in arguments]
    return (
        Formula(function.__name__, unit_of(unit), function, tuple(names)),
        units,
        values,
    )


def by_name(function):
    return function.__name__


def test_the_front_door_lists_every_public_name_in_order():
    written = set()
    for path in FOLDER.glob("*.py"):
        if path.stem in ("__init__", "limits"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        defined = [
            n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef)
        ]
        written |= {n.name for n in defined if not n.name.startswith("_")}
    assert written <= set(circuits.__all__)
    assert circuits.__all__ == sorted(circuits.__all__)


def test_every_function_is_tried_in_a_formula_or_says_why_not():
    assert {f.__name__ for f in SHEET} | set(ELSEWHERE) == {
        f.__name__ for f in FUNCTIONS
    }
    assert not {f.__name__ for f in SHEET} & set(ELSEWHERE)


@pytest.mark.parametrize("function", FUNCTIONS, ids=by_name)
def test_every_function_says_its_arguments_source_and_an_example(function):
    text = inspect.getdoc(function)
    for section in ("Parameters", "References", "Examples"):
        assert f"{section}\n{'-' * len(section)}" in text
    for argument in inspect.signature(function).parameters:
        assert argument in text


@pytest.mark.parametrize("function", SHEET, ids=by_name)
def test_the_dimension_check_of_derived_quantities_accepts_it(function):
    formula, units, values = formula_of(function)
    assert check_dimension(formula, values, units)


@pytest.mark.parametrize("function", SHEET, ids=by_name)
def test_a_complex_step_gives_the_slope_that_differences_give(function):
    _, _, values = formula_of(function)
    for i, value in enumerate(values):
        step, nudge = list(values), 1e-6 * abs(value)
        step[i] = complex(value, 1e-30 * abs(value))
        slope = function(*step).imag / (1e-30 * abs(value)) if value else 0.0
        up, down = list(values), list(values)
        up[i], down[i] = value + nudge, value - nudge
        rise = (function(*up) - function(*down)) / (2 * nudge)
        # Differences cancel digits: 1e-16 of the result over a relative step of 1e-6.
        noise = 1e-9 * abs(function(*values) / value)
        assert slope == pytest.approx(rise, rel=1e-6, abs=noise)


@pytest.mark.parametrize("function", SHEET, ids=by_name)
def test_the_budget_can_take_its_slopes(function):
    formula, _, values = formula_of(function)
    assert all(np.isfinite(partials(formula, values)))


@pytest.mark.parametrize("function", SHEET, ids=by_name)
def test_an_array_of_draws_gives_what_each_draw_gives(function):
    _, _, values = formula_of(function)
    generator = np.random.default_rng(20260131)
    spread = 1 + 1e-3 * generator.standard_normal((len(values), 20_000))
    draws = np.asarray(values)[:, None] * spread
    together = function(*draws)
    assert together.shape == (20_000,)
    for k in (0, 7, 19_999):
        assert together[k] == pytest.approx(function(*draws[:, k]), rel=1e-12)


def test_a_refusal_shows_the_first_offending_draw_and_how_many_there_are():
    with pytest.raises(limits.InputError, match=r"is -1 \(2 of 3, first at index 1\)"):
        circuits.stored_energy(np.array([1.0, -1.0, -2.0]), 5.0)


@pytest.mark.parametrize("function", SHEET, ids=by_name)
def test_what_is_no_number_is_refused_where_zero_is(function):
    _, _, values = formula_of(function)
    for i in range(len(values)):
        lame, empty = list(values), list(values)
        lame[i], empty[i] = float("nan"), 0.0
        try:
            function(*empty)
        except limits.InputError:
            with pytest.raises(limits.InputError):
                function(*lame)
        except ZeroDivisionError:
            pytest.fail(f"argument {i} of zero divides before it is refused")

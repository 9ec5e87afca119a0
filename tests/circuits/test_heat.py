"""Dissipation, rating, temperature rise."""

import numpy as np
import pytest

from benchproof.measuring.circuits import heat, waveforms
from benchproof.values.errors import InputError


def test_ripple_heats_more_than_the_mean_squared():
    assert heat.dissipation(150.0, 22.9e-3, 1.763**0.5) == pytest.approx(
        0.138, abs=1e-3
    )
    assert heat.dissipation(150.0, 22.9e-3) == pytest.approx(0.079, abs=5e-4)


def test_the_form_factor_of_a_trace_gives_its_mean_square():
    trace = np.maximum(0, np.sin(np.linspace(0, 40 * np.pi, 100_001)[:-1])) * 50e-3
    power = heat.dissipation(150.0, np.mean(trace), waveforms.form_factor(trace))
    assert power == pytest.approx(150.0 * np.mean(trace**2))


def test_voltage_and_current_agree_on_the_heat():
    across = heat.dissipation_across(150.0, 150.0 * 35.9e-3)
    assert across == pytest.approx(heat.dissipation(150.0, 35.9e-3))


def test_a_form_factor_below_one_is_refused():
    with pytest.raises(InputError, match="no waveform has less than 1"):
        heat.dissipation(150.0, 22.9e-3, 0.9)


def test_derating_is_flat_then_straight_then_nothing():
    celsius = np.array([20.0, 70.0, 96.0, 155.0, 200.0])
    allowed = heat.derated_power(0.25, celsius + 273.15, 343.15, 428.15)
    assert allowed == pytest.approx([0.25, 0.25, 0.1735, 0.0, 0.0], abs=5e-5)
    with pytest.raises(InputError, match="swap them"):
        heat.derated_power(0.25, 300.0, 428.15, 343.15)


def test_a_rise_grows_to_its_settled_value():
    settled = heat.temperature_rise(230.0, 0.1962)
    assert settled == pytest.approx(45.1, abs=0.05)
    assert heat.temperature_rise_at(0.0, settled, 450.0) == 0.0
    assert heat.temperature_rise_at(1e5, settled, 450.0) == pytest.approx(settled)


def test_three_temperatures_tell_the_last_and_the_time_constant():
    final = heat.final_temperature(46.2, 57.5, 63.3)
    assert final == pytest.approx(69.4, abs=0.05)
    # The same as the textbook quotient.
    assert final == pytest.approx((57.5**2 - 46.2 * 63.3) / (2 * 57.5 - 46.2 - 63.3))
    tau = heat.thermal_time_constant(46.2, 57.5, 63.3, 300.0)
    assert tau / 60 == pytest.approx(7.5, abs=0.05)


def test_an_exponential_is_recovered_exactly_in_kelvin():
    times = np.array([300.0, 600.0, 900.0])
    three = 297.45 + heat.temperature_rise_at(times, 45.1, 450.0)
    assert heat.final_temperature(*three) == pytest.approx(297.45 + 45.1, rel=1e-12)
    assert heat.thermal_time_constant(*three, 300.0) == pytest.approx(450.0)


@pytest.mark.parametrize(
    "three", [(20.0, 25.0, 31.0), (20.0, 25.0, 30.0), (25.0, 24.0, 23.0), (20, 25, 25)]
)
def test_what_is_not_settling_has_no_final_temperature(three):
    with pytest.raises(InputError, match="shrinking steps, or wait"):
        heat.final_temperature(*three)
    with pytest.raises(InputError, match="shrinking steps, or wait"):
        heat.thermal_time_constant(*three, 60.0)


def test_a_winding_tells_its_rise_by_its_resistance():
    rise = heat.winding_rise(10.8, 12.6, 295.15, 296.15)
    assert rise == pytest.approx(41.75, abs=5e-3)
    by_celsius = (12.6 - 10.8) / 10.8 * (234.5 + 22) - (23 - 22)
    assert rise == pytest.approx(by_celsius)
    assert heat.winding_rise(10.8, 10.8, 295.15, 295.15) == 0.0
    with pytest.raises(InputError, match="give kelvin"):
        heat.winding_rise(10.8, 12.6, 22.0, 23.0)

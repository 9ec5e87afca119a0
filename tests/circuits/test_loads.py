"""Loads, and where their curve meets the supply's."""

import numpy as np
import pytest

from benchproof.measuring.circuits import loads, supplies
from benchproof.values.errors import InputError


def strip(voltage):
    """Twelve segments of three diodes, each with 180 Ω in all."""
    return loads.led_string_current(voltage, 3, 2.80, 150 / 12, 10 / 12)


def test_a_string_of_three_diodes_takes_thirty_six_milliamperes():
    current = loads.led_string_current(14.855, 3, 2.80, 150.0, 10.0)
    assert current == pytest.approx(35.86e-3, abs=5e-6)
    assert loads.led_string_sensitivity(14.855, 3, 2.80) == pytest.approx(
        2.30, abs=5e-3
    )


def test_a_string_below_its_knees_is_dark():
    current = loads.led_string_current(np.array([8.0, 8.4, 12.0]), 3, 2.8, 150, 10)
    assert current == pytest.approx([0.0, 0.0, 0.02])
    with pytest.raises(InputError, match="does not conduct"):
        loads.led_string_sensitivity(8.0, 3, 2.8)
    with pytest.raises(InputError, match="resistance of the string"):
        loads.led_string_current(12.0, 3, 2.8, 0.0)


def test_the_sensitivity_is_what_a_little_more_voltage_does():
    low, high = (loads.led_string_current(v, 3, 2.8, 150, 10) for v in (14.0, 14.0014))
    slope = (high / low - 1) / 1e-4
    assert loads.led_string_sensitivity(14.0, 3, 2.8) == pytest.approx(slope)


def test_a_converter_pulls_a_source_down():
    voltage = loads.constant_power_voltage(12.0, 0.5, 30.0)
    assert voltage == pytest.approx(10.58, abs=5e-3)
    assert 12.0 - 0.5 * 30.0 / voltage == pytest.approx(voltage)
    assert loads.constant_power_voltage(12.0, 0.5, 72.0) == pytest.approx(6.0)


def test_beyond_the_limit_the_voltage_collapses():
    with pytest.raises(InputError, match=r"72 W at most, so the voltage collapses"):
        loads.constant_power_voltage(12.0, 0.5, 72.1)
    with pytest.raises(InputError, match="1 of 2, first at index 1"):
        loads.constant_power_voltage(12.0, 0.5, np.array([30.0, 90.0]))


def test_the_operating_point_of_a_fitted_line_and_a_strip():
    voltage = loads.operating_voltage(strip, 17.91, 6.78)
    assert voltage == pytest.approx(14.95, abs=5e-3)
    assert strip(voltage) == pytest.approx(0.437, abs=5e-4)
    # The two straight lines solved by hand.
    assert voltage == pytest.approx((17.91 * 15 + 6.78 * 8.4) / (15 + 6.78), rel=1e-12)


def test_the_operating_point_is_found_for_every_draw_of_a_curved_load():
    generator = np.random.default_rng(3)
    no_load = 12 + 0.1 * generator.standard_normal(20_000)
    resistance = 0.5 + 0.02 * generator.standard_normal(20_000)
    voltage = loads.operating_voltage(lambda v: 0.01 * v**2, no_load, resistance)
    rest = no_load - resistance * 0.01 * voltage**2 - voltage
    assert np.abs(rest).max() < 1e-12


def test_a_complex_step_passes_through_the_operating_point():
    def voltage(no_load, resistance, share):
        return loads.operating_voltage(lambda v: share * v**2, no_load, resistance)

    point = (12.0, 0.5, 0.01)
    for i, value in enumerate(point):
        step, up, down = list(point), list(point), list(point)
        step[i], up[i], down[i] = complex(value, 1e-30), value + 1e-5, value - 1e-5
        slope = voltage(*step).imag / 1e-30
        assert slope == pytest.approx((voltage(*up) - voltage(*down)) / 2e-5, rel=1e-7)


def test_a_load_that_does_not_meet_the_line_is_refused():
    with pytest.raises(InputError, match="do not meet between 0 V and V0"):
        loads.operating_voltage(lambda v: 30.0 + 0 * v, 12.0, 0.5)


def test_foldback_has_two_stable_points_and_one_between():
    def brick(v):
        return supplies.supply_current(v, 12.0, 0.1, 4.0, 1.0)

    def motor(v):
        return 2.5 * v / (v + 1.0)

    found = loads.operating_points(brick, motor, 12.5)
    assert [p.stable for p in found] == [True, False, True]
    for point in found:
        assert brick(point.voltage) == pytest.approx(motor(point.voltage))


def test_without_foldback_there_is_one_point():
    def brick(v):
        return supplies.supply_current(v, 12.0, 0.1, 4.0, 4.0)

    (only,) = loads.operating_points(brick, strip, 12.5)
    assert only.stable
    straight = loads.operating_voltage(strip, 12.0, 0.1)
    assert only.voltage == pytest.approx(straight)


def test_both_points_of_a_converter_are_found_the_lower_unstable():
    low, high = loads.operating_points(
        lambda v: (12.0 - v) / 0.5, lambda v: 30.0 / max(v, 0.1), 12.5
    )[-2:]
    assert (low.stable, high.stable) == (False, True)
    assert high.voltage == pytest.approx(loads.constant_power_voltage(12.0, 0.5, 30.0))
    assert low.voltage == pytest.approx(12.0 - high.voltage)


def test_a_load_that_takes_nothing_leaves_the_full_voltage():
    (only,) = loads.operating_points(lambda v: 12.0 - v, lambda _: 0.0, 12.5)
    assert only == loads.OperatingPoint(12.0, 0.0, stable=True)

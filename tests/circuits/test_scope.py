"""What a screen and a probe make of a voltage."""

import numpy as np
import pytest

from benchproof.measuring.circuits import scope
from benchproof.values.errors import InputError


def test_one_volt_a_division_has_codes_of_thirty_one_millivolts():
    step = scope.quantisation_step(1.0)
    assert step == pytest.approx(31.25e-3)
    assert scope.quantisation_uncertainty(step) == pytest.approx(9.02e-3, abs=5e-6)


# q/√12 and 6.02 N + 1.76 dB (from memory, recomputed).
@pytest.mark.parametrize(
    ("bits", "decibel"), [(8, 49.9), (10, 62.0), (12, 74.0), (16, 98.1)]
)
def test_quantisation_noise_agrees_with_the_known_figures(bits, decibel):
    shown = scope.ideal_signal_to_noise_db(bits)
    assert shown == pytest.approx(decibel, abs=0.05)
    assert scope.quantisation_uncertainty(1.0) == pytest.approx(0.2887, abs=5e-5)


def test_a_sine_through_a_converter_has_about_the_ideal_noise():
    # Of 12 bits: on fewer, the crests dwell on few codes and the noise is not even.
    sine = np.sin(2 * np.pi * 0.1234567 * np.arange(100_000))
    step = 2 / 2**12
    noise = np.round(sine / step) * step - sine
    ratio = 20 * np.log10(np.std(sine) / np.std(noise))
    assert ratio == pytest.approx(scope.ideal_signal_to_noise_db(12), abs=0.05)


def test_three_per_cent_of_full_screen_is_half_a_volt():
    assert scope.full_screen_limit(2.0, 0.03) == pytest.approx(0.48)
    with pytest.raises(InputError, match="relative_limit"):
        scope.full_screen_limit(2.0, -0.03)


def test_a_transferred_voltage_does_not_know_the_gain_of_the_scope():
    true, level, zero = 8.8, 12.06, 0.1
    for gain in (0.97, 1.0, 1.03):
        seen, seen_level = gain * true + zero, gain * level + zero
        found = scope.transferred_voltage(seen, seen_level, level, zero)
        assert found == pytest.approx(true)


def test_a_level_at_zero_transfers_nothing():
    with pytest.raises(InputError, match="away from zero"):
        scope.transferred_voltage(8.98, 0.1, 12.06, 0.1)


def test_a_wrong_menu_is_off_by_the_ratio():
    assert scope.probe_voltage(1.49, 10, menu_ratio=1) == pytest.approx(14.9)
    assert scope.probe_voltage(14.9, 10, menu_ratio=10) == pytest.approx(14.9)
    with pytest.raises(InputError, match="probe_ratio"):
        scope.probe_voltage(1.49, 0)


@pytest.mark.parametrize(
    ("shown", "factor"), [(1.49, 10.0), (14.9, 1.0), (149.0, 0.1), (0.1487, 100.0)]
)
def test_the_meter_tells_which_power_of_ten_the_menu_is_off(shown, factor):
    assert scope.probe_factor(shown, 14.86) == pytest.approx(factor)


def test_the_factor_is_found_for_each_of_an_array():
    found = scope.probe_factor(np.array([1.49, -14.9]), np.array([14.86, -14.86]))
    assert found.tolist() == [10.0, 1.0]


def test_what_no_probe_explains_is_not_put_down_to_the_probe():
    with pytest.raises(InputError, match="not the probe"):
        scope.probe_factor(7.4, 14.86)
    with pytest.raises(InputError, match="one steady node"):
        scope.probe_factor(-1.49, 14.86)

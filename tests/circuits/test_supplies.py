"""Supplies under load."""

import numpy as np
import pytest

from benchproof.measuring.circuits import supplies
from benchproof.measuring.lines.line import fit_line
from benchproof.values.errors import InputError


def test_two_loads_give_the_source_behind_them():
    # Constructed (definition, no independent published figure): 5 V behind 250 Ω.
    resistance = supplies.source_resistance(4.5, 4.0, 4.5 / 2250, 4.0 / 1000)
    assert resistance == pytest.approx(250, rel=1e-9)
    assert supplies.open_circuit_voltage(4.0, 4e-3, resistance) == pytest.approx(5.0)


def test_two_loads_agree_with_the_slope_of_a_line():
    current = np.array([0.2, 0.3, 0.4, 0.5, 0.6])
    line = fit_line(current, 17.91 - 6.78 * current)
    ends = 17.91 - 6.78 * current[[0, -1]]
    two = supplies.source_resistance(ends[0], ends[1], current[0], current[-1])
    assert two == pytest.approx(-line.slope)


@pytest.mark.parametrize("heavy", [0.5, 0.4])
def test_the_heavier_load_comes_second(heavy):
    with pytest.raises(InputError, match="give the heavier load second"):
        supplies.source_resistance(12.1, 11.4, 0.5, heavy)


def test_a_supply_follows_its_resistance_until_the_limit():
    voltage = np.array([12.0, 11.97, 5.0, 0.0])
    current = supplies.supply_current(voltage, 12.0, 0.03, 3.6, 3.6)
    assert current == pytest.approx([0.0, 1.0, 3.6, 3.6])


def test_foldback_gives_less_the_lower_the_voltage():
    low, high = supplies.supply_current(np.array([2.0, 9.0]), 12.0, 0.03, 3.6, 1.2)
    assert low == pytest.approx(1.6)
    assert high == pytest.approx(3.0)


def test_past_the_limit_the_rail_falls():
    assert supplies.rate_of_fall(4.95, 3.6, 2200e-6) == pytest.approx(614, abs=0.5)
    with pytest.raises(InputError, match="the rail does not fall"):
        supplies.rate_of_fall(3.6, 3.6, 2200e-6)


def test_hiccup_heats_by_its_effective_current():
    duty = supplies.hiccup_duty(25e-3, 1.8)
    assert duty == pytest.approx(0.01370, abs=5e-6)
    pulses = np.where(np.arange(1825) < 25, 3.6, 0.0)
    effective = np.sqrt(np.mean(pulses**2))
    assert supplies.hiccup_rms_current(3.6, duty) == pytest.approx(effective)
    assert supplies.hiccup_mean_current(3.6, duty) == pytest.approx(np.mean(pulses))


@pytest.mark.parametrize("duty", [0.0, 1.1, -0.1])
def test_a_duty_that_cannot_be_is_refused(duty):
    for function in (supplies.hiccup_rms_current, supplies.hiccup_mean_current):
        with pytest.raises(InputError, match="a share above 0 and up to 1"):
            function(3.6, duty)


def test_the_ripple_of_an_ideal_rectifier_stays_below_its_bound():
    bound = supplies.ripple_bound(0.43, 50.0, 1000e-6)
    assert bound == pytest.approx(4.30)
    times = np.arange(0, 0.1, 1e-5)
    rectified = np.abs(20.0 * np.sin(2 * np.pi * 50 * times))
    voltage = np.empty_like(rectified)
    held = 20.0
    for i, peak in enumerate(rectified):
        held = voltage[i] = max(peak, held - 0.43 * 1e-5 / 1000e-6)
    ripple = np.ptp(voltage[times > 0.05])
    assert 0.5 * bound < ripple < bound

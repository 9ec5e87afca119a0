"""Plugging in."""

import numpy as np
import pytest

from benchproof.measuring.circuits import inrush
from benchproof.values.errors import InputError

SERIES = 2200e-6 * 1500e-6 / 3700e-6


def simulated(voltage, resistance, inductance, capacitance, end, steps=200_001):
    """Current into R, L and C after contact, by the eigenvalues of the circuit."""
    times = np.linspace(0, end, steps)
    half, square = resistance / (2 * inductance), 1 / (inductance * capacitance)
    root = np.sqrt(complex(half**2 - square))
    fast, slow = np.exp((-half - root) * times), np.exp((-half + root) * times)
    return times, (voltage / inductance * (slow - fast) / (2 * root)).real


def test_a_stiff_supply_is_the_upper_bound():
    assert inrush.inrush_peak(11.7, 0.317) == pytest.approx(36.9, abs=0.05)
    assert inrush.inrush_i2t(11.7, 0.317, 2200e-6) == pytest.approx(0.475, abs=5e-4)


def test_a_supply_that_is_a_capacitor_gives_less():
    seen = inrush.charging_capacitance(2200e-6, 1500e-6)
    assert seen == pytest.approx(SERIES)
    assert inrush.inrush_i2t(11.7, 0.317, seen) == pytest.approx(0.193, abs=5e-4)


def test_the_melting_integral_of_a_simulated_pulse_is_that_of_its_energy():
    times, current = simulated(11.7, 0.317, 2.4e-6, SERIES, 5e-3)
    interval = times[1] - times[0]
    recorded = inrush.i2t_of_trace(current, interval)
    assert recorded == pytest.approx(inrush.inrush_i2t(11.7, 0.317, SERIES), rel=1e-5)


def test_an_offset_is_taken_off_before_squaring():
    times, current = simulated(11.7, 0.317, 2.4e-6, SERIES, 5e-3, 10_001)
    interval = times[1] - times[0]
    clean = inrush.i2t_of_trace(current, interval)
    both = np.stack([current + 1.0, current - 0.5])
    freed = inrush.i2t_of_trace(both, interval, zero=np.array([1.0, -0.5]))
    assert freed == pytest.approx([clean, clean])
    assert inrush.i2t_of_trace(current + 1.0, interval) > 1.05 * clean


def test_an_empty_trace_has_no_melting_integral():
    with pytest.raises(InputError, match="at least one sample"):
        inrush.i2t_of_trace([], 1e-3)


# Damped, critical (R = 2 √(L/C)) and ringing.
@pytest.mark.parametrize("resistance", [0.317, 2 * (2.4e-6 / SERIES) ** 0.5, 0.02])
def test_the_peak_is_where_a_simulation_has_it(resistance):
    end = 20e-3 if resistance < 0.1 else 1e-3
    # A hair off the critical point, where the eigenvalues fall together.
    times, current = simulated(11.7, resistance * (1 + 1e-7), 2.4e-6, SERIES, end)
    top = int(np.argmax(current))
    time = inrush.damped_inrush_time(resistance, 2.4e-6, SERIES)
    peak = inrush.damped_inrush_peak(11.7, resistance, 2.4e-6, SERIES)
    assert time == pytest.approx(times[top], abs=2 * times[1])
    assert peak == pytest.approx(current[top], rel=1e-5)


def test_the_peak_runs_smoothly_through_critical_damping():
    resistance = 2 * (2.4e-6 / SERIES) ** 0.5 * np.linspace(0.9999, 1.0001, 2001)
    times = inrush.damped_inrush_time(resistance, 2.4e-6, SERIES)
    assert np.all(np.diff(times) < 0)
    assert np.ptp(np.diff(times)) < 1e-3 * np.ptp(times)


def test_a_supply_with_a_limit_peaks_near_what_a_fuller_simulation_gave():
    # 34.4 A at 28.9 µs with the supply's own current flowing beside its capacitor;
    # without it a little less and sooner.
    assert inrush.damped_inrush_peak(11.7, 0.317, 2.4e-6, SERIES) == pytest.approx(
        34.4, rel=0.01
    )
    time = inrush.damped_inrush_time(0.317, 2.4e-6, SERIES)
    assert time == pytest.approx(28.9e-6, rel=0.02)


def test_little_damping_overshoots_by_half():
    assert inrush.overshoot(0.2) == pytest.approx(0.527, abs=5e-4)
    assert inrush.overshoot(0.0) == 1.0
    with pytest.raises(InputError, match="from 1 on it is 0"):
        inrush.overshoot(1.0)


def test_overshoot_is_what_a_ringing_capacitor_shows():
    resistance, inductance, capacitance = 0.2, 1e-6, 100e-6
    damping = inrush.damping_ratio(resistance, inductance, capacitance)
    assert damping == pytest.approx(1.0)
    times, current = simulated(1.0, resistance / 5, inductance, capacitance, 2e-4)
    charge = np.cumsum(current) * (times[1] - times[0])
    top = np.max(charge) / capacitance - 1
    assert top == pytest.approx(inrush.overshoot(damping / 5), abs=1e-4)

"""Charge budget, life, droop and dip."""

import numpy as np
import pytest

from benchproof.measuring.circuits import batteries
from benchproof.values.errors import InputError

SENSING = 4.5e-3 * 25e-3
REPORT = 38e-3 * 4.2e-3 + 11e-3 * 18e-3
SCAN = 7 * REPORT + 11e-3 * 1.9


def test_the_charge_budget_adds_up():
    mean = batteries.average_current(3.1e-6, [SENSING, REPORT], [10.0, 60.0])
    assert mean == pytest.approx(20.31e-6, abs=5e-9)
    assert batteries.average_current(3.1e-6, [], []) == 3.1e-6


def test_the_charge_budget_takes_draws_and_steps():
    draws = np.linspace(3e-6, 3.2e-6, 5)
    mean = batteries.average_current(draws, [SENSING], [10.0])
    assert mean == pytest.approx(draws + 11.25e-6)
    step = batteries.average_current(3.1e-6, [complex(SENSING, 1e-30)], [10.0])
    assert step.imag / 1e-30 == pytest.approx(0.1)


def test_each_charge_needs_a_period():
    with pytest.raises(InputError, match="give one for each of the 2 charges"):
        batteries.average_current(3.1e-6, [SENSING, REPORT], [10.0])
    with pytest.raises(InputError, match="period 2 is 0"):
        batteries.average_current(3.1e-6, [SENSING, REPORT], [10.0, 0.0])


@pytest.mark.parametrize("fraction", [-0.01, 1.01, np.array([0.5, 1.01])])
def test_a_cell_loses_no_more_than_it_holds(fraction):
    with pytest.raises(InputError, match="self_discharge_current: fraction"):
        batteries.self_discharge_current(100.0, fraction, 1.0)
    assert batteries.self_discharge_current(100.0, 1.0, 10.0) == 10.0


def test_life_is_thirteen_months_or_three_weeks():
    own = batteries.self_discharge_current(220e-3 * 3600, 0.01, 365.25 * 86400)
    assert own == pytest.approx(0.251e-6, abs=5e-10)
    healthy = batteries.battery_life(198e-3 * 3600, 20.31e-6, own)
    assert healthy / 3600 == pytest.approx(9630, abs=1)
    searching = batteries.average_current(
        3.1e-6, [SENSING, REPORT, SCAN], [10.0, 60.0, 60.0]
    )
    assert searching == pytest.approx(410.4e-6, abs=5e-8)
    weary = batteries.battery_life(220e-3 * 3600, searching, own, usable_share=0.9)
    assert weary / 86400 == pytest.approx(20.1, abs=0.05)


@pytest.mark.parametrize(
    ("current", "share", "text"), [(0.0, 1.0, "current is 0"), (1e-6, 1.1, "share")]
)
def test_life_needs_a_current_and_a_share(current, share, text):
    with pytest.raises(InputError, match=text):
        batteries.battery_life(700.0, current, usable_share=share)


def test_the_capacitors_own_leak_is_taken_off_the_droop():
    assert batteries.droop_current(1000e-6, 30.6e-3, 9.0, 0.0) == pytest.approx(3.4e-6)
    assert batteries.droop_current(1000e-6, 30.6e-3, 9.0, 0.3e-6) == pytest.approx(
        3.1e-6
    )


def test_a_droop_without_a_control_run_is_not_taken():
    with pytest.raises(TypeError, match="leakage"):
        batteries.droop_current(1000e-6, 30.6e-3, 9.0)


def test_an_averaging_shunt_holds_for_small_bursts():
    assert batteries.burst_dip(REPORT, 4700e-6) == pytest.approx(76e-3, abs=5e-4)
    mean = batteries.averaging_shunt_current(20.31e-3, 1e3, 4700e-6, REPORT, 0.9, 600.0)
    assert mean == pytest.approx(20.31e-6)


def test_an_averaging_shunt_is_refused_for_a_long_scan():
    assert batteries.burst_dip(20.9e-3, 4700e-6) == pytest.approx(4.45, abs=5e-3)
    with pytest.raises(InputError, match="add up the charge of the pulses"):
        batteries.averaging_shunt_current(0.41, 1e3, 4700e-6, 20.9e-3, 0.9, 600.0)


def test_an_averaging_shunt_is_refused_for_a_short_record():
    with pytest.raises(InputError, match="Record longer"):
        batteries.averaging_shunt_current(20e-3, 1e3, 4700e-6, REPORT, 0.9, 20.0)


def test_a_cold_cell_dips_by_a_volt():
    assert batteries.cell_dip(38e-3, 41.0, 4.2e-3, 100e-6) == pytest.approx(
        1.00, abs=5e-3
    )


def test_a_long_pulse_dips_by_the_cell_alone_and_a_short_one_by_the_bulk():
    long = batteries.cell_dip(38e-3, 41.0, 10.0, 100e-6)
    assert long == pytest.approx(38e-3 * 41.0)
    short = batteries.cell_dip(38e-3, 41.0, 1e-6, 100e-6)
    assert short == pytest.approx(batteries.burst_dip(38e-9, 100e-6), rel=1e-3)

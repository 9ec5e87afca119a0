"""Stored energy, bleeding, holding up."""

import numpy as np
import pytest

from benchproof.measuring.circuits import capacitors
from benchproof.values.errors import InputError


def test_a_filter_capacitor_holds_under_a_fifth_of_a_joule():
    assert capacitors.stored_energy(1000e-6, 19.0) == pytest.approx(0.1805)


def test_a_tester_at_fifteen_kilovolts_holds_the_published_energy():
    # IEC 61000-4-2, 150 pF (read, recomputed).
    assert capacitors.stored_energy(150e-12, 15e3) == pytest.approx(16.875e-3)


def test_bleeding_ends_at_the_safe_voltage():
    time = capacitors.bleed_time(1e3, 1000e-6, 19.0, 1.0)
    assert time == pytest.approx(2.94, abs=5e-3)
    assert 19.0 * np.exp(-time / 1.0) == pytest.approx(1.0)


@pytest.mark.parametrize(("start", "safe"), [(0.5, 1.0), (19.0, 0.0)])
def test_bleeding_to_zero_or_upwards_is_refused(start, safe):
    with pytest.raises(InputError, match="bleed_time"):
        capacitors.bleed_time(1e3, 1000e-6, start, safe)


def test_hold_up_is_that_of_charge_and_of_energy():
    by_charge = capacitors.hold_up_at_constant_current(2200e-6, 11.0, 8.8, 1.35)
    by_energy = capacitors.hold_up_at_constant_power(2200e-6, 11.0, 8.8, 15.0)
    assert by_charge == pytest.approx(3.59e-3, abs=5e-6)
    assert by_energy == pytest.approx(3.19e-3, abs=5e-6)


def test_a_small_fall_at_constant_power_is_one_at_constant_current():
    by_energy = capacitors.hold_up_at_constant_power(1e-3, 10.0, 9.999, 10.0)
    by_charge = capacitors.hold_up_at_constant_current(1e-3, 10.0, 9.999, 1.0)
    assert by_energy == pytest.approx(by_charge, rel=1e-4)


def test_a_capacitor_does_not_hold_up_to_more_than_it_has():
    with pytest.raises(InputError, match="give the higher one first"):
        capacitors.hold_up_at_constant_current(1e-3, 8.0, 9.0, 1.0)
    with pytest.raises(InputError, match="end_voltage"):
        capacitors.hold_up_at_constant_power(1e-3, 8.0, -1.0, 1.0)

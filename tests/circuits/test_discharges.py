"""Electrostatic discharges."""

import numpy as np
import pytest

from benchproof.measuring.circuits import discharges
from benchproof.values.errors import InputError


def test_the_contact_levels_are_those_of_the_standard():
    # IEC 61000-4-2:2008, tables 1 to 3 (read, recomputed).
    shots = discharges.contact_discharge(np.array([2e3, 4e3, 6e3, 8e3]))
    assert shots.peak == pytest.approx([7.5, 15, 22.5, 30])
    assert shots.at_30_ns == pytest.approx([4, 8, 12, 16])
    assert shots.at_60_ns == pytest.approx([2, 4, 6, 8])
    assert shots.energy[-1] == pytest.approx(4.8e-3)
    assert shots.rise_time == 0.8e-9
    assert (shots.peak_limit, shots.later_limit) == (0.15, 0.30)


def test_the_networks_are_those_of_the_standards():
    # IEC 61000-4-2:2008, clause 6 (read); ANSI/ESDA/JEDEC JS-001 (read).
    tester = discharges.TESTER_CAPACITANCE_F, discharges.TESTER_RESISTANCE_OHM
    body = discharges.BODY_CAPACITANCE_F, discharges.BODY_RESISTANCE_OHM
    assert tester == (150e-12, 330.0)
    assert body == (100e-12, 1500.0)


# ANSI/ESDA/JEDEC JS-001, short-circuit current (read, recomputed).
@pytest.mark.parametrize(
    ("volts", "ampere"),
    [(250, 0.17), (500, 0.33), (1000, 0.67), (2000, 1.33), (4000, 2.67)],
)
def test_the_body_model_peaks_as_published(volts, ampere):
    assert discharges.body_discharge_peak(volts) == pytest.approx(ampere, abs=5e-3)


@pytest.mark.parametrize("volts", [0.0, -4e3])
def test_a_voltage_is_given_by_its_size(volts):
    with pytest.raises(InputError, match="contact_discharge: voltage"):
        discharges.contact_discharge(volts)
    with pytest.raises(InputError, match="body_discharge_peak: voltage"):
        discharges.body_discharge_peak(volts)

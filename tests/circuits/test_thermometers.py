"""Infrared and platinum."""

import numpy as np
import pytest

from benchproof.measuring.circuits import thermometers
from benchproof.values.errors import InputError


def test_bare_metal_is_far_hotter_than_it_reads():
    true = thermometers.infrared_temperature(333.15, 0.95, 0.30, 296.15)
    assert true - 273.15 == pytest.approx(113, abs=0.5)


def test_the_right_emissivity_needs_no_correction():
    same = thermometers.infrared_temperature(333.15, 0.95, 0.95, 296.15)
    assert same == pytest.approx(333.15)


def test_at_the_temperature_of_the_room_emissivity_does_not_matter():
    true = thermometers.infrared_temperature(296.15, 0.95, 0.2, 296.15)
    assert true == pytest.approx(296.15)


def test_what_radiates_less_than_nothing_is_refused():
    with pytest.raises(InputError, match="no surface does that"):
        thermometers.infrared_temperature(250.0, 0.95, 0.1, 296.15)
    with pytest.raises(InputError, match="surface_emissivity is 95"):
        thermometers.infrared_temperature(333.15, 0.95, 95.0, 296.15)


# IEC 60751 (-100 °C to 200 °C read, the ends from memory; recomputed), Ω.
PLATINUM = [
    *((-200, 18.52, 5e-3), (-100, 60.2558, 1e-3), (-20, 92.1599, 1e-3)),
    *((0, 100.0, 1e-9), (100, 138.5055, 1e-3), (200, 175.856, 1e-3)),
    (850, 390.481, 5e-3),
]


@pytest.mark.parametrize(("celsius", "ohm", "tolerance"), PLATINUM)
def test_platinum_agrees_with_the_published_table(celsius, ohm, tolerance):
    resistance = thermometers.platinum_resistance(celsius + 273.15)
    assert resistance == pytest.approx(ohm, abs=tolerance)


def test_the_temperature_gives_the_resistance_back_over_the_whole_range():
    kelvin = np.linspace(-200, 850, 2101) + 273.15
    ohms = thermometers.platinum_resistance(kelvin, 1000.0)
    again = thermometers.platinum_temperature(ohms, 1000.0)
    assert np.abs(again - kelvin).max() < 1e-9


def test_a_thousand_ohm_sensor_is_not_taken_for_a_hundred():
    with pytest.raises(InputError, match="give R0"):
        thermometers.platinum_temperature(1097.0)
    with pytest.raises(InputError, match="give kelvin"):
        thermometers.platinum_resistance(20.0)

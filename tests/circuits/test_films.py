"""Wet films and leaks."""

import numpy as np
import pytest

from benchproof.measuring.circuits import films
from benchproof.values.errors import InputError


def test_the_critical_leak_sits_the_input_on_its_threshold():
    leak = films.critical_leak(47e3, 3.3, 1.42, 1e3)
    assert leak == pytest.approx(34.5e3, abs=50)
    assert 3.3 * (leak + 1e3) / (leak + 1e3 + 47e3) == pytest.approx(1.42)
    assert films.critical_leak(47e3, 3.3, 0.99, 1e3) == pytest.approx(19.1e3, abs=50)


def test_a_threshold_at_the_supply_has_no_critical_leak():
    with pytest.raises(InputError, match="a threshold below the supply"):
        films.critical_leak(47e3, 3.3, 3.3)


def test_a_film_of_brine_is_a_kilohm_and_a_half():
    film = films.film_resistance(1.2e-3, 4e-3, 50e-6, 3.8)
    assert film == pytest.approx(1.58e3, abs=5)
    assert films.film_thickness(1.2e-3, 4e-3, film, 3.8) == pytest.approx(50e-6)


def test_standard_seawater_has_its_defining_conductivity():
    # PSS-78: 4.2914 S/m at salinity 35, 15 °C, one atmosphere (coefficients
    # read alike in several independent public texts, not in the original).
    assert films.seawater_conductivity(35.0, 288.15) == pytest.approx(4.2914, abs=1e-6)


# Computed once with an independent implementation of the scale, at zero pressure and
# temperatures of the scale of 1968.
@pytest.mark.parametrize(
    ("salinity", "celsius", "conductivity"),
    [
        *((5, 0, 0.4803096127), (5, 34, 1.0624016923), (10, 5, 1.0612441038)),
        *((20, 15, 2.5885102715), (20, 25, 3.2087169043), (35, 0, 2.9036028666)),
        *((35, 25, 5.3064766453), (40, 5, 3.7716255409), (40, 34, 7.0493879402)),
    ],
)
def test_other_seawater_agrees_with_another_implementation(
    salinity, celsius, conductivity
):
    found = films.seawater_conductivity(salinity, celsius + 273.15)
    assert found == pytest.approx(conductivity, rel=1e-8)


def test_seawater_takes_draws_and_grows_with_salt_and_warmth():
    salinity = np.linspace(2, 42, 20_000)
    conductivity = films.seawater_conductivity(salinity, 293.15)
    assert np.all(np.diff(conductivity) > 0)
    warmth = films.seawater_conductivity(35.0, np.linspace(271.15, 308.15, 100))
    assert np.all(np.diff(warmth) > 0)


@pytest.mark.parametrize(
    ("salinity", "kelvin"),
    [(1.99, 288.15), (42.01, 288.15), (35.0, 271.1), (35.0, 308.2), (35.0, 15.0)],
)
def test_what_the_scale_does_not_cover_is_refused(salinity, kelvin):
    with pytest.raises(InputError, match="seawater_conductivity"):
        films.seawater_conductivity(salinity, kelvin)

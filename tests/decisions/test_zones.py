import math

import pytest

from benchproof.reasoning.decisions.guardbands import acceptance_limits
from benchproof.values.units import unit_of

INFINITE = math.inf


# u = 60 mV needs a guard band of 1.645 u = 98.7 mV.
@pytest.mark.parametrize(
    ("lower", "upper", "sentence"),
    [
        (8.8, INFINITE, "met from 8.8987 V; contradicted below 8.7013 V"),
        (-INFINITE, 8.8, "met up to 8.7013 V; contradicted above 8.8987 V"),
        (
            8.0,
            9.0,
            "met from 8.0987 V to 8.9013 V; contradicted below 7.9013 V or above "
            "9.0987 V",
        ),
        (-INFINITE, INFINITE, "met everywhere"),
    ],
)
def test_the_zones_are_said_in_the_unit_of_the_limits(lower, upper, sentence):
    zones = acceptance_limits(lower, upper, 0.06)
    assert zones.sentence(unit_of("V")) == sentence


def test_too_large_a_u_is_said_with_what_remains_possible():
    said = acceptance_limits(4.9e-3, 5.1e-3, 0.06e-3).sentence(unit_of("mV"))
    assert said == (
        "no value would be met: u = 0.060 mV is too large for limits 0.2 mV apart; "
        "contradicted below 4.8013 mV or above 5.1987 mV"
    )


def test_a_u_far_too_large_leaves_only_contradiction_far_away():
    said = acceptance_limits(4.9, 5.1, 3.0).sentence(unit_of("V"))
    assert said == (
        "no value would be met: u = 3.0 V is too large for limits 0.2 V apart; "
        "contradicted below -0.03 V or above 10.03 V"
    )


def test_temperatures_keep_their_scale_and_their_u_is_in_kelvin():
    celsius = unit_of("degC")
    said = acceptance_limits(300.15, 301.15, 1.0).sentence(celsius)
    assert said.startswith("no value would be met: u = 1.0 K is too large")
    met = acceptance_limits(300.15, INFINITE, 1.0).sentence(celsius)
    assert met == "met from 28.64 °C; contradicted below 25.36 °C"


def test_an_exact_value_has_its_limits_as_zones():
    said = acceptance_limits(1.0, 2.0, 0.0).sentence(unit_of("V"))
    assert said == "met from 1 V to 2 V; contradicted below 1 V or above 2 V"


def test_u_and_the_limits_it_is_too_large_for_take_one_prefix():
    zones = acceptance_limits(4e-4, 6e-4, 1.2e-4)
    said = zones.sentence(unit_of("V"))
    assert "u = 120 µV is too large for limits 200 µV apart" in said

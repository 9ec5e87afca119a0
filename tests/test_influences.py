import math

import pytest

from benchproof.measuring.influences import influence_from, temperature_from
from benchproof.values.errors import InputError, UnitError

BAND = {
    "temperature_coefficient": "0.1 × accuracy / K",
    "reference_band": "18 °C to 28 °C",
}


@pytest.mark.parametrize(
    ("text", "u", "relative"),
    [
        ("0.2 ohm", 0.2 / math.sqrt(3), False),
        ("200 mohm", 0.2 / math.sqrt(3), False),
        ("0.2 ohm (triangular)", 0.2 / math.sqrt(6), False),
        ("0.2 ohm (k=2)", 0.1, False),
        ("U = 0.05 ohm, k = 2", 0.025, False),
        ("u = 50 mohm", 0.05, False),
        ("2 %", 0.02 / math.sqrt(3), True),
        ("50 ppm", 50e-6 / math.sqrt(3), True),
        ("U = 0.1 %, k = 2", 0.0005, True),
    ],
)
def test_an_influence_is_read_as_a_maker_or_a_certificate_states_it(text, u, relative):
    found = influence_from("lead resistance", text, "ohm", "meter")
    assert found.statement.standard_uncertainty == pytest.approx(u)
    assert found.relative is relative


def test_a_limit_is_in_the_unit_of_the_function_and_a_fraction_in_none():
    lead = influence_from("lead resistance", "0.2 ohm", "mohm", "meter").statement
    assert lead.standard_uncertainty == pytest.approx(200 / math.sqrt(3))
    part = influence_from("lead resistance", "2 %", "mohm", "meter").statement
    assert part.standard_uncertainty == pytest.approx(0.02 / math.sqrt(3))


def test_an_influence_in_another_unit_is_refused_with_its_place():
    with pytest.raises(UnitError, match="meter, zero drift"):
        influence_from("zero drift", "0.2 V", "ohm", "meter")


@pytest.mark.parametrize("text", ["OL ohm", "1 2 ohm", "U = 0.1 ohm"])
def test_an_influence_that_is_no_limit_is_refused(text):
    with pytest.raises(InputError, match="meter, zero drift"):
        influence_from("zero drift", text, "ohm", "meter")


@pytest.mark.parametrize(
    ("ambient", "outside"),
    [("31 °C", 3), ("23 °C", 0), ("10 °C", 8), ("304.15 K", 3)],
)
def test_only_what_lies_outside_the_reference_band_counts(ambient, outside):
    found = temperature_from({**BAND, "ambient": ambient}, "meter")
    assert found.outside == pytest.approx(outside)
    assert found.per_kelvin == pytest.approx(0.1)
    assert not found.of_reading


@pytest.mark.parametrize(
    ("text", "per_kelvin"), [("0.01 % / K", 1e-4), ("50 ppm per °C", 50e-6)]
)
def test_a_coefficient_can_be_a_fraction_of_the_reading(text, per_kelvin):
    table = {**BAND, "temperature_coefficient": text, "ambient": "23 °C"}
    found = temperature_from(table, "meter")
    assert found.of_reading
    assert found.per_kelvin == pytest.approx(per_kelvin)


def test_an_ambient_that_is_not_stated_is_none():
    assert temperature_from(BAND, "meter").outside is None
    assert temperature_from({}, "meter") is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"temperature_coefficient": "much"}, "'much' is not understood"),
        ({"reference_band": ""}, "needs its reference_band"),
        ({"reference_band": "18 V to 28 V"}, "reference_band"),
        ({"ambient": "OL °C"}, "ambient"),
        ({"ambient": "23 24 °C"}, "write one temperature"),
    ],
)
def test_a_temperature_that_is_not_understood_is_refused(change, words):
    with pytest.raises(InputError, match=words):
        temperature_from({**BAND, **change}, "meter")

"""Units as people type them, and what is said about those that are none."""

import pytest

from benchproof.values.errors import UnitError
from benchproof.values.units import (
    require_same_dimension,
    unit_of,
    unit_with_dimension,
)


@pytest.mark.parametrize(
    ("typed", "symbol", "factor"),
    [
        ("V", "V", 1.0),
        (" mV ", "mV", 1e-3),
        ("ohm", "Ω", 1.0),
        ("Ω", "Ω", 1.0),
        ("\N{OHM SIGN}", "Ω", 1.0),
        ("mΩ", "mΩ", 1e-3),
        ("kohm", "kΩ", 1e3),
        ("Mohm", "MΩ", 1e6),
        ("uA", "µA", 1e-6),
        ("µA", "µA", 1e-6),
        ("μA", "µA", 1e-6),
        ("%", "%", 1e-2),
        ("", "", 1.0),
        ("V/s", "V/s", 1.0),
        ("min", "min", 60.0),
    ],
)
def test_a_unit_is_read_in_every_usual_spelling(typed, symbol, factor):
    unit = unit_of(typed)
    assert unit.symbol == symbol
    assert unit.factor == pytest.approx(factor, rel=1e-12)
    assert unit.offset == 0


def test_degrees_celsius_carry_an_offset_and_their_difference_is_kelvin():
    unit = unit_of("°C")
    assert unit.to_si(20) == pytest.approx(293.15)
    assert unit.from_si(293.15) == pytest.approx(20)
    assert unit.difference() == unit_of("K")
    assert unit_of("mV").difference() == unit_of("mV")


@pytest.mark.parametrize(
    ("typed", "same"),
    [
        ("Ω/°C", "Ω/K"),
        ("ppm/degC", "ppm/K"),
        ("%/°C", "%/K"),
        ("°C/W", "K/W"),
        ("1/°C", "1/K"),
        ("°C·V", "K·V"),
    ],
)
def test_a_degree_in_a_product_is_a_difference(typed, same):
    assert unit_of(typed) == unit_of(same)


def test_a_product_with_degrees_fahrenheit_is_read_back_as_it_is_shown():
    unit = unit_of("V/°F")
    assert unit.symbol == "V/°F"
    assert unit.factor == pytest.approx(1.8)
    assert unit.offset == 0
    assert unit_of(unit.symbol) == unit


def test_a_difference_of_degrees_fahrenheit_alone_keeps_its_sign_of_one():
    unit = unit_of("Δ°F")
    assert (unit.symbol, unit.offset) == ("Δ°F", 0)
    assert unit_of(unit.symbol) == unit


def test_the_order_of_factors_does_not_matter():
    assert unit_of("A*ohm").dimension == unit_of("V").dimension


@pytest.mark.parametrize("typed", ["%²", "%*%", "V**1e-5"])
def test_a_unit_that_could_not_be_read_back_as_it_is_shown_is_refused(typed):
    with pytest.raises(UnitError, match="is not known"):
        unit_of(typed)


def test_converting_there_and_back_changes_nothing():
    for name in ("mV", "kohm", "°C", "%", "uA"):
        unit = unit_of(name)
        assert unit.from_si(unit.to_si(12.34)) == pytest.approx(12.34)


@pytest.mark.parametrize("typed", ["blip", "V/", "5V", "10 V", "V)", "mmV", "nan"])
def test_an_unknown_unit_is_quoted_with_the_usual_spellings(typed):
    with pytest.raises(UnitError) as caught:
        unit_of(typed)
    assert repr(typed) in str(caught.value)
    assert "write it like V, mΩ" in str(caught.value)


@pytest.mark.parametrize(
    ("typed", "said"),
    [("Vdc", "function='DC V'"), ("VAC", "function='AC V'"), ("dBV", "level units")],
)
def test_a_common_mistake_gets_its_own_hint(typed, said):
    with pytest.raises(UnitError, match=said):
        unit_of(typed)


@pytest.mark.parametrize("typed", ["dBm", "dB"])
def test_a_level_unit_is_refused_because_it_does_not_add(typed):
    with pytest.raises(UnitError):
        unit_of(typed)


@pytest.mark.parametrize("typed", ["V!", "V?", "V$", "V # off scale"])
def test_a_sign_that_belongs_to_no_unit_is_refused(typed):
    with pytest.raises(UnitError):
        unit_of(typed)


def test_another_dimension_is_refused_with_the_place_it_was_typed():
    require_same_dimension(unit_of("mV"), unit_of("kV"), "here")
    with pytest.raises(UnitError, match=r"here: 'mA' cannot be converted to 'V'"):
        require_same_dimension(unit_of("mA"), unit_of("V"), "here")
    with pytest.raises(UnitError, match="'a plain number' cannot be converted"):
        require_same_dimension(unit_of(""), unit_of("V"), "here")


def test_electrical_dimensions_are_named_by_their_electrical_unit():
    for name in ("V", "A", "Ω", "W", "F", "C", "J", "Hz"):
        dimension = dict(unit_of(name).dimension)
        assert unit_with_dimension(dimension) == name
    assert unit_with_dimension({}) == "a plain number"


def test_a_unit_with_a_tower_of_powers_is_refused_at_once():
    with pytest.raises(UnitError, match="m\\*\\*9"):
        unit_of("m**9**9**9")

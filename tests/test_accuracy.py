"""Accuracy lines in every form makers print them."""

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof import accuracy_line
from benchproof.measuring.accuracy import in_unit
from benchproof.values.errors import InputError, UnitError

FORMS = [
    # text, of reading, of range, digits, absolute, its unit
    ("±(0.5 % + 3 digits)", 0.005, 0, 3, 0, ""),
    ("+/-(0.5 % + 3 digits)", 0.005, 0, 3, 0, ""),
    ("0.5%+3", 0.005, 0, 3, 0, ""),
    ("±(0.5 % + 3)", 0.005, 0, 3, 0, ""),
    ("1.5 % + 5 counts", 0.015, 0, 5, 0, ""),
    ("0.5 % + 1 digit", 0.005, 0, 1, 0, ""),
    ("0.8 % rdg + 5 dgts", 0.008, 0, 5, 0, ""),
    ("0.8 % rdg. + 5 d", 0.008, 0, 5, 0, ""),
    ("0.1 % + 2 LSD", 0.001, 0, 2, 0, ""),
    ("0.05 % of reading + 0.01 % of range", 0.0005, 0.0001, 0, 0, ""),
    ("0.05 % of the reading + 0.01 % of the range", 0.0005, 0.0001, 0, 0, ""),
    ("0.05 % of value + 0.01 % of full scale", 0.0005, 0.0001, 0, 0, ""),
    ("0.0035 % + 0.0005 % range", 0.000035, 0.000005, 0, 0, ""),
    ("3 % of full scale", 0, 0.03, 0, 0, ""),
    ("3 % f.s.", 0, 0.03, 0, 0, ""),
    ("3 % FS", 0, 0.03, 0, 0, ""),
    ("50 ppm", 50e-6, 0, 0, 0, ""),
    ("20 ppm of reading + 5 ppm of range", 20e-6, 5e-6, 0, 0, ""),
    ("±0.1 Ω", 0, 0, 0, 0.1, "Ω"),
    ("2 % + 20 mA", 0.02, 0, 0, 20, "mA"),
    ("±(1 % + 2 digits + 0.5 mV)", 0.01, 0, 2, 0.5, "mV"),
    (".5 % + 3 digits", 0.005, 0, 3, 0, ""),
    ("0.1 % + 0.1 % + 1 digit", 0.002, 0, 1, 0, ""),
    ("5 digits", 0, 0, 5, 0, ""),
    ("±0.5 °C", 0, 0, 0, 0.5, "°C"),
]


@pytest.mark.parametrize(
    ("text", "of_reading", "of_range", "digits", "absolute", "unit"),
    FORMS,
)
def test_an_accuracy_line_is_read(text, of_reading, of_range, digits, absolute, unit):
    line = accuracy_line(text)
    assert line.of_reading == pytest.approx(of_reading)
    assert line.of_range == pytest.approx(of_range)
    assert (line.digits, line.absolute) == (digits, absolute)
    assert (line.absolute_unit, line.text) == (unit, text)


@pytest.mark.parametrize(
    ("text", "understood", "rest"),
    [
        ("good", "", "not 'good'"),
        ("", "", "not ''"),
        ("±", "", "not ''"),
        ("0.5", "", "not '0.5'"),
        ("0.5 % + a lot", "understood 0.5 %, but not", "'+ a lot'"),
        ("0.5 % + 3 digits + 2 blips", "understood 0.5 % + 3 digits, but not", "blips"),
        ("0.5 % - 3 digits", "", "not"),
        ("-0.5 %", "", "not '-0.5 %'"),
        ("0,5 % + 3", "", "not '0,5 % + 3'"),
    ],
)
def test_nonsense_says_what_was_understood_and_what_was_not(text, understood, rest):
    with pytest.raises(InputError) as caught:
        accuracy_line(text, "instruments.toml, m")
    said = str(caught.value)
    assert said.startswith(f"instruments.toml, m: accuracy {text!r}: ")
    assert understood in said
    assert rest in said
    assert "Write it like '±(0.5 % + 3 digits)'" in said


def test_two_units_in_one_line_are_refused():
    with pytest.raises(InputError, match="mixes mV and V; write both in one unit"):
        accuracy_line("1 mV + 1 V")


@given(st.text(max_size=25))
def test_any_text_is_read_or_refused_with_an_input_error(text):
    with suppress(InputError):
        assert accuracy_line(text).half_width(1.0, 1.0, 1.0) >= 0


def test_the_half_width_adds_all_parts():
    line = accuracy_line("±(1 % + 0.1 % of range + 2 digits + 5 mV)")
    # In mV: 1 % of 300, 0.1 % of 600, two digits of 0.1, and 5.
    assert line.half_width(300.0, 600.0, 0.1) == pytest.approx(3 + 0.6 + 0.2 + 5)


def test_a_negative_reading_has_the_half_width_of_its_size():
    line = accuracy_line("±(0.5 % + 3 digits)")
    assert line.half_width(-5.0, 6.0, 0.001) == line.half_width(5.0, 6.0, 0.001)


def test_the_standard_uncertainty_is_that_of_a_rectangle():
    line = accuracy_line("±0.1 V")
    assert line.standard_uncertainty(7.0) == pytest.approx(0.1 / math.sqrt(3))


def test_only_a_line_with_a_fixed_part_covers_the_last_digit():
    assert not accuracy_line("0.5 %").covers_resolution()
    for text in ("0.5 % + 1 digit", "1 % of range", "0.5 % + 1 mV"):
        assert accuracy_line(text).covers_resolution()


def test_an_absolute_part_is_converted_to_the_unit_of_the_function():
    line = in_unit(accuracy_line("2 % + 20 mA"), "A", "here")
    assert (line.absolute, line.absolute_unit) == (pytest.approx(0.02), "A")
    assert line.of_reading == 0.02
    assert in_unit(accuracy_line("0.02 A"), "mA", "here").absolute == pytest.approx(20)


@pytest.mark.parametrize("text", ["±(0.5 % + 3 digits", "±0.5 % + 3 digits)"])
def test_a_bracket_that_is_not_closed_is_refused(text):
    with pytest.raises(InputError, match="understood 0.5 %, but not|not '"):
        accuracy_line(text)


def test_an_absolute_part_in_celsius_is_a_difference():
    assert in_unit(accuracy_line("±0.5 °C"), "K", "here").absolute == 0.5
    assert in_unit(accuracy_line("±0.5 K"), "°C", "here").absolute == 0.5


def test_an_absolute_part_of_another_dimension_is_refused():
    with pytest.raises(UnitError, match="here: 'mA' cannot be converted to 'V'"):
        in_unit(accuracy_line("2 % + 20 mA"), "V", "here")

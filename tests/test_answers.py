"""What a meter answers, as a reading."""

import math

import pytest

from benchproof.measuring.answers import (
    answered_range,
    answered_value,
    written_value,
)
from benchproof.measuring.instruments import instrument_from
from benchproof.values.errors import ConnectionFailedError
from benchproof.values.quantities import read_values

METER = {
    "DC V": {
        "unit": "V",
        "accuracy": "±(0.5 % + 3 digits)",
        "ranges": ["600.0 mV", "6.000 V", "60.00 V"],
    }
}


def dc_volts():
    return instrument_from("meter", METER, "instruments.toml").functions[0]


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        ("+1.20998734E+01", 12.0998734),
        ("12.10", 12.10),
        (" -0.5 ", -0.5),
        ("12.1 V", 12.1),
        ("12100 mV", 12.1),
        ("1.21E+01V", 12.1),
    ],
)
def test_a_number_is_read_in_the_unit_of_the_function(answer, value):
    assert answered_value(answer, "V", "meter") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "answer",
    ["9.9E37", "+9.90000000E+37", "9.8999999E+37", "1E38", "OL", "+INF", "9.9E37 V"],
)
def test_an_over_range_is_no_number(answer):
    assert answered_value(answer, "V", "meter") == math.inf


def test_an_over_range_below_zero_is_told_apart():
    assert answered_value("-9.9E37", "V", "meter") == -math.inf


@pytest.mark.parametrize("answer", ["9.91E37", "+9.91000000E+37", "-9.91E37"])
def test_what_stands_for_not_a_number_is_neither_a_reading_nor_an_over_range(answer):
    """9.91E37 is "not a number": read in several makers' programming manuals."""
    with pytest.raises(ConnectionFailedError, match="Look at its display"):
        answered_value(answer, "V", "meter")


@pytest.mark.parametrize(
    "answer",
    ["12,098", "1.0,2.0", "volt", "", "12.1.3", "--5", "1 2", "nan", "0x10", "1_0"],
)
def test_garbage_is_refused_and_quoted(answer):
    with pytest.raises(ConnectionFailedError, match=r"not one number|not known"):
        answered_value(answer, "V", "meter")


def test_an_answer_in_another_dimension_is_refused():
    with pytest.raises(
        ConnectionFailedError, match="0.012 A', the function measures V"
    ):
        answered_value("0.012 A", "V", "meter")


def test_an_answer_in_an_unknown_unit_is_refused_with_the_spelling():
    with pytest.raises(ConnectionFailedError, match="write V"):
        answered_value("12.1 VDC", "V", "meter")


@pytest.mark.parametrize(
    ("answer", "label"),
    [("0.6", "600 mV"), ("6", "6 V"), ("+5.0E+00", "6 V"), ("50 V", "60 V")],
)
def test_the_range_an_instrument_names_is_found_among_the_declared(answer, label):
    assert answered_range(dc_volts(), answer, "meter").label == label


@pytest.mark.parametrize("answer", ["10", "600", "0.1", "9.9E37", "0"])
def test_a_range_that_is_not_declared_is_refused_with_those_that_are(answer):
    with pytest.raises(ConnectionFailedError, match="declares 600 mV, 6 V, 60 V"):
        answered_range(dc_volts(), answer, "meter")


@pytest.mark.parametrize(
    ("value", "digit", "text"),
    [
        (12.0998734, 0.01, "12.10"),
        (12.0, 0.01, "12.00"),
        (-0.31249, 0.0001, "-0.3125"),
        (1.2e-7, 1e-9, "0.000000120"),
        (598.6, 1.0, "599"),
        (12_344_000.0, 1e4, "1.234E+7"),
    ],
)
def test_a_number_is_written_with_the_digits_of_its_range(value, digit, text):
    assert written_value(value, digit) == text


@pytest.mark.parametrize("digit", [1e-9, 1e-4, 0.01, 1.0, 10.0, 1e4])
@pytest.mark.parametrize("value", [0.0, 1234567.0, -250000.0])
def test_what_is_written_is_read_back_with_that_digit(value, digit):
    (back,) = read_values(f"{written_value(value, digit)} V")
    assert back.step == pytest.approx(digit)
    assert back.value == pytest.approx(value, abs=digit / 2)

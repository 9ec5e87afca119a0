"""Texts a person types: units, accuracy lines, statements, readings, influences."""

import math

import pytest
from fuzzing import in_time, many, texts, tried
from hypothesis import given
from hypothesis import strategies as st

from benchproof.measuring.accuracy import accuracy_line, in_unit
from benchproof.measuring.influences import influence_from, temperature_from
from benchproof.values.quantities import declared_unit, read_values
from benchproof.values.statements import statement_from
from benchproof.values.units import unit_of

UNITS = ["V", "mΩ", "uA", "kohm", "°C", "V/s", "Ω/°C", "ppm/°C", "W/(m*K)", "%", "m**2"]
UNIT_WORDS = [*UNITS, "dB", "dBm", "degF", "delta_degC", "**", "^", "per", "square",
              "-1", "hertz", "count", "e", "pi", "c", "kkm", "foot", "!", "lambda",
              "__import__", "NaN", "ppm"]  # fmt: skip
ACCURACIES = ["±(0.5 % + 3 digits)", "0.05 % of reading + 0.01 % of range",
              "1.5 % + 5 counts", "±0.1 Ω", "3 % of full scale", "50 ppm", "0.5 % + 3",
              "±(2 % + 20 mA)"]  # fmt: skip
ACCURACY_WORDS = ["±", "%", "ppm", "of reading", "of range", "rdg", "f.s.", "digits",
                  "counts", "d", "lsd", "+", "+/-", "(", ")", *UNITS]  # fmt: skip
STATEMENTS = [
    "k=2",
    "95 %",
    "k=2.1, 18 dof",
    "limits",
    "triangular",
    "arcsine",
    "trapezoidal 0.5",
    "curvilinear 0.1",
    "99 % confidence",
    "normal",
]
STATEMENT_WORDS = [
    *STATEMENTS,
    "k",
    "=",
    "%",
    "dof",
    "degrees of freedom",
    "rectangular",
]
READINGS = ["12.10 12.10 12.09 V", "5.00(5) V", "5.00 ± 0.05 V (k=2)", "OL MΩ",
            ">60 MΩ", "<0.5 mV", "17 of 20", "? V", "10.00 ohm, U = 0.05 ohm, k = 2",
            "0 ± 0.02 V (limits)", "1.5(0.2) mV (95 %, 9 dof)"]  # fmt: skip
READING_WORDS = [*UNITS, *STATEMENTS, "±", "+/-", "of", "OL", "0L", "?", "<", ">",
                 "U =", "u =", "(", ")", "(k=2)"]  # fmt: skip
INFLUENCES = ["0.2 ohm", "2 %", "0.1 ohm (triangular)", "U = 0.05 ohm, k = 2", "? ohm",
              "0.2 ohm (95 %)", "u = 3 ppm"]  # fmt: skip
CLIMATES = {
    "temperature_coefficient": ["0.1 × accuracy / K", "0.01 % / K", "50 ppm / °C"],
    "reference_band": ["18 °C to 28 °C", "291 K to 301 K"],
    "ambient": ["31 °C", "300 K"],
}


@many
@given(texts(UNITS, UNIT_WORDS))
def test_a_unit_is_read_or_refused(text):
    unit = tried(unit_of, text)
    if unit:
        assert math.isfinite(unit.factor)
        assert unit.factor > 0
        assert math.isfinite(unit.offset)
        again = unit_of(unit.symbol)
        assert again.dimension == unit.dimension
        assert again.factor == pytest.approx(unit.factor)


@many
@given(texts(ACCURACIES, ACCURACY_WORDS), st.sampled_from(["V", "ohm", "°C", ""]))
def test_an_accuracy_line_is_read_or_refused(text, unit):
    line = tried(accuracy_line, text)
    line = line and tried(in_unit, line, unit, "meter")
    if line:
        assert 0 <= line.half_width(1.0, 2.0, 0.001) < math.inf


@many
@given(
    texts(STATEMENTS, STATEMENT_WORDS),
    st.one_of(st.floats(0, 1000), st.floats(allow_subnormal=True)),
)
def test_a_statement_is_read_or_refused(words, number):
    found = tried(statement_from, number, words, "certificate")
    if found:
        assert 0 <= found.standard_uncertainty < math.inf
        assert found.source("stated", unit_of("mV")).standard_uncertainty >= 0


@many
@given(texts(READINGS, READING_WORDS))
def test_readings_are_read_or_refused(text):
    for value in tried(read_values, text) or []:
        assert math.isfinite(value.value) or value.bound == "OL"
        u = value.standard_uncertainty
        assert u is None or 0 <= u < math.inf
        # What is written to the log must be read back as the same reading.
        with in_time():
            (again,) = read_values(f"{value.text} {value.unit}")
        assert again.value == value.value or value.bound == "OL"
        assert again.standard_uncertainty == pytest.approx(u)
        assert (again.bound, again.of, again.unit) == (
            value.bound, value.of, value.unit,
        )  # fmt: skip
    tried(declared_unit, text)


@many
@given(texts(INFLUENCES, READING_WORDS), st.sampled_from(["V", "ohm", "°C", "s", ""]))
def test_an_influence_is_read_or_refused(text, unit):
    found = tried(influence_from, "zero drift", text, unit, "meter")
    if found:
        assert 0 <= found.statement.standard_uncertainty < math.inf


@many
@given(
    st.fixed_dictionaries(
        {},
        optional={
            key: texts(sound, ["°C", "K", "to", "×", "accuracy", "%", "ppm", "/"])
            for key, sound in CLIMATES.items()
        },
    )
)
def test_a_temperature_coefficient_is_read_or_refused(table):
    found = tried(temperature_from, table, "meter")
    if found:
        assert 0 <= found.per_kelvin < math.inf
        assert found.outside is None or 0 <= found.outside < math.inf

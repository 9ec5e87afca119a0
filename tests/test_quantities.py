"""Numbers as people type them, and results as they are shown."""

import math
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.values.errors import InputError, UnitError
from benchproof.values.quantities import (
    declared_unit,
    engineering,
    last_digit,
    read_values,
    rounded,
    shorthand,
    two_figures,
)


def one(text):
    (value,) = read_values(text)
    return value


def test_several_readings_share_the_unit_at_the_end():
    read = read_values("12.10 12.10 -12.09 V")
    assert [v.value for v in read] == [12.10, 12.10, -12.09]
    assert [v.text for v in read] == ["12.10", "12.10", "-12.09"]
    assert {v.unit for v in read} == {"V"}


@pytest.mark.parametrize("text", ["5 V; 4 V", "5 V, 4 V", "5, 4 V", "5; 4 V", "5 4V"])
def test_readings_may_be_separated_in_several_ways(text):
    assert [(v.value, v.unit) for v in read_values(text)] == [(5, "V"), (4, "V")]


def test_each_part_may_keep_its_own_unit():
    assert [v.unit for v in read_values("5.00 V; 600 mV")] == ["V", "mV"]


def test_trailing_zeros_say_how_fine_the_display_was():
    assert (one("12.10 V").text, one("12.10 V").step) == ("12.10", 0.01)
    assert last_digit("1.50e3") == 10.0


@pytest.mark.parametrize(
    ("text", "u", "shape"),
    [
        ("5.00(5) V", 0.05, "normal"),
        ("5.00(12) V", 0.12, "normal"),
        ("50000(23) nm", 23, "normal"),
        ("215.0(5.8) nm", 5.8, "normal"),
        ("5.00 ± 0.05 V", 0.05, "normal"),
        ("5.00 +/- 0.05 V", 0.05, "normal"),
        ("5.00 ± 0.05 V (k=2)", 0.025, "normal"),
        ("5.00 ± 0.05 V (k = 2)", 0.025, "normal"),
        ("5.00 ± 0.06 V (limits)", 0.06 / math.sqrt(3), "rectangular"),
        ("-5.00(5) V", 0.05, "normal"),
        ("5.00 V, U = 0.05 V, k = 2", 0.025, "normal"),
        ("5.00 V, U = 50 mV, k = 2", 0.025, "normal"),
        ("5.00 V; U=1 %, k=2", 0.025, "normal"),
        ("5.00 V, u = 0.05 V", 0.05, "normal"),
        ("5.00 V, U = 0.05 V, k = 2.1, 18 dof", 0.05 / 2.1, "t"),
        ("5.00 ± 0.06 V (triangular)", 0.06 / math.sqrt(6), "triangular"),
        ("5.00 ± 0.06 V (trapezoidal 0.5)", 0.06 * math.sqrt(1.25 / 6), "trapezoidal"),
        ("5.00 ± 0.06 V (arcsine)", 0.06 / math.sqrt(2), "arcsine"),
        ("\N{MINUS SIGN}5.00(5) V", 0.05, "normal"),
        ("5.00\N{NO-BREAK SPACE}±\N{NO-BREAK SPACE}0.05 V", 0.05, "normal"),
    ],
)
def test_an_uncertainty_is_read_in_every_form(text, u, shape):
    value = one(text)
    assert abs(value.value) in (5.0, 50000.0, 215.0)
    assert value.standard_uncertainty == pytest.approx(u)
    assert value.stated.distribution == shape


def as_kept(value):
    """Write a reading as the log keeps it: its text, and its unit after it."""
    return f"{value.text} {value.unit}".strip()


@pytest.mark.parametrize(
    "text",
    ["5.00(5) V", "5.00 ± 0.05 V", "<5 V", ">60 Mohm", "OL V", "17 of 20", "+5e3 V"],
)
def test_what_is_kept_of_a_reading_is_read_back_the_same(text):
    again = one(as_kept(one(text)))
    assert replace(again, value=0.0) == replace(one(text), value=0.0)
    assert again.value == pytest.approx(one(text).value, nan_ok=True)


@pytest.mark.parametrize("text", ["5.00 ± 0.05 V (k=2)", "5.00 ± 0.06 V (limits)"])
def test_a_bracket_behind_the_unit_is_read_back_the_same(text):
    assert one(as_kept(one(text))) == one(text)


@pytest.mark.parametrize(
    ("text", "bound", "value"),
    [(">60 Mohm", ">", 60.0), ("<0.5 mV", "<", 0.5), ("> 60 Mohm", ">", 60.0)],
)
def test_a_censored_reading_keeps_its_bound(text, bound, value):
    assert (one(text).bound, one(text).value) == (bound, value)


def test_an_overload_has_no_number():
    assert one("OL Mohm").bound == "OL"
    assert math.isnan(one("OL Mohm").value)


def test_an_overload_may_be_typed_with_a_zero():
    assert one("0L Mohm") == one("OL Mohm")


@pytest.mark.parametrize("text", ["17 of 20", "17/20"])
def test_a_count_keeps_its_attempts(text):
    assert (one(text).value, one(text).of, one(text).unit) == (17, 20, "")


def test_a_question_mark_declares_a_unit_and_no_reading():
    assert read_values("? V") == []
    assert read_values("?") == []
    assert declared_unit("? V") == "V"
    assert declared_unit("?") == ""
    assert declared_unit("5.00 5.01 mV") == "mV"


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("12.10", UnitError, "has no unit. Write e.g. '12.10 V'"),
        ("12.10 mV, 12.09", UnitError, "has no unit"),
        ("12.10 blip", UnitError, "is not known"),
        ("12.10 Vdc", UnitError, "function='DC V'"),
        ("12,10 V", InputError, "Write a decimal point"),
        ("1,234.5 V", InputError, "comma inside a number"),
        ("", InputError, "cannot read ''"),
        ("V", InputError, "cannot read 'V'"),
        ("twelve V", InputError, "cannot read"),
        ("12.1.0 V", InputError, "cannot read"),
        ("nan V", InputError, "cannot read"),
        ("inf V", InputError, "cannot read"),
        ("1e999 V", InputError, "too large"),
        ("21 of 20", InputError, "is not a count"),
        ("0 of 0", InputError, "is not a count"),
        ("5 ± 1 V (k=0)", InputError, "must be above 0"),
        ("5 V 6 V", UnitError, "is not known"),
    ],
)
def test_what_cannot_be_read_is_quoted_with_the_way_to_write_it(text, kind, said):
    with pytest.raises(kind) as caught:
        read_values(text)
    assert said in str(caught.value)


def test_the_place_of_a_mistake_is_named():
    with pytest.raises(InputError, match="^V_idle: cannot read"):
        read_values("abc", "V_idle")


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_with_an_input_error(text):
    values = []
    with suppress(InputError):
        values = read_values(text)
    assert all(v.text for v in values)


@given(st.from_regex(r"[+-]?\d{1,3}(\.\d{1,3})?(\(\d\)| ± 0\.\d)? ?(V|mA|kohm|°C|%)",
                     fullmatch=True))  # fmt: skip
def test_any_reading_is_read_back_from_the_log_the_same(text):
    assert one(as_kept(one(text))) == one(text)


@given(st.integers(-99999, 99999), st.integers(0, 4))
def test_a_number_as_displayed_is_read_exactly(digits, decimals):
    text = f"{digits / 10**decimals:.{decimals}f}"
    value = one(f"{text} V")
    assert value.value == float(text)
    assert value.text == text
    assert value.step == pytest.approx(10.0**-decimals)


@pytest.mark.parametrize(
    ("value", "u", "expected"),
    [
        (3.113333, 0.01054, ("3.113", "0.011")),
        (12346.0, 230.0, ("12350", "230")),
        (1.0, 0.0996, ("1.00", "0.10")),
        (1.0, 0.996, ("1.0", "1.0")),
        (5.0, 9.96, ("5", "10")),
        (-0.0004, 0.0123, ("-0.000", "0.012")),
        (5.0, 0.0, ("5", "0")),
        (5.0, math.inf, ("5", "inf")),
    ],
)
def test_a_value_is_rounded_to_two_figures_of_its_uncertainty(value, u, expected):
    assert rounded(value, u) == expected


@given(st.floats(1e-9, 1e9), st.floats(-1e9, 1e9))
def test_a_rounded_uncertainty_is_within_half_of_its_second_figure(u, value):
    shown = float(rounded(value, u)[1])
    assert abs(shown - u) <= 0.0501 * u


@pytest.mark.parametrize(
    ("value", "u", "symbol", "shown"),
    [
        (0.26792, 0.0121, "Ω", "0.268(12) Ω"),
        (12346.0, 230.0, "Ω", "12350(230) Ω"),
        (8.8194, 0.06, "V", "8.819(60) V"),
        (12.5, 1.25, "V", "12.5(1.2) V"),
        (0.000012, 0.0000001, "A", "12.00(10) µA"),
        (1e-17, 0.35, "V", "0.00(35) V"),
        (5.0, 0.0, "V", "5 V"),
        (0.5, 0.01, "", "0.500(10)"),
    ],
)
def test_a_result_is_written_in_shorthand(value, u, symbol, shown):
    assert shorthand(value, u, symbol) == shown


def test_a_prefix_is_changed_only_where_digits_would_be_many():
    assert engineering(0.5, "V") == (1.0, "V")
    assert engineering(99999.0, "V") == (1.0, "V")
    assert engineering(1.2e6, "Ω") == (1e-6, "MΩ")
    assert engineering(0.0, "V") == (1.0, "V")
    assert engineering(1e-7, "mV") == (1.0, "mV")
    assert engineering(1e5, "V") == (1e-3, "kV")
    assert engineering(1e-3, "V") == (1.0, "V")
    assert engineering(5e12, "Hz") == (1e-9, "GHz")
    assert engineering(2e-14, "F") == (1e12, "pF")
    assert two_figures(0.0) == "0"

"""Axes of plotted records are in units that fit them."""

import numpy as np
import pytest

from benchproof.showing.captures.axes import (
    duration_text,
    explanation,
    sheet,
    stated,
    time_scale,
    value_scale,
)
from benchproof.showing.figures.drawing import svg_of
from benchproof.values.units import unit_of


@pytest.mark.parametrize(
    ("span", "symbol", "factor"),
    [(20, "s", 1), (1, "s", 1), (0.02, "ms", 1e3), (1e-3, "ms", 1e3),
     (5e-6, "µs", 1e6), (3e-9, "ns", 1e9), (2e-13, "ps", 1e12)],
)  # fmt: skip
def test_the_unit_of_time_follows_the_length_of_the_window(span, symbol, factor):
    scale = time_scale(-span / 2, span / 2)
    assert (scale.symbol, scale.factor, scale.zero) == (symbol, factor, 0.0)


def test_a_short_window_far_from_zero_counts_from_its_beginning():
    scale = time_scale(1000.0, 1000.00002)
    assert scale.zero == 1000.0
    assert scale.text(1000.00001) == "10.000 µs"


def test_values_keep_the_unit_of_the_record_and_its_offset():
    assert value_scale(unit_of("mV"), 0.0, 0.2).text(0.15) == "150.0 mV"
    assert value_scale(unit_of("°C"), 273.15, 323.15).text(293.15) == "20.00 °C"


def test_a_number_near_zero_has_no_minus_sign():
    assert time_scale(-1.0, 1.0).text(-1e-9) == "0.0000 s"


def test_neighbouring_numbers_of_an_axis_are_written_differently():
    for span in (3e-9, 0.02, 7.0):
        scale = time_scale(0.0, span)
        texts = {scale.text(x) for x in np.linspace(0, span, 1001)}
        assert len(texts) == 1001


def test_a_duration_is_written_with_u_in_its_own_unit():
    assert duration_text(17.6e-9, 4.1e-9) == "17.6 ± 4.1 ns"
    assert duration_text(2.0, 0.0) == "2 s (u not known)"


def test_a_value_of_unknown_u_is_not_said_to_be_exact():
    assert "± 0" not in stated(8.4, 0.0, "V")
    assert stated(8.4, float("nan"), "V").endswith("(u not known)")


def test_dollars_and_underscores_of_file_names_are_letters():
    from benchproof.showing.captures.axes import explain_rows

    figure, axes = sheet("$a_{$", ["$b_{$ below"], heights=(2.0, 1.0))
    assert len(axes) == 2
    explain_rows(figure, [explanation("_hidden.csv")], "$a_{$", 1)
    svg = svg_of(figure)
    for said in ("$a_{$", "$b_{$ below", "_hidden.csv"):
        assert said in svg

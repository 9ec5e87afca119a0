import math

import pytest

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.wording import (
    fitting_unit,
    told,
    told_difference,
)
from benchproof.values.sources import Source
from benchproof.values.units import unit_of


@pytest.mark.parametrize(
    ("si", "unit", "said"),
    [
        (1e8, "Hz", "100 MHz"),
        (1e-5, "s", "10 µs"),
        (0.02, "s", "20 ms"),
        (60.0, "s", "60 s"),
        (0.03, "V", "30 mV"),
        (-8.8, "V", "-8.8 V"),
        (2.5, "mV", "2.5 V"),
        (0.0, "A", "0 A"),
        (1e-15, "A", "0.001 pA"),
        (5e12, "Hz", "5000 GHz"),
        (0.25, "%", "25 %"),
        (3.0, "", "3"),
        (300.15, "degC", "27 °C"),
    ],
)
def test_a_number_takes_the_prefix_that_fits(si, unit, said):
    assert told(si, unit) == said


def test_rounding_does_not_leave_a_thousand_of_a_prefix():
    assert told(0.9999999, "V") == "1 V"
    assert told(999.96e-6, "s", 3) == "1 ms"


def test_a_value_that_is_none_is_said_as_such():
    assert told(math.nan, "V") == "nan V"


def test_a_width_in_degrees_is_in_kelvin():
    assert told_difference(0.5, unit_of("degC")) == "0.5 K"


def said(value, u, unit):
    source = Source("noise", "B", "normal", u, unit_of(unit))
    return str(Finding("x", unit_of(unit), value, ((source, 1.0),)))


def test_times_of_a_finding_take_a_prefix_and_units_that_were_chosen_stay():
    assert said(1.25e-4, 2e-6, "s") == "x = 125.0(2.0) µs"
    assert said(25e3, 10.0, "Hz") == "x = 25.000(10) kHz"
    assert said(0.268, 0.012, "V") == "x = 0.268(12) V"
    assert said(8.8, 0.04, "mV") == "x = 8800(40) mV"


def test_a_time_lost_in_its_uncertainty_takes_the_prefix_of_that():
    assert said(1e-15, 3e-6, "s") == "x = 0.0(3.0) µs"


def test_what_cannot_be_told_keeps_its_unit():
    assert (
        Finding("x", unit_of("s"), math.nan, cannot_tell="y").shown_unit.symbol == "s"
    )
    assert fitting_unit(0.0, unit_of("s")).symbol == "s"

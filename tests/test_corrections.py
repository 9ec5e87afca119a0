"""What the meter does to the circuit, undone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof import unloaded_voltage
from benchproof.values.errors import InputError


@given(st.floats(-1e3, 1e3), st.floats(0, 1e7), st.floats(1e3, 1e9))
def test_loading_the_corrected_voltage_gives_the_reading_back(reading, source, meter):
    voltage = unloaded_voltage(reading, source, meter)
    assert voltage * meter / (meter + source) == pytest.approx(reading, abs=1e-9)


def test_a_stiff_source_needs_no_correction():
    assert unloaded_voltage(5.0, 0.0, 10e6) == 5.0


def test_a_source_as_large_as_the_meter_doubles_the_reading():
    assert unloaded_voltage(2.5, 10e6, 10e6) == pytest.approx(5.0)


@pytest.mark.parametrize(("source", "meter"), [(-1.0, 10e6), (1e3, 0.0), (1e3, -1.0)])
def test_resistances_that_cannot_be_are_refused(source, meter):
    with pytest.raises(InputError, match="source >= 0 and an input resistance > 0"):
        unloaded_voltage(5.0, source, meter)


def test_a_resistance_that_is_no_number_is_refused():
    with pytest.raises(InputError):
        unloaded_voltage(5.0, float("nan"), 10e6)

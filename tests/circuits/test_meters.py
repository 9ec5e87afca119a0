"""What a handheld meter does to the circuit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.measuring.circuits import meters
from benchproof.values.errors import InputError


@given(st.floats(-1e3, 1e3), st.floats(0, 1e7), st.floats(1e3, 1e9))
def test_loading_the_corrected_voltage_gives_the_reading_back(reading, source, meter):
    voltage = meters.unloaded_voltage(reading, source, meter)
    again = meters.loaded_reading(voltage, source, meter)
    assert again == pytest.approx(reading, abs=1e-9)


def test_loading_agrees_with_the_published_high_resistance_divider():
    # Lessons In Electric Circuits I, chapter 8, voltmeter impact (read, recomputed):
    # 24 V over two of 250 MΩ, a 10 MΩ meter across the second.
    source = 250e6 * 250e6 / 500e6
    assert meters.loaded_reading(12.0, source, 10e6) == pytest.approx(0.8889, abs=5e-5)
    assert meters.unloaded_voltage(0.8888889, source, 10e6) == pytest.approx(12.0)


@pytest.mark.parametrize(("source", "meter"), [(-1.0, 10e6), (1e3, 0.0), (1e3, -1.0)])
def test_resistances_that_cannot_be_are_refused(source, meter):
    with pytest.raises(InputError, match="source >= 0 and an input resistance > 0"):
        meters.unloaded_voltage(5.0, source, meter)
    with pytest.raises(InputError, match="loaded_reading"):
        meters.loaded_reading(5.0, source, meter)


def test_a_microampere_range_takes_more_than_a_coin_cell_has():
    assert meters.burden_voltage(38e-3, 100.0) == pytest.approx(3.8)
    with pytest.raises(InputError, match="takes the whole supply"):
        meters.burden_voltage(38e-3, 100.0, 3.0)


def test_the_milliampere_range_takes_little():
    assert meters.burden_voltage(38e-3, 1.8, 3.0) == pytest.approx(68.4e-3)


@given(st.floats(1e-6, 10), st.floats(0, 1e3), st.floats(1, 1e6))
def test_the_unburdened_current_is_that_of_the_loop_without_the_meter(
    current, burden, source
):
    voltage = current * (source + burden)
    free = meters.unburdened_current(current, burden, source)
    assert free == pytest.approx(voltage / source)


def test_the_burden_correction_needs_a_source_with_resistance():
    with pytest.raises(InputError, match="source_resistance is 0"):
        meters.unburdened_current(1e-3, 100.0, 0.0)


def test_drops_that_add_up_leave_nothing():
    assert meters.loop_residual(12.0, 7.5, 4.5) == 0.0
    draws = np.array([12.0, 12.2])
    assert meters.loop_residual(draws, 7.5, 4.5) == pytest.approx([0.0, 0.2])

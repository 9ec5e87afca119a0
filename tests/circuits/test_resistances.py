"""Resistances as read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.measuring.circuits import resistances
from benchproof.values.errors import InputError


def test_leads_are_taken_off_and_a_negative_rest_is_shown():
    assert resistances.nulled_resistance(150.7, 0.3) == pytest.approx(150.4)
    assert resistances.nulled_resistance(0.2, 0.25) == pytest.approx(-0.05)
    with pytest.raises(InputError, match="lead_resistance"):
        resistances.nulled_resistance(150.7, -0.1)


def test_four_wires_take_either_polarity_but_need_a_current():
    assert resistances.four_wire_resistance(-6e-4, -0.1) == pytest.approx(6e-3)
    with pytest.raises(InputError, match="let a current flow"):
        resistances.four_wire_resistance(6e-4, 0.0)


def test_parallel_agrees_with_the_published_divider():
    # Lessons In Electric Circuits I, chapter 8 (read, recomputed): 9.615 MΩ.
    both = resistances.parallel_resistance(250e6, 10e6)
    assert both == pytest.approx(9.615e6, abs=500)


def test_parallel_of_one_is_itself_and_of_none_is_refused():
    assert resistances.parallel_resistance(47.0) == pytest.approx(47.0)
    with pytest.raises(InputError, match="name one or more"):
        resistances.parallel_resistance()
    with pytest.raises(InputError, match="resistance 2 is 0"):
        resistances.parallel_resistance(47.0, 0.0)


@given(st.floats(1.0, 1e7), st.floats(1e5, 1e7))
def test_taking_the_body_off_undoes_putting_it_in_parallel(part, body):
    reading = resistances.parallel_resistance(part, body)
    assert resistances.resistance_without_body(reading, body) == pytest.approx(
        part, rel=1e-6
    )


@pytest.mark.parametrize("reading", [2.4e6, 3e6, 0.0])
def test_a_reading_not_below_the_body_is_to_be_retaken(reading):
    with pytest.raises(InputError, match=r"resistance_without_body: reading"):
        resistances.resistance_without_body(reading, 2.4e6)


def test_over_range_bounds_resistance_from_below_and_leakage_from_above():
    bound = resistances.over_range_bound(60e6, 0.02)
    assert bound == pytest.approx(58.8e6)
    assert resistances.leakage_bound(3.0, 60e6) == pytest.approx(50e-9)
    assert resistances.leakage_bound(3.0, bound) > 50e-9
    with pytest.raises(InputError, match="0.02 for 2 %"):
        resistances.over_range_bound(60e6, 2.0)


@given(st.floats(-1, 1), st.floats(-1e-3, 1e-3))
def test_reversing_the_current_parts_a_voltage_from_a_thermal_one(drop, thermal):
    forward, back = drop + thermal, -drop + thermal
    assert resistances.without_thermal_emf(forward, back) == pytest.approx(drop)
    assert resistances.thermal_emf(forward, back) == pytest.approx(thermal, abs=1e-15)

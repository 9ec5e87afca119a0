"""Preferred values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.measuring.circuits.preferred import nearest_preferred, preferred_values
from benchproof.values.errors import InputError


def test_the_series_are_those_of_the_standard():
    # IEC 60063 (from memory only).
    assert preferred_values("E6") == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    assert preferred_values("E12") == (
        *(1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    )
    extra = (1.1, 1.3, 1.6, 2.0, 2.4, 3.0, 3.6, 4.3, 5.1, 6.2, 7.5, 9.1)
    assert sorted(preferred_values("E24")) == sorted(preferred_values("E12") + extra)


def test_they_are_not_the_rounded_geometric_series():
    rounded = [round(10 ** (i / 24), 1) for i in range(24)]
    differ = [
        a for a, b in zip(preferred_values("E24"), rounded, strict=True) if a != b
    ]
    assert differ == [2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2]


def test_a_measured_part_reads_as_its_marking():
    assert nearest_preferred(150.4) == 150.0
    assert nearest_preferred(9.8e3) == 10e3
    assert nearest_preferred(0.0465, "E12") == 0.047


@given(st.sampled_from(preferred_values("E24")), st.integers(-12, 9))
def test_a_preferred_value_is_its_own_nearest(step, power):
    value = float(f"{step}e{power}")
    assert nearest_preferred(value) == value


def test_unknown_series_and_values_are_refused():
    with pytest.raises(InputError, match="none of E6, E12, E24"):
        preferred_values("E7")
    with pytest.raises(InputError, match="nearest_preferred"):
        nearest_preferred(0.0)

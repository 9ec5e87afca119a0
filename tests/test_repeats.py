"""Statistics of repeated readings."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof import summarise
from benchproof.measuring.repeats import correlation
from benchproof.values.errors import InputError

# As a display shows them: whole last digits.
READINGS = st.lists(
    st.integers(-(10**9), 10**9).map(lambda digits: digits / 1000),
    min_size=2,
    max_size=30,
)


@given(READINGS)
def test_mean_and_deviation_agree_with_exact_arithmetic(readings):
    found = summarise(readings)
    size = max(map(abs, readings))
    assert found.mean == pytest.approx(statistics.mean(readings), abs=1e-12 * size)
    assert found.standard_deviation == pytest.approx(
        statistics.stdev(readings), rel=1e-6, abs=1e-12 * size
    )
    assert found.standard_uncertainty * math.sqrt(len(readings)) == pytest.approx(
        found.standard_deviation
    )
    assert (found.count, found.degrees_of_freedom) == (len(readings), len(readings) - 1)


def test_digits_survive_when_readings_share_many_leading_ones():
    found = summarise([1e9 + 0.1, 1e9 + 0.2, 1e9 + 0.3])
    assert found.standard_deviation == pytest.approx(0.1, rel=1e-6)


def test_one_reading_has_no_known_scatter():
    found = summarise([5.0])
    assert (found.count, found.mean, found.degrees_of_freedom) == (1, 5.0, 0)
    assert math.isnan(found.standard_deviation)
    assert math.isnan(found.standard_uncertainty)


@pytest.mark.parametrize("readings", [[], [1.0, math.nan], [math.inf]])
def test_readings_that_carry_no_mean_are_refused(readings):
    with pytest.raises(InputError, match="at least one reading, all of them finite"):
        summarise(readings)


def test_a_steady_climb_is_flagged_as_drift():
    said = summarise([5.00, 5.01, 5.02, 5.03, 5.04, 5.05]).drift
    assert "the readings drift (+0.01 per reading)" in said


def test_a_climb_that_stands_out_of_the_scatter_is_flagged():
    readings = [5.00, 5.02, 5.03, 5.06, 5.07, 5.11, 5.12, 5.13]
    assert summarise(readings).drift
    assert "(-" in summarise(readings[::-1]).drift


@pytest.mark.parametrize(
    "readings",
    [
        [5.00, 5.02, 5.01, 5.03, 5.00, 5.02],
        [5.0] * 8,
        [5.00, 5.01, 5.02, 5.03],
    ],
)
def test_scatter_constancy_and_too_few_readings_are_no_drift(readings):
    assert summarise(readings).drift == ""


def test_correlation_of_equal_opposite_and_constant_readings():
    a = [1.0, 2.0, 4.0]
    assert correlation(a, a) == pytest.approx(1)
    assert correlation(a, [-x for x in a]) == pytest.approx(-1)
    assert correlation(a, [7.0, 7.0, 7.0]) == 0


@given(READINGS, st.randoms())
def test_correlation_lies_between_minus_one_and_one_and_is_symmetric(a, random):
    b = [random.uniform(-1, 1) for _ in a]
    r = correlation(a, b)
    assert abs(r) <= 1 + 1e-9
    assert correlation(b, a) == pytest.approx(r)


def test_correlation_needs_as_many_of_each():
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        correlation([1.0, 2.0, 3.0], [1.0, 2.0])

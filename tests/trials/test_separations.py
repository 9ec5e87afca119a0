"""Attempts to tell two probabilities apart, against the test itself."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    attempts_to_separate,
    fisher_p_value,
    fisher_power,
)
from benchproof.values.errors import InputError


def power_written_out(n, first, second, level):
    return math.fsum(
        math.comb(n, k)
        * first**k
        * (1 - first) ** (n - k)
        * math.comb(n, j)
        * second**j
        * (1 - second) ** (n - j)
        for k in range(n + 1)
        for j in range(n + 1)
        if fisher_p_value((k, n), (j, n)) <= (1 - level) * (1 + 1e-9)
    )


@settings(max_examples=40, deadline=None)
@given(
    st.integers(1, 12),
    st.floats(0, 1),
    st.floats(0, 1),
    st.sampled_from([0.9, 0.95, 0.99]),
)
def test_the_power_is_the_sum_over_all_outcomes_of_the_test(n, first, second, level):
    expected = power_written_out(n, first, second, level)
    assert fisher_power(n, first, second, level) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("first", "second"), [(0.85, 0.05), (0.5, 0.1), (1.0, 0.0)])
def test_fewer_attempts_would_not_do(first, second):
    found = attempts_to_separate(first, second)
    assert found.counted
    assert found.power >= 0.8
    assert all(fisher_power(n, first, second) < 0.8 for n in range(1, found.attempts))


def test_certain_rivals_are_told_apart_by_four_attempts_of_each():
    # 4 of 4 against 0 of 4 has p = 2/70; 3 against 0 of 3 has 2/20.
    assert attempts_to_separate(1.0, 0.0).attempts == 4


def test_the_order_of_the_rivals_does_not_matter():
    assert attempts_to_separate(0.4, 0.1).attempts == (
        attempts_to_separate(0.1, 0.4).attempts
    )


def test_beyond_a_hundred_the_number_has_the_power_and_the_one_below_has_not():
    found = attempts_to_separate(0.3, 0.15)
    assert found.counted
    assert 100 < found.attempts < 200
    assert fisher_power(found.attempts, 0.3, 0.15) == pytest.approx(found.power)
    assert fisher_power(found.attempts - 1, 0.3, 0.15) < 0.8 <= found.power


def test_close_rivals_are_approximated_and_the_result_says_so():
    found = attempts_to_separate(0.10, 0.12)
    assert not found.counted
    # The formula evaluated apart: 3840.8 without the correction, 3940.2 with it.
    assert found.attempts == 3941


def test_more_power_takes_more_attempts():
    assert (
        attempts_to_separate(0.6, 0.2, power=0.95).attempts
        > attempts_to_separate(0.6, 0.2, power=0.8).attempts
    )


def test_rivals_that_predict_the_same_are_refused():
    with pytest.raises(InputError, match="cannot be told apart"):
        attempts_to_separate(0.3, 0.3)


def test_numbers_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="from 0 to 1"):
        attempts_to_separate(1.3, 0.3)
    with pytest.raises(InputError, match="power 1"):
        attempts_to_separate(0.5, 0.3, power=1)
    with pytest.raises(InputError, match="at least 1"):
        fisher_power(0, 0.5, 0.3)
    with pytest.raises(InputError, match="probability 2"):
        fisher_power(5, 2, 0.3)

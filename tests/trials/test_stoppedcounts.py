"""Attempts ended at an occurrence: coverage and bias by enumeration."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import StoppedCount, exact_limits, upper_bound
from benchproof.values.errors import InputError


def outcomes(probability, stop_at, most):
    """Yield every outcome of a plan with its probability."""
    p, q, r = probability, 1 - probability, stop_at
    for n in range(r, most + 1):
        chance = math.comb(n - 1, r - 1) * p**r * q ** (n - r)
        yield StoppedCount(r, n, r), chance
    for k in range(r):
        chance = math.comb(most, k) * p**k * q ** (most - k)
        yield StoppedCount(k, most, r), chance


@pytest.mark.parametrize(("stop_at", "most"), [(1, 20), (3, 25), (1, 1)])
def test_the_limits_hold_the_probability_in_at_least_95_per_cent(stop_at, most):
    for probability in np.linspace(0.01, 0.99, 50):
        covered = total = 0.0
        for seen, chance in outcomes(probability, stop_at, most):
            low, high = seen.limits()
            covered += chance * (low <= probability <= high)
            total += chance
        assert total == pytest.approx(1)
        assert covered >= 0.95 - 1e-12


def test_an_upper_bound_leaves_five_per_cent_to_so_long_a_wait():
    # The definition: the first occurrence in attempt 7 or later.
    bound = StoppedCount(1, 7).upper_bound()
    assert (1 - bound) ** 6 == pytest.approx(0.05)


def test_a_stop_at_the_first_occurrence_is_no_binomial_count():
    assert StoppedCount(1, 7).upper_bound() < upper_bound(1, 7)


def test_a_symptom_in_the_first_attempt_leaves_the_upper_side_open():
    low, high = StoppedCount(1, 1).limits()
    assert high == 1
    assert low == pytest.approx(0.025)


@given(st.integers(1, 200), st.integers(1, 5))
def test_an_end_that_was_not_reached_is_a_fixed_number_of_attempts(attempts, stop_at):
    seen = StoppedCount(0, attempts, stop_at)
    assert seen.limits() == exact_limits(0, attempts)
    assert "0 of" in seen.sentence()
    assert "p < " in seen.sentence()


def test_the_estimate_is_right_on_average_and_the_plain_fraction_is_not():
    ended = [
        (s, c) for s, c in outcomes(0.3, 3, 400) if s.ended
    ]  # the rest has a probability below 1e-50
    assert sum(c * s.estimate() for s, c in ended) == pytest.approx(0.3)
    assert sum(c * s.count / s.attempts for s, c in ended) > 0.35


def test_the_first_occurrence_alone_gives_no_estimate():
    assert math.isnan(StoppedCount(1, 7).estimate())
    assert math.isnan(StoppedCount(1, 7, stop_at=2).estimate())


@pytest.mark.parametrize(
    ("count", "attempts", "stop_at"), [(2, 7, 1), (1, 7, 0), (8, 7, 9)]
)
def test_numbers_that_contradict_each_other_are_refused(count, attempts, stop_at):
    with pytest.raises(InputError, match=f"{count} o"):
        StoppedCount(count, attempts, stop_at)


def test_a_stopped_count_reads_as_its_sentence():
    assert str(StoppedCount(1, 7)) == StoppedCount(1, 7).sentence()

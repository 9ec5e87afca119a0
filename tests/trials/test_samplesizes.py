"""Sample sizes, against published tables and the bounds they are to reach."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchproof.reasoning.trials import (
    attempts_to_bound,
    attempts_to_see,
    exposure_to_bound,
    exposure_to_see,
    rate_upper_bound,
    upper_bound,
)
from benchproof.values.errors import InputError

# Success-run theorem: reliability and confidence to attempts (read).
SUCCESS_RUN = {
    (0.9, 0.9): 22,
    (0.9, 0.95): 29,
    (0.95, 0.9): 45,
    (0.95, 0.95): 59,
    (0.99, 0.9): 230,
    (0.99, 0.95): 299,
    (0.9973, 0.95): 1109,
}


@pytest.mark.parametrize("goal", SUCCESS_RUN)
def test_a_success_run_has_the_published_length(goal):
    reliability, confidence = goal
    assert attempts_to_bound(1 - reliability, confidence) == SUCCESS_RUN[goal]


def test_eight_allowed_failures_need_the_published_sample():
    # Kurz, Lewitschnig and Pilz, IEEE Trans. Reliability 2014 (read).
    assert attempts_to_bound(0.0002, 0.9, allowed=8) == 64972


def test_a_rare_claim_takes_three_thousand_tries_to_see():
    # ln 0.05/ln(1 - p) of the project's formula sheet.
    assert attempts_to_see(0.001) == 2995
    assert attempts_to_see(9.26e-4) == 3234


# NIST/SEMATECH e-Handbook 8.3.1.3, factors of the test length; from memory,
# recomputed, not read.
@pytest.mark.parametrize(
    ("allowed", "level", "factor"),
    [(2, 0.8, 4.28), (0, 0.9, 2.3), (1, 0.9, 3.89), (2, 0.9, 5.32), (3, 0.9, 6.68)],
)
def test_a_mean_time_is_shown_in_the_tabulated_test_length(allowed, level, factor):
    hours = exposure_to_bound(1 / 400, level, allowed)
    assert hours / 400 == pytest.approx(factor, abs=0.005)


@given(st.floats(1e-4, 0.9), st.integers(1, 12), st.sampled_from([0.5, 0.8, 0.95]))
def test_one_attempt_fewer_would_not_do(rate, events, level):
    n = attempts_to_see(rate, level, events)
    assert stats.binom.sf(events - 1, n, rate) >= level - 1e-12
    assert n == events or stats.binom.sf(events - 1, n - 1, rate) < level + 1e-12


@given(st.floats(1e-3, 0.5), st.integers(0, 8))
def test_the_sample_brings_the_bound_to_the_rate(rate, allowed):
    n = attempts_to_bound(rate, 0.9, allowed)
    assert upper_bound(allowed, n, 0.9) <= rate * (1 + 1e-9)


@given(st.floats(1e-3, 1e3), st.integers(0, 8))
def test_the_exposure_brings_the_bound_to_the_rate(rate, allowed):
    hours = exposure_to_bound(rate, 0.9, allowed)
    assert rate_upper_bound(allowed, hours, 0.9) == pytest.approx(rate)


def test_a_whole_number_of_attempts_is_not_rounded_up():
    # 0.5, 0.75 and 0.875 are exact: 3 attempts at 1/2 show one with 7/8.
    assert attempts_to_see(0.5, 0.875) == 3
    assert attempts_to_see(0.5, 0.75) == 2


def test_seeing_more_takes_longer():
    hours = [exposure_to_see(0.72, events=k) for k in (1, 2, 5)]
    assert hours == sorted(hours)
    assert hours[0] == pytest.approx(4.16, abs=0.005)


@pytest.mark.parametrize("rate", [0, 1, -1])
def test_a_rate_per_attempt_outside_0_and_1_is_refused(rate):
    with pytest.raises(InputError, match="between 0 and 1"):
        attempts_to_see(rate)


def test_other_numbers_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="above 0"):
        exposure_to_see(0)
    with pytest.raises(InputError, match="level 1"):
        attempts_to_see(0.1, 1)
    with pytest.raises(InputError, match="0 events"):
        attempts_to_see(0.1, events=0)
    with pytest.raises(InputError, match="-1 events"):
        exposure_to_bound(0.1, allowed=-1)

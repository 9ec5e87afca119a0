"""Rates: exact limits against published tables, their definition and coverage."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    mean_time_limits,
    rate_limits,
    rate_lower_bound,
    rate_upper_bound,
    shown_rate,
)
from benchproof.values.errors import InputError

# Garwood 1936, two-sided 95 %; from memory, recomputed, not read.
GARWOOD = {
    0: (0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    5: (1.6235, 11.6683),
    10: (4.7954, 18.3904),
}


def poisson(count, mean):
    return math.exp(count * math.log(mean) - mean - math.lgamma(count + 1))


@pytest.mark.parametrize("events", GARWOOD)
def test_the_limits_of_a_poisson_mean_agree_with_garwoods_table(events):
    assert rate_limits(events, 1.0) == pytest.approx(GARWOOD[events], abs=5e-5)


def test_two_failures_in_800_hours_have_the_published_mean_time_limits():
    # NIST/SEMATECH e-Handbook 8.4.5.1, 90 % two-sided (partly read): 127 h, 2251 h.
    low, high = mean_time_limits(2, 800.0, 0.9)
    assert (low, high) == pytest.approx((127, 2251), abs=1)
    assert low / 400 == pytest.approx(0.3177, abs=5e-5)
    assert high / 400 == pytest.approx(5.6281, abs=5e-5)


def test_nothing_in_46_hours_leaves_a_rate_up_to_0_065_per_hour():
    assert rate_upper_bound(0, 46) == pytest.approx(0.0651, abs=5e-5)
    assert rate_lower_bound(0, 46) == 0


def test_nine_events_in_twelve_and_a_half_hours():
    assert rate_limits(9, 12.5) == pytest.approx((0.329, 1.367), abs=5e-4)


def test_without_an_event_the_mean_time_has_no_upper_limit():
    low, high = mean_time_limits(0, 46.0)
    assert high == math.inf
    assert low == pytest.approx(46 / -math.log(0.025))


@given(st.integers(0, 60), st.floats(0.5, 0.999))
def test_an_upper_bound_leaves_the_rest_of_the_level_to_so_few(events, level):
    # The definition, by a sum of Poisson terms; 1e-9: rounding of 60 of them.
    mean = rate_upper_bound(events, 1.0, level)
    few = math.fsum(poisson(k, mean) for k in range(events + 1))
    assert few == pytest.approx(1 - level, abs=1e-9)


@given(st.integers(0, 60))
def test_the_limits_scale_with_the_exposure(events):
    low, high = rate_limits(events, 7.0)
    assert (7 * low, 7 * high) == pytest.approx(rate_limits(events, 1.0))


def test_the_limits_hold_the_rate_in_at_least_95_per_cent():
    limits = [rate_limits(k, 1.0) for k in range(80)]
    for mean in np.linspace(0.05, 20, 150):
        covered = math.fsum(
            poisson(k, mean)
            for k, (low, high) in enumerate(limits)
            if low <= mean <= high
        )
        assert covered >= 0.95 - 1e-9


def test_watching_until_the_third_event_is_covered_exactly():
    # The time of the third event is a gamma variable: the limits hold 95 %.
    times = np.random.default_rng(3).gamma(3, size=20_000)
    low, high = rate_limits(3, 1.0, stopped_at_event=True)
    held = np.mean((low / times <= 1) & (high / times >= 1))
    assert held == pytest.approx(0.95, abs=0.006)  # 4 standard deviations


def test_an_end_at_an_event_needs_an_event():
    with pytest.raises(InputError, match="there is none"):
        rate_limits(0, 5.0, stopped_at_event=True)


@pytest.mark.parametrize(("events", "exposure"), [(-1, 5.0), (1, 0.0), (1, math.inf)])
def test_events_that_cannot_be_are_refused(events, exposure):
    with pytest.raises(InputError, match="exposure above 0"):
        rate_limits(events, exposure)


@given(st.integers(0, 500), st.floats(1e-3, 1e6))
def test_a_written_limit_is_still_a_limit(events, exposure):
    words = shown_rate(events, exposure).split(" rate ")[1].split()
    if not events:
        assert float(words[1]) >= rate_upper_bound(0, exposure) * (1 - 1e-12)
    else:
        low, high = rate_limits(events, exposure)
        assert float(words[1]) <= low * (1 + 1e-12)
        assert float(words[3]) >= high * (1 - 1e-12)

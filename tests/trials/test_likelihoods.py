"""Likelihood ratios of rivals, and whether their odds were written beforehand."""

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchproof.reasoning.trials import RivalOdds, log_likelihood_ratio, weigh
from benchproof.values.errors import InputError

NOON = dt.datetime(2026, 1, 31, 12, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
ODDS = RivalOdds("H2", "H1", 0.85, 0.05, NOON)
chances = st.floats(0.01, 0.99)


def test_ten_of_ten_weigh_28_for_the_rival_that_expects_them():
    # 10 ln(0.85/0.05) of the project's formula sheet.
    assert log_likelihood_ratio(10, 10, 0.85, 0.05) == pytest.approx(28.3, abs=0.05)


@given(st.integers(0, 50), st.integers(0, 50), chances, chances)
def test_the_ratio_is_that_of_the_binomial_probabilities(seen, unseen, p, q):
    n = seen + unseen
    if n:
        expected = stats.binom.logpmf(seen, n, p) - stats.binom.logpmf(seen, n, q)
        found = log_likelihood_ratio(seen, n, p, q)
        assert found == pytest.approx(expected, abs=1e-9)
        assert log_likelihood_ratio(seen, n, q, p) == pytest.approx(-found, abs=1e-9)


def test_counts_of_several_arms_add_up():
    both = weigh(ODDS, [(3, 5), (1, 5)], NOON + HOUR)
    assert both.log_ratio == pytest.approx(log_likelihood_ratio(4, 10, 0.85, 0.05))


def test_odds_written_before_the_data_weigh_without_a_remark():
    weight = weigh(ODDS, [(10, 10)], NOON + HOUR)
    assert not weight.after_the_data
    assert weight.sentence.endswith("written before the data)")


def test_odds_written_after_the_data_are_said_to_weigh_little():
    weight = weigh(ODDS, [(10, 10)], NOON)
    assert weight.after_the_data
    assert "after the data, so this weight says little" in weight.sentence


def test_zeros_speak_for_the_rival_that_expects_them_and_show_their_bound():
    weight = weigh(ODDS, [(0, 20)], NOON + HOUR)
    assert weight.log_ratio < 0
    assert "for H1 against H2" in weight.sentence
    assert "0 of 20, p < 14 %" in weight.sentence


@pytest.mark.parametrize("probability", [0, 1, -0.1, math.nan])
def test_a_probability_that_would_decide_all_is_refused(probability):
    with pytest.raises(InputError, match="let a single attempt decide"):
        RivalOdds("H2", "H1", probability, 0.5, NOON)
    with pytest.raises(InputError, match="let a single attempt decide"):
        log_likelihood_ratio(1, 2, 0.5, probability)


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(InputError, match="no time zone"):
        RivalOdds("H2", "H1", 0.8, 0.5, NOON.replace(tzinfo=None))
    with pytest.raises(InputError, match="no time zone"):
        weigh(ODDS, [(1, 2)], NOON.replace(tzinfo=None))


def test_nothing_weighs_nothing_and_says_so():
    with pytest.raises(InputError, match="no counts"):
        weigh(ODDS, [], NOON)

"""Two arms compared, against scipy, enumeration and the sizes of the tests."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchproof.reasoning.trials import (
    compare_counts,
    compare_rates,
    exact_limits,
    fisher_p_value,
    rate_ratio_limits,
    rates_p_value,
)
from benchproof.values.errors import InputError

SIDES = {"two-sided": "two-sided", "more": "greater", "fewer": "less"}


@st.composite
def arms(draw):
    n, m = draw(st.integers(1, 40)), draw(st.integers(1, 40))
    return (draw(st.integers(0, n)), n), (draw(st.integers(0, m)), m)


def test_the_invented_cases_have_the_p_values_worked_out_for_them():
    # Values of the project's formula sheet, evaluated there independently.
    assert fisher_p_value((17, 20), (0, 20)) == pytest.approx(2.6e-8, rel=0.03)
    assert fisher_p_value((2, 4), (0, 4)) == pytest.approx(0.43, abs=0.005)
    assert fisher_p_value((11, 12), (0, 12)) == pytest.approx(9.6e-6, rel=0.01)
    assert rates_p_value((9, 12.5), (0, 46.0)) == pytest.approx(9.3e-7, rel=0.01)


@given(arms(), st.sampled_from([*SIDES]))
def test_fishers_test_agrees_with_scipy(pair, side):
    (k, n), (other, m) = pair
    table = [[k, n - k], [other, m - other]]
    expected = stats.fisher_exact(table, alternative=SIDES[side]).pvalue
    assert fisher_p_value(*pair, side) == pytest.approx(expected, rel=1e-9)


def test_a_split_is_as_likely_as_the_orders_that_give_it():
    # 5 occurrences among 4 + 6 attempts, every order written out.
    orders = [f"{i:010b}" for i in range(2**10)]
    in_first = [o[:4].count("1") for o in orders if o.count("1") == 5]
    for k in range(5):
        share = sum(x >= k for x in in_first) / len(in_first)
        assert fisher_p_value((k, 4), (5 - k, 6), "more") == pytest.approx(share)


@given(arms())
def test_exchanging_the_arms_changes_no_two_sided_p_value(pair):
    assert fisher_p_value(*pair) == fisher_p_value(*pair[::-1])


def test_equal_arms_differ_by_chance_in_at_most_five_per_cent():
    n, m, p = 9, 7, 0.35
    first = stats.binom.pmf(range(n + 1), n, p)
    second = stats.binom.pmf(range(m + 1), m, p)
    wrong = sum(
        first[k] * second[j]
        for k in range(n + 1)
        for j in range(m + 1)
        if fisher_p_value((k, n), (j, m)) <= 0.05
    )
    assert wrong <= 0.05


@given(
    st.integers(0, 40),
    st.integers(0, 40),
    st.floats(0.1, 9.0),
    st.sampled_from([*SIDES]),
)
def test_rates_compared_agree_with_scipys_binomial_test(k, other, ratio, side):
    if k + other:
        share = ratio / (ratio + 1)
        test = stats.binomtest(k, k + other, share, SIDES[side])
        ours = rates_p_value((k, ratio), (other, 1.0), side)
        assert ours == pytest.approx(test.pvalue, rel=1e-6, abs=1e-300)


def test_many_events_are_compared_without_overflow():
    assert rates_p_value((3000, 1.0), (2000, 1.0)) < 1e-40
    assert rates_p_value((2000, 1.0), (2000, 1.0)) == pytest.approx(1)


def test_nothing_in_both_arms_shows_nothing():
    assert rates_p_value((0, 3.0), (0, 5.0)) == 1
    assert fisher_p_value((0, 3), (0, 5)) == 1


@given(st.integers(0, 30), st.integers(0, 30))
def test_the_ratio_of_rates_is_bounded_by_the_split_of_events(k, other):
    if not k + other:
        return
    low, high = rate_ratio_limits((k, 2.0), (other, 1.0), 0.9)
    share = [r * 2 / (1 + r * 2) if r < math.inf else 1.0 for r in (low, high)]
    assert share == pytest.approx(exact_limits(k, k + other, 0.9))
    assert low <= (k / 2 / other if other else math.inf) <= high


def test_the_ratio_of_two_zeros_is_refused():
    with pytest.raises(InputError, match="neither arm"):
        rate_ratio_limits((0, 2.0), (0, 1.0))


def test_a_sentence_shows_the_bound_of_its_zero_and_no_more_than_a_difference():
    shown = compare_counts((17, 20), (0, 20)).sentence()
    assert "0 of 20, p < 14 %" in shown
    assert shown.endswith("the arms differ at 95 %.")
    rates = compare_rates((9, 12.5), (0, 46.0)).sentence()
    assert "0 in 46 h, rate < 0.0652 per h" in rates


def test_too_few_attempts_show_no_difference_and_do_not_say_there_is_none():
    text = compare_counts((2, 4), (0, 4)).sentence()
    assert "no difference shown at 95 %" in text
    assert "equal" not in text


def test_a_side_that_is_not_known_is_refused():
    with pytest.raises(InputError, match="alternative 'greater'"):
        fisher_p_value((1, 2), (1, 2), "greater")


def test_the_arm_that_cannot_be_is_named():
    with pytest.raises(InputError, match="second arm: 3 of 2"):
        fisher_p_value((1, 2), (3, 2))
    with pytest.raises(InputError, match="exposure of 0"):
        rates_p_value((1, 2.0), (3, 0.0))


def test_a_thousand_attempts_of_each_arm_are_counted_exactly():
    expected = stats.fisher_exact([[520, 480], [480, 520]]).pvalue
    assert fisher_p_value((520, 1000), (480, 1000)) == pytest.approx(expected, rel=1e-6)
    assert np.isfinite(expected)


def test_a_comparison_reads_as_its_sentence():
    found = compare_counts((2, 4), (0, 4))
    assert str(found) == found.sentence()


def test_a_declared_side_is_that_of_the_first_arm():
    # All 11 of 24 orders in the first dozen; three events in the first of two halves.
    all_in_first = math.comb(12, 11) / math.comb(24, 11)
    counts = (11, 12), (0, 12)
    assert compare_counts(*counts, "more").p_value == pytest.approx(all_in_first)
    assert compare_counts(*counts, "fewer").p_value == 1
    rates = (3, 1.0), (0, 1.0)
    assert compare_rates(*rates, "more").p_value == pytest.approx(1 / 8)
    assert compare_rates(*rates, "fewer").p_value == 1

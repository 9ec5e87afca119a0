"""Clustered and autocorrelated outcomes, against enumeration and simulation."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    clustered_limits,
    design_effect,
    effective_attempts,
    exact_limits,
    outcome_order,
    sitting_correlation,
)
from benchproof.values.errors import InputError


def clustered(rng, sittings, size, probability, correlation):
    """Draw counts of sittings whose outcomes correlate (beta-binomial)."""
    strength = 1 / correlation - 1
    chances = rng.beta(probability * strength, (1 - probability) * strength, sittings)
    return rng.binomial(size, chances)


def runs_of(order):
    return 1 + sum(a != b for a, b in itertools.pairwise(order))


def test_forty_attempts_in_four_sittings_are_worth_twenty_one():
    # n/(1 + (m - 1) rho) of the project's formula sheet: 21.05.
    assert effective_attempts([10] * 4, 0.1) == pytest.approx(21.05, abs=0.005)


def test_attempts_that_resemble_each_other_fully_are_worth_one_a_sitting():
    assert effective_attempts([7] * 5, 1.0) == 5


@given(st.lists(st.integers(1, 30), min_size=1), st.floats(0, 1))
def test_the_design_effect_lies_between_one_and_the_largest_sitting(sizes, rho):
    assert 1 <= design_effect(sizes, rho) <= max(sizes) * (1 + 1e-12)


@given(st.integers(0, 40))
def test_without_correlation_the_limits_are_the_exact_ones(count):
    ours = clustered_limits(count, [10] * 4, 0.0)
    assert ours == pytest.approx(exact_limits(count, 40), abs=1e-9)


@given(st.integers(0, 40), st.floats(0.01, 1))
def test_correlation_widens_the_limits(count, rho):
    low, high = clustered_limits(count, [10] * 4, rho)
    narrow = exact_limits(count, 40)
    assert low <= narrow[0] + 1e-12
    assert high >= narrow[1] - 1e-12


def test_limits_for_sittings_hold_the_probability_where_the_plain_ones_do_not():
    rng = np.random.default_rng(4)
    held = {"plain": 0, "clustered": 0}
    for _ in range(1500):
        k = int(clustered(rng, 8, 10, 0.3, 0.25).sum())
        plain, ours = exact_limits(k, 80), clustered_limits(k, [10] * 8, 0.25)
        held["plain"] += plain[0] <= 0.3 <= plain[1]
        held["clustered"] += ours[0] <= 0.3 <= ours[1]
    assert held["plain"] / 1500 < 0.85
    assert held["clustered"] / 1500 > 0.93


def test_the_correlation_of_simulated_sittings_is_found():
    rng = np.random.default_rng(5)
    counts = clustered(rng, 4000, 10, 0.3, 0.2)
    found = sitting_correlation([(int(k), 10) for k in counts])
    assert found == pytest.approx(0.2, abs=0.015)


def test_independent_sittings_have_no_correlation_on_average():
    rng = np.random.default_rng(6)
    sizes = rng.integers(2, 12, 4000)
    counts = rng.binomial(sizes, 0.4)
    pairs = list(zip(counts.tolist(), sizes.tolist(), strict=True))
    assert sitting_correlation(pairs) == pytest.approx(0, abs=0.015)


@pytest.mark.parametrize(
    "sittings",
    [
        [(3, 10)],
        [(0, 5), (0, 5)],
        [(5, 5), (5, 5)],
        [(1, 1), (0, 1)],
        [(1, 1), (0, 6)],  # once: there is no second that it could lie beside
        [(9, 10), (10, 10)],
    ],
)
def test_sittings_that_say_nothing_of_correlation_leave_it_missing(sittings):
    assert math.isnan(sitting_correlation(sittings))


@pytest.mark.parametrize(("sizes", "rho"), [([], 0.1), ([3, 0], 0.1), ([3], 1.5)])
def test_sittings_that_cannot_be_are_refused(sizes, rho):
    with pytest.raises(InputError, match="sitting"):
        design_effect(sizes, rho)


@pytest.mark.parametrize(("count", "attempts"), [(3, 7), (4, 8), (1, 6), (5, 9)])
def test_run_probabilities_are_those_of_all_orders_written_out(count, attempts):
    orders = [
        [i in chosen for i in range(attempts)]
        for chosen in itertools.combinations(range(attempts), count)
    ]
    runs = [runs_of(order) for order in orders]
    for order, seen in zip(orders, runs, strict=True):
        found = outcome_order(order)
        assert found.runs == seen
        assert found.few_runs == pytest.approx(np.mean([r <= seen for r in runs]))
        assert found.many_runs == pytest.approx(np.mean([r >= seen for r in runs]))


def test_random_orders_are_seldom_flagged():
    rng = np.random.default_rng(7)
    flagged = [bool(outcome_order(rng.random(30) < 0.4).flag) for _ in range(3000)]
    assert sum(flagged) / 3000 <= 0.02 + 0.008  # two flags of 1 %, 3 deviations


def test_a_block_of_like_outcomes_is_flagged_and_worth_fewer():
    found = outcome_order([False] * 10 + [True] * 10)
    assert "2 runs in 20 attempts" in found.flag
    assert found.effective_attempts < 3
    assert found.lag_1 > 0.8


def test_outcomes_that_alternate_are_flagged_but_worth_no_more():
    found = outcome_order([True, False] * 10)
    assert "alternate" in found.flag
    assert found.effective_attempts == 20


def test_equal_outcomes_have_no_order_to_judge():
    found = outcome_order([False] * 20)
    assert not found.flag
    assert math.isnan(found.lag_1)
    assert (found.few_runs, found.many_runs) == (1, 1)


def test_an_order_of_nothing_is_refused():
    with pytest.raises(InputError, match="at least one"):
        outcome_order([])


def test_an_order_that_looks_random_says_only_that_no_sign_was_seen():
    said = str(outcome_order([True, False, True, True, False, False, True, False]))
    assert said.endswith("no sign that an outcome depends on the last")

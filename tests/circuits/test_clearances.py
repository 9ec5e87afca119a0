"""Gaps."""

import math

import numpy as np
import pytest

from benchproof.measuring.circuits import clearances
from benchproof.measuring.circuits.clearances import ChainLink
from benchproof.values.errors import InputError

# Invented: four parts and the play of a holder, in mm.
CHAIN = [
    ChainLink(2.60, 0.15),
    ChainLink(-0.80, 0.20),
    ChainLink(-0.50, 0.10),
    ChainLink(-0.20, 0.08),
    ChainLink(0.0, play=0.35),
]


def test_the_worst_case_leaves_a_fifth_of_the_gap():
    assert clearances.worst_case_gap(CHAIN) == pytest.approx(0.22)


def test_play_shifts_the_mean_by_half():
    assert clearances.mean_gap(CHAIN) == pytest.approx(0.925)


def test_the_spread_adds_in_squares():
    spread = clearances.gap_deviation(CHAIN)
    assert spread == pytest.approx(0.138, abs=5e-4)
    low = clearances.mean_gap(CHAIN) - 3 * spread
    assert low == pytest.approx(0.512, abs=5e-4)


def test_draws_have_the_mean_and_spread_of_the_formulas():
    found = clearances.monte_carlo_gap(CHAIN, 400_000, seed=1)
    spread = clearances.gap_deviation(CHAIN)
    # Four standard deviations of the mean and of s.
    near = 4 * spread / math.sqrt(found.draws)
    assert found.mean == pytest.approx(clearances.mean_gap(CHAIN), abs=near)
    assert found.standard_deviation == pytest.approx(spread, abs=near)
    assert found.closed == 0
    assert found.least > 0


def test_the_closed_share_of_play_alone_is_known():
    chain = [ChainLink(0.1), ChainLink(0.0, play=0.4)]
    found = clearances.monte_carlo_gap(chain, 100_000, seed=2)
    assert found.closed_share == pytest.approx(0.75, abs=0.006)


def test_the_same_seed_draws_the_same_pieces():
    first, again = (clearances.draw_gaps(CHAIN, 1000, seed=9) for _ in range(2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, clearances.draw_gaps(CHAIN, 1000, seed=10))


def test_a_chain_without_tolerances_has_one_gap():
    assert clearances.draw_gaps([ChainLink(1.0)], 3, seed=1).tolist() == [1.0, 1.0, 1.0]
    assert clearances.gap_deviation([ChainLink(1.0)]) == 0.0


@pytest.mark.parametrize(
    "function",
    [clearances.worst_case_gap, clearances.mean_gap, clearances.gap_deviation],
)
def test_an_empty_chain_has_no_gap(function):
    with pytest.raises(InputError, match="give at least one ChainLink"):
        function([])


def test_two_draws_have_the_spread_of_two_and_one_draw_is_a_gap():
    low, high = sorted(clearances.draw_gaps(CHAIN, 2, seed=3))
    found = clearances.monte_carlo_gap(CHAIN, 2, seed=3)
    assert found.standard_deviation == pytest.approx((high - low) / math.sqrt(2))
    assert found.least == low
    assert clearances.draw_gaps(CHAIN, 1, seed=3).shape == (1,)


def test_no_draws_are_refused():
    with pytest.raises(InputError, match="give 1 or more"):
        clearances.draw_gaps(CHAIN, 0, seed=1)
    with pytest.raises(InputError, match="give 2 or more"):
        clearances.monte_carlo_gap(CHAIN, 1, seed=1)


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        ({"length": float("nan")}, "give a number"),
        ({"length": 1.0, "tolerance": -0.1}, "tolerance is -0.1"),
        ({"length": 1.0, "play": -0.1}, "play is -0.1"),
    ],
)
def test_a_link_that_cannot_be_made_is_refused(fields, text):
    with pytest.raises(InputError, match=text):
        ChainLink(**fields)

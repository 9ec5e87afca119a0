"""Intervals of draws, alone and steadied by a control."""

import math

import numpy as np
import pytest

from benchproof.reasoning.montecarlo.intervals import (
    Control,
    coverage_intervals,
    numerical_tolerance,
    plain_figures,
    steadied_figures,
    symmetric_interval,
)
from benchproof.reasoning.montecarlo.linearsum import LinearSum, Term

UNIT_NORMAL = Control(0.0, LinearSum((Term("normal", 1.0),)), 0.95)


def test_the_symmetric_interval_leaves_the_same_number_on_both_sides():
    low, high = symmetric_interval(np.arange(1000.0), 0.95)
    below, above = low, 999 - high
    assert abs(below - above) <= 1
    assert high - low == 950


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [(0.35, 2, 0.005), (0.35, 1, 0.05), (35.0, 2, 0.5), (1.0, 2, 0.05), (0.0, 2, 0.0)],
)
def test_the_tolerance_is_half_the_last_digit_of_u(u, digits, tolerance):
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance)


def test_the_interval_by_its_tails_is_that_of_the_whole_sorted_set():
    draws = np.random.default_rng(1).standard_normal(30_001)
    _, symmetric = coverage_intervals(draws, 0.9)
    assert symmetric == symmetric_interval(draws, 0.9)


@pytest.mark.parametrize("level", [0.05, 0.5, 0.95, 0.999])
def test_the_shortest_interval_is_the_shortest_that_holds_so_many(level):
    draws = np.sort(np.random.default_rng(2).exponential(size=5000))
    shortest, _ = coverage_intervals(draws, level)
    inside = round(level * draws.size)
    widths = draws[inside:] - draws[:-inside]
    assert shortest[1] - shortest[0] == pytest.approx(widths.min(), rel=1e-12)


@pytest.mark.parametrize("order", [1, -1])
def test_sorted_draws_mislead_nothing(order):
    draws = np.sort(np.random.default_rng(3).standard_normal(50_000))[::order]
    assert coverage_intervals(draws, 0.95)[1] == symmetric_interval(draws, 0.95)


def test_many_equal_draws_are_no_obstacle():
    draws = np.repeat([0.0, 1.0], 5000)
    shortest, symmetric = coverage_intervals(draws, 0.95)
    assert shortest == symmetric == (0.0, 1.0)


def test_a_control_that_is_the_result_gives_the_exact_figures():
    draws = np.random.default_rng(4).standard_normal(20_000)
    found = steadied_figures(draws + 7.0, draws, Control(7.0, UNIT_NORMAL.exact, 0.95))
    assert found.value == pytest.approx(7.0, abs=1e-9)
    assert found.standard_uncertainty == pytest.approx(1.0, abs=1e-9)
    # Between two neighbouring draws there the distance is about 0.001.
    assert found.symmetric == pytest.approx((7 - 1.95996, 7 + 1.95996), abs=0.002)
    assert found.gain > 100


def test_a_control_that_has_nothing_to_do_with_the_result_changes_little():
    source = np.random.default_rng(5)
    draws, other = source.standard_normal((2, 20_000))
    plain, found = (
        plain_figures(draws, 0.95),
        steadied_figures(draws, other, UNIT_NORMAL),
    )
    # The ends scatter by 0.019; what is added by chance is a hundredth of that.
    assert found.symmetric == pytest.approx(plain.symmetric, abs=0.003)
    assert found.value == pytest.approx(plain.value, abs=0.0005)
    assert found.gain == pytest.approx(1.0, abs=0.01)


def test_a_control_takes_chance_out_of_the_shortest_interval_too():
    exact = 1.95996
    source = np.random.default_rng(6)
    plain, steady = [], []
    for _ in range(30):
        draws = source.standard_normal(20_000)
        plain.append(plain_figures(draws, 0.95).shortest)
        steady.append(steadied_figures(draws, draws, UNIT_NORMAL).shortest)
    ends = np.array([-exact, exact])
    assert np.square(steady - ends).mean() < 0.1 * np.square(plain - ends).mean()


def test_a_monotone_function_of_the_control_has_its_exact_ends():
    draws = np.random.default_rng(7).standard_normal(20_000)
    found = steadied_figures(np.exp(0.1 * draws), draws, UNIT_NORMAL)
    ends = (math.exp(-0.195996), math.exp(0.195996))
    assert found.symmetric == pytest.approx(ends, abs=0.0003)


def test_near_to_linear_the_ends_scatter_less_than_their_gain_says():
    # An end read off scatters by √(p(1-p)/(n·gain)) over the density at 1.96, 0.0584.
    source, ends, gains = np.random.default_rng(8), [], []
    for _ in range(20):
        draws, other = source.standard_normal((2, 20_000))
        found = steadied_figures(draws + 0.02 * other, draws, UNIT_NORMAL)
        ends.append(found.symmetric)
        gains.append(found.gain)
    exact = 1.95996 * math.hypot(1.0, 0.02)
    scatter = math.sqrt(np.square(np.array(ends) - [-exact, exact]).mean())
    read_off = math.sqrt(0.025 * 0.975 / 20_000 / np.mean(gains)) / 0.0584
    assert scatter < 0.7 * read_off


def test_a_shortest_interval_may_begin_or_end_with_the_outermost_draws():
    draws = np.random.default_rng(9).standard_normal(20_000)
    low, high = steadied_figures(np.exp(2 * draws), draws, UNIT_NORMAL).shortest
    # Of a lognormal so skew 95 % lie below exp(2·1.645); the mode is exp(-4).
    assert 0 < low < math.exp(-4)
    assert high == pytest.approx(math.exp(2 * 1.64485), rel=0.05)
    mirrored = steadied_figures(-np.exp(2 * draws), -draws, UNIT_NORMAL).shortest
    assert mirrored == pytest.approx((-high, -low), rel=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_control_gains_only_what_it_gains_at_both_ends(side):
    draws, other = np.random.default_rng(10).standard_normal((2, 20_000))
    one_sided = np.where(side * draws > 0, draws, -side * np.abs(other))
    assert steadied_figures(one_sided, draws, UNIT_NORMAL).gain < 1.2

"""Runs and bow of residuals."""

import itertools
import math

import numpy as np
import pytest

from benchproof.measuring.lines.residuals import (
    few_runs_probability,
    residual_bow,
    residual_runs,
)
from benchproof.values.errors import InputError


def counted(runs, positive, negative):
    """Count the orders with at most so many runs among all orders there are."""
    n = positive + negative
    few = 0
    for places in itertools.combinations(range(n), positive):
        signs = [i in places for i in range(n)]
        few += sum(1 for _ in itertools.groupby(signs)) <= runs
    return few / math.comb(n, positive)


@pytest.mark.parametrize(("positive", "negative"), [(1, 1), (1, 5), (4, 4), (6, 3)])
def test_the_distribution_of_runs_is_that_of_counting_every_order(positive, negative):
    for runs in range(1, positive + negative + 2):
        assert few_runs_probability(runs, positive, negative) == pytest.approx(
            counted(runs, positive, negative), rel=1e-14
        )


# Wald and Wolfowitz 1940: mean and variance of the number of runs, from memory; both
# follow from the definition, and large numbers make the distribution normal.
def test_many_residuals_give_the_normal_limit():
    n = 4000
    mean, variance = n / 2 + 1, n / 2 * (n / 2 - 1) / (n - 1)
    runs = round(mean - 1.5 * math.sqrt(variance))
    z = (runs + 0.5 - mean) / math.sqrt(variance)
    normal = math.erfc(-z / math.sqrt(2)) / 2
    assert few_runs_probability(runs, n // 2, n // 2) == pytest.approx(normal, rel=1e-2)


def test_residuals_are_taken_in_order_of_x():
    x, residuals = [3, 1, 4, 2], [1.0, 1.0, -1.0, -1.0]
    runs = residual_runs(x, residuals)  # +, -, +, - along x
    assert (runs.runs, runs.positive, runs.negative) == (4, 2, 2)


def test_residuals_at_one_x_count_once_by_their_mean():
    runs = residual_runs([1, 1, 2, 3], [1.0, -2.0, 1.0, -1.0])
    assert (runs.runs, runs.positive, runs.negative) == (3, 1, 2)
    assert runs == residual_runs([1, 3, 2, 1], [-2.0, -1.0, 1.0, 1.0])


def test_rounding_has_no_sign():
    runs = residual_runs([1, 2, 3, 4], [1.0, 1e-16, -1.0, 0.0], negligible=1e-15)
    assert (runs.runs, runs.positive, runs.negative) == (2, 1, 1)


def test_no_residual_at_all_is_no_objection():
    runs = residual_runs([1, 2, 3], [0.0, 0.0, 0.0])
    assert (runs.runs, runs.p) == (0, 1.0)
    assert not runs.can_object


# Of residuals of a line with intercept there are at least three runs, so n of the
# C(n, n/2) orders are the worst: 10/252 and 9/126.
def test_below_ten_points_the_runs_cannot_object_to_a_bow():
    assert residual_runs(range(10), [1, -1] * 5).can_object
    assert not residual_runs(range(9), [1, -1] * 4 + [1]).can_object


@pytest.mark.parametrize("n", [10, 16, 25])
def test_straight_lines_are_objected_to_at_most_as_often_as_the_level_says(n):
    rng = np.random.default_rng(11)
    x = np.arange(n)
    basis, _ = np.linalg.qr(np.column_stack([np.ones(n), x]))
    noise = rng.standard_normal((2000, n))
    residuals = noise - noise @ basis @ basis.T
    objections = sum(residual_runs(x, row).too_few for row in residuals)
    # 5 % of 2000, and three standard deviations of a count of 100.
    assert 0 < objections <= 130


def test_the_bow_of_straight_lines_has_its_level():
    rng = np.random.default_rng(12)
    x = np.array([0, 1, 2.5, 3, 6, 7])
    basis, _ = np.linalg.qr(np.column_stack([np.ones(6), x]))
    noise = rng.standard_normal((2000, 6))
    rows = noise - noise @ basis @ basis.T
    p = np.array([residual_bow(x, row, np.ones(6)) for row in rows])
    # Uniform from 0 to 1: 5 % and 50 % of 2000, within three standard deviations.
    assert abs((p < 0.05).sum() - 100) < 30
    assert abs((p < 0.5).sum() - 1000) < 68


@pytest.mark.parametrize("through_origin", [False, True])
def test_the_bow_is_that_of_a_weighted_fit_of_a_parabola(through_origin):
    x = np.array([1.0, 2, 3, 5, 8, 9])
    y = np.array([1.1, 1.9, 3.2, 5.5, 9.5, 10.9])
    root = np.array([1.0, 2, 1, 3, 1, 2])
    powers = (1, 2) if through_origin else (0, 1, 2)
    design = np.column_stack([x**k for k in powers]) * root[:, None]

    def least(columns):
        return np.linalg.lstsq(columns, root * y, rcond=None)[0]

    residuals = y - design[:, :-1] @ least(design[:, :-1]) / root
    full = least(design)
    dof = 6 - len(powers)
    s2 = ((root * y - design @ full) ** 2).sum() / dof
    t = full[-1] / math.sqrt(s2 * np.linalg.inv(design.T @ design)[-1, -1])
    from scipy.stats import t as student

    p = residual_bow(x, residuals, root**2, through_origin=through_origin)
    assert p == pytest.approx(2 * student.sf(abs(t), dof), rel=1e-8)


def test_too_few_points_to_tell_a_bow_give_no_number():
    assert math.isnan(residual_bow([0, 1, 2], [1, -2, 1], [1, 1, 1]))
    assert math.isnan(residual_bow([0, 0, 1, 1], [1, -1, 1, -1], [1] * 4))


def test_residuals_of_rounding_show_no_bow():
    p = residual_bow(range(4), [1e-17, -1e-17, 0, 0], [1] * 4, negligible=1e-15)
    assert p == 1.0


@pytest.mark.parametrize("residuals", [[1.0], [1.0, math.nan]])
def test_residuals_that_do_not_fit_x_are_refused(residuals):
    with pytest.raises(InputError, match="give as many residuals as x"):
        residual_runs([1, 2], residuals)


@pytest.mark.parametrize("signs", [(0, 0), (0, 4), (4, 0)])
def test_residuals_of_one_sign_are_in_no_order(signs):
    assert few_runs_probability(1, *signs) == 1.0


@pytest.mark.parametrize("x", [[-1.0, -2, -3, -5], [1e-9, 2e-9, 3e-9, 5e-9]])
def test_the_bow_is_the_same_on_any_scale_of_x(x):
    residuals = [0.3, -0.5, -0.1, 0.2]
    usual = residual_bow([1.0, 2, 3, 5], residuals, [1] * 4, through_origin=True)
    found = residual_bow(x, residuals, [1] * 4, through_origin=True)
    assert found == pytest.approx(usual, rel=1e-9)

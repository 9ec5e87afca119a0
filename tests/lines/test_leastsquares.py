"""The minimum that a line is, against an independent search for it."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from benchproof.measuring.lines.leastsquares import solved
from benchproof.measuring.lines.points import checked_points
from benchproof.values.errors import InputError


def scattered(seed, n=9):
    rng = np.random.default_rng(seed)
    x, u_x = np.linspace(0, 10, n), rng.uniform(0.1, 1, n)
    y, u_y = 4 - 1.5 * x, rng.uniform(0.2, 2, n)
    x, y = x + u_x * rng.standard_normal(n), y + u_y * rng.standard_normal(n)
    return checked_points(x, y, u_x, u_y)


@pytest.mark.parametrize("seed", range(5))
def test_york_is_the_least_distance_to_points_free_to_move(seed):
    """Minimise over intercept, slope and every true x at once."""
    points = scattered(seed)

    def distances(unknown):
        a, b, x = unknown[0], unknown[1], unknown[2:]
        return np.concatenate(
            [(points.x - x) / points.u_x, (points.y - a - b * x) / points.u_y]
        )

    start = np.concatenate([[0.0, -1.0], points.x])
    found = least_squares(distances, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    line = solved(points)
    assert (line.intercept, line.slope) == pytest.approx(found.x[:2], rel=1e-6)
    assert line.chi_square == pytest.approx(2 * found.cost, rel=1e-9)
    # Its covariance is the inverse of JᵀJ at the minimum, with expected x.
    covariance = np.linalg.inv(found.jac.T @ found.jac)[:2, :2]
    assert line.u_slope**2 == pytest.approx(covariance[1, 1], rel=0.15)
    assert line.variance_at(0) == pytest.approx(covariance[0, 0], rel=0.15)


@pytest.mark.parametrize("seed", range(20))
def test_no_other_slope_has_a_smaller_chi_square(seed):
    points = scattered(seed, n=5)
    least = np.inf
    for slope in np.tan(np.linspace(-1.57, 1.57, 2001)):
        weights = 1 / (points.u_y**2 + slope**2 * points.u_x**2)
        rest = points.y - slope * points.x
        rest = rest - (weights * rest).sum() / weights.sum()
        least = min(least, (weights * rest**2).sum())
    assert solved(points).chi_square <= least * (1 + 1e-9)


def test_x_alone_uncertain_is_the_line_of_x_on_y():
    x, y = [0.1, 0.9, 2.2, 2.9], [0.0, 1.0, 2.0, 3.0]
    line = solved(checked_points(x, y, u_x=[0.1, 0.2, 0.1, 0.1]))
    swapped = solved(checked_points(y, x, u_y=[0.1, 0.2, 0.1, 0.1]))
    assert line.slope == pytest.approx(1 / swapped.slope)
    assert line.intercept == pytest.approx(-swapped.intercept / swapped.slope)


def test_level_and_slope_are_uncorrelated_at_the_centre():
    line = solved(scattered(1))
    at = line.variance_at
    assert at(line.centre) == line.u_centre**2
    assert at(line.centre + 2) == at(line.centre - 2)


@pytest.mark.parametrize("seed", range(3))
def test_level_and_intercept_describe_one_line(seed):
    line = solved(scattered(seed))
    assert line.value_at(7.0) == pytest.approx(line.intercept + 7 * line.slope)
    assert line.x_at(line.value_at(7.0)) == pytest.approx(7)


def test_through_the_origin_the_line_has_no_uncertainty_there():
    points = checked_points([1, 2, 3], [2, 4.1, 5.9], 0.1, 0.1, through_origin=True)
    line = solved(points, through_origin=True)
    assert (line.intercept, line.centre, line.variance_at(0)) == (0, 0, 0)


def test_an_exact_y_that_does_not_follow_x_is_refused():
    with pytest.raises(InputError, match="does not follow x at all; state u_y"):
        solved(checked_points([0, 1, 2], [1, 1, 1], u_x=0.1))


@pytest.mark.parametrize("size", [1e-200, 1e200])
def test_numbers_that_cannot_be_squared_are_refused(size):
    points = checked_points([0, size, 2 * size], [1, 2, 3.5])
    with np.errstate(over="ignore"), pytest.raises(InputError, match="another unit"):
        solved(points)

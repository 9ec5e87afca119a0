"""Straight lines by least squares."""

import math

import numpy as np
import pytest

from benchproof import fit_line
from benchproof.values.errors import InputError

X = [0.0, 1.0, 2.0, 4.0, 7.0]
Y = [1.1, 2.9, 5.2, 9.0, 14.8]


def test_a_line_through_exact_points_has_no_residual():
    line = fit_line(X, [2.0 + 3.0 * x for x in X])
    assert (line.intercept, line.slope) == (pytest.approx(2), pytest.approx(3))
    assert line.residual_deviation == pytest.approx(0, abs=1e-12)
    assert line.degrees_of_freedom == 3


def test_slope_intercept_and_their_covariance_agree_with_the_normal_equations():
    line = fit_line(X, Y)
    design = np.column_stack([np.ones(5), X])
    solution, rest, _, _ = np.linalg.lstsq(design, np.array(Y), rcond=None)
    covariance = np.linalg.inv(design.T @ design) * rest[0] / 3
    assert (line.intercept, line.slope) == pytest.approx(tuple(solution))
    assert line.u_intercept == pytest.approx(math.sqrt(covariance[0, 0]))
    assert line.u_slope == pytest.approx(math.sqrt(covariance[1, 1]))
    expected = covariance[0, 1] / (line.u_intercept * line.u_slope)
    assert line.correlation == pytest.approx(expected)


def test_the_line_is_known_best_at_the_middle_of_its_points():
    line = fit_line(X, Y)
    middle = sum(X) / 5
    value, u = line.at(middle)
    assert value == pytest.approx(sum(Y) / 5)
    assert u == pytest.approx(line.residual_deviation / math.sqrt(5))
    assert line.at(middle + 3)[1] > u < line.at(middle - 3)[1]


@pytest.mark.parametrize(
    ("x", "y"),
    [([1, 2], [1, 2]), ([1, 2, 3], [1, 2]), ([1, 1, 1], [1, 2, 3]), ([], [])],
)
def test_points_that_carry_no_line_are_refused(x, y):
    with pytest.raises(InputError, match="at least three points"):
        fit_line(x, y)

"""Points are checked before a line is laid, and the faulty one is named."""

import math

import numpy as np
import pytest

from benchproof.measuring.lines.points import checked_points
from benchproof.values.errors import InputError

X, Y = [0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0]


def test_without_uncertainties_the_points_weigh_the_same():
    points = checked_points(X, Y)
    assert not points.stated
    assert points.u_y.tolist() == [1, 1, 1, 1]
    assert points.u_x.tolist() == [0, 0, 0, 0]


@pytest.mark.parametrize("u", [0.5, np.float64(0.5), [0.5] * 4, np.full(4, 0.5)])
def test_one_uncertainty_serves_all_points_and_one_each_serves_too(u):
    points = checked_points(X, Y, u_y=u)
    assert points.stated
    assert points.u_y.tolist() == [0.5] * 4


@pytest.mark.parametrize("bad", [math.nan, math.inf, None, "x"])
def test_a_number_that_is_none_is_named_by_its_point(bad):
    with pytest.raises(InputError, match="x of point 2 is .*leave the point out"):
        checked_points([0, bad, 2], [1, 2, 3])
    with pytest.raises(InputError, match="y of point 3 is "):
        checked_points([0, 1, 2], [1, 2, bad])
    with pytest.raises(InputError, match="u_y of point 1 is "):
        checked_points([0, 1, 2], [1, 2, 3], u_y=[bad, 1, 1])


def test_a_negative_uncertainty_is_named_by_its_point():
    with pytest.raises(InputError, match=r"u_x of point 4 is -0.1; give .* > 0"):
        checked_points(X, Y, u_x=[0.1, 0.1, 0.1, -0.1], u_y=1)


def test_an_exact_y_among_uncertain_ones_is_refused():
    with pytest.raises(InputError, match="u_y of point 3 is 0 while others are not"):
        checked_points(X, Y, u_y=[0.1, 0.1, 0, 0.1])


def test_an_exact_x_among_uncertain_ones_is_refused_only_if_y_is_exact():
    u_x = [0, 0.1, 0.1, 0.1]
    with pytest.raises(InputError, match="u_x of point 1 is 0 while others are not"):
        checked_points(X, Y, u_x=u_x)
    assert checked_points(X, Y, u_x=u_x, u_y=0.1).u_x[0] == 0


def test_nothing_but_exact_points_is_refused():
    with pytest.raises(InputError, match="every uncertainty stated is 0"):
        checked_points(X, Y, u_x=0, u_y=0)


def test_as_many_uncertainties_as_points_are_needed():
    with pytest.raises(InputError, match="3 u_y for 4 points"):
        checked_points(X, Y, u_y=[1, 1, 1])


def test_points_at_one_x_are_refused():
    with pytest.raises(InputError, match="all 3 points have x = 5"):
        checked_points([5, 5, 5], [1, 2, 3])


def test_through_the_origin_two_points_at_one_x_suffice():
    assert checked_points([5, 5], [1, 2], through_origin=True).x.tolist() == [5, 5]


def test_through_the_origin_one_point_or_none_away_from_it_is_refused():
    with pytest.raises(InputError, match="at least two points"):
        checked_points([5], [1], through_origin=True)
    with pytest.raises(InputError, match="all 2 points have x = 0"):
        checked_points([0, 0], [1, 2], through_origin=True)

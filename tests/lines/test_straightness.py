"""What stops a line from being carried beyond its points."""

import math

import numpy as np
import pytest

from benchproof.measuring.lines.leastsquares import solved
from benchproof.measuring.lines.points import checked_points
from benchproof.measuring.lines.straightness import straightness_of


def judged(x, y, **options):
    points = checked_points(x, y, **options)
    through_origin = options.get("through_origin", False)
    return straightness_of(points, solved(points, through_origin), through_origin)


def test_a_parabola_is_objected_to_from_ten_points_by_its_runs():
    x = np.arange(10.0)
    found = judged(x, x + 0.01 * x**2)
    assert found.runs.runs == 3
    assert "only 3 runs" in found.objection
    (caveat,) = found.caveats
    assert caveat.endswith("no value outside the points is given")


@pytest.mark.parametrize("points", [6, 9])
def test_a_parabola_of_few_points_is_objected_to_by_its_bow(points):
    x = np.arange(float(points))
    found = judged(x, x + 0.01 * x**2)
    assert not found.runs.can_object
    assert "the residuals bow" in found.objection


@pytest.mark.parametrize("slope", [1 / 3, 0.1, -7.7, 1e6])
@pytest.mark.parametrize("through_origin", [False, True])
def test_rounding_along_an_exact_line_is_no_curve(slope, through_origin):
    x = np.linspace(0.1, 50, 40)
    found = judged(x, slope * x, through_origin=through_origin)
    assert found.objection == ""
    assert "cannot object" in found.caveats[0]


# Held to the origin a line may miss its points in two runs: 2 of C(8, 4) = 70 orders.
def test_through_the_origin_eight_points_are_enough_for_the_runs():
    x = np.arange(1.0, 9)
    y = x + 0.01 * np.array([1, 1.1, 1, 1.1, -0.6, -0.7, -0.5, -0.6])
    found = judged(x, y, through_origin=True)
    assert (found.runs.runs, found.runs.positive) == (2, 4)
    assert found.runs.least_p == pytest.approx(2 / 70)
    assert found.runs.too_few


def test_three_points_leave_the_question_open():
    found = judged([0, 1, 2], [0, 1, 2.2])
    assert math.isnan(found.bow_p)
    assert found.objection == ""
    assert "rests on the assumption" in found.caveats[0]


def test_scatter_of_many_points_about_a_line_brings_no_caveat():
    rng = np.random.default_rng(2)
    x = np.arange(20.0)
    assert judged(x, 3 * x + rng.standard_normal(20)).caveats == ()

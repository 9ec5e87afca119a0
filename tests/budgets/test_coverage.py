"""Degrees of freedom and coverage factors."""

import math

import numpy as np
import pytest

from benchproof.reasoning.budgets.coverage import (
    coverage_factor,
    effective_degrees_of_freedom,
    trapezoid_factor,
)
from benchproof.values.errors import InputError


def test_a_certain_part_raises_the_degrees_of_freedom():
    assert effective_degrees_of_freedom([(1.0, 4), (1.0, math.inf)]) == (
        pytest.approx(16)
    )
    assert math.isinf(effective_degrees_of_freedom([(1.0, math.inf)]))
    assert math.isinf(effective_degrees_of_freedom([]))


def test_effective_degrees_of_freedom_do_not_depend_on_the_unit():
    # 1e-200 V squared underflows to nothing in the plain formula's fourth power.
    terms = [(1.0, 3), (2.0, 7)]
    expected = effective_degrees_of_freedom(terms)
    small = effective_degrees_of_freedom([(1e-90 * u, dof) for u, dof in terms])
    assert small == pytest.approx(expected)


def test_degrees_of_freedom_are_truncated_never_rounded_up():
    assert coverage_factor(0.95, 4.99) == coverage_factor(0.95, 4)
    # But the noise of a sum does not cost a whole degree.
    assert coverage_factor(0.95, 5 - 1e-12) == coverage_factor(0.95, 5)


def test_many_degrees_of_freedom_approach_the_normal_distribution():
    assert coverage_factor(0.95) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(0.95, 1e6) == pytest.approx(1.959964, abs=1e-5)


@pytest.mark.parametrize(
    ("level", "dof"),
    [(0.0, 5), (1.0, 5), (95, 5), (0.95, 0.9), (0.95, 0), (0.95, math.nan)],
)
def test_a_level_or_degrees_of_freedom_that_cannot_be_are_refused(level, dof):
    with pytest.raises(InputError, match="give a level between 0 and 1"):
        coverage_factor(level, dof)


@pytest.mark.parametrize("level", [0.3, 0.5, 0.6827, 0.95, 0.99])
@pytest.mark.parametrize(("first", "second"), [(1.0, 0.0), (1.0, 0.4), (0.4, 1.0)])
def test_a_trapezoid_has_the_level_within_its_factor(level, first, second):
    # Both rectangles on a fine grid of cell centres: 2000² pairs, good to 1e-3.
    grid = (np.arange(2000) + 0.5) / 1000 - 1
    pairs = math.sqrt(3) * np.abs(first * grid[:, None] + second * grid)
    half = trapezoid_factor(level, first, second) * math.hypot(first, second)
    assert np.mean(pairs <= half) == pytest.approx(level, abs=1e-3)


# EA-4/02, S11. Read: printed 1.81; the formula gives 1.797 from 144 and 58 mK.
def test_the_factor_of_two_rectangular_sources_is_near_the_published_one():
    assert trapezoid_factor(0.9545, 144, 58) == pytest.approx(1.81, rel=0.01)

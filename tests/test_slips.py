"""Readings that look like a slip of the point, the prefix or the sign."""

import math

import pytest

from benchproof.measuring.slips import slip_text

STEADY = [3.284, 3.285, 3.284]


@pytest.mark.parametrize("factor", [0.1, 10, 0.001, 1000, 1e6])
def test_a_whole_power_of_ten_looks_like_a_slip_of_point_or_prefix(factor):
    assert "decimal point or of the prefix" in slip_text(STEADY, 3.284 * factor)


def test_the_factor_and_the_way_are_said():
    assert slip_text(STEADY, 3284.0).startswith("1000 times larger")
    assert slip_text(STEADY, 0.3284).startswith("10 times smaller")


def test_a_large_factor_that_is_no_power_of_ten_is_questioned():
    assert slip_text(STEADY, 3.284 * 4).startswith("4 times larger")


@pytest.mark.parametrize("factor", [0.5, 0.9, 1.0, 1.1, 2.0])
def test_ordinary_scatter_and_ordinary_changes_are_left_alone(factor):
    assert slip_text(STEADY, 3.284 * factor) == ""


def test_an_opposite_sign_asks_for_the_leads():
    assert "leads swapped" in slip_text(STEADY, -3.284)


@pytest.mark.parametrize(
    ("earlier", "new"),
    [([], 3.0), ([0.0], 3.0), (STEADY, 0.0), (STEADY, math.nan), ([-1.0, 1.0], 5.0)],
)
def test_where_there_is_nothing_to_compare_nothing_is_said(earlier, new):
    assert slip_text(earlier, new) == ""

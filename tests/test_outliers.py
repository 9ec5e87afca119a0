"""Readings that stand out (Grubbs), and the quantiles behind them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import stdtrit

from benchproof.measuring.outliers import (
    grubbs,
    grubbs_critical,
    least_quantile,
    student_quantile,
    suspect_among,
)
from benchproof.values.errors import InputError

# As a display shows them: whole last digits.
READINGS = st.lists(
    st.integers(-(10**6), 10**6).map(lambda digits: digits / 1000),
    min_size=3,
    max_size=30,
)

# NIST/SEMATECH e-Handbook, 1.3.5.17.1 (Tietjen and Moore 1972). Read and recomputed.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

# Invented: a sleep current in µA, one reading with a finger on the board.
SLEEP = [3.12, 3.09, 3.15, 3.11, 4.35, 3.08, 3.13]


def test_the_handbooks_eight_isotope_ratios_agree():
    found = grubbs(URANIUM)
    assert (found.index, found.value) == (7, 245.57)
    assert found.statistic == pytest.approx(2.4687, abs=1e-4)
    # Printed 2.126; recomputed 2.1266.
    assert found.critical == pytest.approx(2.126, abs=1e-3)
    assert grubbs_critical(8, 0.05, sides=1) == pytest.approx(2.032, abs=1e-3)
    assert found.stands_out


# ASTM E178, and ISO 5725-2, Table 5, whose 5 % column is the two-sided one. Partly
# read, the rest from memory; recomputed agrees. Tables of different age differ by
# up to 0.002.
@pytest.mark.parametrize(
    ("count", "one_sided", "two_sided"),
    [
        (3, 1.153, 1.155),
        (4, 1.463, 1.481),
        (5, 1.672, 1.715),
        (6, 1.822, 1.887),
        (7, 1.938, 2.020),
        (8, 2.032, 2.126),
        (9, 2.110, 2.215),
        (10, 2.176, 2.290),
        (15, 2.409, 2.549),
        (20, 2.557, 2.709),
    ],
)
def test_critical_values_agree_with_the_standards_tables(count, one_sided, two_sided):
    assert grubbs_critical(count, 0.05, sides=1) == pytest.approx(one_sided, abs=0.002)
    assert grubbs_critical(count) == pytest.approx(two_sided, abs=0.002)


def test_a_finger_on_the_board_stands_out():
    found = grubbs(SLEEP)
    assert (found.index, found.value) == (4, 4.35)
    assert found.statistic == pytest.approx(2.265, abs=5e-4)
    assert found.critical == pytest.approx(2.020, abs=5e-4)


def test_statistic_and_critical_value_are_told_apart_in_words():
    # Of four readings no statistic exceeds 3/sqrt(4) = 1.5.
    text = grubbs([21.70, 21.73, 2.171, 21.71], 0.01).text
    assert "1.5 standard deviations from the mean, beyond 1.496 (" in text


def test_the_flag_asks_for_a_physical_reason_and_says_that_the_reading_counts():
    text = grubbs(SLEEP).text
    assert text.startswith("reading 5 (4.35) stands out: 2.26 standard deviations")
    assert "beyond 2.02 (Grubbs, two-sided, 5 %)" in text
    assert "It still counts" in text
    assert "strike it only for a physical reason" in text


def test_a_reading_that_does_not_stand_out_says_nothing():
    found = grubbs([5.031, 5.034, 5.036, 5.033, 5.035])
    assert (found.index, found.stands_out, found.text) == (0, False, "")


def test_a_stricter_level_asks_for_more():
    assert grubbs_critical(8, 0.01) > grubbs_critical(8, 0.05)


def test_equal_readings_have_no_suspect():
    found = grubbs([5.0, 5.0, 5.0])
    assert (found.statistic, found.stands_out) == (0.0, False)


def test_the_readings_are_left_as_they_were():
    readings = list(SLEEP)
    grubbs(readings)
    assert readings == SLEEP


@pytest.mark.parametrize("count", [4, 5, 10, 20, 50, 200])
def test_one_last_digit_off_among_equal_readings_is_rounding(count):
    readings = [12.10] * (count - 1) + [12.09]
    assert grubbs(readings).stands_out
    assert not grubbs(readings, step=0.01).stands_out


def test_ten_last_digits_off_among_equal_readings_stand_out():
    assert grubbs([12.10] * 6 + [12.00], step=0.01).stands_out


def test_good_readings_are_flagged_about_as_often_as_the_level_says():
    rng = np.random.default_rng(20260131)
    sets = rng.normal(size=(4000, 8))
    share = np.mean([grubbs(row.tolist()).stands_out for row in sets])
    # Bounded from above by 5 %; its own scatter over 4000 sets is 0.34 %.
    assert 0.05 - 3 * 0.0034 < share < 0.05 + 3 * 0.0034


@given(READINGS, st.floats(0.01, 100), st.floats(-100, 100))
def test_the_statistic_does_not_depend_on_unit_or_zero(readings, scale, shift):
    moved = [scale * x + shift for x in readings]
    assert grubbs(moved).statistic == pytest.approx(
        grubbs(readings).statistic, rel=1e-6, abs=1e-6
    ) or max(readings) == min(readings)


@given(READINGS)
def test_the_statistic_stays_below_its_largest_possible_value(readings):
    n = len(readings)
    assert 0 <= grubbs(readings).statistic <= (n - 1) / math.sqrt(n) * (1 + 1e-9)


@given(READINGS)
def test_the_quick_way_finds_what_the_full_test_finds(readings):
    found = grubbs(readings, 0.05, 0.001)
    deviations = [x - np.mean(readings) for x in readings]
    s = float(np.std(readings, ddof=1))
    quick = suspect_among(readings, deviations, s, 0.05, 0.001)
    if abs(found.statistic - found.critical) > 1e-9:
        assert (quick is not None) == found.stands_out
    if quick:
        assert quick.critical == found.critical


@pytest.mark.parametrize("tail", [0.1, 0.025, 0.005, 0.0005, 1e-5, 1e-9])
def test_the_quick_bound_lies_below_the_quantile_for_all_degrees_of_freedom(tail):
    for dof in [*range(1, 60), 100, 1000, 10**5]:
        assert least_quantile(tail, dof) <= -stdtrit(dof, tail) * (1 + 1e-9)


@pytest.mark.parametrize(("dof", "short"), [(5, 0.05), (8, 0.013), (20, 0.001)])
def test_the_quick_bound_is_close_from_five_degrees_of_freedom(dof, short):
    for tail in (0.1, 0.025, 0.0025):
        exact = -stdtrit(dof, tail)
        assert least_quantile(tail, dof) > exact * (1 - short)


# Student's t, 97.5 %: JCGM 100:2008, Table G.2. From memory, recomputed agrees.
@pytest.mark.parametrize(
    ("dof", "t"), [(1, 12.71), (2, 4.30), (4, 2.78), (10, 2.23), (50, 2.01)]
)
def test_students_quantile_agrees_with_the_guides_table(dof, t):
    assert student_quantile(0.025, dof) == pytest.approx(t, abs=0.005)


@pytest.mark.parametrize(
    "readings", [[], [1.0, 2.0], [1.0, 2.0, math.nan], [1.0, 2.0, math.inf]]
)
def test_too_few_or_missing_readings_are_refused(readings):
    with pytest.raises(InputError, match="three or more, all of them finite"):
        grubbs(readings)


@pytest.mark.parametrize("step", [-0.01, math.inf, math.nan])
def test_a_last_digit_without_a_size_is_refused(step):
    with pytest.raises(InputError, match="give the last digit's size, or 0"):
        grubbs(SLEEP, step=step)


@pytest.mark.parametrize(
    ("count", "level", "sides"), [(2, 0.05, 2), (8, 0.0, 2), (8, 1.0, 2), (8, 0.05, 3)]
)
def test_a_critical_value_out_of_range_is_refused(count, level, sides):
    with pytest.raises(InputError, match="give at least three readings, a level"):
        grubbs_critical(count, level, sides)

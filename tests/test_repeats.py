"""Statistics of repeated readings."""

import math
import statistics
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.special import poch

from benchproof import summarise
from benchproof.measuring.repeats import correlation, relative_uncertainty_of_s
from benchproof.values.errors import InputError

# As a display shows them: whole last digits.
READINGS = st.lists(
    st.integers(-(10**9), 10**9).map(lambda digits: digits / 1000),
    min_size=2,
    max_size=30,
)


@given(READINGS)
def test_mean_and_deviation_agree_with_exact_arithmetic(readings):
    found = summarise(readings)
    size = max(map(abs, readings))
    assert found.mean == pytest.approx(statistics.mean(readings), abs=1e-12 * size)
    assert found.standard_deviation == pytest.approx(
        statistics.stdev(readings), rel=1e-6, abs=1e-12 * size
    )
    assert found.standard_uncertainty * math.sqrt(found.effective_count) == (
        pytest.approx(found.standard_deviation)
    )
    assert found.count == len(readings)


def test_digits_survive_when_readings_share_many_leading_ones():
    found = summarise([1e9 + 0.1, 1e9 + 0.2, 1e9 + 0.3])
    assert found.standard_deviation == pytest.approx(0.1, rel=1e-6)


def test_equal_readings_have_exactly_no_scatter():
    for n in range(2, 60):
        found = summarise([0.1 * n] * n)
        assert (found.mean, found.standard_deviation) == (0.1 * n, 0.0)
        assert (found.slope, found.flags) == (0.0, ())


def test_one_reading_has_no_known_scatter():
    found = summarise([5.0])
    assert (found.count, found.mean, found.degrees_of_freedom) == (1, 5.0, 0)
    assert math.isnan(found.standard_deviation)
    assert math.isnan(found.standard_uncertainty)
    assert math.isnan(found.lag_1)
    assert (found.effective_count, found.flags) == (1.0, ())


@pytest.mark.parametrize("readings", [[], [1.0, math.nan], [math.inf]])
def test_readings_that_carry_no_mean_are_refused(readings):
    with pytest.raises(InputError, match="at least one reading, all of them finite"):
        summarise(readings)


def test_a_steady_climb_is_flagged_as_drift():
    said = summarise([5.00, 5.01, 5.02, 5.03, 5.04, 5.05]).drift
    assert "the readings drift (+0.01 per reading)" in said


def test_a_climb_that_stands_out_of_the_scatter_is_flagged():
    readings = [5.00, 5.02, 5.03, 5.06, 5.07, 5.11, 5.12, 5.13]
    assert summarise(readings).drift
    assert "(-" in summarise(readings[::-1]).drift


@pytest.mark.parametrize(
    "readings",
    [
        [5.00, 5.02, 5.01, 5.03, 5.00, 5.02],
        [5.0] * 8,
        [5.00, 5.01, 5.02, 5.03],
    ],
)
def test_scatter_constancy_and_too_few_readings_are_no_drift(readings):
    assert summarise(readings).drift == ""


def test_correlation_of_equal_opposite_and_constant_readings():
    a = [1.0, 2.0, 4.0]
    assert correlation(a, a) == pytest.approx(1)
    assert correlation(a, [-x for x in a]) == pytest.approx(-1)
    assert correlation(a, [7.0, 7.0, 7.0]) == 0


@given(READINGS, st.randoms())
def test_correlation_lies_between_minus_one_and_one_and_is_symmetric(a, random):
    b = [random.uniform(-1, 1) for _ in a]
    r = correlation(a, b)
    assert abs(r) <= 1
    assert correlation(b, a) == pytest.approx(r)


def test_rounding_carries_no_correlation_beyond_one():
    # Of these 200, a tenth come out beyond by their last digit.
    for row in np.random.default_rng(1).normal(size=(200, 7)).tolist():
        assert correlation(row, [-x for x in row]) >= -1
        assert correlation(row, row) <= 1


def test_one_reading_has_the_statistics_of_another_like_it():
    # What a single reading does not tell is NaN, which no plain comparison equals.
    assert summarise([1.0]) == summarise([1.0])
    assert summarise([1.0]) != summarise([2.0])
    assert summarise([1.0]) != 1.0


def test_correlation_does_not_depend_on_how_small_the_readings_are():
    a, tiny = [1.0, 2.0, 4.0, 3.0], [3e-162, 1e-162, 4e-162, 9e-162]
    r = correlation(a, [3.0, 1.0, 4.0, 9.0])
    assert correlation(a, tiny) == pytest.approx(r)


def test_correlation_needs_as_many_of_each():
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        correlation([1.0, 2.0, 3.0], [1.0, 2.0])


def test_correlation_refuses_readings_that_are_missing():
    with pytest.raises(InputError, match="all of them finite"):
        correlation([1.0, math.nan], [1.0, 2.0])


# NIST StRD, univariate, NumAcc1 to NumAcc4: constructed data, so that they can be
# built here. Certified mean, s and r1; 1 to 3 read and recomputed, 4 from memory.
# s to what rounding the data to doubles leaves of it.
def numerical(first, second, third):
    return [first, *[second, third] * 500]


@pytest.mark.parametrize(
    ("readings", "mean", "s", "r1", "tolerance"),
    [
        ([10000001, 10000003, 10000002], 10000002, 1, -0.5, 1e-15),
        (numerical(1.2, 1.1, 1.3), 1.2, 0.1, -0.999, 1e-14),
        (numerical(1e6 + 0.2, 1e6 + 0.1, 1e6 + 0.3), 1e6 + 0.2, 0.1, -0.999, 1e-9),
        (numerical(1e7 + 0.2, 1e7 + 0.1, 1e7 + 0.3), 1e7 + 0.2, 0.1, -0.999, 1e-8),
    ],
)
def test_certified_mean_deviation_and_autocorrelation(readings, mean, s, r1, tolerance):
    found = summarise(readings)
    assert found.mean == pytest.approx(mean, rel=1e-15)
    assert found.standard_deviation == pytest.approx(s, rel=tolerance)
    assert found.lag_1 == pytest.approx(r1, rel=max(tolerance, 1e-13))


# JCGM 100:2008, 4.4.3, Table 1. From memory, recomputed agrees. Half of the last
# digit. The table is sorted, which says nothing of the order in which they were
# taken; here every seventh of them follows.
TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def test_gum_4_4_3_twenty_temperatures_agree():
    found = summarise([TEMPERATURES[7 * i % 20] for i in range(20)])
    assert found.mean == pytest.approx(100.145, abs=0.0005)
    assert found.standard_deviation == pytest.approx(1.489, abs=0.0005)
    assert found.standard_uncertainty == pytest.approx(0.333, abs=0.0005)
    assert (found.degrees_of_freedom, found.flags) == (19, ())


def test_the_same_temperatures_in_rising_order_carry_no_such_mean():
    found = summarise(TEMPERATURES)
    assert found.standard_uncertainty == found.standard_deviation
    assert found.drift


# JCGM 100:2008, Table E.1, in percent. From memory, recomputed agrees.
@pytest.mark.parametrize(
    ("count", "percent"),
    [(2, 76), (3, 52), (4, 42), (5, 36), (10, 24), (20, 16), (30, 13), (50, 10)],
)
def test_gum_table_e1_relative_uncertainty_of_s_agrees(count, percent):
    assert 100 * relative_uncertainty_of_s(count) == pytest.approx(percent, abs=0.5)


@pytest.mark.parametrize("count", [2, 7, 99, 100, 101, 300])
def test_the_uncertainty_of_s_agrees_with_the_gamma_function(count):
    # c4 = √(2/(n - 1)) Γ(n/2)/Γ((n - 1)/2).
    c4 = poch((count - 1) / 2, 0.5) / math.sqrt((count - 1) / 2)
    expected = math.sqrt((1 - c4**2) / c4**2)
    assert relative_uncertainty_of_s(count) == pytest.approx(expected, rel=1e-8)


def test_the_uncertainty_of_s_has_no_step_where_its_formula_changes():
    below, at, above = (relative_uncertainty_of_s(n) for n in (99, 100, 101))
    assert at == pytest.approx(math.sqrt(below * above), rel=1e-4)
    # 1/√(2(n - 1)) is good to order 1/n.
    assert relative_uncertainty_of_s(10**9) * math.sqrt(2e9) == pytest.approx(1)


def test_two_readings_are_the_fewest_whose_scatter_has_an_uncertainty():
    with pytest.raises(InputError, match="at least two have a scatter"):
        relative_uncertainty_of_s(1)


# Invented: a wet film's resistance in kΩ, one reading each 10 s.
FILM = [1.93, 2.28, 2.71, 3.05, 3.36, 3.60]


def test_drifting_readings_are_refused_their_root_n():
    found = summarise(FILM)
    assert found.standard_uncertainty == found.standard_deviation
    assert (found.degrees_of_freedom, found.effective_count) == (5, 1.0)
    assert found.flags == (found.drift,)


def test_the_drift_flag_says_why_and_what_to_do():
    said = summarise(FILM).drift
    assert "do not describe a steady value, so u is their scatter s" in said
    assert "Wait until it settles and record again" in said
    assert "treat the trend as the quantity" in said


def test_the_slope_is_that_of_a_straight_line_through_the_readings():
    assert summarise(FILM).slope == pytest.approx(np.polyfit(range(6), FILM, 1)[0])


# t of the slope: its 99 % quantiles are 5.841 (n = 5) and 2.878 (n = 20), JCGM
# 100:2008, Table G.2. From memory, recomputed agrees.
@pytest.mark.parametrize(("count", "quantile"), [(5, 5.841), (20, 2.878)])
@pytest.mark.parametrize(("times", "drifts"), [(0.999, False), (1.001, True)])
def test_a_slope_counts_as_drift_from_students_99_percent_on(
    count, quantile, times, drifts
):
    places = np.arange(count) - (count - 1) / 2
    scatter = np.resize([1.0, -2.0, 2.0, -1.0, 0.5], count)
    scatter = scatter - np.polyval(np.polyfit(places, scatter, 1), places)
    u_slope = math.sqrt(np.sum(scatter**2) / (count - 2) / np.sum(places**2))
    readings = scatter + times * quantile * u_slope * places
    assert bool(summarise(readings.tolist()).drift) == drifts


@pytest.mark.parametrize("readings", [[5.0, 5.2, 5.4, 5.6], [1.0, 1.5, 2.0, 2.5]])
def test_a_few_evenly_rising_readings_drift_only_against_a_known_last_digit(readings):
    assert summarise(readings).drift == ""
    assert summarise(readings, step=0.01).drift
    assert summarise(readings, step=0.5).drift == ""


def test_two_readings_cannot_drift():
    assert summarise([1.0, 100.0], step=0.01).flags == ()


def test_a_change_by_one_last_digit_is_no_drift():
    readings = [12.09] * 4 + [12.10] * 4
    assert summarise(readings).drift
    assert summarise(readings, step=0.01).flags == ()


def test_good_readings_are_seldom_flagged():
    rng = np.random.default_rng(20260131)
    sets = [summarise(row.tolist()) for row in rng.normal(size=(4000, 10))]
    drifting = np.mean([bool(s.drift) for s in sets])
    odd = np.mean([any("stands out" in f for f in s.flags) for s in sets])
    # 1 % each; the share of 4000 sets scatters by 0.16 %.
    assert drifting == pytest.approx(0.01, abs=3 * 0.0016)
    assert odd == pytest.approx(0.01, abs=3 * 0.0016)


# Invented: a few last digits about 5 V that come and go slowly, without a trend.
DIGITS = (3, 3, 2, 3, 3, -4, -4, -3, -4, -4, 3, 2, 3, 4, 3, -2, -3, -2, -2, -2)
ALIKE = [5 + 0.01 * x for x in DIGITS]


def test_readings_that_resemble_the_one_before_count_as_fewer():
    found = summarise(ALIKE)
    n, r1 = len(ALIKE), found.lag_1
    assert r1 > 2 / math.sqrt(n)
    assert found.effective_count == pytest.approx(n * (1 - r1) / (1 + r1))
    assert found.standard_uncertainty == pytest.approx(
        found.standard_deviation / math.sqrt(found.effective_count)
    )
    assert found.degrees_of_freedom == int(found.effective_count) - 1
    assert found.drift == ""


def test_the_autocorrelation_flag_says_what_to_do():
    (said,) = summarise(ALIKE).flags
    assert said.startswith("each reading resembles the one before it")
    assert "20 readings count as 4.9 independent ones" in said
    assert said.endswith("Leave more time between readings")


# n (1 - r)/(1 + r): twenty readings at 0.6 are worth five. Computed by hand.
def test_twenty_readings_with_autocorrelation_0_6_count_as_five():
    found = summarise(ALIKE)
    assert found.lag_1 == pytest.approx(0.6, abs=0.01)
    assert found.effective_count == pytest.approx(5, abs=0.1)
    assert found.degrees_of_freedom == 3


def test_strong_autocorrelation_leaves_at_least_one_reading():
    wave = [math.cos(math.pi * i / 3.5) for i in range(8)]
    blocks = [1.0, 1.0, 1.001, -2.0, -2.0, -2.0, -2.0, 1.0, 1.0, 1.0]
    for readings in (wave, blocks):
        found = summarise(readings)
        assert found.effective_count >= 1
        assert found.degrees_of_freedom >= 1


def test_alternating_readings_gain_nothing():
    found = summarise([5.01, 4.99] * 6)
    assert found.lag_1 < -0.9
    assert (found.effective_count, found.flags) == (12.0, ())


def test_autocorrelated_readings_are_covered_far_better_than_by_root_n():
    # First-order autoregression, 0.6, 50 readings about 0; half-widths by k = 2.
    rng = np.random.default_rng(20260131)
    honest = naive = 0
    for _ in range(1000):
        x = [rng.normal()]
        for e in rng.normal(0, 0.8, 49):
            x.append(0.6 * x[-1] + e)
        found = summarise(x)
        honest += abs(found.mean) < 2 * found.standard_uncertainty
        naive += abs(found.mean) < 2 * found.standard_deviation / math.sqrt(50)
    # Measured 0.91 and 0.65: better, and still short of 0.95.
    assert honest / 1000 > 0.85
    assert naive / 1000 < 0.75


def test_a_reading_that_stands_out_is_flagged_and_still_counts():
    found = summarise([3.12, 3.09, 3.15, 4.35, 3.11, 3.08, 3.13])
    (said,) = found.flags
    assert said.startswith("reading 4 (4.35) stands out")
    assert (found.count, found.degrees_of_freedom) == (7, 6)
    assert found.mean > 3.2


def test_one_last_digit_off_does_not_stand_out():
    assert summarise([12.10, 12.10, 12.09, 12.10, 12.10], step=0.01).flags == ()


@pytest.mark.parametrize("step", [-1.0, math.nan, math.inf])
def test_a_last_digit_without_a_size_is_refused(step):
    with pytest.raises(InputError, match="give the last digit's size, or 0"):
        summarise([1.0, 2.0], step)


@pytest.mark.parametrize("readings", [[1e308, 1e308, 1e308], [1e200, -1e200]])
def test_readings_too_large_to_be_squared_are_refused(readings):
    with pytest.raises(InputError, match="too large to be squared"):
        summarise(readings)


@given(READINGS, st.randoms())
def test_the_order_of_readings_leaves_mean_and_deviation_alone(readings, random):
    shuffled = random.sample(readings, len(readings))
    before, after = summarise(readings), summarise(shuffled)
    assert after.mean == pytest.approx(before.mean, rel=1e-12, abs=1e-300)
    assert after.standard_deviation == pytest.approx(
        before.standard_deviation, rel=1e-12, abs=1e-300
    )


@given(READINGS, st.floats(1e-3, 1e3), st.floats(-1e3, 1e3))
def test_scaling_scales_and_shifting_shifts(readings, scale, shift):
    before = summarise(readings)
    size = scale * max(map(abs, readings)) + abs(shift)
    after = summarise([scale * x + shift for x in readings])
    assert after.mean == pytest.approx(scale * before.mean + shift, abs=1e-12 * size)
    # A rounded last bit of the moved readings is all that may differ.
    assert after.standard_deviation == pytest.approx(
        scale * before.standard_deviation, rel=1e-12, abs=1e-14 * size
    )


@given(READINGS, st.integers(-8, 8))
def test_a_change_of_binary_unit_changes_no_judgement(readings, power):
    scale = 2.0**power
    before, after = summarise(readings), summarise([scale * x for x in readings])
    assume(before.standard_deviation > 0)
    assert after.lag_1 == before.lag_1
    assert after.effective_count == before.effective_count
    assert after.degrees_of_freedom == before.degrees_of_freedom
    assert len(after.flags) == len(before.flags)


@given(READINGS)
def test_the_uncertainty_lies_between_root_n_and_the_scatter_itself(readings):
    found = summarise(readings)
    s, n = found.standard_deviation, len(readings)
    assert s / math.sqrt(n) <= found.standard_uncertainty <= s
    assert 1 <= found.degrees_of_freedom <= n - 1


def test_clean_readings_are_judged_without_importing_scipy():
    program = (
        "import sys\n"
        "from benchproof.measuring.repeats import summarise\n"
        "assert not summarise([5.031, 5.034, 5.036, 5.033, 5.035], 0.001).flags\n"
        "print('scipy.special' in sys.modules)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "False"

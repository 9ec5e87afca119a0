"""Straight lines by least squares: estimates, uncertainties, use and refusal."""

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof import fit_line
from benchproof.values.errors import InputError

X = [0.0, 1.0, 2.0, 4.0, 7.0]
Y = [1.1, 2.9, 5.2, 9.0, 14.8]

# Pearson's ten points of 1901 with York's weights of 1966. Read, and recomputed.
PEARSON_X = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
PEARSON_Y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
U_X = [w**-0.5 for w in [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1]]
U_Y = [w**-0.5 for w in [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500]]

# Invented: a supply that sags along a curve.
AMPERES = [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0]
VOLTS = [19.10, 17.55, 16.62, 15.84, 15.14, 14.50, 13.90, 12.80, 11.80]


def estimates(line):
    return line.intercept, line.slope, line.u_intercept, line.u_slope


def test_a_line_through_exact_points_has_no_residual():
    line = fit_line(X, [2.0 + 3.0 * x for x in X])
    assert (line.intercept, line.slope) == (pytest.approx(2), pytest.approx(3))
    assert line.residual_deviation == pytest.approx(0, abs=1e-12)
    assert line.degrees_of_freedom == 3
    assert line.n == 5
    assert line.x_range == (0, 7)


def test_slope_intercept_and_their_covariance_agree_with_the_normal_equations():
    line = fit_line(X, Y)
    design = np.column_stack([np.ones(5), X])
    solution, rest, _, _ = np.linalg.lstsq(design, np.array(Y), rcond=None)
    covariance = np.linalg.inv(design.T @ design) * rest[0] / 3
    assert (line.intercept, line.slope) == pytest.approx(tuple(solution))
    assert line.u_intercept == pytest.approx(math.sqrt(covariance[0, 0]))
    assert line.u_slope == pytest.approx(math.sqrt(covariance[1, 1]))
    assert line.covariance == pytest.approx(covariance[0, 1])
    expected = covariance[0, 1] / (line.u_intercept * line.u_slope)
    assert line.correlation == pytest.approx(expected)


def test_a_weighted_line_agrees_with_the_weighted_normal_equations():
    u = np.array([0.1, 0.2, 0.1, 0.4, 0.3])
    line = fit_line(X, Y, u_y=u)
    design = np.column_stack([np.ones(5), X]) / u[:, None]
    covariance = np.linalg.inv(design.T @ design)
    solution = covariance @ design.T @ (np.array(Y) / u)
    assert (line.intercept, line.slope) == pytest.approx(tuple(solution))
    assert line.u_intercept == pytest.approx(math.sqrt(covariance[0, 0]))
    assert line.u_slope == pytest.approx(math.sqrt(covariance[1, 1]))
    assert line.covariance == pytest.approx(covariance[0, 1])


# JCGM 100:2008, H.3, Table H.6: corrections of a thermometer against its reading
# less 20 °C. Read, and recomputed. Half of each last digit.
def test_gum_h3_thermometer_line_agrees():
    readings = [
        *(21.521, 22.012, 22.512, 23.003, 23.507, 23.999),
        *(24.513, 25.002, 25.503, 26.010, 26.511),
    ]
    corrections = [
        *(-0.171, -0.169, -0.166, -0.159, -0.164, -0.165),
        *(-0.156, -0.157, -0.159, -0.161, -0.160),
    ]
    line = fit_line([t - 20 for t in readings], corrections)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-3)
    assert line.residual_deviation == pytest.approx(0.0035, abs=5e-5)
    assert line.degrees_of_freedom == 9
    # H.3.4: b(30 °C), beyond the points, where the covariance counts.
    value, u = line.at(10)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert u == pytest.approx(0.0041, abs=5e-5)


# Published fits of these points (Neri and others 1989, Reed 1992, Lybanon 1984).
# Read, and recomputed.
def test_york_line_through_pearsons_points_agrees():
    line = fit_line(PEARSON_X, PEARSON_Y, u_x=U_X, u_y=U_Y)
    assert line.intercept == pytest.approx(5.47991022, abs=1e-7)
    assert line.slope == pytest.approx(-0.480533407, abs=1e-7)
    assert line.chi_square == pytest.approx(11.8664, abs=1e-4)
    assert line.birge**2 == pytest.approx(1.4833, abs=1e-4)


# York and others, Am. J. Phys. 72 (2004) 367, and the same scaled by the scatter.
# Read, and recomputed.
def test_york_standard_uncertainties_agree_internal_and_external():
    line = fit_line(PEARSON_X, PEARSON_Y, u_x=U_X, u_y=U_Y)
    assert line.basis == "internal"
    assert line.u_intercept == pytest.approx(0.294971, abs=1e-5)
    assert line.u_slope == pytest.approx(0.057985, abs=1e-5)
    assert line.u_external == pytest.approx((0.35925, 0.07062), abs=1e-5)


# NIST StRD, linear regression: Norris (36 points), certified values. Read, and
# recomputed; the file travels with scipy.
def test_nist_norris_agrees_with_the_certified_values():
    folder = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress"
    text = (folder / "Norris.dat").read_text(encoding="utf-8").splitlines()
    points = [tuple(map(float, row.split())) for row in text[60:96]]
    line = fit_line([x for _, x in points], [y for y, _ in points])
    assert line.n == 36
    expected = (
        *(-0.262323073774029, 1.00211681802045),
        *(0.232818234301152, 0.000429796848199937),
    )
    assert estimates(line) == pytest.approx(expected, rel=1e-9)
    assert line.residual_deviation == pytest.approx(0.884796396144373, rel=1e-9)


# NIST StRD, regression through the origin: NoInt1 and NoInt2, certified values. Read,
# and recomputed.
@pytest.mark.parametrize(
    ("x", "y", "slope", "u_slope", "s"),
    [
        (
            *(range(60, 71), range(130, 141)),
            *(2.07438016528926, 0.0165289256198347, 3.56753034006338),
        ),
        (
            *([4, 5, 6], [3, 4, 4]),
            *(0.727272727272727, 0.0420827318078432, 0.369274472937998),
        ),
    ],
)
def test_nist_lines_through_the_origin_agree(x, y, slope, u_slope, s):
    line = fit_line(x, y, through_origin=True)
    assert (line.intercept, line.u_intercept, line.covariance) == (0, 0, 0)
    assert line.slope == pytest.approx(slope, rel=1e-12)
    assert line.u_slope == pytest.approx(u_slope, rel=1e-12)
    assert line.residual_deviation == pytest.approx(s, rel=1e-12)
    assert line.degrees_of_freedom == len(x) - 1


# Invented, by definition: 5 V behind 250 Ω, loaded with 1 kΩ and 2.25 kΩ and, so that
# there are three points, with nothing.
def test_source_behind_two_loads_and_none_is_found():
    line = fit_line([0.0, 2e-3, 4e-3], [5.0, 4.5, 4.0])
    assert -line.slope == pytest.approx(250, rel=1e-9)
    assert line.intercept == pytest.approx(5.0, rel=1e-9)


# Invented supply; the line and the crossing were worked out beside it, to these digits.
def test_operating_point_is_where_the_straight_part_meets_the_load():
    line = fit_line(AMPERES[2:7], VOLTS[2:7])
    assert line.intercept == pytest.approx(17.91, abs=0.005)
    assert line.slope == pytest.approx(-6.78, abs=0.005)
    current = (line.intercept - 8.4) / (15 - line.slope)  # load (V - 8.4)/15
    assert current == pytest.approx(0.437, abs=5e-4)
    assert line.at(current)[0] == pytest.approx(14.95, abs=0.005)


def test_the_line_is_known_best_at_the_middle_of_its_points():
    line = fit_line(X, Y)
    middle = sum(X) / 5
    value, u = line.at(middle)
    assert value == pytest.approx(sum(Y) / 5)
    assert u == pytest.approx(line.residual_deviation / math.sqrt(5))
    assert line.at(middle + 3)[1] > u < line.at(middle - 2)[1]


# An x near 2³⁰ is itself known to 1e-7 only.
def test_the_value_far_from_zero_keeps_its_digits_and_its_uncertainty():
    near, far = fit_line(X, Y), fit_line([x + 2**30 for x in X], Y)
    assert far.at(3.0 + 2**30) == pytest.approx(near.at(3.0), rel=1e-7)
    assert far.x_for(5.0)[0] - 2**30 == pytest.approx(near.x_for(5.0)[0], rel=1e-6)


def test_the_value_counts_the_covariance_and_its_own_x():
    line = fit_line(X, Y, gain_x=0.01, gain_y=0.02)
    _, u = line.at(6, u_x=0.1)
    terms = line.u_intercept**2 + 36 * line.u_slope**2 + 12 * line.covariance
    assert u**2 == pytest.approx(terms + (0.1 * line.slope) ** 2)


def test_a_shared_gain_leaves_the_line_and_adds_to_its_uncertainty():
    bare, line = fit_line(X, Y), fit_line(X, Y, gain_x=0.003, gain_y=0.004)
    assert (line.intercept, line.slope) == (bare.intercept, bare.slope)
    assert line.u_intercept == pytest.approx(
        math.hypot(bare.u_intercept, 0.004 * line.intercept)
    )
    assert line.u_slope == pytest.approx(math.hypot(bare.u_slope, 0.005 * line.slope))
    assert line.covariance == pytest.approx(
        bare.covariance + 0.004**2 * line.intercept * line.slope
    )


def simulated(rng, u_x=0.0, u_y=0.0, gain_x=0.0, gain_y=0.0, draws=1500):
    """Fit lines through 2 + 3·x read with errors; yield intercept, slope, at(3)."""
    true_x = np.linspace(1, 6, 8)
    for _ in range(draws):
        x = true_x * (1 + gain_x * rng.standard_normal())
        y = (2 + 3 * true_x) * (1 + gain_y * rng.standard_normal())
        x = x + u_x * rng.standard_normal(8)
        y = y + u_y * rng.standard_normal(8)
        line = fit_line(x, y, u_x=u_x, u_y=u_y, gain_x=gain_x, gain_y=gain_y)
        yield line.intercept, line.slope, line.intercept + 3 * line.slope


# 1500 draws know a standard deviation to 1.8 %; 6 % is more than three of those.
@pytest.mark.parametrize(
    "errors",
    [
        {"u_y": 0.2},
        {"u_x": 0.05, "u_y": 0.1},
        {"u_y": 0.02, "gain_x": 0.01, "gain_y": 0.02},
        {"u_x": 0.01, "u_y": 0.02, "gain_x": 0.02, "gain_y": 0.01},
    ],
    ids=["y", "both", "y and gains", "both and gains"],
)
def test_standard_uncertainties_are_those_of_simulated_measurements(errors):
    drawn = np.array(list(simulated(np.random.default_rng(20260101), **errors)))
    x = np.linspace(1, 6, 8)
    line = fit_line(x, 2 + 3 * x, **{"u_x": 0.0, **errors})
    stated = (line.u_intercept, line.u_slope, line.at(3)[1])
    assert stated == pytest.approx(tuple(drawn.std(axis=0, ddof=1)), rel=0.06)
    # The mean may stand off by chance, and by the second order the fit leaves out.
    off = np.abs(drawn.mean(axis=0) - (2, 3, 11)) / drawn.std(axis=0)
    assert (off < 0.15).all()


def test_from_the_scatter_alone_u_is_right_on_average():
    rng = np.random.default_rng(5)
    x = np.linspace(0, 5, 6)
    lines = [fit_line(x, 1 + x + 0.3 * rng.standard_normal(6)) for _ in range(1500)]
    mean_square = np.mean([line.u_slope**2 for line in lines])
    assert math.sqrt(mean_square) == pytest.approx(
        np.std([line.slope for line in lines]), rel=0.06
    )


points = st.lists(
    st.tuples(st.integers(-500, 500), st.integers(-50, 50)),
    min_size=4,
    max_size=9,
    unique_by=lambda point: point[0],
).map(lambda pairs: [(x / 10, 3 * x / 10 + y / 100) for x, y in pairs])


def both(pairs, u_x=0.01, u_y=0.05, **options):
    return fit_line(*zip(*pairs, strict=True), u_x=u_x, u_y=u_y, **options)


@given(points, st.integers(-1000, 1000), st.integers(-1000, 1000))
@settings(max_examples=60, deadline=None)
def test_moving_the_axes_moves_the_line_and_not_its_slope(pairs, dx, dy):
    line, moved = both(pairs), both([(x + dx, y + dy) for x, y in pairs])
    x = pairs[0][0]
    assert moved.slope == pytest.approx(line.slope, rel=1e-7, abs=1e-9)
    assert moved.u_slope == pytest.approx(line.u_slope, rel=1e-7)
    value, u = line.at(x)
    assert moved.at(x + dx) == pytest.approx((value + dy, u), rel=1e-7, abs=1e-7)


@given(points, st.sampled_from([1e-6, 1e-3, 1e3]), st.sampled_from([1e-3, 1e3, 1e6]))
@settings(max_examples=60, deadline=None)
def test_other_units_of_x_and_y_only_rescale_the_line(pairs, in_x, in_y):
    line = both(pairs, gain_y=0.01)
    scaled = [(x * in_x, y * in_y) for x, y in pairs]
    other = both(scaled, 0.01 * in_x, 0.05 * in_y, gain_y=0.01)
    slope = in_y / in_x
    assert other.slope == pytest.approx(line.slope * slope, rel=1e-9)
    assert other.u_slope == pytest.approx(line.u_slope * slope, rel=1e-9)
    assert other.u_intercept == pytest.approx(line.u_intercept * in_y, rel=1e-9)
    assert other.correlation == pytest.approx(line.correlation, rel=1e-9, abs=1e-9)
    assert other.chi_square == pytest.approx(line.chi_square, rel=1e-7, abs=1e-9)
    assert other.runs.runs == line.runs.runs


@given(points, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_of_the_points_does_not_matter(pairs, random):
    shuffled = list(pairs)
    random.shuffle(shuffled)
    line, other = both(pairs), both(shuffled)
    assert estimates(other) == pytest.approx(estimates(line), rel=1e-9, abs=1e-12)
    assert other.runs == line.runs


@given(points)
@settings(max_examples=60, deadline=None)
def test_with_both_axes_uncertain_swapping_them_gives_the_same_line(pairs):
    line = both(pairs)
    other = both([(y, x) for x, y in pairs], 0.05, 0.01)
    assert 1 / other.slope == pytest.approx(line.slope, rel=1e-9)
    assert other.chi_square == pytest.approx(line.chi_square, rel=1e-6, abs=1e-9)


@given(points)
@settings(max_examples=40, deadline=None)
def test_an_exact_x_among_both_axes_is_the_weighted_line(pairs):
    line, weighted = both(pairs, u_x=0), both(pairs, u_x=None)
    assert estimates(line) == estimates(weighted)


def test_through_the_origin_both_axes_agree_with_a_heavy_point_there():
    held = fit_line(PEARSON_X, PEARSON_X[::-1], u_x=0.1, u_y=0.2, through_origin=True)
    heavy = fit_line(
        [*PEARSON_X, 0.0],
        [*PEARSON_X[::-1], 0.0],
        u_x=[0.1] * 10 + [1e-7],
        u_y=[0.2] * 10 + [1e-7],
    )
    assert heavy.slope == pytest.approx(held.slope, rel=1e-6)
    assert heavy.u_slope == pytest.approx(held.u_slope, rel=1e-6)


def test_no_load_may_be_an_exact_zero_of_current():
    exact = fit_line([0, 1, 2, 3], [12.1, 11.8, 11.6, 11.3], u_x=[0, 0.1, 0.1, 0.1],
                     u_y=0.05)  # fmt: skip
    small = fit_line([0, 1, 2, 3], [12.1, 11.8, 11.6, 11.3], u_x=[1e-9, 0.1, 0.1, 0.1],
                     u_y=0.05)  # fmt: skip
    assert estimates(exact) == pytest.approx(estimates(small), rel=1e-9)


def test_too_much_scatter_is_said_and_not_scaled_away():
    line = fit_line(X, Y, u_y=0.02)
    assert line.p < 0.05
    assert line.birge > 2
    assert line.u_slope == fit_line(X, [2 * x for x in X], u_y=0.02).u_slope
    assert line.u_external[1] == pytest.approx(line.birge * line.u_slope)
    assert any("u is not scaled" in caveat for caveat in line.caveats)


def test_scatter_as_stated_brings_no_caveat_about_it():
    line = fit_line(X, Y, u_y=0.2)
    assert line.p > 0.05
    assert not any("scaled" in caveat for caveat in line.caveats)


def test_external_and_internal_uncertainty_are_named():
    assert "from the scatter" in fit_line(X, Y).note
    assert fit_line(X, Y).chi_square is None
    assert "from the stated" in fit_line(X, Y, u_y=0.2).note


def test_external_uncertainty_is_that_of_equal_weights_whatever_u_was_stated():
    stated, bare = fit_line(X, Y, u_y=7.0), fit_line(X, Y)
    assert stated.u_external == pytest.approx((bare.u_intercept, bare.u_slope))
    assert bare.u_external == (bare.u_intercept, bare.u_slope)


def test_a_line_used_backwards_returns_the_x_it_came_from():
    line = fit_line(X, Y, gain_y=0.01)
    y, u = line.at(5.0)
    x, u_x = line.x_for(y, u_y=0.3)
    assert x == pytest.approx(5.0)
    assert u_x == pytest.approx(math.hypot(u, 0.3) / line.slope)


def test_a_line_used_backwards_has_the_uncertainty_of_simulated_measurements():
    rng = np.random.default_rng(8)
    x = np.linspace(0, 5, 6)
    found = []
    for _ in range(1500):
        line = fit_line(x, 1 + 2 * x + 0.1 * rng.standard_normal(6), u_y=0.1)
        y = 8 + 0.1 * rng.standard_normal()
        found.append((y - line.intercept) / line.slope)
    line = fit_line(x, 1 + 2 * x, u_y=0.1)
    assert line.x_for(8, u_y=0.1)[1] == pytest.approx(np.std(found), rel=0.06)


@pytest.mark.parametrize("options", [{}, {"u_y": 0.2}])
def test_a_slope_like_zero_is_not_used_backwards(options):
    line = fit_line([0, 1, 2, 3], [1.0, 1.2, 0.9, 1.1], **options)
    with pytest.raises(InputError, match="cannot be told from 0.*wider range of x"):
        line.x_for(1.05)


def test_a_curved_supply_is_not_carried_beyond_its_points():
    line = fit_line(AMPERES, VOLTS)
    assert not line.runs.too_few  # nine points are too few for the run test
    assert line.at(0.9)[0] == pytest.approx(12.0, abs=0.1)
    with pytest.raises(InputError, match=r"x = 1.2 lies outside.*bow.*measure there"):
        line.at(1.2)
    small = fit_line([1e-6 * x for x in AMPERES], VOLTS)
    with pytest.raises(InputError, match="lies outside the points"):
        small.at(1.2e-6)
    with pytest.raises(InputError, match="lies outside the points"):
        line.x_for(10.0)


def test_the_ends_of_a_curved_line_are_inside_whatever_the_rounding():
    for scale in range(1, 40):
        line = fit_line([x * scale / 7 for x in AMPERES], VOLTS)
        for end in line.x_range:
            assert line.x_for(line.at(end)[0])[0] == pytest.approx(end, abs=1e-12)


def test_too_few_runs_stop_an_extrapolation_where_no_bow_shows():
    # Steps that make no bow: -, +, -, + in blocks of five.
    residuals = ([-0.1] * 5 + [0.1] * 5) * 2
    line = fit_line(range(20), [x + r for x, r in enumerate(residuals)])
    assert line.straightness.bow_p > 0.05
    assert line.runs.too_few
    assert line.at(10)[0] == pytest.approx(10, abs=0.1)
    with pytest.raises(InputError, match="only 4 runs.*Fit only the points nearest"):
        line.at(25)
    assert any("no value outside the points" in caveat for caveat in line.caveats)


def test_a_straight_line_of_ten_points_may_be_carried_on():
    line = fit_line(PEARSON_X, PEARSON_Y)
    assert line.at(9)[0] == pytest.approx(line.intercept + 9 * line.slope)
    assert line.at(9)[1] > line.at(7.4)[1]


def test_few_points_say_that_the_run_test_cannot_object():
    (caveat,) = fit_line(X, Y).caveats
    assert "run test cannot object" in caveat


def test_the_origin_counts_as_reached_by_a_line_held_to_it():
    line = fit_line([4, 5, 6], [3, 4, 4], through_origin=True)
    assert line.x_range == (0, 6)
    assert line.at(0) == (0, 0)


def test_the_table_shows_both_uncertainties_and_where_they_come_from():
    text = str(fit_line(PEARSON_X, PEARSON_Y, u_x=U_X, u_y=U_Y).table())
    for part in ("5.48(29)", "5.48(36)", "-0.481(58)", "-0.481(71)", "p = 0.16"):
        assert part in text
    assert "internal uncertainty: from the stated u_x and u_y" in text


def test_the_table_of_a_line_through_the_origin_has_no_intercept_to_estimate():
    line = fit_line([4, 5, 6], [3, 4, 4], through_origin=True)
    text = repr(line)
    assert "0, held" in text
    assert "correlation" not in text
    assert [row[0] for row in line.table().rows][:3] == [
        "intercept",
        "slope",
        "s of the residuals",
    ]
    assert "external uncertainty" in line._repr_html_()


def test_no_two_rows_of_the_table_have_one_name():
    names = [row[0] for row in fit_line(X, Y, u_y=0.1).table().rows]
    assert all(a != b for a, b in pairwise(sorted(names)))


@pytest.mark.parametrize(
    ("x", "y"),
    [([1, 2], [1, 2]), ([1, 2, 3], [1, 2]), ([1, 1, 1], [1, 2, 3]), ([], [])],
)
def test_points_that_carry_no_line_are_refused(x, y):
    with pytest.raises(InputError, match="at least three points"):
        fit_line(x, y)


@pytest.mark.parametrize("gain", [-0.1, 1.0, math.nan, math.inf])
def test_a_gain_that_is_no_relative_uncertainty_is_refused(gain):
    with pytest.raises(InputError, match=r"gain_y is .*0.003 for 0.3 %"):
        fit_line(X, Y, gain_y=gain)


@pytest.mark.parametrize(("x", "u"), [(math.nan, 0), (1, -0.1), (math.inf, 0)])
def test_a_place_on_the_line_must_be_a_number(x, u):
    with pytest.raises(InputError, match="give finite numbers"):
        fit_line(X, Y).at(x, u)
    with pytest.raises(InputError, match="give finite numbers"):
        fit_line(X, Y).x_for(x, u)

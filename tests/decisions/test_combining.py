import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, linalg, optimize

from benchproof.reasoning.decisions.combining import combine_values
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

# A first call imports scipy, and the machine may be busy: no deadline.
unhurried = settings(deadline=None)

# Four replications of a supply current, in µA, with u = U/2; invented. The figures
# 407.9, 14.85, 0.002 and 2.22 were evaluated numerically.
CURRENTS = [411, 402, 431, 398]
UNCERTAINTIES = [4.5, 6, 7.5, 5]

VALUES = st.lists(
    st.tuples(st.floats(-10, 10), st.floats(0.1, 5)), min_size=2, max_size=8
)


def shared(own, common):
    """Covariance of values with their own u and one u they all share."""
    return np.diag(np.square(own)) + common**2


def test_the_weighted_mean_of_four_replications():
    found = combine_values(CURRENTS, UNCERTAINTIES, spread="birge")
    assert found.value == pytest.approx(407.9, abs=0.05)
    assert found.chi_square == pytest.approx(14.85, abs=0.005)
    assert found.p == pytest.approx(0.002, abs=0.0005)
    assert found.birge_ratio == pytest.approx(2.22, abs=0.005)
    assert not found.consistent


# Pearson's points with York's weights (Reed 1992, Neri 1989, Williamson, Lybanon
# 1984; read and recomputed): chi-square 11.8664 about the line, Birge ratio
# √1.4833 = 1.2179 with 8 degrees of freedom. At the best line the weighted mean of
# the residuals is 0, so that combining them gives the same chi-square.
def test_residuals_about_yorks_line_have_the_published_chi_square():
    x = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
    y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
    wx = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
    wy = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
    a, b = 5.47991022, -0.480533407
    u = np.sqrt(1 / wy + b**2 / wx)
    found = combine_values(y - a - b * x, u)
    assert found.value == pytest.approx(0, abs=1e-7)
    assert found.chi_square == pytest.approx(11.8664, abs=1e-4)
    per_freedom_of_a_line = found.birge_ratio * math.sqrt(9 / 8)
    assert per_freedom_of_a_line == pytest.approx(1.2179, abs=1e-4)


# Closed forms.


def test_two_values_of_equal_u_give_their_mean():
    found = combine_values([1.0, 1.2], [0.1, 0.1])
    assert found.value == pytest.approx(1.1)
    assert found.standard_uncertainty == pytest.approx(0.1 / math.sqrt(2))
    assert found.weights == pytest.approx((0.5, 0.5))
    # u of the difference from the mean is u/√2 as well.
    assert found.deviations == pytest.approx((-math.sqrt(2), math.sqrt(2)))


def test_equal_values_of_a_common_source_average_only_their_own_part():
    # n values: u² = own²/n + common².
    found = combine_values([5.0] * 4, covariance=shared([0.2] * 4, 0.3))
    assert found.standard_uncertainty == pytest.approx(math.sqrt(0.04 / 4 + 0.09))


def test_two_correlated_values_follow_the_closed_form():
    u1, u2, r = 0.1, 0.3, 0.25
    cross = r * u1 * u2
    found = combine_values([1.0, 1.2], covariance=[[u1**2, cross], [cross, u2**2]])
    spread = u1**2 + u2**2 - 2 * cross
    first = (u2**2 - cross) / spread
    assert found.weights == pytest.approx((first, 1 - first))
    assert found.value == pytest.approx(first + 1.2 * (1 - first))
    variance = u1**2 * u2**2 * (1 - r**2) / spread
    assert found.standard_uncertainty == pytest.approx(math.sqrt(variance))
    assert found.chi_square == pytest.approx(0.04 / spread)


def test_strong_correlation_can_lead_outside_the_values_and_says_so():
    # u 0.1 and 0.2, correlation 0.9: the cross term exceeds the smaller variance.
    found = combine_values([1.0, 1.1], covariance=[[0.01, 0.018], [0.018, 0.04]])
    assert min(found.weights) < 0
    assert found.value < 1.0
    assert "a weight is negative" in str(found)


def test_a_value_that_alone_is_the_mean_has_no_deviation_of_its_own():
    # The covariance equals the smaller variance: the other value adds nothing.
    found = combine_values([1.0, 1.1], covariance=[[0.01, 0.01], [0.01, 0.04]])
    assert found.weights == pytest.approx((1.0, 0.0))
    assert math.isnan(found.deviations[0])
    assert "not defined" in str(found)


# Independent oracles.


@unhurried
@given(VALUES)
def test_independent_values_are_weighted_by_their_inverse_variance(pairs):
    x, u = np.array(pairs).T
    found = combine_values(x, u, spread="between units")
    weights = u**-2 / np.sum(u**-2)
    if not found.between_units:
        assert found.value == pytest.approx(np.average(x, weights=u**-2), abs=1e-9)
        assert found.weights == pytest.approx(weights)
    rest = np.sum(((x - weights @ x) / u) ** 2)
    assert found.chi_square == pytest.approx(rest, rel=1e-9, abs=1e-9)


@unhurried
@given(VALUES, st.floats(0, 3))
def test_correlated_values_agree_with_whitened_least_squares(pairs, common):
    x, own = np.array(pairs).T
    covariance = shared(own, common)
    root = linalg.sqrtm(linalg.inv(covariance)).real
    (mean,), *_ = linalg.lstsq(root @ np.ones((x.size, 1)), root @ x)
    found = combine_values(x, covariance=covariance, spread="birge")
    assert found.value == pytest.approx(mean, abs=1e-7)
    rest = root @ (x - mean)
    assert found.chi_square == pytest.approx(rest @ rest, rel=1e-6, abs=1e-9)
    inverse = linalg.inv(covariance)
    widened = max(1.0, found.birge_ratio)
    expected = widened / math.sqrt(inverse.sum())
    assert found.standard_uncertainty == pytest.approx(expected, rel=1e-8)
    assert sum(found.weights) == pytest.approx(1)
    assert np.dot(found.weights, x) == pytest.approx(found.value, abs=1e-8)


def test_p_is_the_tail_of_the_chi_square_distribution():
    found = combine_values(CURRENTS, UNCERTAINTIES, spread="birge")

    def density(x):
        return math.sqrt(x) * math.exp(-x / 2) / (2**1.5 * math.gamma(1.5))

    tail, _ = integrate.quad(density, found.chi_square, math.inf)
    assert found.p == pytest.approx(tail, rel=1e-6)


@unhurried
@given(VALUES, st.floats(0, 3))
def test_the_variance_between_units_brings_chi_square_to_its_expectation(pairs, common):
    x, own = np.array(pairs).T
    covariance = shared(own, common)
    found = combine_values(x, covariance=covariance, spread="between units")
    if not found.between_units:
        assert found.chi_square <= (x.size - 1) * (1 + 1e-9)
        return
    inverse = linalg.inv(covariance + found.between_units**2 * np.eye(x.size))
    rest = x - found.value
    assert rest @ inverse @ rest == pytest.approx(x.size - 1, rel=1e-7)
    expected = 1 / math.sqrt(inverse.sum())
    assert found.standard_uncertainty == pytest.approx(expected, rel=1e-8)


def test_the_variance_between_units_agrees_with_a_bracketing_root_finder():
    x, u = np.array(CURRENTS, float), np.array(UNCERTAINTIES)

    def lacking(tau_squared):
        weights = 1 / (u**2 + tau_squared)
        mean = weights @ x / weights.sum()
        return weights @ (x - mean) ** 2 - 3

    expected = math.sqrt(optimize.brentq(lacking, 0, 1e4, xtol=1e-10))
    found = combine_values(CURRENTS, UNCERTAINTIES, spread="between units")
    assert found.between_units == pytest.approx(expected, rel=1e-9)


def test_equal_uncertainties_give_the_variance_between_units_in_closed_form():
    # With one u for all: s² - u², and u(mean) = s/√n.
    x = [1.0, 3.0, 4.0, 8.0]
    s = np.std(x, ddof=1)
    found = combine_values(x, [0.5] * 4, spread="between units")
    assert found.between_units == pytest.approx(math.sqrt(s**2 - 0.25), rel=1e-10)
    assert found.standard_uncertainty == pytest.approx(s / 2, rel=1e-10)
    assert found.degrees_of_freedom == 3


def test_a_spread_far_beyond_u_is_still_found():
    found = combine_values([0.0, 1.0, 3.0], [1e-9, 2e-9, 1e-8], spread="between units")
    assert found.between_units == pytest.approx(np.std([0, 1, 3], ddof=1), rel=1e-9)


def simulated(units, between, own, spread, repetitions):
    """Combine invented units again and again; the true mean is 10."""
    generator = np.random.default_rng(20261)
    scatter = generator.normal(0, between, (repetitions, units))
    draws = 10 + scatter + generator.normal(0, own, (repetitions, units))
    return [combine_values(x, own, spread=spread) for x in draws]


def covered(found):
    return np.mean([abs(f.value - 10) <= f.expanded_uncertainty() for f in found])


def test_simulated_units_give_back_the_variance_between_them():
    found = simulated(20, 2.0, np.linspace(0.5, 3.0, 20), "between units", 3000)
    means = [one.value for one in found]
    # 3000 repetitions know a variance to 2.6 %.
    variance = np.mean([one.standard_uncertainty**2 for one in found])
    assert variance == pytest.approx(np.var(means), rel=0.08)
    between = np.mean([one.between_units**2 for one in found])
    assert between == pytest.approx(4.0, rel=0.05)
    # A little is lost to weights that are estimated too.
    assert covered(found) == pytest.approx(0.95, abs=0.015)


@pytest.mark.parametrize("between", [0.0, 1.0, 4.0])
@pytest.mark.parametrize("units", [2, 4, 8])
def test_few_simulated_units_are_covered_at_least_about_as_often_as_claimed(
    between, units
):
    own = np.linspace(1.0, 2.0, units)
    found = simulated(units, between, own, "between units", 500)
    # 500 repetitions leave 1 % of counting, and 8 units near 0.944.
    assert covered(found) >= 0.92


@pytest.mark.parametrize("factor", [1.0, 2.0, 4.0])
def test_u_that_is_too_small_by_a_common_factor_is_mended_by_the_birge_ratio(factor):
    stated = np.linspace(1.0, 2.0, 4)
    generator = np.random.default_rng(20263)
    draws = 10 + generator.normal(0, factor * stated, (500, 4))
    assert covered([combine_values(x, stated, spread="birge") for x in draws]) >= 0.92


def test_simulated_correlated_values_scatter_as_their_covariance_says():
    generator = np.random.default_rng(20262)
    covariance = shared([0.1, 0.2, 0.4], 0.3)
    draws = generator.multivariate_normal([7.0] * 3, covariance, size=4000)
    found = [combine_values(x, covariance=covariance, spread="birge") for x in draws]
    means = np.array([one.value for one in found])
    plain = combine_values([7.0] * 3, covariance=covariance)
    # 4000 draws know a standard deviation to 1.1 %.
    assert np.std(means) == pytest.approx(plain.standard_uncertainty, rel=0.04)
    assert np.mean([one.p < 0.05 for one in found]) == pytest.approx(0.05, abs=0.011)
    deviations = np.array([one.deviations for one in found if one.birge_ratio <= 1])
    assert np.all(np.abs(deviations) < 2)


# What is declared about the spread.


def test_inconsistent_values_are_not_pooled_silently():
    with pytest.raises(InputError) as refused:
        combine_values(CURRENTS, UNCERTAINTIES, names=["own", "A", "B", "C"])
    text = str(refused.value)
    assert "own, A, B, C do not agree" in text
    assert "chi-square 14.85 with 3 degrees of freedom, p = 0.002" in text
    assert "Birge ratio 2.22" in text
    assert "spread='birge'" in text
    assert "spread='between units'" in text


@pytest.mark.parametrize(("apart", "accepted"), [(1.95, True), (1.97, False)])
def test_two_values_are_refused_from_their_coverage_interval_on(apart, accepted):
    # u of the difference is 1: the 95 % limit is 1.960.
    u = [math.sqrt(0.5)] * 2
    if accepted:
        assert combine_values([0.0, apart], u).consistent
    else:
        with pytest.raises(InputError, match="1 degree of freedom"):
            combine_values([0.0, apart], u)


def test_the_birge_ratio_widens_u_and_leaves_the_mean():
    found = combine_values(CURRENTS, UNCERTAINTIES, spread="birge")
    plain = 1 / math.sqrt(sum(u**-2 for u in UNCERTAINTIES))
    assert found.standard_uncertainty == pytest.approx(found.birge_ratio * plain)
    assert found.degrees_of_freedom == 3
    # From t with 3 degrees of freedom, as only the scatter tells u.
    assert found.expanded_uncertainty() == pytest.approx(
        3.182 * found.standard_uncertainty, rel=1e-3
    )


def test_the_birge_ratio_scales_each_deviation_down():
    # Both u of a deviation, own and mean, are larger by the ratio: so is their root.
    found = combine_values(CURRENTS, UNCERTAINTIES, spread="birge")
    variance = 1 / sum(u**-2 for u in UNCERTAINTIES)
    assert found.deviations == pytest.approx(
        [
            (x - found.value) / math.sqrt(u**2 - variance) / found.birge_ratio
            for x, u in zip(CURRENTS, UNCERTAINTIES, strict=True)
        ]
    )


@unhurried
@given(VALUES)
def test_no_declaration_makes_u_smaller(pairs):
    x, u = np.array(pairs).T
    plain = 1 / math.sqrt(np.sum(u**-2))
    for spread in ("birge", "between units"):
        found = combine_values(x, u, spread=spread)
        assert found.standard_uncertainty >= plain * (1 - 1e-12)


@pytest.mark.parametrize(
    ("spread", "dof"), [("refuse", math.inf), ("birge", 1), ("between units", 1)]
)
def test_values_that_agree_well_keep_the_u_they_came_with(spread, dof):
    found = combine_values([1.0, 1.0001], [0.1, 0.1], spread=spread)
    assert found.standard_uncertainty == pytest.approx(0.1 / math.sqrt(2))
    assert found.between_units == 0.0
    # A spread that was declared has been estimated from two values only.
    assert found.degrees_of_freedom == dof


def test_a_variance_between_units_evens_the_weights():
    birge = combine_values(CURRENTS, UNCERTAINTIES, spread="birge")
    units = combine_values(CURRENTS, UNCERTAINTIES, spread="between units")
    assert max(units.weights) < max(birge.weights)
    assert min(units.weights) > min(birge.weights)


# Numbers of any size.


@pytest.mark.parametrize("scale", [1e-150, 1e-9, 1e9, 1e150])
def test_the_unit_does_not_matter(scale):
    plain = combine_values(CURRENTS, UNCERTAINTIES, spread="between units")
    x = [scale * v for v in CURRENTS]
    u = [scale * v for v in UNCERTAINTIES]
    found = combine_values(x, u, spread="between units")
    assert found.value == pytest.approx(scale * plain.value, rel=1e-12)
    assert found.between_units == pytest.approx(scale * plain.between_units, rel=1e-9)
    assert found.chi_square == pytest.approx(plain.chi_square, rel=1e-12)


def test_a_small_scatter_about_a_large_number_is_kept():
    x = [1e6 + d for d in (0.001, -0.001, 0.002)]
    found = combine_values(x, [0.002] * 3)
    assert found.chi_square == pytest.approx(7 / 6, rel=1e-6)


def test_very_unlike_uncertainties_with_correlation_stay_exact():
    u1, u2, r = 1e-9, 1.0, 0.5
    cross = r * u1 * u2
    found = combine_values([2.0, 2.5], covariance=[[u1**2, cross], [cross, u2**2]])
    assert found.value == pytest.approx(2.0, abs=1e-8)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(0.75) * 1e-9, rel=1e-6)


# What is shown.

EXPECTED = """\
Combined value
Value of │         Value │ Weight │ Deviation, in its u
─────────┼───────────────┼────────┼────────────────────
own      │ 411.0(4.5) µA │ 26.7 % │               +0.09
A        │ 402.0(6.0) µA │ 24.7 % │               -0.63
B        │ 431.0(7.5) µA │ 22.5 % │               +1.59
C        │ 398.0(5.0) µA │ 26.1 % │               -0.99
combined: 409.9(7.1) µA, U = 23 µA (95 %)
not consistent at 95 %: chi-square 14.85 with 3 degrees of freedom, p = 0.002, \
Birge ratio 2.22
declared: different units; the variance between them is added to that of each value
standard deviation between units: 13 µA"""


def test_the_table_shows_each_value_beside_what_was_declared():
    found = combine_values(
        [x * 1e-6 for x in CURRENTS],
        [u * 1e-6 for u in UNCERTAINTIES],
        spread="between units",
        names=["own", "A", "B", "C"],
        unit=unit_of("uA"),
    )
    assert str(found) == EXPECTED
    milliampere = found.table(unit_of("mA"))
    assert milliampere.rows[0][1] == "0.4110(45) mA"


def test_a_spread_that_is_not_in_u_says_so():
    found = combine_values([1.0, 1.2], [0.1, 0.1])
    assert found.consistent
    assert "consistent at 95 %: chi-square 2" in str(found)
    assert "standard deviation between units: 0.10 (not in u)" in str(found)


def test_no_spread_is_said_as_none_seen():
    found = combine_values([1.0, 1.0], [0.1, 0.1])
    assert "no scatter between units beyond the given u" in str(found)


def test_a_vanishing_p_is_not_written_as_zero():
    found = combine_values([0.0, 1.0], [1e-3, 1e-3], spread="birge")
    assert "p = 0," not in str(found)
    far = combine_values([0.0, 1.0], [1e-6, 1e-6], spread="birge")
    assert "p < 1e-300" in str(far)


def test_values_without_names_are_numbered():
    assert combine_values([1, 1], [1, 1]).names == ("value 1", "value 2")


# What is refused.


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan], [1.0, math.inf]])
def test_fewer_than_two_numbers_are_refused(values):
    with pytest.raises(InputError, match="give a list of at least two"):
        combine_values(values, [1.0] * len(values))


def test_an_unknown_spread_is_refused():
    with pytest.raises(InputError, match="spread 'ignore' is not known"):
        combine_values([1.0, 2.0], [1.0, 1.0], spread="ignore")


def test_names_are_one_each():
    with pytest.raises(InputError, match="2 values and 1 names; give one each"):
        combine_values([1.0, 2.0], [1.0, 1.0], names=["own"])

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchproof.reasoning.decisions.guardbands import (
    acceptance_limits,
    distance_to_flip,
    false_acceptance_probability,
    guard_band,
)
from benchproof.reasoning.decisions.rule import conformance_probability, decide_value
from benchproof.values.errors import InputError

# A first call imports scipy, and the machine may be busy: no deadline.
unhurried = settings(deadline=None)

INFINITE = math.inf
LEVELS = st.floats(0.51, 0.999)
FREEDOMS = st.one_of(st.just(INFINITE), st.floats(1, 200))
UNCERTAINTIES = st.floats(1e-3, 10)
LIMITS = st.floats(-10, 10)


def probability_at(zones, value, dof):
    return conformance_probability(
        value, zones.standard_uncertainty, zones.lower, zones.upper, dof
    )


# JCGM 106:2012, 7.3, Table 1 (one-sided); from memory, recomputed.
@pytest.mark.parametrize(
    ("probability", "z"),
    [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)],
)
def test_the_guard_band_in_u_is_the_tabulated_normal_quantile(probability, z):
    # 1.645 is printed 1.64: half of the last digit and a little.
    assert guard_band(1.0, probability) == pytest.approx(z, abs=0.0051)


def test_the_guard_band_from_readings_is_students_t():
    # One degree of freedom is the Cauchy distribution: tan(π(p - 1/2)).
    expected = math.tan(math.pi * 0.45)
    assert guard_band(1.0, 0.95, 1) == pytest.approx(expected, rel=1e-12)


def test_no_guard_band_is_needed_without_uncertainty_or_at_even_odds():
    assert guard_band(0.0) == 0.0
    assert guard_band(0.06, 0.5) == pytest.approx(0.0, abs=1e-15)


# ILAC-G8:09/2019, table of guard bands w = r·U with U = 2u; from memory, recomputed.
@pytest.mark.parametrize(
    ("multiple", "at_most"), [(3, 1e-6), (1.5, 0.0016), (1, 0.025), (0.83, 0.05)]
)
def test_a_guard_band_in_multiples_of_U_bounds_false_acceptance(multiple, at_most):  # noqa: N802
    u = 0.06
    assert false_acceptance_probability(multiple * 2 * u, u) < at_most


@pytest.mark.parametrize(
    ("multiple", "expected"),
    [(3, 9.9e-10), (1.5, 1.35e-3), (1, 0.0228), (0.83, 0.0485), (0, 0.5)],
)
def test_false_acceptance_is_the_normal_tail(multiple, expected):
    found = false_acceptance_probability(multiple * 2, 1.0)
    assert found == pytest.approx(expected, rel=4e-3)


def test_a_far_tail_is_not_lost_to_rounding():
    # Φ(-9), evaluated by the complementary error function.
    expected = 0.5 * math.erfc(9 / math.sqrt(2))
    assert false_acceptance_probability(9, 1.0) == pytest.approx(expected, rel=1e-9)


def test_the_guard_band_of_a_level_leaves_its_complement_as_false_acceptance():
    for dof in (2, 9.5, INFINITE):
        band = guard_band(0.3, 0.9, dof)
        found = false_acceptance_probability(band, 0.3, dof)
        assert found == pytest.approx(0.1, abs=1e-12)


@unhurried
@given(LIMITS, UNCERTAINTIES, LEVELS, FREEDOMS)
def test_a_one_sided_limit_is_met_with_exactly_the_level(limit, u, level, dof):
    above = acceptance_limits(limit, INFINITE, u, dof, level)
    below = acceptance_limits(-INFINITE, limit, u, dof, level)
    for zones, value in ((above, above.accept_lower), (below, below.accept_upper)):
        assert probability_at(zones, value, dof) == pytest.approx(level, abs=1e-9)
    for zones, value in ((above, above.reject_lower), (below, below.reject_upper)):
        assert probability_at(zones, value, dof) == pytest.approx(1 - level, abs=1e-9)
    assert math.isinf(above.accept_upper)
    assert math.isinf(below.accept_lower)


@unhurried
@given(LIMITS, st.floats(0.01, 20), UNCERTAINTIES, LEVELS, FREEDOMS)
def test_two_limits_are_met_with_exactly_the_level(low, width, u, level, dof):
    zones = acceptance_limits(low, low + width, u, dof, level)
    if zones.can_be_met:
        for value in (zones.accept_lower, zones.accept_upper):
            assert probability_at(zones, value, dof) == pytest.approx(level, abs=1e-9)
    for value, beyond in (
        (zones.reject_lower, (-INFINITE, low)),
        (zones.reject_upper, (low + width, INFINITE)),
    ):
        found = conformance_probability(value, u, *beyond, dof)
        assert found == pytest.approx(level, abs=1e-9)


@unhurried
@given(LIMITS, st.floats(0.01, 20), UNCERTAINTIES, LEVELS, FREEDOMS)
def test_the_zones_lie_symmetrically_and_in_order(low, width, u, level, dof):
    zones = acceptance_limits(low, low + width, u, dof, level)
    assume(zones.can_be_met)
    assert zones.reject_lower < zones.accept_lower <= zones.accept_upper
    assert zones.accept_upper < zones.reject_upper
    middle = low + width / 2
    left, right = middle - zones.accept_lower, zones.accept_upper - middle
    assert left == pytest.approx(right, abs=1e-9 * (abs(low) + width))


def test_two_limits_need_a_wider_guard_band_than_one():
    one = acceptance_limits(4.9, INFINITE, 0.05)
    two = acceptance_limits(4.9, 5.1, 0.05)
    assert two.accept_lower > one.accept_lower


def test_far_limits_need_the_guard_band_of_one_limit():
    zones = acceptance_limits(0.0, 100.0, 0.05)
    assert zones.accept_lower == pytest.approx(guard_band(0.05), rel=1e-12)


@pytest.mark.parametrize(("half_width", "possible"), [(1.959, False), (1.961, True)])
def test_limits_closer_than_the_coverage_interval_cannot_be_met(half_width, possible):
    # A value in the middle is met with 95 % if 1.960 u fit on either side.
    assert acceptance_limits(-half_width, half_width, 1.0).can_be_met is possible


def test_a_large_u_alone_contradicts_nothing():
    # In the middle the probability is 2Φ(0.06) - 1 = 0.048: far below 95 %, and yet
    # the value lies beyond either limit with 48 % only.
    zones = acceptance_limits(-0.06, 0.06, 1.0)
    assert not zones.can_be_met
    assert decide_value(0.0, 1.0, -0.06, 0.06) == "undetermined"
    flip = distance_to_flip(0.0, 1.0, -0.06, 0.06)
    assert (flip.becomes, abs(flip.at)) == ("contradicted", zones.reject_upper)


def test_without_uncertainty_the_limits_are_the_tolerance_limits():
    zones = acceptance_limits(1.0, 2.0, 0.0)
    assert (zones.accept_lower, zones.accept_upper) == (1.0, 2.0)
    assert (zones.reject_lower, zones.reject_upper) == (1.0, 2.0)


# The distance to the next outcome.


def limits(low, width, shape):
    return {
        "below": (-INFINITE, low),
        "above": (low, INFINITE),
        "within": (low, low + width),
    }[shape]


SHAPES = st.sampled_from(["below", "above", "within"])


@unhurried
@given(
    st.floats(-20, 20), LIMITS, st.floats(0.01, 20), SHAPES, UNCERTAINTIES, LEVELS,
    FREEDOMS,
)  # fmt: skip
def test_moving_as_far_as_said_flips_the_outcome_and_less_does_not(
    value, low, width, shape, u, level, dof
):
    lower, upper = limits(low, width, shape)

    def outcome(at):
        return decide_value(at, u, lower, upper, dof, level)

    flip = distance_to_flip(value, u, lower, upper, dof, level)
    # Less than this the rounding of the probabilities can hide.
    assume(abs(flip.away) > 1e-5 * u)
    assert flip.at == pytest.approx(value + flip.away)
    for part in (0.25, 0.5, 0.75):
        assert outcome(value + part * flip.away) == outcome(value)
        assert outcome(value - part * flip.away) == outcome(value)
    step = math.copysign(1e-6 * u, flip.away)
    assert outcome(flip.at - step) == outcome(value)
    assert flip.becomes != outcome(value)
    # A zone a millionth of u wide would be stepped over.
    zones = acceptance_limits(lower, upper, u, dof, level)
    assume(not zones.accept_upper - zones.accept_lower < 1e-5 * u)
    assert outcome(flip.at + step) == flip.becomes


@pytest.mark.parametrize(
    ("value", "becomes", "at"),
    [
        # The guard band of u = 0.1 is 0.1645 wide.
        (9.5, "undetermined", 9.8355),
        (9.9, "met", 9.8355),
        (10.1, "contradicted", 10.1645),
        (10.5, "undetermined", 10.1645),
    ],
)
def test_each_zone_flips_to_its_nearest_neighbour(value, becomes, at):
    flip = distance_to_flip(value, 0.1, upper=10.0)
    assert flip.becomes == becomes
    assert flip.at == pytest.approx(at, abs=1e-4)
    assert flip.away == pytest.approx(at - value, abs=1e-4)


def test_between_two_limits_the_nearer_one_counts():
    assert distance_to_flip(4.2, 0.01, 4.0, 5.0).away < 0
    assert distance_to_flip(4.8, 0.01, 4.0, 5.0).away > 0


@pytest.mark.parametrize(
    ("value", "at", "becomes"),
    [(1.2, 1.0, "contradicted"), (0.7, 1.0, "met"), (2.5, 2.0, "met")],
)
def test_an_exact_value_flips_at_the_limit_itself(value, at, becomes):
    flip = distance_to_flip(value, 0.0, 1.0, 2.0)
    assert (flip.at, flip.becomes) == (at, becomes)


def test_where_nothing_can_be_met_a_value_can_still_be_contradicted():
    flip = distance_to_flip(5.0, 0.06, 4.9, 5.1)
    assert flip.becomes == "contradicted"


def test_without_limits_nothing_flips():
    assert distance_to_flip(1.0, 0.1) is None


# What is refused.


@pytest.mark.parametrize(
    ("u", "level", "dof"),
    [
        (-0.1, 0.95, 5),
        (math.nan, 0.95, 5),
        (INFINITE, 0.95, 5),
        (0.1, 0.49, 5),
        (0.1, 1.0, 5),
        (0.1, 0.95, 0),
        (0.1, 0.95, math.nan),
    ],
)
def test_a_guard_band_out_of_range_is_refused(u, level, dof):
    with pytest.raises(InputError, match="give u >= 0, a level of at least 0.5"):
        guard_band(u, level, dof)
    with pytest.raises(InputError, match="give u >= 0, a level of at least 0.5"):
        acceptance_limits(1.0, 2.0, u, dof, level)


@pytest.mark.parametrize("lower", [2.0, 1.0])
def test_limits_that_leave_nothing_between_are_refused(lower):
    with pytest.raises(InputError, match=" and 1; the lower limit must lie below"):
        acceptance_limits(lower, 1.0, 0.1)


@pytest.mark.parametrize("value", [math.nan, INFINITE])
def test_a_value_that_is_no_number_has_no_distance(value):
    with pytest.raises(InputError, match="distance_to_flip: the value is"):
        distance_to_flip(value, 0.1, upper=1.0)


@pytest.mark.parametrize(("band", "u"), [(0.1, 0.0), (0.1, -1.0), (math.nan, 0.1)])
def test_false_acceptance_needs_an_uncertainty(band, u):
    with pytest.raises(InputError, match="give numbers, u above 0"):
        false_acceptance_probability(band, u)

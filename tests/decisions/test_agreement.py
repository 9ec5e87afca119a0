import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchproof.reasoning.decisions.agreement import agreement, difference_text, e_n
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

# A first call imports scipy, and the machine may be busy: no deadline.
unhurried = settings(deadline=None)

INFINITE = math.inf
OPPOSITE = {"met": "contradicted", "contradicted": "met"}


def normal_below(z):
    return 0.5 * math.erfc(-z / math.sqrt(2))


# ISO 13528, ISO/IEC 17043: the definition with invented numbers; no published worked
# case was found. 20/√(9² + 15²) = 1.1434, evaluated numerically.
def test_e_n_above_one_shows_that_two_results_do_not_agree():
    assert e_n(411, 9, 431, 15) == pytest.approx(1.14, abs=0.005)


# The same source; a definition check: 0.001/√(0.0008² + 0.0006²) = 1.
def test_e_n_is_one_where_the_difference_is_its_expanded_uncertainty():
    assert e_n(10.001, 0.0008, 10.0, 0.0006) == pytest.approx(1.0, rel=1e-10)


def test_e_n_counts_no_sign_and_takes_exact_results():
    assert e_n(1.0, 0.1, 2.0, 0.1) == e_n(2.0, 0.1, 1.0, 0.1)
    assert e_n(1.0, 0.0, 1.0, 0.0) == 0.0
    assert math.isinf(e_n(1.0, 0.0, 2.0, 0.0))


@pytest.mark.parametrize("expanded", [-1.0, math.nan, INFINITE])
def test_an_expanded_uncertainty_that_cannot_be_is_refused(expanded):
    with pytest.raises(InputError, match="e_n: expanded uncertainties"):
        e_n(1.0, 0.1, 2.0, expanded)


@unhurried
@given(
    st.floats(-5, 5), st.floats(0.01, 3), st.floats(-5, 5), st.floats(0.01, 3)
)  # fmt: skip
def test_e_n_of_a_difference_is_that_of_two_independent_results(x, u, y, v):
    difference = agreement(x - y, math.hypot(u, v))
    assert difference.e_n == pytest.approx(e_n(x, 2 * u, y, 2 * v), rel=1e-9)


# Common practice: |z| below 2 agrees, above 3 does not.
@pytest.mark.parametrize(
    ("zeta", "agrees", "differs"),
    [
        (0.0, "met", "undetermined"),
        (1.99, "met", "undetermined"),
        (2.0, "undetermined", "undetermined"),
        (2.99, "undetermined", "undetermined"),
        (3.0, "undetermined", "undetermined"),
        (3.01, "contradicted", "met"),
        (50.0, "contradicted", "met"),
    ],
)
@pytest.mark.parametrize("sign", [-1, 1])
def test_two_and_three_u_part_the_outcomes(zeta, agrees, differs, sign):
    # A u that is a power of two keeps the division exact.
    found = agreement(sign * zeta * 0.25, 0.25)
    assert found.outcome("agrees") == agrees
    assert found.outcome("differs") == differs


def test_a_difference_that_is_not_seen_is_not_excluded():
    assert agreement(0.0, 1e-9).outcome("differs") == "undetermined"


def test_few_readings_need_a_larger_difference_to_differ():
    # 3u has a two-sided tail of 0.27 %; with 1 degree of freedom, Cauchy's, it
    # begins at 1/tan(π·0.0013499) = 235.8.
    few = agreement(10.0, 1.0, 1)
    assert few.differs_above == pytest.approx(235.8, abs=0.05)
    assert few.outcome("differs") == "undetermined"
    assert agreement(10.0, 1.0).outcome("differs") == "met"
    assert agreement(10.0, 1.0, 1e7).differs_above == pytest.approx(3.0, abs=1e-5)


def test_few_readings_do_not_make_agreement_easier():
    assert agreement(2.5, 1.0, 1).outcome("agrees") == "undetermined"


def test_exact_results_agree_only_if_they_are_the_same():
    assert agreement(0.0, 0.0).outcome("agrees") == "met"
    assert agreement(1e-12, 0.0).outcome("agrees") == "contradicted"
    assert agreement(1e-12, 0.0).outcome("differs") == "met"


# With a declared margin.


def test_the_probability_within_a_margin_is_the_normal_one():
    found = agreement(0.3, 0.2, margin=0.5).probability_within
    expected = normal_below(1.0) - normal_below(-4.0)
    assert found == pytest.approx(expected, abs=1e-12)


def test_without_a_margin_there_is_no_probability():
    assert agreement(0.3, 0.2).probability_within is None


@pytest.mark.parametrize(
    ("difference", "agrees"),
    [
        (0.0, "met"),
        (0.30, "met"),
        (0.40, "undetermined"),
        (0.60, "undetermined"),
        (0.70, "contradicted"),
    ],
)
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_margin_makes_both_words_possible(difference, agrees, sign):
    # u = 0.1, so the guard band about the margin of 0.5 is 0.1645.
    found = agreement(sign * difference, 0.1, margin=0.5)
    assert found.outcome("agrees") == agrees
    assert found.outcome("differs") == OPPOSITE.get(agrees, "undetermined")


def test_a_significant_difference_within_the_margin_still_agrees_within_it():
    found = agreement(0.2, 0.01, margin=0.5)
    assert found.zeta > 3
    assert found.outcome("agrees") == "met"


def test_a_large_u_alone_shows_no_difference():
    # The probability of lying within is 0.04, but to neither side it is 0.95.
    poor = agreement(0.0, 10.0, margin=0.5)
    assert poor.probability_within < 0.05
    assert poor.outcome("differs") == "undetermined"
    assert poor.outcome("agrees") == "undetermined"


@unhurried
@given(st.floats(-3, 3), st.floats(0.01, 3), st.floats(0.01, 3), st.floats(0.5, 0.999))
def test_a_difference_beyond_the_margin_is_so_with_the_level(d, u, margin, level):
    found = agreement(d, u, margin=margin, level=level)
    if found.outcome("differs") == "met":
        assert found.probability_within <= 1 - level + 1e-12
    if found.outcome("agrees") == "met":
        assert found.probability_within >= level


def test_a_stricter_level_leaves_more_undetermined():
    assert agreement(0.3, 0.1, margin=0.5).outcome("agrees") == "met"
    strict = agreement(0.3, 0.1, margin=0.5, level=0.99)
    assert strict.outcome("agrees") == "undetermined"


# The difference at which the outcome would change.


@unhurried
@given(
    st.floats(-3, 3),
    st.floats(0.01, 3),
    st.one_of(st.none(), st.floats(0.01, 3)),
    st.one_of(st.just(INFINITE), st.floats(1, 100)),
    st.sampled_from(["agrees", "differs"]),
)
def test_moving_to_the_flip_changes_the_outcome_and_less_does_not(
    d, u, margin, dof, relation
):
    def outcome(difference):
        return agreement(difference, u, dof, margin=margin).outcome(relation)

    flip = agreement(d, u, dof, margin=margin).flip(relation)
    assume(abs(flip.away) > 1e-5 * u)
    step = math.copysign(1e-6 * u, flip.away)
    assert flip.at == pytest.approx(d + flip.away, abs=1e-12)
    assert outcome(flip.at - step) == outcome(d)
    assert outcome(d + flip.away / 2) == outcome(d)
    assert flip.becomes != outcome(d)
    # Where a margin can barely be met, the step leaps over the zone.
    narrow = margin is not None and outcome(0.0) != outcome(1e-4 * u)
    assume(not narrow)
    assert outcome(flip.at + step) == flip.becomes


@pytest.mark.parametrize(
    ("zeta", "relation", "at", "becomes"),
    [
        (0.5, "agrees", 2.0, "undetermined"),
        (2.1, "agrees", 2.0, "met"),
        (2.9, "agrees", 3.0, "contradicted"),
        (5.0, "agrees", 3.0, "undetermined"),
        (0.5, "differs", 3.0, "met"),
        (5.0, "differs", 3.0, "undetermined"),
    ],
)
def test_the_nearest_number_of_u_flips(zeta, relation, at, becomes):
    flip = agreement(-zeta, 1.0).flip(relation)
    assert (flip.at, flip.becomes) == (-at, becomes)


@pytest.mark.parametrize(
    ("difference", "relation", "becomes"),
    [
        (0.0, "agrees", "contradicted"),
        (0.0, "differs", "met"),
        (1.0, "agrees", "met"),
        (1.0, "differs", "undetermined"),
    ],
)
def test_exact_results_flip_at_no_difference(difference, relation, becomes):
    flip = agreement(difference, 0.0).flip(relation)
    assert (flip.at, flip.becomes) == (0.0, becomes)


# What is said.


def test_the_sentence_says_the_difference_and_what_would_have_shown():
    assert agreement(0.005, 0.005).sentence(unit_of("V")) == (
        "difference 0.0050(50) V; 1 u (E_n = 0.5); a measured difference of 0.010 V "
        "(2u) would have been noticed"
    )


def test_what_was_noticed_needs_no_word_on_what_would_have_been():
    assert agreement(0.020, 0.005).sentence(unit_of("V")) == (
        "difference 0.0200(50) V; 4 u (E_n = 2)"
    )


def test_the_sentence_names_a_declared_margin_and_its_probability():
    assert agreement(0.3e-3, 0.2e-3, margin=0.5e-3).sentence(unit_of("mV")) == (
        "difference 0.30(20) mV; within 0.50 mV with probability 0.84; a measured "
        "difference of 0.40 mV (2u) would have been noticed"
    )


def test_an_exact_difference_says_so():
    assert agreement(0.02, 0.0).sentence(unit_of("V")) == "difference 0.02 V; exact"


def test_a_difference_of_temperatures_is_said_in_kelvin():
    said = agreement(0.30, 0.20).sentence(unit_of("degC"))
    assert said.startswith("difference 0.30(20) K; 1.5 u")


def test_small_differences_take_a_prefix():
    assert difference_text(4.2e-7, unit_of("A")) == "420 nA"


# What is refused.


@pytest.mark.parametrize(
    ("difference", "u", "dof", "level"),
    [
        (math.nan, 1.0, 5, 0.95),
        (INFINITE, 1.0, 5, 0.95),
        (1.0, -1.0, 5, 0.95),
        (1.0, math.nan, 5, 0.95),
        (1.0, 1.0, 0, 0.95),
        (1.0, 1.0, 5, 0.4),
        (1.0, 1.0, 5, 1.0),
    ],
)
def test_a_comparison_out_of_range_is_refused(difference, u, dof, level):
    with pytest.raises(InputError, match="agreement: difference"):
        agreement(difference, u, dof, level=level)


@pytest.mark.parametrize("margin", [0.0, -1.0, math.nan, INFINITE])
def test_a_margin_that_permits_nothing_or_everything_is_refused(margin):
    with pytest.raises(InputError, match="give a difference above 0, or none"):
        agreement(1.0, 0.1, margin=margin)


def test_an_unknown_relation_is_refused():
    with pytest.raises(InputError, match="'equals' is not known. Give 'agrees' or"):
        agreement(1.0, 0.1).outcome("equals")
    with pytest.raises(InputError, match="'equals' is not known"):
        agreement(1.0, 0.1).flip("equals")

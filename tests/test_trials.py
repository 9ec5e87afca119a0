import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    decide_count,
    exact_limits,
    lower_bound,
    upper_bound,
)
from benchproof.values.errors import InputError


@st.composite
def counts(draw):
    attempts = draw(st.integers(1, 200))
    return draw(st.integers(0, attempts)), attempts


def tail(count, attempts, probability):
    """Probability of at most `count` in `attempts`, summed term by term."""
    return math.fsum(
        math.comb(attempts, k) * probability**k * (1 - probability) ** (attempts - k)
        for k in range(count + 1)
    )


@given(counts())
def test_an_upper_bound_leaves_five_per_cent_to_so_few(count):
    # The definition, by a sum of binomial terms. 1e-9: rounding of up to 200 terms.
    bound = upper_bound(*count)
    if count[0] < count[1]:
        assert tail(*count, bound) == pytest.approx(0.05, abs=1e-9)
    else:
        assert bound == 1.0


@given(counts())
def test_lower_and_upper_bounds_mirror_each_other(count):
    k, n = count
    assert lower_bound(k, n) == pytest.approx(1 - upper_bound(n - k, n), abs=1e-12)


@given(counts())
def test_the_limits_enclose_the_observed_fraction(count):
    low, high = exact_limits(*count)
    assert low <= count[0] / count[1] <= high


@given(st.integers(1, 5000))
def test_zero_of_n_has_the_closed_form_bound(attempts):
    # Rounding of the inverse beta function.
    assert upper_bound(0, attempts) == pytest.approx(
        -math.expm1(math.log(0.05) / attempts), rel=1e-9
    )


@given(st.integers(1, 5000))
def test_no_number_of_zeros_brings_the_bound_to_zero(attempts):
    assert upper_bound(0, attempts) > 0
    assert lower_bound(0, attempts) == 0


def test_zero_of_a_few_leaves_almost_everything_open():
    assert upper_bound(0, 1) == pytest.approx(0.95)
    assert decide_count(0, 5, 0.2, 1.0) == "undetermined"


def test_more_attempts_without_an_event_lower_the_bound():
    bounds = [upper_bound(0, n) for n in (1, 2, 10, 100, 1000)]
    assert bounds == sorted(bounds, reverse=True)
    assert len(set(bounds)) == 5


def test_a_higher_level_asks_for_a_wider_interval():
    narrow, wide = exact_limits(3, 20, 0.9), exact_limits(3, 20, 0.99)
    assert wide[0] < narrow[0] < narrow[1] < wide[1]


def test_seventeen_of_twenty_meet_at_least_a_half():
    assert decide_count(17, 20, 0.5, math.inf) == "met"


def test_none_of_twenty_contradicts_at_least_a_half():
    assert decide_count(0, 20, 0.5, math.inf) == "contradicted"


def test_eleven_of_twenty_leave_at_least_a_half_undetermined():
    assert decide_count(11, 20, 0.5, math.inf) == "undetermined"


def test_none_of_twenty_meets_at_most_a_fifth_but_not_at_most_a_tenth():
    # The bound is 13.9 %.
    assert decide_count(0, 20, -math.inf, 0.2) == "met"
    assert decide_count(0, 20, -math.inf, 0.1) == "undetermined"


def test_many_events_contradict_at_most_a_fifth():
    assert decide_count(17, 20, -math.inf, 0.2) == "contradicted"


@pytest.mark.parametrize(
    ("count", "attempts", "level"),
    [(-1, 5, 0.95), (6, 5, 0.95), (0, 0, 0.95), (1, 5, 1.0), (1, 5, 0.0)],
)
def test_a_count_that_cannot_be_is_refused(count, attempts, level):
    with pytest.raises(InputError, match="at least one attempt"):
        upper_bound(count, attempts, level)
    with pytest.raises(InputError, match=f"{count} of {attempts}"):
        lower_bound(count, attempts, level)

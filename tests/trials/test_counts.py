"""Counts: exact limits, against their definition, published values and each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    decide_count,
    exact_limits,
    exact_limits_of,
    lower_bound,
    percent_down,
    percent_up,
    rule_of_three,
    shown_count,
    shown_interval,
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


# Two-sided 95 %, Clopper and Pearson 1934; from memory, recomputed, not read.
TABLE = {
    (0, 10): (0, 0.3085),
    (1, 10): (0.0025, 0.445),
    (5, 10): (0.1871, 0.8129),
    (0, 20): (0, 0.1684),
    (0, 30): (0, 0.1157),
    (1, 30): (0.0008, 0.1722),
}


@pytest.mark.parametrize("seen", TABLE)
def test_the_limits_agree_with_the_clopper_pearson_table(seen):
    assert exact_limits(*seen) == pytest.approx(TABLE[seen], abs=5e-5)


def test_five_of_a_hundred_thousand_has_the_published_upper_bound():
    # Kurz, Lewitschnig and Pilz, IEEE Trans. Reliability 2014 (read).
    assert upper_bound(5, 100_000) == pytest.approx(0.0001051275, abs=1e-10)


def test_the_rule_of_three_gives_one_per_cent_for_three_hundred():
    # Hanley and Lippman-Hand, JAMA 1983 (read).
    found = rule_of_three(300)
    assert found.by_head == pytest.approx(0.01)
    assert found.exact == pytest.approx(0.00994, abs=1e-5)


@given(st.integers(1, 10_000))
def test_the_rule_of_three_is_a_safe_bound_that_gets_closer(attempts):
    found = rule_of_three(attempts)
    assert found.by_head >= found.exact
    assert found.excess < 0.06 or attempts < 30


@pytest.mark.parametrize("attempts", [1, 5, 20])
def test_the_limits_hold_the_probability_in_at_least_95_per_cent(attempts):
    limits = [exact_limits(k, attempts) for k in range(attempts + 1)]
    for probability in np.linspace(0.001, 0.999, 199):
        covered = math.fsum(
            math.comb(attempts, k)
            * probability**k
            * (1 - probability) ** (attempts - k)
            for k, (low, high) in enumerate(limits)
            if low <= probability <= high
        )
        assert covered >= 0.95 - 1e-12


@pytest.mark.parametrize("rows", [300, 3000])
@pytest.mark.parametrize("most", [3, 30, 100_000])
def test_many_counts_at_once_have_the_limits_of_each(most, rows):
    # A few are inverted one by one, many are interpolated.
    rng = np.random.default_rng(2)
    n = rng.integers(1, most + 1, rows)
    k = rng.binomial(n, rng.choice([0.0, 0.2, 1.0], rows))
    low, high = exact_limits_of(k, n, 0.9)
    each = np.array(
        [exact_limits(int(a), int(b), 0.9) for a, b in zip(k, n, strict=True)]
    )
    np.testing.assert_allclose(low, each[:, 0], rtol=1e-9)
    np.testing.assert_allclose(high, each[:, 1], rtol=1e-9)


def test_counts_of_very_many_attempts_have_limits():
    n = 2**40
    low, high = exact_limits_of([0, n], [n, n])
    assert high[0] == pytest.approx(-math.log(0.025) / n)
    assert (low[0], high[1]) == (0, 1)


@pytest.mark.parametrize("none", [np.array([], int), []])
def test_no_counts_have_no_limits(none):
    low, high = exact_limits_of(none, none)
    assert low.size == high.size == 0


def test_the_first_row_that_cannot_be_is_named():
    with pytest.raises(InputError, match="row 2: 4 of 3"):
        exact_limits_of([1, 4, 9], [3, 3, 3])


def test_columns_of_two_lengths_or_of_fractions_are_refused():
    with pytest.raises(InputError, match="one length"):
        exact_limits_of([1, 2], [3])
    with pytest.raises(InputError, match="one length"):
        exact_limits_of([[1, 2]], [[3, 3]])
    with pytest.raises(InputError, match="whole numbers"):
        exact_limits_of([0.5], [3])
    with pytest.raises(InputError, match="level 1"):
        exact_limits_of([1], [3], 1)


@given(counts(), st.sampled_from([0.9, 0.95, 0.999]))
def test_a_written_limit_is_still_a_limit(count, level):
    low, high = exact_limits(*count, level)
    assert float(percent_down(low)[:-2]) <= 100 * low + 1e-7
    assert float(percent_up(high)[:-2]) >= 100 * high - 1e-7


@pytest.mark.parametrize(
    ("probability", "up", "down"),
    [
        (0.0, "0 %", "0 %"),
        (0.00995, "1 %", "0.99 %"),
        (0.01005, "1.1 %", "1 %"),
        (1.0, "100 %", "100 %"),
    ],
)
def test_below_one_per_cent_two_figures_are_written(probability, up, down):
    assert (percent_up(probability), percent_down(probability)) == (up, down)


@given(st.integers(1, 10**7))
def test_a_zero_is_written_with_a_bound_above_zero(attempts):
    text = shown_count(0, attempts)
    assert text.startswith(f"0 of {attempts}, p < ")
    assert float(text.split("p < ")[1].split()[0]) > 0
    assert float(shown_interval(0, attempts).split(" to ")[1][:-2]) > 0


def test_all_of_some_leave_the_rest_open():
    assert shown_count(10, 10) == "10 of 10, p > 74.1 % (95 %, one-sided)"


def test_the_rule_of_three_reads_as_a_sentence():
    assert str(rule_of_three(40)) == "0 of 40: below 7.5 % by head, 7.3 % exactly"

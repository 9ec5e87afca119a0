import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.reasoning.decisions.covariances import covariance_of
from benchproof.values.errors import InputError

# A first call imports scipy, and the machine may be busy: no deadline.
unhurried = settings(deadline=None)

NAMES = ("own", "A", "B")


def test_independent_results_have_their_variances_on_the_diagonal():
    found = covariance_of(NAMES, [1.0, 2.0, 3.0])
    assert found.tolist() == [[1, 0, 0], [0, 4, 0], [0, 0, 9]]


@unhurried
@given(
    st.lists(st.floats(1e-6, 1e6), min_size=3, max_size=3),
    st.lists(st.floats(-1, 1), min_size=3, max_size=3),
)
def test_a_covariance_of_shared_sources_is_accepted_as_it_is(own, shares):
    # Own variances plus one shared source, however unlike their sizes.
    step = np.array(shares) * np.array(own)
    matrix = np.diag(np.square(own)) + np.outer(step, step)
    assert covariance_of(NAMES, covariance=matrix) == pytest.approx(matrix)


@pytest.mark.parametrize("given_both", [True, False])
def test_uncertainties_and_covariance_are_alternatives(given_both):
    both = ([1.0] * 3, np.eye(3)) if given_both else (None, None)
    with pytest.raises(InputError, match="give either uncertainties"):
        covariance_of(NAMES, *both)


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_a_result_that_cannot_be_weighted_is_named(u):
    with pytest.raises(InputError, match="uncertainty of A is .* give one above 0"):
        covariance_of(NAMES, [1.0, u, 1.0])


@pytest.mark.parametrize("variance", [0.0, -1.0, math.nan])
def test_a_variance_that_cannot_be_is_named(variance):
    with pytest.raises(InputError, match="uncertainty of B is"):
        covariance_of(NAMES, covariance=np.diag([1.0, 1.0, variance]))


def test_uncertainties_are_one_each():
    with pytest.raises(InputError, match="3 values and 2 uncertainties"):
        covariance_of(NAMES, [1.0, 2.0])


def test_a_covariance_has_a_row_for_each():
    with pytest.raises(InputError, match=r"shape \(2, 2\); give 3 rows of 3"):
        covariance_of(NAMES, covariance=np.eye(2))


@pytest.mark.parametrize("wrong", [0.5, math.nan])
def test_a_covariance_that_is_not_symmetric_names_the_pair(wrong):
    matrix = np.eye(3)
    matrix[0, 2] = wrong
    with pytest.raises(InputError, match="own and B is not the same both ways"):
        covariance_of(NAMES, covariance=matrix)


def test_a_correlation_beyond_one_names_the_pair():
    matrix = np.diag([1.0, 4.0, 9.0])
    matrix[1, 2] = matrix[2, 1] = 6.1
    with pytest.raises(InputError, match="covariance of A and B is larger than"):
        covariance_of(NAMES, covariance=matrix)


@pytest.mark.parametrize("sign", [-1, 1])
def test_fully_correlated_results_are_named(sign):
    matrix = np.diag([1.0, 4.0, 9.0])
    matrix[0, 2] = matrix[2, 0] = sign * 3.0
    with pytest.raises(InputError, match="own and B are fully correlated"):
        covariance_of(NAMES, covariance=matrix)


def test_results_that_only_together_are_singular_are_refused():
    # The third result is the sum of the other two.
    matrix = [[1, 0, 1], [0, 1, 1], [1, 1, 2]]
    with pytest.raises(InputError, match="fully correlated"):
        covariance_of(NAMES, covariance=matrix)


def test_pairs_that_contradict_each_other_are_refused():
    # own goes with A, A with B, but own against B.
    matrix = [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]]
    with pytest.raises(InputError, match="no values can have this covariance"):
        covariance_of(NAMES, covariance=matrix)


@pytest.mark.parametrize(
    ("short_of_one", "accepted"), [(1.5e-10, True), (6e-11, False), (-6e-11, False)]
)
def test_a_correlation_within_rounding_of_one_leaves_no_weights(short_of_one, accepted):
    # The smaller eigenvalue of two correlated results is 1 - r.
    matrix = [[1.0, 1 - short_of_one], [1 - short_of_one, 1.0]]
    if accepted:
        assert covariance_of(("a", "b"), covariance=matrix).tolist() == matrix
    else:
        with pytest.raises(InputError, match="a and b are fully correlated"):
            covariance_of(("a", "b"), covariance=matrix)


def test_a_rounding_between_the_halves_is_evened_out():
    matrix = [[1.0, 0.5], [0.5 + 8e-10, 1.0]]
    found = covariance_of(("a", "b"), covariance=matrix)
    assert found[0, 1] == found[1, 0] == pytest.approx(0.5 + 4e-10, abs=1e-13)
    matrix[1][0] = 0.5 + 1.2e-9
    with pytest.raises(InputError, match="not the same both ways"):
        covariance_of(("a", "b"), covariance=matrix)


def test_a_strong_correlation_that_is_possible_is_accepted():
    matrix = [[1.0, 0.9999], [0.9999, 1.0]]
    assert covariance_of(("a", "b"), covariance=matrix).tolist() == matrix

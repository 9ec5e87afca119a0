"""Quantiles of many beta distributions, held against exact ones and their limits."""

import numpy as np
import pytest
from scipy.special import betaincinv, gammaincinv, ndtri

from benchproof.reasoning.trials.quantiles import FEWEST, beta_quantiles


def parameters(most: float) -> tuple[np.ndarray, np.ndarray]:
    """Small ones beside larger ones, both ways round."""
    stream = np.random.default_rng(5)
    small = stream.integers(1, 60, FEWEST)
    other = np.exp(stream.uniform(0, np.log(most), FEWEST)).astype(np.int64)
    return np.concatenate([small, other]), np.concatenate([other, small])


@pytest.mark.parametrize("level", [0.005, 0.025, 0.05, 0.5, 0.9, 0.975, 0.995])
def test_interpolated_quantiles_are_those_that_are_inverted_one_by_one(level):
    # scipy itself is 5e-10 off where one parameter is beyond 1e7: hence up to 1e5.
    a, b = parameters(1e5)
    np.testing.assert_allclose(
        beta_quantiles(a, b, level), betaincinv(a, b, level), rtol=1e-8
    )


def test_quantiles_at_95_percent_are_exact_to_nine_figures():
    a, b = parameters(1e5)
    for level in (0.025, 0.05, 0.95, 0.975):
        exact = betaincinv(a, b, level)
        np.testing.assert_allclose(beta_quantiles(a, b, level), exact, rtol=5e-10)


@pytest.mark.parametrize("level", [0.0001, 0.9999])
def test_levels_beyond_those_that_were_checked_are_inverted_one_by_one(level):
    a, b = parameters(1e5)
    assert (beta_quantiles(a, b, level) == betaincinv(a, b, level))[
        (a > 1) & (b > 1)
    ].all()


def test_beside_a_very_large_parameter_the_quantile_is_that_of_a_gamma_distribution():
    a = np.arange(2, FEWEST + 2)
    b = np.full(a.size, 10**12)
    gamma = gammaincinv(a, 0.975)
    np.testing.assert_allclose(beta_quantiles(a, b, 0.975) * 1e12, gamma, rtol=2e-8)


def test_between_two_very_large_parameters_the_quantile_is_that_of_a_normal_one():
    a = np.full(FEWEST, 10**10)
    away = ndtri(0.975) / (2 * np.sqrt(2 * 1e10))
    np.testing.assert_allclose(beta_quantiles(a, a, 0.975), 0.5 + away, rtol=1e-10)


@pytest.mark.parametrize("rows", [1, FEWEST])
def test_where_a_parameter_is_0_or_1_the_quantile_is_an_end_or_a_power(rows):
    a = np.array([0, 3, 1, 4] * rows)
    b = np.array([5, 0, 10, 1] * rows)
    found = beta_quantiles(a, b, 0.95)[:4]
    expected = [0, 1, 1 - 0.05**0.1, 0.95**0.25]
    np.testing.assert_allclose(found, expected, rtol=1e-13)

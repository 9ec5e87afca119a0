"""Error sources: what they may be, and u from the half-width of an interval."""

import math

import numpy as np
import pytest

from benchproof.values.errors import InputError
from benchproof.values.sources import Source, half_width_divisor, half_width_source
from benchproof.values.units import unit_of

VOLT = unit_of("V")


def middles(count=4000):
    """Middles of equal parts from 0 to 1: a mean over them is an integral."""
    return (np.arange(count) + 0.5) / count


# Values from 0 to 1 through the quantile, or the construction, of each distribution
# with limits of -1 and 1; the mean of their squares is the variance.
def variance(distribution, shape):
    p = middles()
    if distribution == "arcsine":
        return np.mean(np.sin(math.pi * (p - 0.5)) ** 2)
    q = middles(400)
    x, y = np.meshgrid(2 * q - 1, 2 * q - 1)
    if distribution == "curvilinear trapezoid":
        # JCGM 101:2008, 6.4.3.4: the half-width is drawn, then the value within it.
        return np.mean(((1 + shape * x) * y) ** 2)
    top = {"rectangular": 1.0, "triangular": 0.0, "trapezoidal": shape}[distribution]
    return np.mean(((1 + top) / 2 * x + (1 - top) / 2 * y) ** 2)


@pytest.mark.parametrize(
    ("distribution", "shape"),
    [
        ("rectangular", 0.0),
        ("triangular", 0.0),
        ("trapezoidal", 0.0),
        ("trapezoidal", 0.3),
        ("trapezoidal", 1.0),
        ("curvilinear trapezoid", 0.0),
        ("curvilinear trapezoid", 0.4),
        ("curvilinear trapezoid", 1.0),
        ("arcsine", 0.0),
    ],
)
def test_a_half_width_over_its_divisor_is_the_standard_deviation(distribution, shape):
    # The midpoint rule in 400 parts is good to 1e-5.
    found = half_width_divisor(distribution, shape) ** -2
    assert found == pytest.approx(variance(distribution, shape), rel=2e-5)
    source = half_width_source("x", 0.5, VOLT, distribution, shape=shape)
    assert source.standard_uncertainty == pytest.approx(0.5 * math.sqrt(found))
    assert (source.evaluation, source.distribution) == ("B", distribution)


def test_a_source_of_an_interval_keeps_what_it_is_said_to_be():
    source = half_width_source("x", 0.0, VOLT, "trapezoidal", "meter", 0.5, "offset")
    assert source == Source(
        "x", "B", "trapezoidal", 0.0, VOLT, math.inf, "meter", 0.5, "offset"
    )


@pytest.mark.parametrize("distribution", ["normal", "t"])
def test_a_distribution_without_limits_has_no_half_width(distribution):
    with pytest.raises(InputError, match=f"a {distribution} distribution has no half"):
        half_width_divisor(distribution)


@pytest.mark.parametrize("shape", [-0.01, 1.01, math.nan])
def test_a_shape_is_between_0_and_1(shape):
    with pytest.raises(InputError, match="give 0 to 1"):
        half_width_divisor("trapezoidal", shape)
    with pytest.raises(InputError, match=r"x: shape .* give 0 to 1"):
        Source("x", "B", "trapezoidal", 0.1, VOLT, shape=shape)


@pytest.mark.parametrize("width", [-0.1, math.inf, math.nan])
def test_a_half_width_that_cannot_be_is_refused_by_name(width):
    with pytest.raises(InputError, match=r"offset: half-width .* give a value >= 0"):
        half_width_source("offset", width, VOLT)


@pytest.mark.parametrize("u", [-0.1, math.inf, math.nan])
def test_an_uncertainty_that_cannot_be_is_refused_by_name(u):
    with pytest.raises(InputError, match=r"gain: standard uncertainty .* finite"):
        Source("gain", "B", "normal", u)


@pytest.mark.parametrize("dof", [0.99, -1, math.nan])
def test_less_than_one_degree_of_freedom_is_refused_by_name(dof):
    with pytest.raises(InputError, match=r"gain: .* degrees of freedom; at least 1"):
        Source("gain", "A", "t", 0.1, VOLT, dof)
    assert Source("gain", "A", "t", 0.1, VOLT, 1).degrees_of_freedom == 1

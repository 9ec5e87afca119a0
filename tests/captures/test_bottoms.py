import numpy as np
import pytest
from captures.invented import record

from benchproof.measuring.captures.bottoms import _LEANING, _extreme, bottom_of
from benchproof.measuring.captures.noise import Noise, noise_of

COUNT = 1200


def share_covered(shape, sigma, noise=None, scatter=None, seeds=60):
    """Return how often 2 u holds the least value of a shape whose least is 0."""
    held = []
    for seed in range(seeds):
        rng = np.random.default_rng([7, seed])
        added = scatter(rng) if scatter else sigma * rng.standard_normal(shape.size)
        found = bottom_of(shape + added, noise or Noise(sigma))
        # An arcsine of half-width a has a standard deviation of a/√2.
        u = np.hypot(found.noise, np.hypot(found.bias, found.shape) / 2**0.5)
        held.append(abs(found.value) <= 2 * u)
    return np.mean(held)


X = np.linspace(0, 1, COUNT)
RINGING = np.exp(-5 * X) * np.cos(2 * np.pi * 9 * X + np.pi)
# The method's constants come from geometry and from noise alone, not from these shapes.
SHAPES = {
    "exponential sag that ends at its lowest": np.exp(-3 * X) - np.exp(-3),
    "triangle": np.abs(2 * X - 1),
    "leaning triangle": np.where(X < 0.1, 1 - 10 * X, (X - 0.1) / 0.9),
    "notch of six samples": np.where(np.abs(np.arange(COUNT) - 400.5) < 3, 0, 0.3),
    "ringing bottom": RINGING - RINGING.min(),
    "nine equal troughs": 0.1 + 0.1 * np.sin(2 * np.pi * 9 * X),
    "two levels": np.where(X < 0.6, 0.05, 0.0),
    "flat": np.zeros(COUNT),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("sigma", [0.002, 0.01])
def test_u_of_the_bottom_covers_it_whatever_the_shape(shape, sigma):
    # 95 % gives fewer than 85 % of 60 with a probability below 0.1 %.
    assert share_covered(SHAPES[shape], sigma) >= 0.85


def test_noise_of_neighbours_that_are_alike_is_covered_with_its_autocorrelation():
    def scatter(rng):
        white = rng.standard_normal(COUNT + 19)
        return 0.01 * np.convolve(white, np.full(20, 20**-0.5), mode="valid")

    quiet = noise_of(record(scatter(np.random.default_rng(5))))
    assert quiet.alike > 10
    for shape in ("flat", "triangle", "two levels"):
        assert share_covered(SHAPES[shape], 0.01, quiet, scatter) >= 0.85


def test_a_flat_bottom_is_averaged_and_a_pointed_one_hardly():
    rng = np.random.default_rng(3)
    noise = 0.01 * rng.standard_normal(COUNT)
    flat, pointed = (
        bottom_of(SHAPES[name] * 5 + noise, Noise(0.01))
        for name in ("flat", "triangle")
    )
    assert flat.averaged >= 64
    assert pointed.averaged <= 8
    assert flat.noise < pointed.noise / 3


def test_a_clean_flat_bottom_is_exact_also_beside_a_sample_on_the_way_down():
    for v in ([10.0, 8.0, 8.0, 8.0, 10.0], [8.0], [8.0, 8.0]):
        found = bottom_of(np.array(v), Noise(0.0))
        assert found.value == 8.0
        assert found.noise == found.bias == found.shape == 0.0


# Of a triangle's corner, half-way between two samples, neither sample is the bottom.
@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5])
def test_a_corner_between_samples_is_within_what_is_left_open(shift):
    v = np.abs(np.arange(-8, 9) - shift)
    found = bottom_of(v, Noise(0.0))
    assert abs(found.value) <= found.shape + 1e-12


@pytest.mark.parametrize(("width", "count"), [(1, 200), (16, 100), (64, 500)])
def test_the_extreme_of_overlapping_averages_agrees_with_a_simulation(width, count):
    rng = np.random.default_rng(4)
    draws = rng.standard_normal((2000, count + width - 1))
    sums = np.cumsum(np.c_[np.zeros(2000), draws], axis=1)
    means = (sums[:, width:] - sums[:, :-width]) / width**0.5
    simulated = means.max(axis=1).mean()
    # The law is that of a continuous window: steps of whole samples reach less.
    assert simulated - 0.03 <= _extreme(count, width, Noise(1.0)) <= simulated + 0.35


@pytest.mark.parametrize("width", [16, 128])
def test_the_ends_of_the_least_of_many_windows_lean_as_far_as_is_said(width):
    leaning = []
    for seed in range(400):
        v = np.random.default_rng([9, seed]).standard_normal(4 * width)
        sums = np.r_[0.0, np.cumsum(v)]
        at = int((sums[width:] - sums[:-width]).argmin())
        a, b, c, d = np.diff(sums[at : at + width + 1 : width // 4]) * 4 / width
        leaning.append((a + d - b - c) / 4)
    u = Noise(1.0).of_mean(width / 4) / 2
    assert -np.mean(leaning) / u == pytest.approx(_LEANING, abs=0.2)

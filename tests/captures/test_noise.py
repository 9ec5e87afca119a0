import numpy as np
import pytest
from captures.invented import in_codes, record

from benchproof.measuring.captures.noise import (
    Noise,
    alike_in,
    expected_extreme,
    noise_of,
    noise_within,
    quantisation,
    quantisation_of_mean,
)
from benchproof.values.errors import InputError


# F27; simulated independently below.
def test_the_least_of_a_thousand_gaussian_samples_lies_3_24_deviations_low():
    assert expected_extreme(1000) == pytest.approx(3.24, abs=0.005)
    drawn = np.random.default_rng(1).standard_normal((2000, 1000)).max(axis=1)
    assert expected_extreme(1000) == pytest.approx(drawn.mean(), abs=0.04)
    assert expected_extreme(2) == pytest.approx(1 / np.sqrt(np.pi), abs=1e-4)


# F16, J04 (from memory, recomputed agrees): 8 divisions of 1 V in 256 codes.
def test_the_code_of_an_eight_bit_record_leaves_nine_millivolts():
    trace = in_codes(np.zeros(4), step=8 / 256)
    assert quantisation(trace) * 1e3 == pytest.approx(9.02, abs=0.005)


# J03, an op-amp noise tutorial; the first entries read, the rest from memory.
@pytest.mark.parametrize(
    ("wide", "percent", "half_a_digit"),
    [(2, 32, 0.5), (3, 13, 0.5), (4, 4.6, 0.05), (5, 1.2, 0.05), (6, 0.27, 0.005)],
)
def test_noise_is_outside_a_peak_to_peak_width_as_tabulated(
    wide, percent, half_a_digit
):
    v = 0.03 * np.random.default_rng(4).standard_normal(2_000_000)
    sigma = noise_of(record(v)).standard_deviation
    share = 100 * (np.abs(v) > wide * sigma / 2).mean()
    scatter = 4 * 100 * np.sqrt(percent / 100 / v.size)
    assert share == pytest.approx(percent, abs=half_a_digit + scatter)


def test_noise_is_found_beside_edges_and_ramps():
    rng = np.random.default_rng(7)
    v = np.where(np.arange(20_000) // 500 % 2, 5.0, 0.0) + 1e-4 * np.arange(20_000)
    found = noise_within(record(v + 0.03 * rng.standard_normal(v.size)))
    assert found.standard_deviation == pytest.approx(0.03, rel=0.03)


@pytest.mark.parametrize("sigma", [0.7, 1.5, 4.0])
def test_noise_of_a_few_codes_is_found_through_the_rounding(sigma):
    step = 16 / 256
    v = 1.0 + sigma * step * np.random.default_rng(8).standard_normal(50_000)
    found = noise_within(in_codes(v)).standard_deviation
    assert found == pytest.approx(step * np.hypot(sigma, 12**-0.5), rel=0.1)


def test_noise_behind_a_bandwidth_limit_counts_for_fewer_samples():
    white = np.random.default_rng(9).standard_normal(40_000)
    slow = np.convolve(white, np.full(8, 1 / 8), mode="valid")
    assert alike_in(slow) == pytest.approx(8, rel=0.15)
    assert alike_in(white) == pytest.approx(1, abs=0.1)


def test_the_noise_of_a_mean_holds_where_neighbours_are_alike():
    def z(k):
        white = np.random.default_rng([11, k]).standard_normal(4008)
        slow = np.convolve(white, np.full(8, 1 / 8), mode="valid")
        return slow.mean() / noise_of(record(slow)).of_mean(slow.size)

    errors = np.array([z(k) for k in range(200)])
    assert 0.8 < np.sqrt(np.mean(errors**2)) < 1.25


def test_a_mean_without_noise_is_as_coarse_as_a_code():
    trace = in_codes(np.full(100, 3.0))
    q = 16 / 256
    assert quantisation_of_mean(trace, Noise(0.0), 100) == pytest.approx(q / 2)
    assert quantisation_of_mean(trace, Noise(q), 100) == pytest.approx(q / 20)


def test_a_stretch_too_short_to_know_noise_from_is_refused():
    with pytest.raises(InputError, match="stretch of 5 samples is too short"):
        noise_of(record(np.zeros(50)), 0, 5)


@pytest.mark.parametrize("lost", [np.nan, np.inf])
def test_noise_of_a_stretch_with_gaps_is_refused(lost):
    with pytest.raises(InputError, match="has gaps .* Give a steady stretch"):
        noise_of(record(np.r_[np.zeros(40), lost, np.zeros(9)]))

"""What the instrument adds to an edge."""

import numpy as np
import pytest

from benchproof.measuring.circuits import risetimes
from benchproof.values.errors import InputError


# Pairs as published for oscilloscopes (read, recomputed). They take 0.35 for 0.3497
# and are rounded to three figures: 0.2 %.
@pytest.mark.parametrize(
    ("rise", "bandwidth"), [(80e-9, 4.375e6), (17e-9, 20.6e6), (4.5e-9, 77.8e6)]
)
def test_bandwidth_and_rise_time_agree_with_published_pairs(rise, bandwidth):
    assert risetimes.bandwidth_of_rise_time(rise) == pytest.approx(bandwidth, rel=2e-3)
    assert risetimes.rise_time_of_bandwidth(bandwidth) == pytest.approx(rise, rel=2e-3)


def test_the_constant_is_that_of_a_sampled_exponential():
    # ln 9 (definition: 10 % to 90 % of 1 - exp(-t), no independent published figure).
    times = np.linspace(0, 10, 1_000_001)
    step = 1 - np.exp(-times)
    sampled = times[np.searchsorted(step, 0.9)] - times[np.searchsorted(step, 0.1)]
    assert pytest.approx(sampled, abs=2e-5) == risetimes.RISE_PER_TIME_CONSTANT


def test_the_rise_time_of_a_current_clamp_is_taken_off():
    assert risetimes.device_rise_time(13.99e-6, 3.5e-6) == pytest.approx(
        13.54e-6, abs=6e-9
    )


def test_several_instruments_add_in_squares():
    device = 10e-9
    measured = np.sqrt(device**2 + 3e-9**2 + 4e-9**2)
    assert risetimes.device_rise_time(measured, 3e-9, 4e-9) == pytest.approx(device)
    assert risetimes.device_rise_time(5e-9) == 5e-9


def test_a_rise_near_the_instruments_own_is_refused():
    with pytest.raises(InputError, match="below 1.5 times the instruments' own"):
        risetimes.device_rise_time(5.2e-9, 3.5e-9)


def test_a_lower_ratio_must_be_asked_for():
    rise = risetimes.device_rise_time(5.2e-9, 3.5e-9, least_ratio=1.4)
    assert rise == pytest.approx(3.85e-9, abs=5e-12)
    with pytest.raises(InputError, match="a ratio above 1"):
        risetimes.device_rise_time(5.2e-9, 3.5e-9, least_ratio=1.0)


def test_a_single_short_draw_refuses_the_array():
    with pytest.raises(InputError, match="1 of 2, first at index 1"):
        risetimes.device_rise_time(np.array([20e-9, 4e-9]), 3.5e-9)


def test_a_probe_slows_a_node():
    assert risetimes.pole_frequency(100e3, 12e-12) == pytest.approx(132.6e3, rel=1e-3)
    rise = risetimes.pole_rise_time(100e3, 12e-12)
    assert rise == pytest.approx(2.64e-6, abs=5e-9)
    assert risetimes.pole_rise_time(100e3, 100e-12) == pytest.approx(22e-6, rel=2e-3)
    pole = risetimes.pole_frequency(100e3, 12e-12)
    assert risetimes.rise_time_of_bandwidth(pole) == pytest.approx(rise)


def test_a_ground_lead_rings():
    ring = risetimes.ground_lead_resonance(100e-9, 12e-12)
    assert ring == pytest.approx(145e6, rel=5e-3)


def test_a_shunt_shows_its_inductance_below_a_microsecond():
    assert risetimes.shunt_time_constant(8e-9, 10e-3) == pytest.approx(0.8e-6)


def test_settling_into_one_per_cent_takes_more_than_four_time_constants():
    assert risetimes.settling_time(1.0, 0.01) == pytest.approx(4.605, abs=5e-4)
    with pytest.raises(InputError, match="between 0 and 1"):
        risetimes.settling_time(1.0, 1.0)


def test_an_interval_between_two_samples_spreads_as_drawn_ones_do():
    u = risetimes.interval_uncertainty(10e-6)
    assert u == pytest.approx(4.08e-6, abs=5e-9)
    edges = np.random.default_rng(7).random((2, 200_000)) * 10e-6
    assert u == pytest.approx(np.std(edges[1] - edges[0]), rel=0.01)


def test_ten_samples_stand_on_the_shortest_feature():
    assert risetimes.least_sample_rate(1e-3) == pytest.approx(10e3)

from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, covers, errors_in_u, record

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.levels import levels_of
from benchproof.measuring.captures.transitions import (
    device_rise,
    overshoot,
    settling_time,
    transition_duration,
)
from benchproof.values.units import unit_of

SECOND = unit_of("s")


def step(rng, tau=50.0, sigma=0.01, count=3000):
    since = np.arange(count) - 500 - rng.random()
    v = np.where(since > 0, 5 * (1 - np.exp(-np.maximum(since, 0) / tau)), 0.0)
    return record(v + sigma * rng.standard_normal(count), interval=1e-6)


# J05: ln 9 time constants; definition, no published figure.
def test_the_rise_time_of_one_pole_is_ln_nine_time_constants():
    v = np.r_[np.zeros(5000), 1 - np.exp(-np.arange(120_000) / 10_000)]
    trace = record(v)
    found = transition_duration(trace, levels_of(trace)).value / 1e-5 / 10_000
    assert found == pytest.approx(np.log(9), rel=5e-3)


@pytest.mark.parametrize(
    ("tau", "sigma"), [(50, 0.01), (50, 0.05), (5, 0.01), (2, 0.01)]
)
def test_u_of_a_rise_time_covers_it(tau, sigma):
    def rise(rng):
        trace = step(rng, tau, sigma)
        return transition_duration(trace, levels_of(trace))

    assert covers(errors_in_u(rise, tau * 1e-6 * np.log(9)))


def test_falling_edges_are_measured_alike():
    v = np.exp(-np.arange(6000) / 300)
    trace = record(np.r_[np.ones(1000), v])
    found = transition_duration(trace, levels_of(trace), rising=False)
    assert found.value == pytest.approx(3e-3 * np.log(9), rel=0.02)


def test_an_edge_between_two_samples_is_only_said_to_be_shorter():
    trace = record(np.repeat([0.0, 5.0], 500))
    found = transition_duration(trace, levels_of(trace))
    assert "only says that it is shorter" in found.cannot_tell


def test_too_much_noise_to_tell_ten_percent_is_refused():
    trace = step(np.random.default_rng(1), sigma=0.2)
    found = transition_duration(trace, levels_of(trace))
    assert "more than 1/60 of the amplitude" in found.cannot_tell


# F20: 5.2 ns seen with 3.5 ns is 3.85 ns.
def test_the_instruments_own_rise_is_taken_off_in_squares():
    trace = record([0.0, 1.0], settings=replace(PLAIN, bandwidth=0.3497e9 / 3.5))
    seen = Finding("rise time", SECOND, 5.2e-9)
    # 5.2 is below 1.5 times 3.5: refused as it stands, see below; 6 ns is not.
    assert device_rise(trace, seen).cannot_tell
    found = device_rise(trace, replace(seen, value=6e-9))
    assert found.value * 1e9 == pytest.approx(np.sqrt(36 - 3.5**2), abs=0.01)


# F20: 13.99 µs seen with 3.5 µs is 13.54 µs.
def test_an_inrush_seen_through_a_slow_clamp_was_a_little_faster():
    trace = record([0.0, 1.0], settings=replace(PLAIN, bandwidth=1e5))
    found = device_rise(trace, Finding("rise time", SECOND, 13.99e-6))
    assert found.value * 1e6 == pytest.approx(13.54, abs=0.01)
    # A fifth of the clamp's own 3.5 µs, as a limit.
    expected = 0.2 * 3.5 / 3**0.5 * 3.5 / 13.54
    assert found.standard_uncertainty * 1e6 == pytest.approx(expected, rel=0.01)


def test_a_rise_that_is_the_instruments_own_is_refused():
    trace = record([0.0, 1.0], settings=replace(PLAIN, bandwidth=100e6))
    found = device_rise(trace, Finding("rise time", SECOND, 3.6e-9))
    assert "it is theirs, not the device's" in found.cannot_tell


def test_without_a_bandwidth_nothing_is_corrected():
    found = device_rise(record([0.0, 1.0]), Finding("rise time", SECOND, 1e-6))
    assert "bandwidth is not stated" in found.cannot_tell


@pytest.mark.parametrize("sigma", [0.001, 0.01])
def test_u_of_a_settling_time_covers_it(sigma):
    def settle(rng):
        trace = step(rng, tau=100, sigma=sigma)
        return settling_time(trace, levels_of(trace), 0.02)

    assert covers(errors_in_u(settle, 100e-6 * np.log(50 / 2)), smallest=0.1)


# F23: a one-pole step comes within 1 % after 4.605 time constants.
def test_one_pole_settles_within_one_percent_in_ln_hundred_time_constants():
    v = np.r_[np.zeros(40_000), 1 - np.exp(-np.arange(100_000) / 5000)]
    trace = record(v, interval=1e-6)
    found = settling_time(trace, levels_of(trace)).value / 5000e-6
    assert found + np.log(2) == pytest.approx(4.605, abs=0.03)


def test_ringing_that_leaves_the_band_again_has_not_settled_yet():
    at = np.arange(6000)
    ring = np.where(
        at < 800, 0, 1 - np.exp(-(at - 800) / 300) * np.cos((at - 800) / 20)
    )
    trace = record(ring, interval=1e-6)
    found = settling_time(trace, levels_of(trace), 0.05)
    v, last = trace.values(), int(round(800 + found.value / 1e-6))
    assert (np.abs(v[last + 30 :] - 1) <= 0.051).all()
    assert found.value > 300e-6 * np.log(20) * 0.8


def test_a_record_that_ends_too_early_has_not_settled():
    v = np.r_[np.zeros(500), 1 - np.exp(-np.arange(700) / 120)]
    trace = record(v)
    found = settling_time(trace, levels_of(trace), 0.01)
    assert "Record longer" in found.cannot_tell


def test_a_band_within_the_noise_is_refused():
    trace = step(np.random.default_rng(2), sigma=0.03)
    found = settling_time(trace, levels_of(trace), 0.01)
    assert "within 4 standard deviations of the noise" in found.cannot_tell


# Second-order step, damping ratio 0.2: 52.7 %.
def test_overshoot_of_a_resonance_is_that_of_its_damping():
    zeta, w = 0.2, 0.02
    at, wd = np.arange(20_000), 0.02 * np.sqrt(1 - 0.04)
    phase = np.cos(wd * at) + zeta / np.sqrt(1 - zeta**2) * np.sin(wd * at)
    v = np.r_[np.zeros(5000), 1 - np.exp(-zeta * w * at) * phase]
    trace = record(v)
    assert overshoot(trace, levels_of(trace)).value == pytest.approx(0.527, abs=0.004)


# F27's trap: noise looks like overshoot.
def test_noise_on_a_flat_top_is_not_told_apart_from_no_overshoot():
    rng = np.random.default_rng(5)
    v = np.repeat([0.0, 5.0], 2000) + 0.03 * rng.standard_normal(4000)
    trace = record(v)
    found = overshoot(trace, levels_of(trace))
    assert (v.max() - 5) / 5 > 0.018
    assert found.notes == ("not told apart from none",)


def test_noise_on_a_flat_state_is_no_overshoot():
    shares = []
    for seed in range(40):
        rng = np.random.default_rng([8, seed])
        trace = record(np.repeat([0.0, 5.0], 1000) + 0.03 * rng.standard_normal(2000))
        found = overshoot(trace, levels_of(trace))
        shares.append(abs(found.value) <= 2 * found.standard_uncertainty)
    assert np.mean(shares) >= 0.85

import numpy as np
import pytest
from captures.invented import covers, errors_in_u, record

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.instants import (
    crossings_of,
    instant_parts,
    instants,
    passage_of,
    sampling_half_width,
)
from benchproof.measuring.captures.noise import Noise
from benchproof.values.units import unit_of


def test_a_line_is_crossed_between_its_samples():
    trace = record(np.linspace(0, 1, 101))
    edges = trace.changes(0.1, 0.9)
    assert instants(trace, edges, 0.505)[0] == pytest.approx(50.5)


def test_crossings_are_found_across_the_border_of_blocks():
    v = np.zeros((1 << 20) + 4)
    v[1 << 20 :] = 1.0
    assert crossings_of(record(v), 0.5).tolist() == [(1 << 20) - 0.5]


# F24: u = Δt/√6 between two edges, each anywhere between two samples.
def test_two_sharp_edges_leave_a_sample_interval_over_root_six():
    v = np.repeat([0.0, 1.0, 0.0], 100)
    trace = record(v, interval=10e-6)
    edges = trace.changes(0.2, 0.8)
    parts = [
        *instant_parts(trace, edges, "begin", 0.6, Noise(0.0)),
        *instant_parts(trace, edges, "end", 0.6, Noise(0.0)),
    ]
    found = Finding("interval", unit_of("s"), 1e-3, tuple(parts))
    assert found.standard_uncertainty * 1e6 == pytest.approx(4.08, abs=0.005)


def test_samples_on_a_line_leave_less_than_half_an_interval():
    ramp = record(np.linspace(0, 1, 50))
    assert sampling_half_width(ramp, ramp.changes(0.1, 0.9)) < 0.01


def test_the_instant_of_a_noisy_edge_is_not_shifted_and_its_u_holds():
    def edge(rng):
        at = 200 + rng.random()
        v = np.clip((np.arange(400) - at) / 60 + 0.5, 0, 1)
        trace = record(v + 0.02 * rng.standard_normal(400))
        changes = trace.changes(0.3, 0.7)
        parts = instant_parts(trace, changes, "edge", 0.4, Noise(0.02))
        value = trace.time(instants(trace, changes, 0.5)[0])
        return Finding("edge", unit_of("s"), value, tuple(parts)), trace.time(at)

    errors = errors_in_u(edge, None)
    assert covers(errors)
    assert abs(errors.mean()) < 0.3


def ramp(rng, slope, bend=0.0):
    """A noisy edge of standard deviation 1 that passes 0 at a known place."""
    x = np.arange(6000) - 3000 - rng.random()
    v = slope * x * (1 - bend * slope * np.clip(x, -400 / slope, 400 / slope) / 400)
    return record(np.clip(v, -50, 50) + rng.standard_normal(x.size)), 3000 - x[3000]


# The first of many noisy samples beyond a level is early, up to 2.5 standard deviations
# of noise: a parabola through the samples around is not.
@pytest.mark.parametrize("slope", [2.0, 0.3, 0.03])
@pytest.mark.parametrize("bend", [0.0, 1.0])
def test_a_slow_edge_is_not_found_early_and_its_u_covers_it(slope, bend):
    errors, early = [], []
    for seed in range(60):
        trace, true = ramp(np.random.default_rng([5, seed]), slope, bend)
        changes = trace.changes(-12.0, 0.0)
        k = int(np.flatnonzero(changes.rising)[0])
        first = float(changes.reached[k])
        slowest = 12 / float(changes.reached[k] - changes.left[k])
        found = passage_of(trace, first, 0.0, Noise(1.0), slowest)
        u = np.hypot(found.noise, max(found.doubt / 2**0.5, 12**-0.5))
        errors.append((found.place - true) / u)
        early.append(true - first)
    assert covers(np.array(errors), least=0.85)
    assert abs(np.mean(errors)) < 0.6
    if slope < 1:
        assert np.mean(early) * slope > 0.5


# A recovery with ripple: in truth the second crest is the first to reach the level.
def test_a_crest_that_nearly_reaches_a_level_leaves_it_open_which_one_did():
    x = np.arange(6000)
    v = 0.004 * (x - 3000) - 1.5 * np.cos(2 * np.pi * x / 400)
    crest = 2600 + int(v[2500:2700].argmax()) - 100
    level = float(v[crest]) + 0.4
    true = int(np.flatnonzero(v >= level)[0])
    assert true > crest + 100
    held, confused = [], 0
    for seed in range(40):
        trace = record(v + np.random.default_rng([6, seed]).standard_normal(x.size))
        changes = trace.changes(level - 8.0, level)
        found = passage_of(trace, float(changes.reached[0]), level, Noise(1.0), 0.004)
        confused += changes.reached[0] < crest + 100
        u = np.hypot(found.noise, found.doubt / 2**0.5)
        held.append(abs(found.place - true) <= 2 * u)
    assert confused > 30
    assert np.mean(held) >= 0.85


def test_over_the_width_of_a_doubtful_level_the_slope_is_the_lesser_one():
    v = np.r_[np.zeros(500), np.linspace(0, 5, 50), np.linspace(5, 6, 500)]
    trace = record(v)
    first = float(trace.changes(1.0, 5.0).reached[0])
    exact, doubtful = (
        passage_of(trace, first, 5.0, Noise(0.0), 0.1, level_u=u) for u in (0.0, 0.2)
    )
    assert exact.slope == pytest.approx(0.102, rel=0.02)
    assert doubtful.slope < 0.01


def test_a_step_between_two_samples_needs_no_curve():
    trace = record(np.repeat([0.0, 5.0], 50))
    first = float(trace.changes(1.0, 4.0).reached[0])
    found = passage_of(trace, first, 4.0, Noise(0.001), 1.0)
    assert found.place == first
    assert found.slope == 5.0

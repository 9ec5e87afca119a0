import numpy as np
import pytest
from captures.invented import covers, errors_in_u, record

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.instants import (
    crossings_of,
    instant_parts,
    instants,
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

import numpy as np
import pytest
from captures.invented import SCOPE, covers, errors_in_u, record

from benchproof.measuring.captures.levels import given_levels, levels_of
from benchproof.measuring.captures.pulses import NAMES, pulses_of

PERIOD, DUTY = 137.3, 0.3


def pulses(rng, count=4000, softness=1.0, sigma=0.03):
    """Return a logistic pulse train, half amplitude at exactly known times."""
    phase = (np.arange(count) / PERIOD + rng.random()) % 1
    inside = np.minimum(phase, DUTY - phase)
    outside = -np.minimum(phase - DUTY, 1 - phase)
    far = np.where(phase < DUTY, inside, outside) * PERIOD / softness
    v = 5 / (1 + np.exp(-np.clip(far, -50, 50)))
    return record(v + sigma * rng.standard_normal(count), interval=1e-6)


@pytest.mark.parametrize("softness", [0.01, 1.0, 1.3])
@pytest.mark.parametrize("count", [400, 4000])
@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("period", PERIOD * 1e-6),
        ("frequency", 1e6 / PERIOD),
        ("high time", DUTY * PERIOD * 1e-6),
        ("duty", DUTY),
    ],
)
def test_u_of_a_pulse_train_covers_its_times(name, truth, count, softness):
    errors = errors_in_u(
        lambda rng: pulses_of(pulses(rng, count, softness))[name], truth, 60
    )
    assert covers(errors)


def test_a_high_time_between_rounded_states_is_not_told_but_its_period_is():
    found = pulses_of(pulses(np.random.default_rng(5), softness=3.5))
    assert "in neither state" in found["high time"].cannot_tell
    assert "Give the levels yourself" in found["duty"].cannot_tell
    assert found["period"].value == pytest.approx(PERIOD * 1e-6, rel=1e-3)


def test_u_of_a_high_time_at_declared_levels_covers_it_on_rounded_pulses():
    def high(rng):
        trace = pulses(rng, softness=3.0)
        return pulses_of(trace, given_levels(trace, 0.0, 5.0))["high time"]

    assert covers(errors_in_u(high, DUTY * PERIOD * 1e-6, 60))


def test_noise_makes_no_pulses():
    rng = np.random.default_rng(3)
    trace = pulses(rng, softness=4.0, sigma=0.4)
    middle = trace.values() > 2.5
    assert (middle[1:] != middle[:-1]).sum() > 2 * 4000 / PERIOD + 10
    found = pulses_of(trace)
    assert found["period"].value == pytest.approx(PERIOD * 1e-6, rel=0.02)


def test_one_edge_is_no_period():
    trace = record(np.repeat([0.0, 5.0], 500))
    found = pulses_of(trace)
    assert "does not hold one whole period" in found["period"].cannot_tell
    assert found["frequency"].cannot_tell == found["period"].cannot_tell


def test_the_time_base_remains_in_a_period_and_cancels_in_the_duty():
    v = np.tile(np.repeat([5.0, 0.0], [300, 700]), 20)
    found = pulses_of(record(v, settings=SCOPE))
    share = {
        name: sum(c for s, c in found[name].parts if s.name.endswith("time base"))
        for name in NAMES
    }
    assert share["period"] == pytest.approx(0.01)
    assert share["duty"] == pytest.approx(0, abs=1e-12)


def test_what_has_no_states_has_no_pulses():
    trace = record(np.linspace(0, 5, 5000))
    found = pulses_of(trace, levels_of(trace))
    assert all("no two states" in found[name].cannot_tell for name in NAMES)


def test_short_pulses_are_noted():
    found = pulses_of(record(np.tile(np.repeat([5.0, 0.0], [5, 95]), 20)))
    assert "samples in one high time" in found["high time"].notes[0]

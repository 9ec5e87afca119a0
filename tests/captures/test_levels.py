from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, covers, errors_in_u, in_codes, record

from benchproof.measuring.captures.levels import given_levels, levels_of
from benchproof.values.errors import InputError


def steps(rng, sigma=0.03):
    start = rng.random()
    at = np.arange(4000)
    v = np.where((at / 137.3 + start) % 1 < 0.3, 5.0, 0.4)
    return v + sigma * rng.standard_normal(at.size)


@pytest.mark.parametrize(("name", "truth"), [("low", 0.4), ("high", 5.0)])
def test_u_of_a_state_covers_its_level(name, truth):
    found = errors_in_u(lambda rng: getattr(levels_of(record(steps(rng))), name), truth)
    assert covers(found)


def test_u_of_an_amplitude_covers_it_in_whole_codes():
    def amplitude(rng):
        found = levels_of(in_codes(steps(rng, 0.05), settings=PLAIN_CODES))
        return found.amplitude

    assert covers(errors_in_u(amplitude, 4.6))


PLAIN_CODES = SCOPE.__class__("invented scope", "CH1", coupling="DC", bits=8)


# J05 (definition): the states of an exponential step are its start and its end.
def test_states_of_an_exponential_step_are_its_ends():
    v = np.r_[np.zeros(2000), 1 - np.exp(-np.arange(20_000) / 1000)]
    found = levels_of(record(v))
    assert found.low.value == pytest.approx(0, abs=2e-3)
    assert found.high.value == pytest.approx(1, abs=2e-3)


def test_overshoot_does_not_move_a_state():
    at = np.arange(8000)
    v = np.where(at < 2000, 0.0, 1 - np.exp(-(at - 2000) / 150) * np.cos(at / 30))
    assert levels_of(record(v)).high.value == pytest.approx(1, abs=2e-3)


def test_noise_alone_has_no_two_states():
    v = 5 + 0.03 * np.random.default_rng(1).standard_normal(50_000)
    found = levels_of(record(v))
    assert "no two states" in found.cannot_tell
    assert np.isnan(found.low.value)


def test_a_ramp_has_no_two_states():
    found = levels_of(record(np.linspace(0, 5, 5000)))
    assert "no two modes" in found.cannot_tell


def test_a_clipped_record_has_no_states():
    found = levels_of(in_codes(np.repeat([0.0, 20.0], 100)))
    assert "clipped at the high end" in found.high.cannot_tell


def test_levels_can_be_declared_and_are_then_exact():
    found = given_levels(record(np.sin(np.arange(900) / 9)), -1.0, 1.0)
    assert found.amplitude.value == 2.0
    assert found.own_uncertainty == 0.0
    with pytest.raises(InputError, match="Give the lower level first"):
        given_levels(record([0.0, 1.0]), 1.0, 1.0)


def test_rounded_states_are_noted():
    v = np.sin(np.arange(20_000) / 300)
    found = levels_of(record(v))
    assert any("in neither state" in note for note in found.amplitude.notes)


def test_an_amplitude_keeps_the_slope_of_the_screen_and_loses_the_offset():
    found = levels_of(in_codes(np.repeat([0.0, 5.0, 0.0], 1000)))
    names = " ".join(s.name for s, _ in found.amplitude.parts)
    assert "slope over the screen" in names
    assert "offset" not in names
    assert "offset" in " ".join(s.name for s, _ in found.high.parts)


def test_a_descending_step_per_code_keeps_low_below_high():
    codes = np.repeat([10, -60, 10], 500).astype(np.int8)
    found = levels_of(record(codes, step=-0.1))
    assert found.low.value == pytest.approx(-1.0)
    assert found.high.value == pytest.approx(6.0)


def test_a_state_of_few_samples_is_said():
    v = np.r_[np.full(500, 5.0), 500.0, np.full(500, 5.0)]
    found = levels_of(record(v + 0.01 * np.random.default_rng(1).standard_normal(1001)))
    assert "only 1 sample in the high state" in found.amplitude.notes
    assert not any("low state" in note for note in found.amplitude.notes)


def test_levels_of_an_ac_coupled_record_say_that_they_are_not_absolute():
    lost = record(np.repeat([-1.0, 1.0], 400), settings=replace(PLAIN, coupling="AC"))
    found = levels_of(lost)
    assert "absolute levels are lost" in found.low.notes[0]
    assert found.amplitude.notes == ()

from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, covers, errors_in_u, record

from benchproof.measuring.captures.bursts import NAMES, bursts_of
from benchproof.values.errors import InputError

ON, OFF = 25.3e-3, 1.80007
"""No multiples of the sample interval, so that edges fall anywhere in it."""


def hiccup(rng, cycles=8, interval=1e-3, on=25e-3, off=OFF):
    """F33: a supply that tries for 25 ms every 1825 ms."""
    t = np.arange(int(cycles * (on + off) / interval)) * interval
    phase = (t + rng.random() * (on + off)) % (on + off)
    v = np.where(phase < on, 9.0, 0.0)
    return record(v + 0.03 * rng.standard_normal(t.size), interval)


@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("on time", ON),
        ("off time", OFF),
        ("repetition", ON + OFF),
        ("on share", ON / (ON + OFF)),
    ],
)
def test_u_of_a_hiccup_covers_its_times(name, truth):
    errors = errors_in_u(
        lambda rng: bursts_of(hiccup(rng, on=ON), 2.0, 6.0)[name], truth, 60
    )
    assert covers(errors, smallest=0.1)


# F33: 25/1825 = 1.370 %.
def test_a_duty_of_a_hiccup_gives_its_mean_and_effective_current():
    share = bursts_of(hiccup(np.random.default_rng(1)), 2.0, 6.0)["on share"].value
    assert 3.6 * share == pytest.approx(49.3e-3, rel=0.03)
    assert 3.6 * share**0.5 == pytest.approx(0.421, rel=0.02)


def test_times_cut_by_the_record_do_not_count():
    v = np.r_[np.full(40, 9.0), np.zeros(500), np.full(25, 9.0), np.zeros(90)]
    found = bursts_of(record(v, 1e-3), 2.0, 6.0)
    assert found["on time"].value == pytest.approx(25e-3, abs=1e-3)
    assert found["off time"].value == pytest.approx(0.5, abs=1e-3)


def test_a_supply_that_stays_on_has_no_hiccup():
    found = bursts_of(record(np.full(900, 9.0)), 2.0, 6.0)
    assert "one whole on time" in found["on time"].cannot_tell
    assert found["on share"].cannot_tell


def test_thresholds_without_hysteresis_are_refused():
    with pytest.raises(InputError, match="leave no hysteresis"):
        bursts_of(record(np.zeros(50)), 3.0, 3.0)


def test_every_finding_states_the_declared_thresholds():
    trace = record(np.tile(np.repeat([9.0, 0.0], 50), 4), settings=SCOPE)
    found = bursts_of(trace, 2.0, 6.0)
    assert tuple(found) == NAMES
    assert all("off at 2 V, on at 6 V" in each.text for each in found.values())


def test_an_ac_coupled_record_has_no_level_to_be_off_or_on_at():
    v = np.tile(np.repeat([9.0, 0.0], 50), 4)
    lost = record(v, settings=replace(PLAIN, coupling="AC"))
    found = bursts_of(lost, 2.0, 6.0)
    assert all("no absolute level" in each.cannot_tell for each in found.values())
    unknown = record(v, settings=replace(PLAIN, coupling=""))
    notes = bursts_of(unknown, 2.0, 6.0)["on time"].notes
    assert any("if it was AC, absolute levels are lost" in note for note in notes)


# Thresholds far from the middle would draw an edge between two samples to one of them.
def test_thresholds_do_not_move_an_edge_between_two_samples():
    v = np.tile(np.repeat([0.0, 5.0], [90, 10]), 30)
    found = bursts_of(record(v, 1e-5), 1.0, 3.0)
    assert found["on time"].value == pytest.approx(100e-6, rel=1e-9)


# Samples in step with the signal: each edge is off by the same, and a mean of many
# spans is no better than one: Δt/√6.
def test_more_pulses_sampled_alike_do_not_lessen_u():
    few, many = (
        bursts_of(record(np.tile(np.repeat([0.0, 5.0], [90, 10]), n), 1e-5), 1.0, 3.0)
        for n in (4, 40)
    )
    for found in (few, many):
        u = found["on time"].standard_uncertainty
        assert u == pytest.approx(1e-5 / 6**0.5, rel=0.01)


def test_what_is_missing_is_said_in_words_of_the_hiccup():
    found = bursts_of(record(np.full(900, 9.0)), 2.0, 6.0)
    assert "one whole on time" in found["on share"].cannot_tell

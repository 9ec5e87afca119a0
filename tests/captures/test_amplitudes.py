from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, covers, errors_in_u, in_codes, record

from benchproof.measuring.captures.amplitudes import NAMES, amplitudes_of

TURNS = np.arange(100_000) / 1000 + 0.0137
SHAPES = {
    "sine": np.sin(2 * np.pi * TURNS),
    "triangle": 1 - 4 * np.abs((TURNS + 0.25) % 1 - 0.5),
    "square": np.where(TURNS % 1 < 0.5, 1.0, -1.0),
}


# J01, shape factors of sine, triangle and square; read and recomputed.
@pytest.mark.parametrize(
    ("shape", "rms", "rectified", "form", "crest", "meter_percent"),
    [
        ("sine", 0.7071, 0.6366, 1.1107, 1.4142, 0.0),
        ("triangle", 0.5774, 0.5, 1.1547, 1.7321, -3.81),
        ("square", 1.0, 1.0, 1.0, 1.0, 11.07),
    ],
)
def test_factors_of_known_shapes_are_those_published(
    shape, rms, rectified, form, crest, meter_percent
):
    found = amplitudes_of(record(SHAPES[shape]))
    assert found["rms"].value == pytest.approx(rms, abs=1e-4)
    assert found["rectified mean"].value == pytest.approx(rectified, abs=1e-4)
    assert found["form factor"].value == pytest.approx(form, abs=2e-4)
    assert found["crest factor"].value == pytest.approx(crest, abs=3e-3)
    shown = found["average-responding meter"].value / found["ac rms"].value - 1
    assert 100 * shown == pytest.approx(meter_percent, abs=0.02)


# F26: a sawtooth has the averages of a triangle.
def test_an_average_meter_shows_a_sawtooth_too_small():
    found = amplitudes_of(record(2 * (TURNS % 1) - 1))
    shown = found["average-responding meter"].value / found["ac rms"].value - 1
    assert 100 * shown == pytest.approx(-3.81, abs=0.1)


# F25.
def test_mean_and_ac_part_add_in_squares():
    found = amplitudes_of(record(14.86 + 1.2 * SHAPES["triangle"]))
    total = np.hypot(found["mean"].value, found["ac rms"].value)
    assert found["rms"].value == pytest.approx(total, rel=1e-9)
    ripple = found["ac rms"].value / found["mean"].value
    assert found["ripple factor"].value == pytest.approx(ripple)


T = np.arange(8000) * 1e-5
NOISY = {
    "mean": 1.0,
    "rms": np.hypot(1, 2.5 / 2**0.5),
    "ac rms": 2.5 / 2**0.5,
    "average-responding meter": 2.5 / 2**0.5,
    "maximum": 3.5,
    "minimum": -1.5,
    "peak to peak": 5.0,
    "crest factor": 3.5 / np.hypot(1, 2.5 / 2**0.5),
    "ripple factor": 2.5 / 2**0.5,
    "ripple frequency": 100.37,
}


def noisy_sine(rng):
    turns = 100.37 * T + rng.random()
    noise = 0.05 * rng.standard_normal(T.size)
    return record(1 + 2.5 * np.sin(2 * np.pi * turns) + noise)


@pytest.mark.parametrize("name", NOISY)
def test_u_of_a_noisy_sine_covers_its_true_values(name):
    errors = errors_in_u(lambda rng: amplitudes_of(noisy_sine(rng))[name], NOISY[name])
    assert covers(errors)


def test_u_of_a_mean_holds_for_noise_that_is_alike_in_neighbours():
    def mean(rng):
        white = rng.standard_normal(8031)
        slow = np.convolve(white, np.full(32, 1 / 32), mode="valid")
        return amplitudes_of(record(12 + slow))["mean"]

    errors = errors_in_u(mean, 12.0)
    assert covers(errors)
    assert np.sqrt(np.mean(errors**2)) > 0.6


# F27: 1000 samples of noise reach 3.24 standard deviations either way.
def test_peak_to_peak_of_a_flat_noisy_record_is_half_of_what_was_sampled():
    v = 5 + 0.03 * np.random.default_rng(3).standard_normal(1000)
    found = amplitudes_of(record(v))["peak to peak"]
    assert np.ptp(v) > 5.5 * 0.03
    assert found.value < 0.6 * np.ptp(v)
    # Neither 0 (the noise is the scope's) nor all of it is contradicted.
    assert found.value < 2 * found.standard_uncertainty


def test_gain_cancels_in_the_factors_but_not_in_the_voltages():
    found = amplitudes_of(in_codes(3 * SHAPES["sine"]))
    stem = "invented scope · CH1 · 16 V · gain"
    share = {
        name: sum(abs(c) for s, c in found[name].parts if s.name == stem)
        for name in NAMES
    }
    assert share["rms"] == pytest.approx(3 / 2**0.5, rel=1e-2)
    assert share["crest factor"] < 1e-4
    assert share["form factor"] < 1e-4


def test_an_accuracy_of_full_screen_dominates_a_mean():
    found = amplitudes_of(in_codes(3 + SHAPES["sine"]))["mean"]
    expected = np.hypot(0.01 * 3, 0.02 * 16) / 3**0.5
    assert found.standard_uncertainty == pytest.approx(expected, rel=0.02)


def test_an_ac_coupled_record_has_no_ripple_factor_and_its_mean_is_noted():
    trace = record(SHAPES["sine"] + 0.5, settings=replace(PLAIN, coupling="AC"))
    found = amplitudes_of(trace)
    assert "AC-coupled: its mean is lost" in found["ripple factor"].cannot_tell
    assert "AC-coupled" in found["mean"].notes[0]
    assert not found["ac rms"].notes


def test_a_clipped_record_tells_no_amplitude():
    found = amplitudes_of(in_codes(9 * SHAPES["sine"]))
    assert all("clipped" in each.cannot_tell for each in found.values())


def test_a_steady_record_has_no_ripple_frequency():
    v = 5 + 0.03 * np.random.default_rng(5).standard_normal(5000)
    found = amplitudes_of(record(v))["ripple frequency"]
    assert "does not hold two like periods" in found.cannot_tell


def test_few_samples_a_period_may_be_an_alias():
    v = np.sin(2 * np.pi * np.arange(4000) / 7.7)
    found = amplitudes_of(record(v))["ripple frequency"]
    assert "alias" in found.notes[0]


def test_every_finding_names_the_settings():
    found = amplitudes_of(record(SHAPES["sine"], settings=SCOPE))
    assert all("16 V, 8 bit, DC-coupled" in each.text for each in found.values())


def test_a_single_code_has_no_negative_peak_to_peak():
    trace = in_codes(np.full(400, 0.2))
    found = amplitudes_of(trace)
    assert found["peak to peak"].value == 0
    assert found["maximum"].value == found["minimum"].value

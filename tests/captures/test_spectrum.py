import numpy as np
import pytest
from captures.invented import SCOPE, covers, errors_in_u, record

from benchproof.measuring.captures.spectrum import spectrum_of, tone_of
from benchproof.values.errors import InputError


def tone(rng, count=5000, sigma=0.1, frequency=1003.7):
    t = np.arange(count) * 1e-5
    v = 2 * np.sin(2 * np.pi * (frequency * t + rng.random()))
    return record(3 + v + sigma * rng.standard_normal(count))


@pytest.mark.parametrize(("which", "truth"), [(0, 1003.7), (1, 2**0.5)])
@pytest.mark.parametrize("sigma", [0.1, 0.5])
def test_u_of_a_tone_covers_it(which, truth, sigma):
    errors = errors_in_u(lambda rng: tone_of(tone(rng, sigma=sigma))[which], truth)
    assert covers(errors)
    assert np.sqrt(np.mean(errors**2)) > 0.5


@pytest.mark.parametrize("frequency", np.linspace(1000, 1020, 9))
def test_a_tone_between_bins_is_found_without_noise(frequency):
    trace = tone(np.random.default_rng(1), sigma=0.0, frequency=frequency)
    found, rms = tone_of(trace)
    assert found.value == pytest.approx(frequency, abs=1e-3)
    assert rms.value == pytest.approx(2**0.5, rel=1e-5)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [("hann", "hann"), ("flat top", "flattop"), ("rectangular", "boxcar")],
)
def test_the_spectrum_agrees_with_a_general_library(ours, theirs):
    from scipy.signal import periodogram

    trace = tone(np.random.default_rng(2))
    f, power = periodogram(
        trace.values(), 1e5, window=theirs, detrend="constant", scaling="spectrum"
    )
    found = spectrum_of(trace, ours)
    np.testing.assert_allclose(found.frequency, f)
    np.testing.assert_allclose(found.rms[1:-1], np.sqrt(power)[1:-1], rtol=1e-6)


def test_the_harmonics_of_a_square_wave_fall_with_their_number():
    at = np.arange(10_000)
    trace = record(np.where(at % 100 < 50, 1.0, -1.0))
    for k in (1, 3, 5):
        _, rms = tone_of(trace, near=k * 1000.0)
        ideal = 4 / np.pi / k / 2**0.5
        assert rms.value == pytest.approx(ideal, rel=0.01 * k)


def test_no_tone_stands_out_of_noise():
    noise = np.random.default_rng(3).standard_normal(4000)
    frequency, rms = tone_of(record(noise))
    assert "no tone stands out" in frequency.cannot_tell
    assert np.isnan(rms.value)


def test_a_tone_of_too_few_periods_is_refused():
    v = np.sin(2 * np.pi * np.arange(1000) / 600)
    found, _ = tone_of(record(v), near=1e5 / 600)
    assert "too near to zero" in found.cannot_tell


def test_the_window_and_its_noise_bandwidth_are_stated():
    found = spectrum_of(record(np.sin(np.arange(4000) / 9), settings=SCOPE))
    assert "hann window" in found.text
    assert found.noise_bandwidth == pytest.approx(1.5, abs=1e-9)


def test_an_unknown_window_is_refused_with_those_there_are():
    with pytest.raises(InputError, match="Use one of: rectangular, hann, flat top"):
        spectrum_of(record(np.zeros(50)), "round")


def test_gaps_and_short_records_have_no_spectrum():
    with pytest.raises(InputError, match="has gaps"):
        spectrum_of(record([1.0, np.nan] * 20))
    with pytest.raises(InputError, match="3 samples make no spectrum"):
        spectrum_of(record([1.0, 2.0, 1.0]))


@pytest.mark.parametrize("level", [0.0, 5.0, 0.1])
def test_a_constant_holds_no_tone(level):
    for found in tone_of(record(np.full(500, level))):
        assert "no tone stands out" in found.cannot_tell


def test_a_tone_in_a_clipped_record_cannot_be_told():
    v = np.clip(8 * np.sin(np.arange(3000) / 50), -4, 4)
    for found in tone_of(record(v, rails=(-4.0, 4.0))):
        assert "is clipped" in found.cannot_tell

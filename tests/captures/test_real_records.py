"""Real records that ship inside packages; figures computed, not published."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from captures.invented import record

from benchproof.measuring.captures.amplitudes import amplitudes_of
from benchproof.measuring.captures.extremes import extremes_of
from benchproof.measuring.captures.noise import Noise
from benchproof.measuring.captures.spectrum import spectrum_of
from benchproof.measuring.captures.stretches import Stretch, averages_of


def data_of(package, *places):
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        pytest.skip(f"{package} is not installed")
    for place in places:
        path = Path(spec.origin).parent / place
        if path.exists():
            return path
    return pytest.skip(f"{package} has no {places[0]}")


def whole(values):
    trace = record(values)
    stretch = Stretch((0, len(trace)))
    return trace, averages_of(trace, stretch, Noise(0.0))


# K05: PyWavelets' 1024 samples of a heart trace, whole numbers.
def test_averages_of_a_heart_trace_are_those_computed_elsewhere():
    path = data_of("pywt", "data/ecg.npz", "data/ecg.npy")
    loaded = np.load(path)
    values = loaded if isinstance(loaded, np.ndarray) else loaded[loaded.files[0]]
    trace, averages = whole(values)
    ends = extremes_of(trace)
    assert (ends.low, ends.high) == (-112, 250)
    assert averages.of("mean") == pytest.approx(-56.3046875, abs=1e-8)
    assert averages.of("square") ** 0.5 == pytest.approx(68.87831775, abs=1e-8)
    assert averages.of("ac square") ** 0.5 == pytest.approx(39.67372962, abs=1e-8)


# K07: obspy's example, three components of 3000 samples at 100 Hz.
def test_a_seismogram_has_its_samples_and_its_energy_in_time_and_frequency():
    path = data_of("obspy", "core/data/example.npz")
    with np.load(path, allow_pickle=False) as loaded:
        rows = [loaded[name] for name in loaded.files]
    rows = [row for row in rows if row.ndim == 1 and row.size == 3000]
    assert len(rows) == 3
    for row in rows:
        trace, averages = whole(np.asarray(row, float))
        found = spectrum_of(record(row, interval=0.01), "rectangular")
        assert found.frequency[-1] == pytest.approx(50.0)
        # The last bin, at half the rate, has no twin.
        power = np.square(found.rms[1:-1]).sum() + found.rms[-1] ** 2 / 2
        assert power == pytest.approx(averages.of("ac square"), rel=1e-9)
        assert len(trace) == 3000


# K08: heartpy's first example, raw codes of a pulse sensor at 100 Hz.
def test_averages_of_a_pulse_sensor_are_those_computed_elsewhere():
    path = data_of("heartpy", "data/data.csv", "../data/data.csv")
    values = np.genfromtxt(path, delimiter=",")
    values = values[np.isfinite(values)] if values.ndim == 1 else values[:, -1]
    trace, averages = whole(values)
    assert averages.of("mean") == pytest.approx(514.8231978, abs=1e-6)
    assert averages.of("ac square") ** 0.5 == pytest.approx(102.924285, abs=1e-6)
    found = amplitudes_of(record(values, interval=0.01))["maximum"]
    assert found.value <= trace.values().max()

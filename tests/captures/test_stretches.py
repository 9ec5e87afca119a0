import numpy as np
import pytest
from captures.invented import record

from benchproof.measuring.captures.extremes import extremes_of
from benchproof.measuring.captures.noise import Noise
from benchproof.measuring.captures.stretches import averages_of, stretch_of


def test_a_wave_is_averaged_over_whole_periods():
    v = 1 + np.sin(2 * np.pi * (np.arange(1000) / 130 + 0.1))
    trace = record(v)
    stretch = stretch_of(trace, extremes_of(trace), Noise(0.0))
    assert stretch.periods == 6
    assert stretch.count == pytest.approx(6 * 130, abs=1)
    mean = averages_of(trace, stretch, Noise(0.0)).of("mean")
    assert mean == pytest.approx(1, abs=2e-3)
    assert abs(v.mean() - 1) > 0.01


def test_a_steady_record_is_averaged_whole_in_pieces():
    v = 5 + 0.01 * np.random.default_rng(1).standard_normal(999)
    trace = record(v)
    stretch = stretch_of(trace, extremes_of(trace), Noise(0.01))
    assert (stretch.periods, stretch.count, len(stretch.borders)) == (0, 999, 33)


def test_edges_without_a_rhythm_are_no_periods():
    v = np.repeat([0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0], [9, 50, 90, 9, 300, 20, 40])
    trace = record(v)
    assert stretch_of(trace, extremes_of(trace), Noise(0.0)).periods == 0


def test_a_drifting_record_is_warned_of():
    v = np.linspace(5, 6, 4000) + 0.01 * np.random.default_rng(2).standard_normal(4000)
    trace, noise = record(v), Noise(0.01)
    stretch = stretch_of(trace, extremes_of(trace), noise)
    averages = averages_of(trace, stretch, noise)
    assert "drift" in averages.warning()

import numpy as np
import pytest
from captures.invented import in_codes, record

from benchproof.measuring.captures.extremes import (
    extreme_parts,
    extremes_of,
    unsound,
)
from benchproof.measuring.captures.noise import Noise
from benchproof.values.errors import InputError


def test_a_record_whose_codes_run_backwards_keeps_high_above_low():
    trace = record(np.array([1, 5, 3], dtype=np.int8), step=-1.0)
    found = extremes_of(trace)
    assert (found.low, found.high, found.low_at, found.high_at) == (-5, -1, 1, 0)


def test_a_clipped_record_says_at_which_end_and_where():
    trace = in_codes(np.r_[np.zeros(50), np.full(5, 20.0)])
    said = unsound(trace, extremes_of(trace))
    assert "clipped at the high end" in said
    assert "first at sample 50" in said
    assert not unsound(trace, extremes_of(trace), "low")


def test_gaps_are_said():
    trace = record([1.0, np.nan, 2.0])
    assert "has gaps" in unsound(trace, extremes_of(trace))


def test_one_sample_is_refused():
    with pytest.raises(InputError, match="record: 1 samples cannot be measured"):
        extremes_of(record([1.0]))


def test_rounding_alone_moves_an_extreme_by_half_a_code_at_most():
    trace = in_codes(np.sin(np.arange(1000) / 30))
    sigma = (16 / 256) / 12**0.5
    half, _ = extreme_parts(trace, "maximum", 47, Noise(sigma), 1000)
    assert half == pytest.approx(16 / 256 / 4)


def test_a_peak_between_coarse_samples_may_have_been_higher():
    v = np.cos(2 * np.pi * (np.arange(41) - 20.5) / 8)
    trace = record(v)
    ends = extremes_of(trace)
    _, parts = extreme_parts(trace, "maximum", ends.high_at, Noise(0.0), 1)
    missed = {s.name: s.standard_uncertainty for s, _ in parts}
    half_width = missed["record · maximum · between samples"] * 3**0.5
    assert 1 - ends.high <= 1.05 * half_width

"""Changes of state: found the same in one block, in many, and with the pyramid."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.measuring.captures.crossings import (
    changes_of,
    joined_changes,
    runs_in,
    stretches_to_read,
)
from benchproof.measuring.captures.pyramid import pyramid_of
from benchproof.values.errors import InputError


def by_hand(codes, low, high):
    """Walk through the samples one by one; the definition, not the method."""
    state, last, found = 0, 0, []
    for i, code in enumerate(codes):
        side = 1 if code >= high else -1 if code <= low else 0
        if side and state and side != state:
            origin, target = (low, high) if side > 0 else (high, low)
            a, b = codes[last], codes[last + 1]
            c, d = codes[i - 1], codes[i]
            left = last + (origin - a) / (b - a)
            found.append((i, side > 0, left, i - (d - target) / (d - c)))
        if side:
            state, last = side, i
    return found


def as_rows(changes):
    columns = changes.index, changes.rising, changes.left, changes.reached
    return list(zip(*(column.tolist() for column in columns), strict=True))


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.integers(-4, 4), min_size=1, max_size=60),
    st.lists(st.integers(1, 59), max_size=5),
    st.sampled_from([(-2, 2), (-0.5, 1.5), (0, 1), (-3.5, 3.5)]),
)
def test_changes_are_those_of_a_walk_however_the_record_is_cut(codes, cuts, ends):
    codes = np.array(codes, dtype=np.int8)
    places = sorted({0, len(codes), *(c for c in cuts if c < len(codes))})
    parts = [runs_in(codes[a:b], *ends, a)
             for a, b in zip(places, places[1:], strict=False)]  # fmt: skip
    found = as_rows(joined_changes(parts, *ends))
    expected = by_hand(codes.astype(float), *ends)
    assert [row[:2] for row in found] == [row[:2] for row in expected]
    assert np.allclose([row[2:] for row in found], [row[2:] for row in expected])


def test_the_pyramid_leaves_out_only_what_changes_nothing():
    # An invented rail that dips 12 times in 300 000 samples, with noise of a code.
    rng = np.random.default_rng(3)
    codes = 100 + rng.integers(-1, 2, 300_000)
    for start in rng.integers(0, 299_000, 12):
        codes[start : start + 700] -= 60
    codes = codes.astype(np.int16)
    pyramid = pyramid_of(codes)
    assert len(stretches_to_read(pyramid, 60, 80)) < len(pyramid.low) / 4
    found = changes_of(codes, pyramid, 60, 80)
    assert len(found) >= 12
    assert as_rows(found) == as_rows(joined_changes([runs_in(codes, 60, 80)], 60, 80))


def test_noise_within_the_hysteresis_makes_no_change():
    rng = np.random.default_rng(4)
    codes = np.repeat([0.0, 10.0], 500) + rng.normal(0, 1, 1000)
    found = changes_of(codes, pyramid_of(codes), 2, 8)
    assert len(found) == 1
    assert abs(found.index[0] - 500) <= 3
    assert found.starts_high is False


def test_a_ramp_gives_the_transition_from_10_to_90_percent():
    codes = np.concatenate([np.zeros(50), np.linspace(0, 100, 41), np.full(50, 100.0)])
    found = changes_of(codes, pyramid_of(codes), 10, 90)
    assert found.reached[0] - found.left[0] == pytest.approx(32)


def test_a_record_between_the_thresholds_has_no_state():
    codes = np.full(10, 5)
    found = changes_of(codes, pyramid_of(codes), 2, 8)
    assert found.starts_high is None
    assert len(found) == 0


@pytest.mark.parametrize("ends", [(8, 2), (5, 5), (float("nan"), 1)])
def test_thresholds_without_hysteresis_are_refused(ends):
    codes = np.arange(10)
    with pytest.raises(InputError, match="lower one first"):
        changes_of(codes, pyramid_of(codes), *ends)


@pytest.mark.parametrize("count", [256 * 40, 256 * 40 + 17, 100])
def test_edges_in_the_first_and_the_last_stretch_are_found(count):
    codes = np.zeros(count, dtype=np.int8)
    codes[3:6] = 9
    codes[-4:-1] = 9
    found = changes_of(codes, pyramid_of(codes), 2, 7)
    assert found.index.tolist() == [3, 6, count - 4, count - 1]


def test_a_record_that_is_every_third_sample_of_a_file_is_read_the_same():
    codes = np.repeat(np.random.default_rng(10).integers(0, 10, 900), 100)
    taken = np.repeat(codes, 3)[::3]
    low_high = (2, 7)
    one = changes_of(codes, pyramid_of(codes), *low_high)
    two = changes_of(taken, pyramid_of(taken), *low_high)
    assert as_rows(one) == as_rows(two)

"""Pyramid, histogram and moments: exact, and the same however a record is cut."""

import numpy as np
import pytest

from benchproof.measuring.captures import summary as summaries
from benchproof.measuring.captures.histogram import (
    BINS,
    Grid,
    Histogram,
    count_beyond,
    grid_for,
    histogram_of,
    merged_histograms,
)
from benchproof.measuring.captures.pyramid import (
    STRIDE,
    envelope_of,
    joined_pyramids,
    pyramid_of,
)
from benchproof.measuring.captures.summary import summary_of
from benchproof.measuring.captures.sums import (
    merged_moments,
    moments_from,
    moments_of,
)

KINDS = ["i1", "u1", "<i2", ">i2", "u2", "i4", ">i4", "i8", "f4", "f8"]


def record(kind, count=3 * BINS * 4 + 7):
    """Draw noise of four codes about a level that steps once."""
    rng = np.random.default_rng(5)
    values = 60 + 20 * (np.arange(count) > count // 3) + rng.normal(0, 4, count)
    return values.round().astype(kind) if kind != "f8" else values


@pytest.mark.parametrize("kind", KINDS)
def test_the_histogram_counts_every_sample_once(kind):
    codes = record(kind)
    found = summary_of(codes).histogram
    assert found.total == len(codes)
    if found.exact:
        expected = dict(zip(*np.unique(codes, return_counts=True), strict=True))
        seen = {c: n for c, n in zip(found.codes, found.counts, strict=True) if n}
        assert seen == expected


@pytest.mark.parametrize("kind", KINDS)
def test_moments_agree_with_those_of_the_whole(kind):
    codes = record(kind)
    values = codes.astype(np.longdouble)
    found = summary_of(codes).moments
    assert found.mean == pytest.approx(float(values.mean()), rel=1e-14)
    assert found.variance == pytest.approx(float(values.var()), rel=1e-12)
    assert found.rms == pytest.approx(float(np.sqrt((values**2).mean())), rel=1e-13)
    assert (found.least, found.greatest) == (float(codes.min()), float(codes.max()))


@pytest.mark.parametrize("kind", ["i2", "f8", "i4"])
def test_a_summary_does_not_depend_on_the_size_of_blocks_but_for_rounding(
    kind, monkeypatch
):
    codes = record(kind)
    whole = summary_of(codes)
    monkeypatch.setattr(summaries, "BLOCK", 16 * STRIDE)
    cut = summary_of(codes)
    assert np.array_equal(whole.pyramid.low, cut.pyramid.low)
    assert np.array_equal(whole.histogram.counts, cut.histogram.counts)
    assert cut.moments.mean == pytest.approx(whole.moments.mean, rel=1e-14)


def test_a_large_offset_does_not_spoil_the_variance():
    codes = 1e9 + np.random.default_rng(6).normal(0, 1, 100_000)
    parts = [moments_of(codes[i : i + 1000]) for i in range(0, 100_000, 1000)]
    assert merged_moments(parts).variance == pytest.approx(codes.var(), rel=1e-9)


def test_the_full_span_of_a_type_is_counted_without_overflow():
    codes = np.array([-32768, 32767, 32767], dtype=np.int16)
    found = histogram_of(codes, Grid(0, 1.0, True))
    assert (found.counts[0], found.counts[-1], found.total) == (1, 2, 3)


SPANS = [
    (kind, least * times, (least + span) * times)
    for kind in ("i1", "u1", "<i2", ">i2", "u2", "i4", "i8")
    for least, span in ((0, 100), (20, 90), (-90, 100), (-3, 60))
    for times in (1, 9, 200)
    if np.iinfo(kind).min
    <= least * times
    < (least + span) * times
    <= np.iinfo(kind).max
]


@pytest.mark.parametrize(("kind", "least", "greatest"), SPANS)
def test_counts_are_right_wherever_the_codes_lie(kind, least, greatest):
    rng = np.random.default_rng(4)
    for size in (3, 3000, 4 * BINS + 1):
        codes = rng.integers(least, greatest, size).astype(kind)
        found = histogram_of(codes, Grid(0, 1.0, True))
        values, counts = np.unique(codes, return_counts=True)
        assert found.codes[found.counts > 0].tolist() == values.tolist()
        assert found.counts[found.counts > 0].tolist() == counts.tolist()
        assert (found.counts[0], found.counts[-1]) == (counts[0], counts[-1])


def test_integers_beyond_what_a_float_tells_apart_are_counted_one_by_one():
    codes = np.array([0, 1, 1, 3], dtype=np.int64) + (1 << 60) + 1
    found = summary_of(codes).histogram
    assert found.counts.tolist() == [1, 2, 0, 1]


def test_wide_integers_share_bins_of_whole_codes():
    codes = np.array([0, 10, 10_000_000], dtype=np.int32)
    grid = grid_for(codes, 0, 10_000_000)
    found = histogram_of(codes, grid)
    assert not found.exact
    assert len(found.counts) <= BINS
    assert found.total == 3


def test_histograms_of_different_widths_do_not_add():
    one = Histogram(0.0, 1.0, np.array([1]), True)
    two = Histogram(0.0, 2.0, np.array([1]), False)
    with pytest.raises(ValueError, match="do not add"):
        merged_histograms([one, two])
    with pytest.raises(ValueError, match="coarser"):
        moments_from(two)


def test_samples_at_both_rails_are_counted():
    found = histogram_of(np.array([-5, -5, 0, 5]), Grid(0, 1.0, True))
    assert count_beyond(found, -5, 5) == (2, 1)


@pytest.mark.parametrize(
    ("first", "last", "points"),
    [(0, 100_007, 50), (13, 99_999, 40), (5000, 5100, 60), (0, 100_007, 3000),
     (777, 90_000, 1), (99_000, 100_007, 4000)],
)  # fmt: skip
def test_an_envelope_holds_the_extremes_of_its_stretches(first, last, points):
    codes = np.random.default_rng(7).integers(-9999, 9999, 100_007).astype(np.int16)
    found = envelope_of(codes, pyramid_of(codes), points, first, last)
    bounds = found.bounds
    assert (bounds[0], bounds[-1]) == (first, last)
    assert len(found.low) == min(points, last - first)
    for place in range(len(found.low)):
        part = codes[bounds[place] : bounds[place + 1]]
        assert (found.low[place], found.high[place]) == (part.min(), part.max())


def test_a_block_that_ends_inside_a_stretch_is_not_joined():
    parts = [pyramid_of(np.arange(100)), pyramid_of(np.arange(5))]
    with pytest.raises(ValueError, match="multiples"):
        joined_pyramids(parts)


def test_progress_rises_to_one():
    seen = []
    summary_of(record("f8"), seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == pytest.approx(1)

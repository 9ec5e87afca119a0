"""What is drawn of a record keeps every sample that stands out."""

import numpy as np
import pytest
from captures.invented import record
from matplotlib.figure import Figure

from benchproof.measuring.captures.trace import Trace
from benchproof.showing.captures.axes import time_scale, value_scale
from benchproof.showing.captures.curves import (
    COLUMNS,
    corners,
    curve_of,
    draw,
    segments,
)
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of


@pytest.mark.parametrize("count", [2500, 100_001, 3_000_000])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.61803, 0.999])
def test_one_sample_among_millions_is_drawn_and_placed(count, share):
    codes = np.zeros(count, dtype=np.int8)
    at = int(share * (count - 1))
    codes[at] = -9
    curve = curve_of(record(codes, interval=1e-6))
    assert curve.low.min() == -9
    value, time = curve.lowest
    assert value == -9
    assert time == pytest.approx(at * 1e-6, abs=1e-9)


@pytest.mark.parametrize("step", [0.5, -0.5])
def test_lowest_and_highest_agree_with_all_samples(step):
    codes = np.random.default_rng(3).integers(-90, 90, 40_000).astype(np.int8)
    settings = record([0, 1]).settings
    trace = Trace("r", codes, 1e-5, settings, step=step, start=-0.1)
    curve = curve_of(trace, 1234, 30_000)
    inside = trace.values(1234, 30_000)
    assert curve.lowest[0] == inside.min()
    assert curve.highest[0] == inside.max()
    assert trace.values()[round((curve.highest[1] + 0.1) / 1e-5)] == inside.max()


def test_few_samples_are_drawn_each_and_many_as_what_they_span():
    few, many = (curve_of(record(np.arange(float(n)))) for n in (2400, 2402))
    assert few.is_sampled
    assert few.low.size == 2400
    assert not many.is_sampled
    assert many.low.size == COLUMNS
    assert "about 3 samples" in many.said()


def test_a_window_is_told_by_sample_numbers_or_by_times():
    trace = record(np.arange(1000.0), interval=1e-3)
    by_time = curve_of(trace, "100 ms", "0.2 s")
    by_number = curve_of(trace, 100, 200)
    assert by_time.bounds.tolist() == by_number.bounds.tolist()
    assert curve_of(trace, -10).begin == pytest.approx(0.99)
    assert curve_of(trace, np.int64(100), np.int64(200)).end == pytest.approx(0.199)


def test_a_time_before_the_record_is_its_beginning():
    # Five samples before it: as a number, -5 would be the fifth from the end.
    assert curve_of(record(np.arange(99.0)), "-50 µs").begin == 0.0


def test_a_window_can_count_from_another_instant():
    trace = record(np.arange(1000.0), interval=1e-3)
    assert curve_of(trace, "-10 ms", "10 ms", zero=0.5).begin == pytest.approx(0.49)


@pytest.mark.parametrize("border", [0.1, True, "12", "3.5"])
def test_a_border_that_could_mean_either_is_refused(border):
    with pytest.raises(InputError, match="a time with its unit like '12 ms'"):
        curve_of(record(np.arange(99.0)), border)


def test_a_window_without_two_samples_says_where_the_record_lies():
    with pytest.raises(InputError, match="it has 99, from 0 s"):
        curve_of(record(np.arange(99.0)), "5 s", "6 s")
    with pytest.raises(InputError, match="there are 1 samples"):
        curve_of(record(np.arange(99.0)), 5, 6)


@pytest.mark.parametrize("count", [100, 10_000])
def test_a_gap_is_not_drawn_over(count):
    v = np.ones(count)
    v[50] = np.nan
    with pytest.raises(InputError, match=r"gaps \(samples without a value\)"):
        curve_of(record(v))
    assert curve_of(record(v), 51, 90).low.size == 39
    assert curve_of(record(v), 51).highest[0] == 1.0


def drawn(curve, **style):
    axes = Figure().add_subplot()
    time = time_scale(curve.begin, curve.end)
    draw(axes, curve, time, value_scale(unit_of("V"), 0, 1), **style)
    return axes


def test_the_area_reaches_to_every_extreme():
    v = np.random.default_rng(5).standard_normal(50_000)
    curve = curve_of(record(v))
    (area,) = drawn(curve).patches
    y = area.get_xy()[:, 1]
    assert y.min() == v.min()
    assert y.max() == v.max()


def test_a_line_keeps_its_corners_and_leaves_out_what_lies_between():
    v = np.zeros(1000)
    v[400] = -3.0
    (line,) = drawn(curve_of(record(v))).lines
    assert line.get_ydata().tolist() == [0, 0, -3, 0, 0]
    assert line.get_xdata()[2] == pytest.approx(4.0)  # ms


def test_of_few_samples_each_has_a_dot():
    (line,) = drawn(curve_of(record(np.zeros(40)))).lines
    assert line.get_marker() == "o"
    assert line.get_xdata().size == 40


def test_leaving_out_equal_neighbours_changes_no_line():
    v = np.random.default_rng(2).integers(0, 2, 500).astype(float)
    kept = corners(v)
    x = np.arange(500.0)
    assert kept.sum() < 450
    assert np.interp(x, x[kept], v[kept]).tolist() == v.tolist()


def test_segments_are_one_path_with_gaps():
    axes = Figure().add_subplot()
    left, right = np.array([0.0, 2.0]), np.array([1.0, 3.0])
    segments(axes, time_scale(0, 3), left, right, np.zeros(2))
    (line,) = axes.lines
    assert np.isnan(line.get_xdata()[[2, 5]]).all()
    assert line.get_xdata()[[0, 1, 3, 4]].tolist() == [0, 1, 2, 3]

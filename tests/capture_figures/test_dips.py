"""Marks of dips lie where the dips were found."""

import numpy as np
import pytest
from captures.invented import record
from matplotlib.figure import Figure

from benchproof.measuring.captures.dips import dips_of
from benchproof.showing.captures.axes import time_scale, value_scale
from benchproof.showing.captures.curves import curve_of
from benchproof.showing.captures.dips import MARKED, declared, in_window, mark
from benchproof.values.units import unit_of


def rail(starts=(1000,), length=500, count=5000):
    v = np.full(count, 12.0)
    for start in starts:
        v[start : start + length] = 8.0
    return record(v, 1e-3)


def marked(trace, dips):
    axes = Figure().add_subplot()
    axes.set_xlim(0, 5)
    axes.set_ylim(7, 12)
    mark(axes, time_scale(0, 5), dips.dips, 8.8)
    return axes


def test_what_is_declared_is_what_the_dips_were_found_with():
    trace = rail()
    found = declared(trace, None, None, dips_of(trace, 8.8, 0.5))
    assert (found.threshold, found.back, found.sign) == (8.8, 9.3, -1)


def test_a_threshold_that_found_nothing_is_declared_all_the_same():
    trace = rail(())
    assert declared(trace, None, None, None) is None
    assert declared(trace, None, None, dips_of(trace, 8.8, 0.5)).threshold == 8.8


def test_a_mark_spans_begin_to_end_and_u_lies_around_the_end():
    trace = rail()
    dips = dips_of(trace, 8.8, 0.5)
    (dip,) = dips.dips
    span, ends, u = marked(trace, dips).lines
    begin, end = dip.start.value, dip.start.value + dip.duration.value
    assert span.get_xdata()[:2].tolist() == pytest.approx([begin, end])
    assert set(ends.get_xdata()[[0, 1, 3, 4]].round(6)) == {
        round(begin, 6), round(end, 6)
    }  # fmt: skip
    half = dip.duration.standard_uncertainty
    assert u.get_xdata()[:2].tolist() == pytest.approx([end - half, end + half])


def test_durations_are_written_only_where_they_find_room():
    trace = rail(starts=range(100, 4900, 120), length=60)
    axes = marked(trace, dips_of(trace, 8.8, 0.5))
    places = [text.xy[0] for text in axes.texts]
    assert 1 < len(places) < 8
    assert min(np.diff(places)) > 0.5
    assert all("±" in text.get_text() for text in axes.texts)


def test_a_duration_at_the_edge_is_written_inside():
    axes = marked(rail((4400,)), dips_of(rail((4400,)), 8.8, 0.5))
    (text,) = axes.texts
    half = 0.0055 * len(text.get_text()) * 5
    assert text.xy[0] == pytest.approx(min(4.65, 5 - half), abs=0.02)


def test_a_dip_is_in_the_window_if_part_of_it_is():
    trace = rail((1000, 3000))
    dips = dips_of(trace, 8.8, 0.5)
    assert len(in_window(dips, curve_of(trace, 1200, 2000))) == 1
    assert len(in_window(dips, curve_of(trace, 1600, 2000))) == 0
    assert in_window(None, curve_of(trace)) == ()


def test_declared_levels_are_written_with_their_own_digits():
    trace = rail()
    found = declared(trace, "8.805 V", "0.5 V", None)
    value = value_scale(unit_of("V"), -400.0, 400.0)
    assert found.text(value) == "Threshold 8.805 V, hysteresis up to 9.305 V"


def test_of_very_many_dips_the_longest_are_marked():
    v = np.full(40_000, 12.0)
    for k in range(60):
        v[600 * k : 600 * k + 100 + k] = 8.0
    v[0] = 12.0
    span, *_ = marked(record(v, 1e-4), dips_of(record(v, 1e-4), 8.8, 0.5)).lines
    x = span.get_xdata().reshape(-1, 3)
    assert len(x) == MARKED
    assert x[0, 0] == pytest.approx(20 * 0.06, abs=1e-3)

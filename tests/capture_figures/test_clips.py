"""Where a record was clipped is found in samples and in what they span."""

import numpy as np
import pytest
from captures.invented import in_codes, record
from matplotlib.figure import Figure

from benchproof.showing.captures.axes import time_scale, value_scale
from benchproof.showing.captures.clips import clipped_runs, clipped_text, draw_clipped
from benchproof.showing.captures.curves import curve_of


@pytest.mark.parametrize("count", [1000, 500_000])
def test_each_stretch_at_a_rail_is_found_where_it_lies(count):
    v = np.zeros(count)
    v[count // 10 : count // 5] = 99.0
    v[count // 2 :] = 99.0
    v[count // 4] = -99.0
    low, high = clipped_runs(curve_of(in_codes(v, interval=1 / count)))
    assert (low.end, low.rail, len(low.left)) == ("low", -8.0, 1)
    assert (high.end, high.rail) == ("high", 7.9375)
    # A point of the drawing spans 1/1200 of the record.
    assert high.left.tolist() == pytest.approx([0.1, 0.5], abs=1.5e-3)
    assert high.right.tolist() == pytest.approx([0.2, 1.0], abs=1.5e-3)
    assert low.left[0] <= 0.25 <= low.right[0]


def test_a_sound_record_has_no_runs_and_an_unstated_scale_is_not_known():
    assert clipped_runs(curve_of(in_codes(np.zeros(100)))) == []
    assert clipped_runs(curve_of(record(np.zeros(100)))) is None


def test_the_words_count_the_places():
    v = np.zeros(1000)
    v[[100, 300]] = 99.0
    curve = curve_of(in_codes(v))
    time, value = time_scale(0, 0.01), value_scale(curve.trace.settings.unit, 0, 8)
    text = clipped_text(clipped_runs(curve), time, value)
    assert text.startswith("clipped at the high end of the scale, 7.938 V, in 2 places")
    assert "first near 0.995 ms" in text
    assert clipped_text([], time, value) == ""
    assert "not stated" in clipped_text(None, time, value)


def test_the_heavy_line_lies_at_the_rail_and_on_the_clipped_samples():
    v = np.zeros(1000)
    v[100:201] = 99.0
    curve = curve_of(in_codes(v))
    axes = Figure().add_subplot()
    time, value = time_scale(0, 0.01), value_scale(curve.trace.settings.unit, 0, 8)
    said = draw_clipped(axes, clipped_runs(curve), time, value)
    (line,) = axes.lines
    assert line.get_ydata()[0] == 7.9375
    assert line.get_xdata()[:2].tolist() == pytest.approx([0.995, 2.005])
    assert said.get_label() == "clipped"

"""Several captures on one axis can be told apart, and are aligned where it is said."""

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from captures.invented import PLAIN, in_codes, record
from matplotlib.figure import Figure

from benchproof.measuring.captures.delays import first_edge
from benchproof.showing.captures.axes import time_scale, value_scale
from benchproof.showing.captures.curves import curve_of
from benchproof.showing.captures.overlays import (
    _LOOKS,
    _draw_one_of,
    figure_of_captures,
)
from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import unit_of


def steps(*places, count=4000):
    """Records of a step from 0 V to 5 V, each at another sample; 1 ms a sample."""
    return [
        record(np.repeat([0.0, 5.0], [n, count - n]), 1e-3, name=f"start{k}.csv")
        for k, n in enumerate(places)
    ]


def words(drawing):
    found = re.findall(r"<text[^>]*>([^<]*)</text>", drawing.svg)
    return unescape(" ".join(found))


def last_lows(drawing):
    """Return the time of the highest sample of each record."""
    found = re.findall(r"highest 5.000 V at (-?\d+\.\d+) (ms|s)", drawing.alt)
    return [float(number) for number, _ in found]


def test_every_record_is_named_in_picture_and_words():
    drawing = figure_of_captures(steps(1000, 1500, 2000))
    for name in ("start0.csv", "start1.csv", "start2.csv"):
        assert name in words(drawing)
        assert f"{name}: lowest sample 0.000 V" in drawing.alt
    assert drawing.alt.startswith("3 captures on one axis, each from its own zero.")


def test_records_keep_their_own_time_or_meet_at_their_edge():
    traces = steps(1000, 1500)
    apart = last_lows(figure_of_captures(traces))
    assert apart[1] - apart[0] == pytest.approx(0.5)
    together = last_lows(figure_of_captures(traces, at="edge"))
    assert together[1] == pytest.approx(together[0], abs=1e-3)
    assert together[0] == pytest.approx(0.0, abs=1e-3)


def test_instants_of_ones_own_align_as_those_looked_for():
    traces = steps(1000, 1500)
    given = figure_of_captures(traces, at=[first_edge(t) for t in traces])
    found = figure_of_captures(traces, at="edge")
    assert last_lows(given) == last_lows(found)
    assert "each from its marked instant" in given.alt


def test_a_window_lies_around_the_common_instant():
    drawing = figure_of_captures(
        steps(1000, 1500), at="edge", first="-20 ms", last="30 ms"
    )
    assert "every sample drawn" in words(drawing)
    assert "time from each record's first edge in ms" in words(drawing)


def test_no_two_records_share_a_line_or_a_mark():
    assert len({str(line) for _, line, _ in _LOOKS}) == len(_LOOKS)
    assert len({mark for *_, mark in _LOOKS}) == len(_LOOKS)


def test_marks_lie_on_their_record_also_where_it_is_shifted():
    (trace,) = steps(1000)
    axes = Figure().add_subplot()
    curve = curve_of(trace, columns=500)
    scales = time_scale(0, 1), value_scale(unit_of("V"), 0, 5)
    _draw_one_of(axes, 1, curve, *scales, zero=1.0)
    (marks,) = axes.lines
    x, y = marks.get_data()
    assert len(x) == 6
    assert y.tolist() == np.where(x < 0, 0.0, 5.0).tolist()


def test_one_record_alone_and_seven_are_refused():
    for traces in (steps(1000), steps(*range(1000, 1007))):
        with pytest.raises(InputError, match="give 2 to 6"):
            figure_of_captures(traces)


def test_a_record_without_an_edge_cannot_be_aligned():
    flat = record(np.zeros(4000), 1e-3, name="flat.csv")
    with pytest.raises(InputError, match=r"flat.csv cannot be aligned: .*'zero'"):
        figure_of_captures([*steps(1000), flat], at="edge")


@pytest.mark.parametrize("at", ["trigger", []])
def test_an_alignment_that_is_not_known_is_refused(at):
    with pytest.raises(InputError, match="give 'zero', 'edge', or one instant"):
        figure_of_captures(steps(1000, 1500), at=at)


def test_volts_and_amperes_share_no_axis():
    other = replace(steps(1500)[0], settings=replace(PLAIN, unit=unit_of("A")))
    with pytest.raises(UnitError, match=r"start0\.csv"):
        figure_of_captures([*steps(1000), other])


def test_settings_that_are_alike_are_said_once():
    assert words(figure_of_captures(steps(1000, 1500))).count("DC-coupled") == 1


@pytest.mark.parametrize("count", [2, 4, 6])
def test_noisy_records_make_a_small_drawing(count):
    rng = np.random.default_rng(6)
    traces = [
        replace(in_codes(rng.uniform(-7, 7, 50_000)), name=f"r{k}")
        for k in range(count)
    ]
    assert len(figure_of_captures(traces).svg) < 60_000

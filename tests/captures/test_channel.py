from dataclasses import replace

import pytest
from captures.invented import SCOPE, record

from benchproof.measuring.accuracy import accuracy_line
from benchproof.measuring.captures.channel import (
    difference_parts,
    duration_parts,
    level_parts,
    own_part,
    settings_line,
    stem,
)

TRACE = record([0.0, 1.0], settings=SCOPE)


def of(parts, ending):
    return [(s, c) for s, c in parts if s.name.endswith(ending)]


# F16: ±3 % of a 16 V screen is ±0.48 V wherever the trace stands.
def test_a_limit_of_full_screen_is_the_same_for_every_level():
    line = accuracy_line("±(3 % of full screen)")
    trace = record([0.0], settings=replace(SCOPE, accuracy=line))
    for level in (0.0, 8.8):
        ((source, c),) = level_parts(trace, level, "residual")
        assert c * source.standard_uncertainty == pytest.approx(0.48 / 3**0.5)


def test_gain_is_shared_by_all_results_of_a_channel_and_range():
    one = of(level_parts(TRACE, 5.0, "mean"), "gain")
    two = of(difference_parts(TRACE, 2.0), "gain")
    assert one[0][0] == two[0][0]
    assert one[0][0].name == "invented scope · CH1 · 16 V · gain"
    assert (one[0][1], two[0][1]) == (5.0, 2.0)


def test_the_offset_of_another_result_is_its_own_but_names_what_it_would_share():
    (one,) = of(level_parts(TRACE, 5.0, "mean"), "offset")
    (two,) = of(level_parts(TRACE, 5.0, "minimum"), "offset")
    assert one[0].name != two[0].name
    assert one[0].pool == two[0].pool == f"{stem(TRACE)} · offset"


def test_an_offset_drops_out_of_a_difference_and_a_slope_remains():
    parts = difference_parts(TRACE, 4.0)
    assert not of(parts, "offset")
    ((slope, c),) = of(parts, "slope over the screen")
    # An error from -0.32 V to +0.32 V over 16 V.
    assert c * slope.standard_uncertainty == pytest.approx(4 * 0.64 / 16 / 3**0.5)


def test_the_time_base_is_shared_by_all_channels_of_an_instrument():
    other = record([0.0], settings=replace(SCOPE, channel="CH2"))
    ((one, c),) = duration_parts(TRACE, 0.02)
    ((two, _),) = duration_parts(other, 0.01)
    assert one == two
    assert one.name == "invented scope · time base"
    assert c * one.standard_uncertainty == pytest.approx(0.02 * 50e-6 / 3**0.5)


def test_without_an_accuracy_line_nothing_is_made_up_but_it_is_said():
    bare = record([0.0])
    assert level_parts(bare, 5.0, "mean") == difference_parts(bare, 5.0) == []
    assert "accuracy not stated" in settings_line(bare)


def test_a_source_of_no_size_is_left_out():
    assert own_part(TRACE, "mean · noise", 0.0) == []

"""Rows along an axis keep apart, and their words stay beside them."""

import pytest

from benchproof.showing.figures.rowchart import Axis, Key, Row, chart_of
from benchproof.showing.figures.sheet import Line, Mark, Words

AXIS = Axis(0, 100, (0, 50, 100), "share in %")
LONG = "a label that is a good deal longer than the room that there is for labels " * 3


def texts(sheet):
    return [p for p in sheet.parts if isinstance(p, Words)]


def test_ticks_stand_where_their_values_lie():
    sheet = chart_of([Row("a", "b", 50)], AXIS, [])
    low, middle, high = (next(t.x for t in texts(sheet) if t.text == n)
                         for n in ("0", "50", "100"))  # fmt: skip
    assert middle == pytest.approx((low + high) / 2)
    assert [p.x for p in sheet.parts if isinstance(p, Mark)] == [pytest.approx(middle)]


def test_a_negative_tick_has_a_minus_sign():
    sheet = chart_of([Row("a", "b")], Axis(-1, 1, (-1, 1), "x"), [])
    assert "\u22121" in sheet.words


def test_a_long_label_is_broken_into_four_lines_at_most():
    sheet = chart_of([Row(LONG, "b", 1)], AXIS, [])
    lines = [t for t in texts(sheet) if t.anchor == "end"]
    assert len(lines) == 4
    assert len({t.y for t in lines}) == 4


def test_lines_of_two_rows_do_not_touch():
    sheet = chart_of([Row(LONG, "b", 1), Row(LONG, "c", 2)], AXIS, [])
    heights = sorted({t.y for t in texts(sheet) if t.anchor == "end"})
    gaps = [b - a for a, b in zip(heights, heights[1:], strict=False)]
    assert min(gaps) >= 9


def test_nothing_lies_outside_the_sheet():
    rows = [Row(LONG, "17 of 20", x, bar=(0, 100), limits=[100]) for x in (0, 100)]
    sheet = chart_of(
        rows, AXIS, [Key("provoked", "circle"), Key("limit", line="limit")]
    )
    for part in sheet.parts:
        points = part.points if isinstance(part, Line) else ()
        places = [*points, *([(part.x, part.y)] if not points else [])]
        assert all(0 <= x <= sheet.width and 0 <= y <= sheet.height for x, y in places)


def test_keys_follow_each_other_without_overlap():
    keys = [Key("provoked", "circle"), Key("control", "square", hollow=True)]
    sheet = chart_of([Row("a", "b", 1)], AXIS, keys)
    first, second = (next(t for t in texts(sheet) if t.text == k.words) for k in keys)
    assert second.x - first.x > 5 * len("provoked")

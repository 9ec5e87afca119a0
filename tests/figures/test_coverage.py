"""The coverage map shows what was done, and says why the rest was not."""

import pytest

from benchproof.showing.figures.coverage import plot_of_coverage
from benchproof.showing.figures.sheet import Area


def entry(condition, planned=20, done=20, why="", control=False):
    return {"plan": "power", "condition": condition, "planned": planned, "done": done,
            "why": why, "control": control}  # fmt: skip


def bars(plot):
    """Return the width of what is done over that of what is planned, row by row."""
    areas = [p for p in plot.figure.parts if isinstance(p, Area) and p.width > 18]
    planned = {a.y: a.width for a in areas if a.kind == "tone"}
    done = {a.y: a.width for a in areas if a.kind == "covered"}
    return [done.get(y, 0) / width for y, width in sorted(planned.items())]


def test_each_condition_is_covered_as_far_as_it_was_tried():
    plot = plot_of_coverage([entry("a"), entry("b", done=5), entry("c", done=0)])
    assert bars(plot) == pytest.approx([1, 0.25, 0])


def test_every_row_says_how_many_and_why_not_more():
    plot = plot_of_coverage([entry("a", done=8, why="12 ended by the stop rule")])
    assert "power: a: 8 of 20: 12 ended by the stop rule" in plot.alt
    assert "8 of 20: 12 ended by the" in plot.figure.words


def test_an_excluded_condition_has_its_reason_and_no_bar():
    plot = plot_of_coverage([entry("a", 0, 0, "shorts the supply"), entry("b")])
    assert bars(plot) == [1]
    assert "power: a: excluded: shorts the supply" in plot.alt


def test_the_control_is_named():
    assert "power: a (control)" in plot_of_coverage([entry("a", control=True)]).alt


def test_of_many_conditions_those_done_as_planned_share_a_row():
    many = [entry(f"c{i}") for i in range(30)]
    plot = plot_of_coverage([*many, entry("odd", done=3), entry("k", control=True)])
    assert bars(plot) == pytest.approx([0.15, 1, 1])
    assert "power: 30 conditions: 20 of 20 each" in plot.alt


def test_without_a_plan_there_is_nothing_to_draw():
    assert plot_of_coverage([]).figure is None

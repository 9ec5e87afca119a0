"""The figures of evidence draw what was seen, and say in words what they draw."""

import pytest
from drawn import (
    CENSORED,
    CONTROL,
    COUNT,
    FAR,
    KEPT,
    LOST,
    VALUE,
    rivals,
)

from benchproof.showing.figures.evidence import plot_of_counts, plot_of_predictions
from benchproof.showing.figures.sheet import Line, Mark


def words(plot):
    """Return every text of a figure, wrapped lines apart."""
    return set(plot.figure.words)


def row(plot, number=0):
    """Return where the marks, bars and arrows of a row stand, in units of the axis."""
    axis, width = plot.figure, plot.figure.width
    ticks = [p for p in axis.parts if isinstance(p, Line) and p.kind == "grid"]
    named = [float(w.replace("\u2212", "-")) for w in axis.words[: len(ticks)]]
    x0, x1 = ticks[0].points[0][0], ticks[-1].points[0][0]
    assert 0 < x0 < x1 < width

    def value(x):
        return named[0] + (x - x0) / (x1 - x0) * (named[-1] - named[0])

    heights = sorted({p.y for p in axis.parts if isinstance(p, Mark) and p.y > 20})
    y = heights[number]
    marks = [p for p in axis.parts if isinstance(p, Mark) and p.y == y]
    lines = [p for p in axis.parts if isinstance(p, Line) and p.points[0][1] == y]
    bars = [[value(x) for x, _ in p.points] for p in lines if p.kind == "bar"]
    return [(m.shape, m.hollow, value(m.x)) for m in marks], bars


def test_a_value_is_drawn_at_its_distance_with_its_coverage_interval():
    (((shape, hollow, where),), bars) = row(plot_of_predictions(rivals(VALUE)))
    assert (shape, hollow, where) == ("circle", False, pytest.approx(5.5))
    assert bars == [pytest.approx([5.5 - 1.96, 5.5 + 1.96])]


@pytest.mark.parametrize(
    ("verdict", "mark"),
    [("met", "circle"), ("contradicted", "cross"), ("undetermined", "diamond")],
)
def test_an_outcome_is_told_by_shape(verdict, mark):
    plot = plot_of_predictions(rivals(VALUE | {"verdict": verdict}))
    assert row(plot)[0][0][0] == mark
    assert verdict in words(plot)


def test_what_lies_beyond_the_axis_is_an_arrow_at_its_edge():
    plot = plot_of_predictions(rivals(FAR))
    (((shape, _, where),), bars) = row(plot)
    assert shape == "right"
    assert 30 < where < 33
    assert bars == []
    assert "beyond the axis" in words(plot)


@pytest.mark.parametrize(
    ("verdict", "sides"),
    [("met", [1]), ("contradicted", [-1]), ("undetermined", [-1, 1])],
)
def test_a_censored_reading_points_to_the_sides_it_may_lie_on(verdict, sides):
    plot = plot_of_predictions(rivals(CENSORED | {"verdict": verdict}))
    ends, _ = row(plot)
    assert [-1 if where < 0 else 1 for _, _, where in ends] == sides
    assert [shape for shape, _, _ in ends] == [
        "left" if side < 0 else "right" for side in sides
    ]
    assert "censored: only the side" in words(plot)


def test_every_row_names_rival_criterion_and_what_was_seen():
    plot = plot_of_predictions(rivals(VALUE, CENSORED))
    assert {"H1: V below 8.80 V", "8.472(60) V", "> 58.8 MΩ"} <= words(plot)
    assert "H1, V below 8.80 V: met (8.472(60) V, probability > 0.99)" in plot.alt


def test_marks_that_do_not_occur_are_not_explained():
    assert "contradicted" not in words(plot_of_predictions(rivals(VALUE)))


def test_with_nothing_to_draw_a_sentence_says_so():
    assert plot_of_predictions(rivals(COUNT)).figure is None
    assert "measured yet" in plot_of_predictions([]).alt
    assert plot_of_counts([], []).figure is None
    assert "counted yet" in plot_of_counts([], []).alt


def test_results_of_an_older_run_have_nothing_to_draw():
    old = {k: v for k, v in VALUE.items() if k not in ("seen", "quantity")}
    assert plot_of_predictions(rivals(old)).figure is None


def test_a_count_is_drawn_as_its_share_with_its_exact_interval():
    marks, bars = row(plot_of_counts([LOST], rivals(COUNT)))
    assert marks == [("circle", False, pytest.approx(85.0))]
    assert bars == [pytest.approx([62.1, 96.8])]


def test_a_control_is_told_by_shape_and_by_word():
    plot = plot_of_counts([LOST, KEPT], rivals(COUNT, CONTROL))
    assert [row(plot, i)[0][0][:2] for i in (0, 1)] == [
        ("circle", False), ("square", True),
    ]  # fmt: skip
    assert {"kept, round 1 (control H1)", "control", "0 of 20"} <= words(plot)


def test_the_control_of_a_plan_is_a_control_without_a_prediction_too():
    plot = plot_of_counts([KEPT | {"control": True}], [])
    assert row(plot)[0][0][:2] == ("square", True)
    assert "kept, round 1 (control)" in words(plot)


def test_the_predicted_share_is_drawn_at_its_row():
    plot = plot_of_counts([LOST, KEPT], rivals(COUNT))
    limits = [p for p in plot.figure.parts if isinstance(p, Line) and p.kind == "limit"]
    keyed, drawn = sorted(limits, key=lambda p: p.points[0][1])
    first = min(p.y for p in plot.figure.parts if isinstance(p, Mark) and p.y > 20)
    assert sum(y for _, y in drawn.points) / 2 == pytest.approx(first)
    assert "predicted limit" in words(plot)
    assert keyed.points[0][1] < 20


def test_the_text_of_the_counts_has_interval_and_place():
    alt = plot_of_counts([LOST], rivals(COUNT)).alt
    assert (
        "lost, round 1 (symptom H1), brick, both axes: 17 of 20, 62.1 % to 96.8 %"
        in alt
    )


@pytest.mark.parametrize("draw", ["predictions", "counts"])
def test_a_dollar_is_no_mathematics_and_figures_repeat_byte_for_byte(draw):
    def svg():
        priced = VALUE | {"criterion": "cost below $5 or $6"}
        if draw == "predictions":
            return plot_of_predictions(rivals(priced)).drawing().svg
        return plot_of_counts([LOST | {"name": "$a or $b"}], []).drawing().svg

    assert svg().count("$") == 2
    assert svg() == svg()

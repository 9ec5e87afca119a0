"""The figures of evidence draw what was seen, and say in words what they draw."""

import pytest

from benchproof.showing.evidencefigures import plot_of_counts, plot_of_predictions


def prediction(criterion, verdict, detail, seen, role="necessary", quantity="V"):
    return {
        "text": "as foretold", "role": role, "criterion": criterion,
        "quantity": quantity, "verdict": verdict, "detail": detail, "seen": seen,
    }  # fmt: skip


VALUE = prediction(
    "V below 8.80 V", "met", "8.472(60) V, probability > 0.99",
    {"inside": 5.5, "half_width": 1.96},
)  # fmt: skip
FAR = prediction("V above 1 V", "met", "9 V", {"inside": 4000.0, "half_width": 2.0})
CENSORED = prediction("R above 10 MΩ", "met", "> 58.8 MΩ", {"censored": True})
OPEN = prediction("R below 99 MΩ", "undetermined", "> 58.8 MΩ", {"censored": True})
COUNT = prediction(
    "lost in at least 15 % of attempts", "met", "17 of 20", {"limits": [0.15, None]},
    "symptom", "lost",
)  # fmt: skip
CONTROL = prediction(
    "kept in at most 15 % of attempts", "met", "0 of 20", {"limits": [None, 0.15]},
    "control", "kept",
)  # fmt: skip


def rivals(*predictions):
    return [{"name": "H1", "predictions": list(predictions)}]


def arm(name, count, low, high, number=1):
    return {
        "name": name, "count": count, "attempts": 20, "low": low, "high": high,
        "round": number, "at": "brick, both axes",
    }  # fmt: skip


LOST, KEPT = arm("lost", 17, 0.621, 0.968), arm("kept", 0, 0.0, 0.168)


def words(plot):
    """Return every text of a figure, legend included."""
    axes = plot.figure.axes[0]
    legend = plot.figure.legends[0].get_texts()
    return {t.get_text() for t in [*axes.texts, *axes.get_yticklabels(), *legend]}


def points(plot):
    """Return the marker of every point, with its place and its filling."""
    return [
        (line.get_marker(), line.get_xdata()[0], line.get_ydata()[0],
         line.get_markerfacecolor())
        for line in plot.figure.axes[0].get_lines()
        if len(line.get_xdata()) == 1
    ]  # fmt: skip


def test_a_value_is_drawn_at_its_distance_with_its_coverage_interval():
    plot = plot_of_predictions(rivals(VALUE))
    assert ("o", 5.5, 0) in [p[:3] for p in points(plot)]
    (bar,) = [c for c in plot.figure.axes[0].collections if hasattr(c, "get_segments")]
    assert bar.get_segments()[0][:, 0] == pytest.approx([5.5 - 1.96, 5.5 + 1.96])


@pytest.mark.parametrize(
    ("verdict", "mark"), [("met", "o"), ("contradicted", "X"), ("undetermined", "D")]
)
def test_an_outcome_is_told_by_shape(verdict, mark):
    plot = plot_of_predictions(rivals(VALUE | {"verdict": verdict}))
    assert points(plot)[0][0] == mark
    assert verdict in words(plot)


def test_what_lies_beyond_the_axis_is_an_arrow_at_its_edge():
    plot = plot_of_predictions(rivals(FAR))
    ((mark, where, _, _),) = points(plot)
    assert mark == ">"
    assert where < plot.figure.axes[0].get_xlim()[1]
    assert "beyond the axis" in words(plot)


@pytest.mark.parametrize(
    ("verdict", "sides"),
    [("met", [1]), ("contradicted", [-1]), ("undetermined", [-1, 1])],
)
def test_a_censored_reading_points_to_the_sides_it_may_lie_on(verdict, sides):
    plot = plot_of_predictions(rivals(CENSORED | {"verdict": verdict}))
    arrows = [t for t in plot.figure.axes[0].texts if t.arrow_patch is not None]
    assert sorted(1 if t.xy[0] > 0 else -1 for t in arrows) == sides
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
    plot = plot_of_counts([LOST], rivals(COUNT))
    ((mark, share, _, _),) = points(plot)
    assert (mark, share) == ("o", 85.0)
    (bar,) = [c for c in plot.figure.axes[0].collections if hasattr(c, "get_segments")]
    assert bar.get_segments()[0][:, 0] == pytest.approx([62.1, 96.8])


def test_a_control_is_told_by_shape_and_by_word():
    plot = plot_of_counts([LOST, KEPT], rivals(COUNT, CONTROL))
    marks = {mark: fill for mark, _, _, fill in points(plot)}
    assert set(marks) == {"o", "s"}
    assert marks["s"] == "white"
    assert {"kept, round 1 (control H1)", "control", "0 of 20"} <= words(plot)


def test_the_predicted_share_is_drawn_at_its_row():
    plot = plot_of_counts([LOST, KEPT], rivals(COUNT))
    limits = [
        (line.get_xdata()[0], sum(line.get_ydata()) / 2)
        for line in plot.figure.axes[0].get_lines()
        if len(line.get_xdata()) == 2
    ]
    assert limits == [(15.0, 1.0)]


def test_the_text_of_the_counts_has_interval_and_place():
    alt = plot_of_counts([LOST], rivals(COUNT)).alt
    assert "lost, round 1 (symptom H1), brick, both axes: 17 of 20, 62.1 % to" in alt


@pytest.mark.parametrize("draw", ["predictions", "counts"])
def test_a_dollar_is_no_mathematics_and_figures_repeat_byte_for_byte(draw):
    def svg():
        priced = VALUE | {"criterion": "cost below $5 or $6"}
        if draw == "predictions":
            return plot_of_predictions(rivals(priced)).drawing().svg
        return plot_of_counts([LOST | {"name": "$a or $b"}], []).drawing().svg

    assert svg().count("$") == 2
    assert svg() == svg()

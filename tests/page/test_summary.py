"""The summary says claim, verdicts, limits and date, and no more than these."""

import re

import pytest
from pages import TYPED, Page, assert_runs_and_fetches_nothing, sample_results

from benchproof.showing.exports import SIZE
from benchproof.showing.page.summary import plot_of_summary, summary_of, summary_page


def written(results):
    """Return the lines of a card, from the top, and the size of their letters."""
    figure = plot_of_summary(summary_of(results), SIZE).figure
    return figure, [t.get_text() for t in figure.texts]


def inside(figure):
    figure.canvas.draw()
    edge = figure.bbox
    for text in figure.texts:
        box = text.get_window_extent()
        yield edge.x0 <= box.x0 and box.x1 <= edge.x1 and edge.y0 <= box.y0


def test_the_page_has_claim_verdicts_limits_and_date():
    text = Page(summary_page(summary_of(sample_results()))).text
    assert "It forgets where it points whenever I slew in both axes at once." in text
    assert "× contradicted" in text
    assert "● sufficient on this sample" in text
    assert "One unit of revision B was tested." in text
    assert "Run on 2026-11-25 10:04 UTC" in text
    assert "on this sample" in text


def test_the_page_runs_and_fetches_nothing_whatever_was_typed():
    results = sample_results() | {
        "title": TYPED, "claim": {"text": TYPED}, "does_not_show": [TYPED],
        "verdicts": [dict.fromkeys(["name", "statement", "verdict"], TYPED)],
    }  # fmt: skip
    page = Page(summary_page(summary_of(results)))
    assert_runs_and_fetches_nothing(page)
    assert page.text.count(TYPED) >= 5


def test_what_is_missing_is_said_to_be_missing():
    text = Page(summary_page(summary_of({}))).text
    assert "No claim was recorded." in text
    assert "there is no verdict" in text
    assert "an omission, not an absence of limits" in text
    assert "a date that was not recorded" in text


def test_the_card_has_every_verdict_and_every_limit():
    figure, lines = written(sample_results())
    text = " ".join(" ".join(lines).split())
    for rival in sample_results()["verdicts"]:
        assert rival["verdict"] in text
    assert "Nothing was measured below 15 °C." in text
    assert "a supply" not in text
    assert all(inside(figure))


def test_more_words_make_smaller_letters():
    def letters(results):
        return max(t.get_fontsize() for t in written(results)[0].texts)

    many = sample_results() | {
        "does_not_show": [f"Limit {i} of it." for i in range(20)]
    }
    assert letters(many) < letters(sample_results())


def test_what_does_not_fit_is_counted_and_nothing_runs_over():
    many = [f"Limit {i} of what was tried here on one unit only." for i in range(90)]
    figure, lines = written(sample_results() | {"does_not_show": many})
    (rest,) = [line for line in lines if "lines more in the write-up" in line]
    (left_out,) = re.findall(r"… (\d+) lines", rest)
    shown = [line for line in lines if line.startswith("• Limit")]
    assert len(shown) + int(left_out) == 90
    assert all(inside(figure))


@pytest.mark.parametrize("word", ["", "invented"])
def test_invented_data_say_so_on_the_card(word):
    _, lines = written(sample_results() | {"invented": bool(word)})
    assert any("Invented data." in line for line in lines) == bool(word)

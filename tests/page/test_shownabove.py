"""A link stands for an output only where the page shows the very same."""

import pytest

from benchproof.showing.page.pagetables import checked_tables
from benchproof.showing.page.shownabove import Place, elsewhere_of, link_instead
from benchproof.values.tables import Table, columns

RIVAL = {
    "name": "H1", "anchor": "1", "statement": "It sags", "verdict": "compatible",
    "reason": "met",
    "predictions": [
        {"text": "low", "role": "necessary", "criterion": "V below 8.80 V",
         "verdict": "met", "detail": "8.472(60) V", "flips": "at no value",
         "written": "before"}
    ],
}  # fmt: skip
ROWS = (("gain", "0.5 %"), ("offset", "3 digits"), ("repeatability", "0.2 %"))
NOTE = "taken as independent"


def output(table, alt=""):
    metadata = {"text/html": {"alt": alt}} if alt else {}
    return {"data": {"text/html": table._repr_html_()}, "metadata": metadata}


def shown(rows=ROWS, notes=(NOTE,), states=()):
    return output(Table("Budget of V", columns("Source", "u>"), rows, notes, states))


@pytest.fixture
def page():
    plain = {
        "id": "budget-V", "section": "budgets", "title": "Budget of V",
        "columns": [{"title": "Source"}, {"title": "u", "numeric": True}],
        "rows": [list(row) for row in ROWS], "notes": [NOTE],
    }  # fmt: skip
    pictures = {"A curve that falls.": Place("figure-a", "The curve")}
    return elsewhere_of(checked_tables([plain]), [RIVAL], pictures)


def test_the_same_table_becomes_a_link_to_it(page):
    assert link_instead(shown(), page) == (
        '<p class="wu-label">Shown above: <a href="#table-budget-V">Budget of V</a></p>'
    )


def test_another_number_is_shown_as_it_is(page):
    assert link_instead(shown((*ROWS[:2], ("repeatability", "0.3 %"))), page) == ""


def test_a_note_that_does_not_stand_there_is_kept(page):
    link = link_instead(shown(notes=(NOTE, "<b>drifting</b>")), page)
    assert "<p>&lt;b&gt;drifting&lt;/b&gt;</p>" in link
    assert NOTE not in link


def test_a_struck_row_is_compared_by_its_cells():
    rows = [{"cells": ["r-1", "2 V"], "state": "struck"}, ["r-2", "3 V"]]
    heads = [{"title": "Row"}, {"title": "Value"}]
    plain = {"id": "readings", "title": "Readings", "columns": heads, "rows": rows}
    page = elsewhere_of(checked_tables([plain]), [], {})
    cells = (("r-1", "2 V"), ("r-2", "3 V"))
    table = Table("Readings", columns("Row", "Value"), cells, (), ("struck", ""))
    assert "#table-readings" in link_instead(output(table), page)


def test_verdicts_predictions_and_evidence_become_links(page):
    def link(*rows):
        heads = columns(*(str(i) for i in range(len(rows[0]))))
        return link_instead(output(Table("t", heads, rows)), page)

    assert "#answer" in link(("H1", "It sags", "compatible", "met"))
    assert "#rival-1" in link(("low", "necessary", "V below 8.80 V"))
    assert "#evidence" in link(
        (
            "H1",
            "low",
            "necessary",
            "V below 8.80 V",
            "met",
            "8.472(60) V",
            "at no value",
            "before",
        )
    )


def test_a_figure_is_recognised_by_its_description(page):
    drawn = {"data": {"text/html": "<img>"}}
    known = drawn | {"metadata": {"text/html": {"alt": "A curve that falls."}}}
    other = drawn | {"metadata": {"text/html": {"alt": "A curve that rises."}}}
    assert "#figure-a" in link_instead(known, page)
    assert link_instead(other, page) == ""


def test_a_table_shown_in_the_notebook_before_becomes_a_link_too(page):
    rows = tuple((f"r-{i}", "1 V") for i in range(3))
    table = output(Table("t", columns("Row", "Value"), rows))
    assert link_instead(table, page) == ""
    page.remember(table, Place("code-cell-2", "code cell 2"))
    assert "#code-cell-2" in link_instead(table, page)


def test_a_small_table_of_the_notebook_is_shown_again(page):
    table = output(Table("t", columns("Row", "Value"), (("r-1", "1 V"),)))
    page.remember(table, Place("code-cell-2", "code cell 2"))
    assert link_instead(table, page) == ""


@pytest.mark.parametrize(
    "data", [{}, {"text/plain": "12.1 V"}, {"text/html": "<table><td>gain</table>"}]
)
def test_what_is_no_table_of_ours_is_shown_as_it_is(page, data):
    assert link_instead({"data": data}, page) == ""


def test_two_tables_at_once_are_shown_as_they_are(page):
    both = shown()["data"]["text/html"] * 2
    assert link_instead({"data": {"text/html": both}}, page) == ""

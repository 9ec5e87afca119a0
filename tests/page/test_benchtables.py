"""A table of ours is read back from a notebook's output as it was written."""

import pytest

from benchproof.showing.page.benchtables import table_of
from benchproof.values.tables import Table, columns


def output(markup):
    return {"data": {"text/html": markup}}


def test_title_heads_rows_states_and_notes_come_back():
    rows = (("r-1", "12.1 V"), ("r-2", "<b> & $5"))
    table = Table(
        "Readings", columns("Row", "Value>"), rows, ("as <typed>",), ("struck", "")
    )
    found = table_of(output(table._repr_html_()))
    assert found.title == "Readings"
    assert found.columns == (
        {"title": "Row", "numeric": False},
        {"title": "Value", "numeric": True},
    )
    assert [row.cells for row in found.rows] == list(rows)
    assert [row.state for row in found.rows] == ["struck", ""]
    assert found.notes == ("as <typed>",)


def test_a_markup_kept_as_lines_is_read_too():
    markup = Table("", columns("A", "B"), (("1", "2"),))._repr_html_()
    assert table_of(output(markup.splitlines(keepends=True))).rows[0].cells == (
        "1",
        "2",
    )


def test_a_budget_is_told_by_its_title():
    markup = Table("Budget of V", columns("A"), (("1",),))._repr_html_()
    assert table_of(output(markup)).section == "budgets"


@pytest.mark.parametrize(
    "markup",
    [
        "<table><tr><td>1</td></tr></table>",
        '<div class="bp"><table></table></div><p>more</p>',
        '<div class="bp"><table></table><img src="x"></div>',
        '<div class="bp"><table></table><table></table></div>',
        '<div class="bp"><table><thead><tr><th>A</th><th>B</th></tr></thead>'
        "<tbody><tr><td>1</td></tr></tbody></table></div>",
        "",
    ],
)
def test_what_is_not_one_even_table_of_ours_and_nothing_else_is_left_alone(markup):
    assert table_of(output(markup)) is None

"""A column that says the same in every row is said once."""

from benchproof.showing.page.leancolumns import lean_columns
from benchproof.showing.page.pagetables import PageRow, PageTable


def lean(heads, rows, struck=frozenset()):
    columns = tuple({"title": h, "numeric": False} for h in heads)
    body = tuple(PageRow(tuple(row), "", struck) for row in rows)
    return lean_columns(PageTable("t", "other", "", columns, body, ("kept",)))


def titles(table):
    return [c["title"] for c in table.columns]


def test_a_circumstance_that_is_the_same_in_every_row_is_said_once_below():
    table = lean(("Source", "Type", "u"), [(f"s{i}", "B", "1 V") for i in range(4)])
    assert titles(table) == ["Source", "u"]
    assert table.notes == ("In every row: Type B.", "kept")


def test_a_finding_stays_in_its_column_even_if_it_is_the_same_everywhere():
    heads = ("Condition", "Seen", "Verdict", "Value")
    assert titles(lean(heads, [("a", "0 of 20", "met", "1 V")] * 5)) == list(heads)


def test_few_rows_keep_their_columns():
    assert titles(lean(("Source", "Type"), [("s", "B")] * 3)) == ["Source", "Type"]


def test_a_column_of_remarks_without_any_is_left_out():
    table = lean(("Source", "u", "Note"), [("s", "1 V", "")])
    assert (titles(table), table.notes) == (["Source", "u"], ("kept",))


def test_what_was_not_recorded_anywhere_is_said_not_dropped():
    table = lean(("Place", "Round"), [(f"p{i}", "") for i in range(4)])
    assert table.notes[0] == "In every row: Round not recorded."


def test_an_empty_column_of_findings_stays():
    assert titles(lean(("Place", "Seen"), [("p", "")] * 5)) == ["Place", "Seen"]


def test_a_struck_cell_stays_struck_when_a_column_before_it_goes():
    rows = [("a", "1", "old", "new")] * 4
    table = lean(("What", "Round", "It said", "Now"), rows, frozenset({2}))
    assert table.rows[0].struck == frozenset({1})
    assert table.rows[0].cells == ("a", "old", "new")

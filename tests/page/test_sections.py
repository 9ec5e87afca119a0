"""Sections hold every table, and say what they leave out of a long one."""

import pytest

from benchproof.showing.page.pagetables import checked_tables
from benchproof.showing.page.sections import (
    LONGEST,
    MOST_BUDGETS,
    as_shown,
    sections_of,
    shortened,
)
from benchproof.values.errors import FileError


def table(name="x", section="readings", rows=(("r-1", ""),)):
    heads = [{"title": "Row"}, {"title": "Note"}]
    plain = [row if isinstance(row, dict) else list(row) for row in rows]
    return {"id": name, "section": section, "title": name, "columns": heads,
            "rows": plain}  # fmt: skip


def one(plain):
    return as_shown(*checked_tables([plain]))


def test_no_two_tables_have_one_anchor():
    names = ["a", "a", "a-2", "a b", "a-b", ""]
    anchors = [t.anchor for t in checked_tables(map(table, names))]
    assert len(set(anchors)) == len(names)
    assert anchors[0] == "table-a"


def test_a_row_of_another_length_is_refused_by_table_and_row():
    with pytest.raises(FileError, match="table 'x', row 2: 3 cells for 2 columns"):
        checked_tables([table(rows=[("a", "b"), ("a", "b", "c")])])


def test_a_section_without_tables_is_there_if_it_shows_something_else():
    def names(others):
        return [s["id"] for s in sections_of([], others)]

    assert "trials" not in names(set())
    assert "trials" in names({"trials"})
    assert names(set()) == ["sample", "hazards", "instruments", "readings"]


def test_a_table_of_no_longer_than_allowed_is_whole():
    rows = [(f"r-{i}", "") for i in range(LONGEST)]
    found = one(table(rows=rows))
    assert len(found.rows) == LONGEST
    assert found.notes == ()


def test_of_a_long_record_what_is_struck_or_noted_stays():
    rows = [(f"r-{i}", "") for i in range(400)]
    rows[200] = {"cells": ["r-200", ""], "state": "struck"}
    rows[300] = ("r-300", "read in a hurry")
    found = one(table(rows=rows))
    shown = [row.cells[0] for row in found.rows]
    assert shown[-2:] == ["r-200", "r-300"]
    assert len(shown) == 22
    assert found.notes[0].startswith("22 of 400 rows: the first 20")
    assert "Every row is in the files of the case." in found.notes[0]


def test_of_many_budgets_those_of_what_was_judged_stay_and_the_others_are_named():
    plain = [table(f"budget-Q{i}", "budgets") for i in range(MOST_BUDGETS + 3)]
    found, notes = shortened(checked_tables(plain), {"Q3", "Q7"})
    assert [t.id for t in found] == ["budget-Q3", "budget-Q7"]
    assert notes["budgets"].startswith("Not on this page, but in results.json")
    assert "budget-Q0, budget-Q1, " in notes["budgets"]
    assert "budget-Q14" in notes["budgets"]
    assert "budget-Q7" not in notes["budgets"]


def test_a_few_budgets_are_all_shown():
    plain = [table(f"budget-Q{i}", "budgets") for i in range(MOST_BUDGETS)]
    found, notes = shortened(checked_tables(plain), {"Q3"})
    assert (len(found), notes) == (MOST_BUDGETS, {})


def test_what_a_section_leaves_out_stands_at_its_end():
    (*_, last) = sections_of([], {"budgets"}, {"budgets": "Not on this page: x."})
    assert (last["id"], last["note"]) == ("budgets", "Not on this page: x.")

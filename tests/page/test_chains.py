"""From a verdict a reader can follow links to the readings it rests on."""

import re

import pytest

from benchproof.showing.page.chains import linked, place_of
from benchproof.showing.page.pagetables import checked_tables


def plain(name, heads, rows):
    columns = [{"title": head} for head in heads]
    return {"id": name, "section": "derived", "columns": columns, "rows": rows}


TABLES = checked_tables(
    [
        plain("constants", ("Constant", "Value", "Source"), [["k", "2 V", "sheet"]]),
        plain("readings", ("Row", "Measurand", "Reading"), [
            ["r-1", "V", "12 V"], ["r-2", "V", "12 V"], ["r-3", "I<b>", "2 A"],
            ["r-4", "unused", "1 V"],
        ]),
        plain("captures", ("Quantity", "Value"), [["V_min", "8 V"]]),
        plain("quantities", ("Quantity", "Value", "Expanded", "How", "Note"), [
            ["V", "12 V", "", "measured", ""], ["I<b>", "2 A", "", "measured", ""],
            ["V_min", "8 V", "", "measured", ""],
            ["R", "6 Ω", "", "from V, I<b>, k", ""],
            ["P", "1 W", "", "from R, V_min, lost", ""],
            ["unused", "1 V", "", "measured", ""],
        ]),
    ]
)  # fmt: skip


@pytest.fixture
def page():
    tables, places = linked(TABLES, ["P"])
    return {t.id: t for t in tables}, places


def anchors(tables):
    return [row.anchor for t in tables.values() for row in t.rows if row.anchor]


def test_everything_a_verdict_rests_on_has_one_place(page):
    tables, places = page
    assert places == {"P", "R", "V", "I<b>", "V_min", "k"}
    found = anchors(tables)
    assert len(found) == len(set(found))
    assert {place_of(name) for name in places} <= set(found)


def test_every_link_leads_to_a_place(page):
    tables, _ = page
    cells = [str(row.cells[3]) for row in tables["quantities"].rows]
    targets = re.findall(r'href="#([^"]*)"', " ".join(cells))
    assert len(targets) == 8
    wanted = {t.replace("&lt;", "<").replace("&gt;", ">") for t in targets}
    assert wanted <= set(anchors(tables))


def test_a_reading_is_reached_at_its_first_row(page):
    rows = {row.cells[0]: row.anchor for row in page[0]["readings"].rows}
    assert rows == {"r-1": "r-V", "r-2": "", "r-3": "r-I<b>", "r-4": ""}


def test_what_a_capture_gave_leads_to_the_captures(page):
    how = {row.cells[0]: row.cells[3] for row in page[0]["quantities"].rows}
    assert how["V_min"] == '<a href="#c-V_min">measured</a>'


def test_typed_names_cannot_break_out(page):
    cells = " ".join(str(row.cells[3]) for row in page[0]["quantities"].rows)
    assert "<b>" not in cells


def test_what_no_verdict_rests_on_is_left_as_it_was(page):
    row = page[0]["quantities"].rows[-1]
    assert (row.cells[3], row.anchor) == ("measured", "")


def test_without_the_tables_there_are_no_places():
    assert linked([], ["P"]) == ([], frozenset())

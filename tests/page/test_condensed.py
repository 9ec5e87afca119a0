"""What repeats is said once, and every fact of a table can still be read from it."""

import pytest

from benchproof.showing.page.condensed import condensed, fewer_limits
from benchproof.showing.page.pagetables import checked_tables


def page_table(name, section, heads, rows, notes=()):
    columns = [{"title": h.rstrip(">"), "numeric": h.endswith(">")} for h in heads]
    plain = {"id": name, "section": section, "title": name, "columns": columns,
             "rows": rows, "notes": list(notes)}  # fmt: skip
    (table,) = checked_tables([plain])
    return condensed(table)


READINGS = ("Row", "Measurand", "Reading>", "With", "Where", "Round>", "Note")


def reading(row, text, name="V", note="", state=""):
    cells = [row, name, text, "handheld", "socket", "1", note]
    return {"cells": cells, "state": state}


def cells(table):
    return [row.cells for row in table.rows]


def test_repeated_readings_share_a_row_and_their_unit():
    rows = [reading(f"r-{i}", f"12.1{i} V") for i in range(3)]
    table = page_table("readings", "readings", READINGS, rows)
    assert cells(table) == [
        ("r-0 to r-2", "V", "12.10, 12.11, 12.12 V", "handheld", "socket", "1", "")
    ]


def test_readings_in_two_units_keep_each_its_own():
    rows = [reading("r-1", "12.1 V"), reading("r-2", "900 mV")]
    table = page_table("readings", "readings", READINGS, rows)
    assert table.rows[0].cells[2] == "12.1 V, 900 mV"


@pytest.mark.parametrize(
    "odd",
    [
        reading("r-2", "1 V", state="struck"),
        reading("r-2", "1 V", note="in a hurry"),
        reading("r-2", "1 V", name="I"),
    ],
)
def test_a_reading_that_differs_in_anything_else_stands_alone(odd):
    rows = [reading("r-1", "12.1 V"), odd, reading("r-3", "12.1 V")]
    table = page_table("readings", "readings", READINGS, rows)
    assert [c[0] for c in cells(table)] == ["r-1", "r-2", "r-3"]


def test_readings_without_repeats_keep_their_column_of_numbers():
    rows = [reading("r-1", "12.1 V"), reading("r-2", "2 A", name="I")]
    assert "n3" in page_table("readings", "readings", READINGS, rows).classes


ERRATA = ("Date", "Round>", "What", "It said", "Because")


def erratum(what, said, because="", state="", date="2026-11-25"):
    return {"cells": [date, "2", what, said, because], "state": state}


def test_what_was_said_stands_struck_beside_what_took_its_place():
    rows = [
        erratum("round opened", "", "objection"),
        erratum("V", "12.0 V", state="superseded"),
        erratum("V", "11.9 V", "measured again"),
    ]
    table = page_table("errata", "rounds", ERRATA, rows)
    assert cells(table) == [
        ("2026-11-25", "2", "round opened", "", "", "objection"),
        ("2026-11-25", "2", "V", "12.0 V", "11.9 V", "measured again"),
    ]
    assert [row.struck for row in table.rows] == [frozenset(), frozenset({3})]


def test_what_was_struck_without_anything_in_its_place_keeps_its_reason():
    rows = [erratum("V", "12.0 V", "jaw open", "struck"), erratum("I", "2 A")]
    table = page_table("errata", "rounds", ERRATA, rows)
    assert cells(table) == [
        ("2026-11-25", "2", "V", "12.0 V", "", "jaw open"),
        ("2026-11-25", "2", "I", "", "2 A", ""),
    ]


REMARK = "one reading: repeatability unknown"


def test_a_remark_of_many_rows_is_said_once_below():
    rows = [[f"V_{i}", f"{REMARK}; of {i}"] for i in range(3)] + [["V_3", ""]]
    table = page_table("quantities", "derived", ("Quantity", "Note"), rows, ["kept"])
    assert [c[1] for c in cells(table)] == ["(a); of 0", "(a); of 1", "(a); of 2", ""]
    assert table.notes == (f"(a) {REMARK}", "kept")


def test_a_remark_of_two_rows_or_few_letters_stays_where_it_is():
    rows = [["V_0", REMARK], ["V_1", REMARK], *(["V", "short"] for _ in range(9))]
    table = page_table("quantities", "derived", ("Quantity", "Note"), rows)
    assert table.rows[0].cells[1] == REMARK
    assert table.notes == ()


def test_remarks_in_other_columns_stay_where_they_are():
    rows = [[f"V_{i}", REMARK] for i in range(5)]
    table = page_table("quantities", "derived", ("Quantity", "Where"), rows)
    assert table.rows[0].cells[1] == REMARK


BUDGET = ("Source", "u>", "Share>")


def test_sources_that_do_not_show_in_the_digits_are_named_below():
    rows = [["gain", "1 V", "99.9 %"], *([f"s{i}", "1 µV", "0.0 %"] for i in range(3))]
    table = page_table("budget-V", "budgets", BUDGET, rows)
    assert [c[0] for c in cells(table)] == ["gain"]
    assert table.notes[-1].endswith("figures in results.json: s0; s1; s2.")


def test_two_small_sources_and_the_total_stay_in_the_table():
    rows = [["gain", "1 V", "100.0 %"], ["a", "1 µV", "0.0 %"], ["b", "0 V", "0.0 %"],
            {"cells": ["combined", "1 V", "0.0 %"], "state": "total"}]  # fmt: skip
    assert len(page_table("budget-V", "budgets", BUDGET, rows).rows) == 4


RATES = ("Plan", "Outcome", "Condition", "Seen", "p against control", "Round>", "Note")


def rate(condition, seen="0 of 10, p < 25.9 %"):
    return ["power", "lost", condition, seen, "1", "1", ""]


def test_conditions_of_which_the_same_is_known_share_a_row():
    rows = [rate("a"), rate("b (control)"), rate("c"), rate("d", "9 of 10"), rate("e")]
    table = page_table("rates", "trials", RATES, rows)
    assert [c[2] for c in cells(table)] == [
        "each of 3: a; c; e", "b (control)", "d",
    ]  # fmt: skip


def test_a_table_of_another_form_is_left_as_it_is():
    for name in ("readings", "errata", "rates", "attempts"):
        table = page_table(name, "other", ("A", "B"), [["x", "y"], ["x", "y"]])
        assert cells(table) == [("x", "y"), ("x", "y")]


def test_other_limits_stay_word_for_word_before_the_fields_of_the_sample():
    tail = "between the reported device and the tested sample; it bears on H1 (met)."
    limits = [
        f"cable: different {tail}",
        "Nothing below 15 °C.",
        f"hood: unknown {tail}",
    ]
    first, different, unknown = fewer_limits(limits)
    assert first == "Nothing below 15 °C."
    assert different.startswith("Different between the reported device")
    assert ": cable. " in different
    assert ": hood. " in unknown

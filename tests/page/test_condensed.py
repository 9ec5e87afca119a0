"""What repeats is said once, and every fact of a table can still be read from it."""

import pytest

from benchproof.showing.page.condensed import condensed
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
        ("r-0–2", "V", "12.10, 12.11, 12.12\xa0V", "handheld", "socket", "1", "")
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


def test_sources_below_a_percent_are_counted_with_what_they_come_to():
    small = [
        [f"s{i}", "1 µV", share] for i, share in enumerate(("0.0 %", "0.9 %", "-0.4 %"))
    ]
    table = page_table("budget-V", "budgets", BUDGET, [["gain", "1 V", "99 %"], *small])
    assert [c[0] for c in cells(table)] == ["gain"]
    assert table.notes[-1] == (
        "3 more sources with less than 1\xa0% of the variance each, together "
        "1.3\xa0%: in results.json."
    )


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


MATRIX = ("Asked", "H1", "H2", "H3", "Standing")


def test_of_the_matrix_what_one_rival_alone_speaks_of_stands_with_that_rival():
    alone = [[f"V_{i}", "below 1 V", "", "", "measured"] for i in range(3)]
    both = ["V_both", "below 1 V", "above 2 V", "", "measured"]
    table = page_table("matrix", "rivals", MATRIX, [*alone, both])
    assert cells(table) == [("V_both", "below 1 V", "above 2 V", "measured")]
    assert [c["title"] for c in table.columns] == ["Asked", "H1", "H2", "Standing"]
    assert table.notes[-1].startswith("3 more are asked of one rival only")


def test_a_matrix_in_which_no_two_rivals_meet_is_shown_whole():
    alone = [[f"V_{i}", "below 1 V", "", "", "measured"] for i in range(4)]
    assert len(page_table("matrix", "rivals", MATRIX, alone).rows) == 4


SPLITS = ("Pair", "Split whichever way it comes out", "Split if it fails")


def test_pairs_that_only_a_failure_splits_are_named_below():
    rows = [[f"H1, H{i}", "nothing", "V"] for i in (2, 3, 4)] + [["H2, H3", "V", "W"]]
    table = page_table("splits", "rivals", SPLITS, rows)
    assert cells(table) == [("H2,\xa0H3", "V", "W")]
    assert table.notes[-1].endswith("fails: H1, H2; H1, H3; H1, H4.")


def test_a_pair_that_nothing_splits_keeps_every_pair_in_view():
    rows = [[f"H1, H{i}", "nothing", "nothing"] for i in (2, 3, 4)]
    rows.append(["H2, H3", "V", "W"])
    assert len(page_table("splits", "rivals", SPLITS, rows).rows) == 4


def test_why_a_plan_changed_stands_in_its_note_alone():
    heads = ("Plan", "Changed because", "Progress")
    rows = [["power", "", "done"], ["socket", "an arm more", "done"]]
    told = page_table("plans", "trials", heads, rows, ["socket: changed: an arm more."])
    assert [c["title"] for c in told.columns] == ["Plan", "Progress"]
    assert len(page_table("plans", "trials", heads, rows).columns) == 3


QUANTITIES = ("Quantity", "Value>", "Expanded", "How", "Note")


def quantity(name, value, expanded, note=""):
    return [name, value, expanded, "measured", note]


def test_the_usual_coverage_factor_is_said_in_the_title():
    rows = [
        quantity("V", "12.0(1) V", "U = 0.2 V (k = 1.96, 95 %)"),
        quantity("R", "1.0(1) Ω", "U = 0.3 Ω (k = 2.57, 95 %, 5 degrees of freedom)"),
    ]
    table = page_table("quantities", "derived", QUANTITIES, rows)
    assert table.title == "quantities; 95\xa0%, k = 1.96 unless said"
    assert [c[2].replace("\xa0", " ") for c in cells(table)] == [
        "U = 0.2 V",
        "U = 0.3 Ω (k = 2.57, 5 degrees of freedom)",
    ]


def test_a_counts_bound_and_a_reason_leave_the_column_of_values():
    rows = [
        quantity("n", "0 of 10, p < 25.9 % (95 %, one-sided)", ""),
        quantity("I", "(invalid because 'V above 2 V' is contradicted)", "", "late"),
    ]
    count, reason = cells(page_table("quantities", "derived", QUANTITIES, rows))
    assert count[1:3] == ("0 of 10", "p < 25.9\xa0% (95\xa0%, one-sided)")
    assert reason[1] == "(invalid)"
    assert reason[4] == "because 'V above 2 V' is contradicted; late"


def test_a_remark_of_others_carries_their_names_and_the_same_letter():
    remark = "handheld: calibration interval exceeded when read"
    rows = [quantity(f"V{i}", "1 V", "", remark) for i in range(2)]
    rows.append(quantity("R", "1 Ω", "", f"V0, V1: {remark}"))
    table = page_table("quantities", "derived", QUANTITIES, rows)
    assert [c[4] for c in cells(table)] == ["(a)", "(a)", "(a) of V0, V1"]
    assert table.notes[0] == f"(a) {remark}"


def test_a_corrected_value_breaks_after_its_name_only():
    heads = ("Correction", "As read", "How")
    rows = [["leads", "R = 151.03(76) Ω", "R = Rm - Rl, by leads"]]
    (row,) = cells(page_table("corrections", "readings", heads, rows))
    assert row == ("leads", "R =\xa0151.03(76)\xa0Ω", "R = Rm - Rl, by leads")

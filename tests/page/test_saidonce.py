"""What one table says in full is not said again by another, and nothing is lost."""

from benchproof.showing.page.pagetables import checked_tables
from benchproof.showing.page.saidonce import said_once


def plain(name, section, heads, rows, notes=()):
    columns = [{"title": h} for h in heads]
    return {"id": name, "section": section, "title": name, "columns": columns,
            "rows": rows, "notes": list(notes)}  # fmt: skip


def once(*tables):
    return {t.id: t for t in said_once(checked_tables(tables))}


HEADS = ("Quantity", "Value", "Expanded", "How", "Note")
OLD = "rests on readings of round 2 and older ones: V"
QUANTITIES = plain(
    "quantities",
    "derived",
    HEADS,
    [["V", "12.0(1) V", "", "measured", ""], ["P", "3 W", "", "from V", OLD]],
)


def budget(of, *notes):
    rows = [["gain", of, "99 %"]]
    return plain("budget-P", "budgets", ("Source", "Of", "Share"), rows, notes)


def test_a_value_that_stands_with_the_quantities_is_only_named_in_a_budget():
    found = once(QUANTITIES, budget("V = 12.0(1) V"))["budget-P"]
    assert found.rows[0].cells == ("gain", "V", "99\xa0%")


def test_a_value_of_an_earlier_round_stays_in_its_budget():
    found = once(QUANTITIES, budget("V = 11.0(1) V"))["budget-P"]
    assert found.rows[0].cells[1] == "V = 11.0(1) V"


def test_a_warning_of_the_quantity_is_not_repeated_by_its_budget():
    assumed = "offset: taken as independent"
    found = once(QUANTITIES, budget("V", OLD, assumed))["budget-P"]
    assert found.notes == (assumed,)


def test_without_the_quantities_a_budget_says_all_of_it():
    found = once(budget("V = 12.0(1) V", OLD))["budget-P"]
    assert found.rows[0].cells[1] == "V = 12.0(1) V"
    assert found.notes == (OLD,)


def test_how_a_capture_was_read_stands_with_the_captures_alone():
    read = "dip 1 of r1.csv; gain by the meter"
    heads = ("Quantity", "Round", "Value", "How it was read", "Note")
    captures = plain("captures", "captures", heads, [["V", "1", "12 V", read, ""]])
    quantities = plain(
        "quantities", "derived", HEADS, [["V", "1 V", "", "measured", f"{read}; late"]]
    )
    assert once(captures, quantities)["quantities"].rows[0].cells[-1] == "late"


def test_a_caution_stands_with_its_hazard_and_is_pointed_to():
    caution = "Bleed it first."
    hazards = plain("hazards", "hazards", ("Hazard", "Caution"), [["charge", caution]])
    heads = ("Energy source", "What it means")
    energy = plain("energy", "hazards", heads, [["rail", caution], ["brick", "hot"]])
    found = once(hazards, energy)["energy"]
    assert [r.cells[1] for r in found.rows] == ["usual caution: see the hazards", "hot"]
    assert once(energy)["energy"].rows[0].cells[1] == caution


def test_a_note_below_two_tables_of_a_section_stands_below_the_last():
    first = plain("a", "hazards", ("A",), [["1"]], ["Local codes come first.", "own"])
    second = plain("b", "hazards", ("A",), [["1"]], ["Local codes come first."])
    elsewhere = plain("c", "trials", ("A",), [["1"]], ["Local codes come first."])
    found = once(first, second, elsewhere)
    assert found["a"].notes == ("own",)
    assert found["b"].notes == found["c"].notes == ("Local codes come first.",)

"""The contact map draws what the contact table says, and says it in words."""

import re

import pytest

from benchproof import open_case
from benchproof.keeping.survey import Survey
from benchproof.showing.figures.contactmap import figure_of_contacts

STRIP = """\
format = 1
title = "An invented strip of contacts"
invented = true
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
"""
PLACES = {"P1": "0 mm", "P2": "2.54 mm", "P3": "5.08 mm"}


def opened(folder, places, extra=""):
    text = STRIP + extra
    for name, x in places.items():
        text += f'[[contact]]\nname = "{name}"\n'
        text += f'x = "{x}"\ny = "0 mm"\n' if x else ""
    (folder / "case.toml").write_text(text, encoding="utf-8")
    return open_case(folder)


@pytest.fixture
def strip(case_folder):
    case = opened(case_folder, PLACES)
    Survey(case).voltages({"asleep": "0.000 3.267 V", "awake": "OL - V"},
                          using="handheld")  # fmt: skip
    return case


def words(drawing):
    """Return the texts written in the picture."""
    return re.findall(r"<text[^>]*>([^<]*)</text>", drawing.svg)


def test_every_value_stands_in_the_picture_and_in_its_alternative(strip):
    drawing = figure_of_contacts(strip)
    said = words(drawing)
    for name in ("V_P1_asleep", "V_P3_asleep"):
        assert str(strip[name]) in said
        assert str(strip[name]) in drawing.alt
    assert str(strip["V_P1_awake"]).replace(">", "&gt;") in said
    assert said.count("P3") == 2
    assert {"asleep", "awake", "reference"} <= set(said)


def test_what_was_not_measured_is_written_and_not_left_out(strip):
    drawing = figure_of_contacts(strip)
    # Once in the explanation of the marks, once at P3 awake.
    assert words(drawing).count("not measured") == 2
    assert "P3 not measured" in drawing.alt


def test_a_value_the_meter_may_have_made_is_said_to_be_so(strip):
    alt = figure_of_contacts(strip).alt
    assert f"P1 {strip['V_P1_asleep']} (may be defined by the meter)" in alt
    assert alt.count("may be defined") == 1


def test_contacts_without_coordinates_are_named_and_not_drawn(case_folder):
    case = opened(case_folder, {**PLACES, "P4": ""})
    drawing = figure_of_contacts(case)
    assert "without coordinates: P4" in drawing.alt
    assert "P4" not in words(drawing)


def test_without_any_coordinate_a_sentence_says_so(case_folder, case):
    assert figure_of_contacts(case).svg == ""
    drawing = figure_of_contacts(opened(case_folder, dict.fromkeys(PLACES, "")))
    assert drawing.svg == ""
    assert "No contact has coordinates" in drawing.alt


def test_the_map_has_the_same_bytes_on_every_call(strip):
    assert figure_of_contacts(strip).svg == figure_of_contacts(strip).svg


def test_one_contact_and_many_can_be_drawn(case_folder):
    assert figure_of_contacts(opened(case_folder, {"P2": "0 mm"})).svg
    many = {f"P{i}": f"{i} mm" for i in range(1, 25)}
    assert "P24" in words(figure_of_contacts(opened(case_folder, many)))


def test_the_map_stands_on_a_white_card_for_dark_pages(strip):
    assert "fill:#fff}" in figure_of_contacts(strip).svg


def test_a_dollar_in_the_name_of_a_state_is_no_mathematics(case_folder):
    opened(case_folder, PLACES)
    path = case_folder / "case.toml"
    text = path.read_text(encoding="utf-8").replace('"awake"', '"awake $_{$ <b>"')
    path.write_text(text, encoding="utf-8")
    drawing = figure_of_contacts(open_case(case_folder))
    assert "awake $_{$ &lt;b&gt;" in words(drawing)

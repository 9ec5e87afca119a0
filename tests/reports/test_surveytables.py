"""What the contact table, the pair matrix and the mating order show."""

import time

import pytest

from benchproof import open_case
from benchproof.keeping.reports.surveytables import observed
from benchproof.keeping.survey import Survey
from benchproof.values.errors import InputError

STRIP = """\
format = 1
title = "An invented strip of contacts"
invented = true
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out", "drained"]
reference = "P2"
forbidden = [["P1", "P3", "<b>fuse</b>"]]
[[contact]]
name = "P1"
where = "pad 1"
guess = "charge +"
evidence = "wide trace"
confidence = "likely"
height = "0 mm"
[[contact]]
name = "P2"
height = "0.62 mm"
[[contact]]
name = "P3"
height = "0 mm"
[[contact]]
name = "P4"
"""


@pytest.fixture
def survey(case_folder):
    (case_folder / "case.toml").write_text(STRIP, encoding="utf-8")
    path = case_folder / "instruments.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("[handheld]\n", '[handheld]\ninput_resistance = "10 MΩ"\n', 1),
        encoding="utf-8",
    )
    return Survey(open_case(case_folder))


def cell(table, row, column):
    heads = [c.title for c in table.columns]
    (found,) = [r for r in table.rows if r[0] == row]
    return found[heads.index(column)]


def test_before_anything_is_measured_every_cell_says_so(survey):
    table = survey.table()
    assert cell(table, "P1", "V to P2, asleep") == "not measured"
    assert cell(table, "P1", "R to P2, pack out") == "not measured"
    assert cell(table, "P2", "V to P2, awake") == "reference"
    assert table.notes == ()
    assert not any("" in row for row in table.rows)


def test_a_declared_guess_stands_with_its_evidence(survey):
    guess = cell(survey.table(), "P1", "Function, as guessed")
    assert guess == "charge + (wide trace; likely)"
    assert cell(survey.table(), "P2", "Function, as guessed") == "not stated"


def test_values_and_bounds_stand_in_the_column_of_their_state(survey):
    survey.voltages("asleep", "0.500 OL - V", using="handheld")
    table = survey.table()
    text = cell(table, "P1", "V to P2, asleep")
    assert text == str(survey.case["V_P1_asleep"]) + " [1]"
    assert cell(table, "P3", "V to P2, asleep").startswith("> 59")
    assert cell(table, "P4", "V to P2, asleep") == "not measured"


def test_a_flagged_cell_carries_the_number_of_its_sentence(survey):
    survey.voltages({"asleep": "0.000 - - V", "awake": "2.0 - - V"}, using="handheld")
    table = survey.table()
    assert cell(table, "P1", "V to P2, asleep").endswith(" V [1]")
    assert table.notes[0].startswith("[1] P1, asleep: ")
    assert "handheld (10 MΩ input)" in table.notes[0]


def test_a_struck_value_is_not_measured_again(survey):
    survey.voltages("asleep", "0.500 - - V", using="handheld")
    survey.case.strike("V_P1_asleep", "0.500 V", because="the tip slipped")
    assert cell(survey.table(), "P1", "V to P2, asleep") == "not measured"


def test_a_voltage_without_power_gets_a_column_only_when_there_is_one(survey):
    heads = [c.title for c in survey.table().columns]
    assert "V to P2, pack out" not in heads
    survey.voltages("pack out", "0.000 0.000 0.000 V", using="handheld")
    assert cell(survey.table(), "P1", "V to P2, pack out").startswith("0.0000")


def test_the_pair_matrix_is_triangular_and_names_both_polarities(survey):
    survey.ohms("P3", "P2", "148 kohm", state="pack out", using="handheld")
    survey.ohms("P2", "P3", "OL Mohm", state="pack out", using="handheld")
    table = survey.pairs()
    assert table.title == "Ohms between contacts, pack out"
    assert [row[0] for row in table.rows] == ["P2", "P3", "P4"]
    assert [c.title for c in table.columns] == ["Contact", "P1", "P2", "P3"]
    both = cell(table, "P3", "P2")
    assert both.startswith("red 148(29) kΩ")
    assert "; black > 5" in both
    assert cell(table, "P4", "P3") == "not measured"
    assert cell(table, "P2", "P3") == "·"


def test_a_missing_polarity_is_named_as_such(survey):
    survey.ohms("P3", "P2", "140 ohm", state="pack out", using="handheld")
    assert cell(survey.pairs(), "P3", "P2").endswith("; black not measured")
    assert cell(survey.table(), "P3", "R to P2, pack out").startswith("red 140.0")


def test_the_row_contact_under_the_black_lead_is_shown_as_black(survey):
    survey.ohms("P2", "P3", "140 ohm", state="pack out", using="handheld")
    assert cell(survey.pairs(), "P3", "P2").startswith("red not measured; black 140.0")


def test_with_several_states_each_pair_names_them(survey):
    survey.ohms("P3", "P2", "140 ohm", state="pack out", using="handheld")
    survey.ohms("P3", "P2", "150 ohm", state="drained", using="handheld")
    both = cell(survey.pairs(), "P3", "P2")
    assert both.startswith("pack out: red 140.0")
    assert "; drained: red 150.0" in both


def test_a_forbidden_pair_is_marked_with_its_reason_before_it_is_measured(survey):
    table = survey.pairs()
    assert cell(table, "P3", "P1") == "not measured (forbidden)"
    assert any("forbidden pair: <b>fuse</b>" in note for note in table.notes)
    assert "<b>" not in table._repr_html_()


def test_the_pair_matrix_repeats_only_flags_about_ohms(survey):
    survey.voltages("asleep", "0.000 - - V", using="handheld")
    assert len(survey.flags()) == 2
    assert not any(note.startswith("[") for note in survey.pairs().notes)
    survey.ohms("P3", "P2", "1.90 Mohm", state="pack out", using="handheld")
    said = [note for note in survey.pairs().notes if note.startswith("[")]
    assert len(said) == 1
    assert "fingers" in said[0]


def test_the_mating_order_names_what_it_rests_on_and_what_is_not_stated(survey):
    table = survey.mating()
    assert [row[:3] for row in table.rows] == [
        ("P2", "1", "2"),
        ("P1", "2", "1"),
        ("P3", "2", "1"),
        ("P4", "not stated", "not stated"),
    ]
    assert cell(table, "P2", "Height") == "0.62 mm"
    assert "the highest makes first" in table.notes[0]


def test_without_contacts_the_tables_are_empty(case):
    survey = Survey(case)
    for table in (survey.table(), survey.pairs(), survey.mating()):
        assert table.rows == table.notes == ()


def test_a_declared_input_resistance_is_read_in_ohm(survey):
    assert observed(survey.case).input_ohm == {"handheld": 10e6}


@pytest.mark.parametrize("said", ["0 ohm", "1 2 ohm", "OL ohm", "10 V", "high"])
def test_an_input_resistance_that_is_none_is_refused_by_place(survey, said):
    path = survey.case.folder / "instruments.toml"
    text = path.read_text(encoding="utf-8").replace("10 MΩ", said)
    path.write_text(text, encoding="utf-8")
    broken = Survey(open_case(survey.case.folder))
    with pytest.raises(InputError, match=r"instruments.toml, handheld, input_res"):
        broken.table()


def big_case(folder):
    """Forty contacts in six states."""
    states = ", ".join(f'"s{i}"' for i in range(6))
    head = f'[survey]\nstates = [{states}]\nunpowered = ["out"]\nreference = "C0"\n'
    contacts = "".join(
        f'[[contact]]\nname = "C{i}"\nx = "{2.54 * (i % 20):.2f} mm"\n'
        f'y = "{i // 20} mm"\n'
        for i in range(40)
    )
    (folder / "case.toml").write_text(head + contacts, encoding="utf-8")
    survey = Survey(open_case(folder))
    row = " ".join(f"{0.5 + i / 100:.3f}" for i in range(39)) + " V"
    survey.voltages({f"s{i}": row for i in range(6)}, using="handheld")
    return survey


def test_forty_contacts_in_six_states_are_shown_within_a_second(case_folder):
    survey = big_case(case_folder)
    # Of the process, since other work on the machine is not ours to time.
    start = time.process_time()
    survey.table()._repr_html_()
    survey.pairs()._repr_html_()
    assert time.process_time() - start < 1.0

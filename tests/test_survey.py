"""Recording at contacts: rows, tables and pairs, all or nothing."""

import pytest

from benchproof import open_case
from benchproof.keeping.survey import Survey, row_cells
from benchproof.values.errors import (
    BenchproofError,
    FileError,
    InputError,
    RecordingRefusedError,
    UnitError,
)

STRIP = """\
format = 1
title = "An invented strip of contacts"
invented = true
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
[[contact]]
name = "P1"
[[contact]]
name = "P2"
[[contact]]
name = "P3"
[[contact]]
name = "P4"
"""
ROW = "0.021 3.267 0.000 V"


@pytest.fixture
def strip(case_folder):
    (case_folder / "case.toml").write_text(STRIP, encoding="utf-8")
    return open_case(case_folder)


@pytest.fixture
def survey(strip):
    return Survey(strip)


def rows(survey):
    path = survey.case.folder / "readings.csv"
    return path.read_text().splitlines()[1:] if path.exists() else []


# Rows of voltages ---------------------------------------------------------------------


def test_a_row_gives_each_contact_but_the_reference_its_measurand(survey):
    survey.voltages("asleep", ROW, using="handheld")
    case = survey.case
    assert str(case["V_P1_asleep"]) == "0.0210(17) V"
    assert str(case["V_P3_asleep"]).startswith("3.267")
    assert case["V_P4_asleep"].is_measured
    assert "V_P2_asleep" not in case.names()
    assert [r.at for r in case.book.record.readings] == [
        "P1, asleep", "P3, asleep", "P4, asleep",
    ]  # fmt: skip


def test_a_row_typed_twice_is_recorded_once(survey):
    for _ in range(2):
        survey.voltages("asleep", ROW, using="handheld")
    assert len(rows(survey)) == 3


def test_a_row_is_one_append_with_one_entry_for_each_contact(survey):
    survey.voltages("asleep", ROW, using="handheld")
    readings = survey.case.book.record.readings
    assert len({r.time for r in readings}) == 1
    assert len({r.entry for r in readings}) == 3
    # Read one after the other, they share no scatter: a strike must hit one only.
    assert {r.together for r in readings} == {""}


def test_striking_one_contact_leaves_the_others_of_its_row(survey):
    survey.voltages("asleep", ROW, using="handheld")
    survey.case.strike("V_P1_asleep", "0.021 V", because="the tip slipped")
    assert not survey.case["V_P1_asleep"].is_measured
    assert survey.case["V_P3_asleep"].is_measured


def test_a_dash_is_not_measured_and_waits(survey):
    survey.voltages("asleep", "0.021 - – V", using="handheld")
    assert len(rows(survey)) == 1
    assert str(survey.case["V_P3_asleep"]) == "(not measured yet)"


def test_a_dash_may_be_filled_in_later(survey):
    survey.voltages("asleep", "0.021 - 0.000 V", using="handheld")
    survey.voltages("asleep", ROW, using="handheld")
    assert len(rows(survey)) == 3


def test_over_range_is_a_bound_and_no_number(survey):
    survey.voltages("awake", "OL 3.267 0.000 V", using="handheld")
    assert str(survey.case["V_P1_awake"]).startswith("> 59")


def test_a_whole_table_is_recorded_by_state(survey):
    survey.voltages({"asleep": ROW, "awake": "0.021 3.267 3.299 V"}, using="handheld")
    assert len(rows(survey)) == 6
    assert survey.case["V_P4_awake"].is_measured


def test_contacts_may_be_named_and_read_several_times(survey):
    survey.voltages("asleep", {"P3": "3.267 3.268 3.267 V", "P1": "-"}, using="twin")
    assert len(rows(survey)) == 3
    assert not survey.case["V_P1_asleep"].is_measured


def test_a_cell_of_a_row_is_an_ordinary_measurand(survey):
    case = survey.case
    survey.voltages("asleep", ROW, using="handheld")
    case.record("V_P3_asleep", "3.267 3.268 V", using="handheld", at="P3, asleep")

    @case.derive(unit="V")
    def step(V_P3_asleep, V_P1_asleep):
        return V_P3_asleep - V_P1_asleep

    assert step.is_measured
    rival = case.hypothesis("H1", "Asleep it is off")
    rival.predicts("P3 is low", case["V_P3_asleep"].below("0.5 V"))
    assert case.verdicts().verdicts[0].word == "contradicted"


def test_another_value_is_refused_and_nothing_of_the_row_is_written(survey):
    survey.voltages("asleep", "0.021 - - V", using="handheld")
    with pytest.raises(RecordingRefusedError, match="V_P1_asleep already has readings"):
        survey.voltages("asleep", "0.022 3.267 0.000 V", using="handheld")
    assert len(rows(survey)) == 1


def test_a_correction_replaces_what_differs_and_adds_what_is_new(survey):
    survey.voltages("asleep", "0.021 3.267 - V", using="handheld")
    survey.voltages(
        "asleep", "0.022 3.267 0.000 V", using="handheld", because="digit misread"
    )
    record = survey.case.book.record
    assert len(record.of("V_P1_asleep")) == 2
    assert len(record.of("V_P3_asleep")) == 1
    assert record.of("V_P4_asleep")[0].because == ""
    assert str(survey.case["V_P1_asleep"]).startswith("0.0220")


def test_a_correction_of_nothing_is_refused(survey):
    with pytest.raises(RecordingRefusedError, match="there are none yet"):
        survey.voltages("asleep", ROW, using="handheld", because="digit misread")


def test_a_new_round_keeps_the_old_row(survey):
    survey.voltages("asleep", ROW, using="handheld")
    survey.case.new_round(because="new probe tips")
    survey.voltages("asleep", "0.020 3.266 0.001 V", using="handheld")
    old = Survey(survey.case.at_round(1))
    assert "0.0210" in str(old.table())
    assert "0.0200" in str(survey.table())


def test_a_note_tells_how_it_was_taken(survey):
    survey.voltages("asleep", ROW, using="handheld", note="clipped")
    assert survey.case.book.record.readings[0].at == "P1, asleep, clipped"


@pytest.mark.parametrize(
    ("state", "row", "said"),
    [
        ("asleep", "0.021 3.267 V", r"2 values for 3 contacts \(P1, P3, P4; the black"),
        ("asleep", "1 2 3 4 V", r"4 values for 3 contacts.*'-'"),
        ("asleep", "0.021 3.267 0.000", "does not end in a unit"),
        ("asleep", "0.021 3.267 -", "does not end in a unit"),
        ("asleep", "", "does not end in a unit"),
        ("asleep", "1 2 3 mA", "P1: 'mA' cannot be converted to 'V'"),
        ("asleep", "1 x 3 V", "P3: cannot read"),
        ("asleep", "1 0,5 3 V", "comma"),
        ("asleep", "1 3/4 2 V", "P3"),
        ("asleep", {"P9": "1 V"}, "contact 'P9' is not declared"),
        ("asleep", {"P2": "0 V"}, "P2 is the reference"),
        ("asleep", {"P1": "3 of 4"}, "P1"),
        ("asleep", {"P1": "3"}, "no unit"),
        ("sleeping", ROW, "state 'sleeping' is not declared.*asleep, awake, pack out"),
        ({"asleep": ROW}, ROW, "a mapping only"),
        ({"asleep": ROW, "wake": ROW}, "", "state 'wake' is not declared"),
    ],
)
def test_a_row_that_does_not_fit_is_refused_as_a_whole(survey, state, row, said):
    with pytest.raises(InputError, match=said):
        survey.voltages(state, row, using="handheld")
    assert rows(survey) == []
    assert survey.case.names() == []


def test_a_value_beyond_the_meter_is_refused_with_its_whole_row(survey):
    with pytest.raises(InputError, match="V_P3_asleep: 3267 V is above every range"):
        survey.voltages("asleep", "0.021 3267 0.000 V", using="handheld")
    assert rows(survey) == []


def test_a_row_without_an_instrument_has_no_uncertainty(survey):
    with pytest.raises(InputError, match="has no uncertainty"):
        survey.voltages("asleep", ROW)
    assert rows(survey) == []


def test_without_declared_contacts_nothing_can_be_surveyed(case):
    with pytest.raises(InputError, match=r"declares no contacts.*\[survey\]"):
        Survey(case).voltages("asleep", ROW)
    assert Survey(case).flags() == ()


def test_the_past_cannot_be_recorded_in(survey):
    old = Survey(survey.case.at_round(1))
    with pytest.raises(RecordingRefusedError, match="as it was in round 1"):
        old.voltages("asleep", ROW, using="handheld")


def test_separators_after_values_do_not_matter(survey):
    cells = row_cells(survey.plan, "asleep", "1.0, 2.0; -, V")
    assert cells == {"P1": "1.0 V", "P3": "2.0 V", "P4": "? V"}


# Ohms of pairs ------------------------------------------------------------------------


def test_each_polarity_is_a_measurand_of_its_own(survey):
    survey.ohms("P1", "P2", "OL Mohm", state="pack out", using="handheld")
    survey.ohms("P2", "P1", "4.90 Mohm", state="pack out", using="handheld")
    assert str(survey.case["R_P1_P2_pack_out"]).startswith("> 5")
    assert survey.case["R_P2_P1_pack_out"].is_measured
    assert survey.case.book.record.readings[0].at == "P1 to P2, pack out"


def test_ohms_in_a_powered_state_are_recorded_and_flagged(survey):
    survey.ohms("P1", "P2", "12.0 ohm", state="awake", using="handheld")
    assert len(rows(survey)) == 1
    assert [f.kind for f in survey.flags()] == ["powered"]


def test_a_struck_reading_of_fingers_flags_no_longer(survey):
    survey.ohms("P4", "P2", "1.90 Mohm", state="pack out", using="handheld")
    assert [f.kind for f in survey.flags()] == ["body"]
    survey.case.strike("R_P4_P2_pack_out", "1.90 Mohm", because="fingers on the tips")
    assert survey.flags() == ()


@pytest.mark.parametrize(
    ("red", "black", "reading", "state", "said"),
    [
        ("P1", "P9", "1 ohm", "pack out", "contact 'P9' is not declared"),
        ("P1", "P1", "1 ohm", "pack out", "both leads on one contact"),
        ("P1", "P2", "1 ohm", "pack in", "state 'pack in' is not declared"),
        ("P1", "P2", "1 V", "pack out", "'V' cannot be converted"),
        ("P1", "P2", "beep", "pack out", "beeps_below = '30 ohm'"),
        ("P1", "P2", "bip", "pack out", "cannot read"),
        ("P1", "P2", "3 of 4", "pack out", "cannot be converted"),
    ],
)
def test_ohms_that_do_not_fit_are_refused(survey, red, black, reading, state, said):
    with pytest.raises(InputError, match=said):
        survey.ohms(red, black, reading, state=state, using="handheld")
    assert rows(survey) == []


@pytest.fixture
def beeping(case_folder):
    (case_folder / "case.toml").write_text(STRIP, encoding="utf-8")
    path = case_folder / "instruments.toml"
    text = path.read_text(encoding="utf-8")
    here = '[handheld."Ω"]\n'
    path.write_text(text.replace(here, here + 'beeps_below = "30 ohm"\n'), "utf-8")
    return Survey(open_case(case_folder))


@pytest.mark.parametrize(
    ("said", "shown"), [("beep", "< 30 Ω"), ("No  beep", "> 30 Ω")]
)
def test_a_beep_is_the_bound_its_instrument_declares(beeping, said, shown):
    beeping.ohms("P1", "P2", said, state="pack out", using="handheld")
    assert str(beeping.case["R_P1_P2_pack_out"]) == shown
    beeping.ohms("P1", "P2", said, state="pack out", using="handheld")
    assert len(rows(beeping)) == 1


def test_a_beep_of_an_instrument_that_declares_none_is_refused(beeping):
    for using in ("twin", "", "nobody"):
        with pytest.raises(InputError, match="says nothing without"):
            beeping.ohms("P1", "P2", "beep", state="pack out", using=using)


@pytest.mark.parametrize("said", ["30 V", "30", "0 ohm", "often"])
def test_a_threshold_that_is_none_is_an_error_of_the_file(beeping, said):
    path = beeping.case.folder / "instruments.toml"
    text = path.read_text(encoding="utf-8").replace('"30 ohm"', f'"{said}"')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=r"instruments.toml, handheld.*beeps_below"):
        open_case(beeping.case.folder)


def test_a_survey_shows_its_contacts(survey):
    assert survey.voltages("asleep", ROW, using="handheld") == survey
    assert repr(survey) == str(survey.table())
    assert "<table>" in survey._repr_html_()


def test_every_refusal_is_one_of_ours(survey):
    for row in ("\x00 1 2 V", "V V V V", "1 2 ± V", "± ± ± V"):
        with pytest.raises(BenchproofError):
            survey.voltages("asleep", row, using="handheld")


def test_a_unit_that_is_missing_is_a_unit_error(survey):
    with pytest.raises(UnitError):
        survey.voltages("asleep", "1 2 3", using="handheld")

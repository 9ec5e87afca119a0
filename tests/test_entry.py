"""Quick entry without a browser: messages in, state out, rows in the logs."""

import json
import os
import subprocess
import sys

import nbformat
import pytest

from benchproof import open_case
from benchproof.keeping.entry import panel
from benchproof.keeping.entry.desk import Desk
from benchproof.keeping.entry.panel import Panel
from benchproof.keeping.entry.surveysteps import cells_of
from benchproof.keeping.runs.rerun import run_case

SURVEY = """\
format = 1
title = "An invented strip"
invented = true
[survey]
states = ["asleep"]
unpowered = ["pack out"]
reference = "P2"
forbidden = [["P4", "P2", "shorts the pack"]]
[[contact]]
name = "P1"
where = "edge"
[[contact]]
name = "P2"
[[contact]]
name = "P3"
[[contact]]
name = "P4"
"""


@pytest.fixture
def desk(case):
    case.record("V_idle", "? V")
    case.record("V_load", "? V")
    return Desk(case)


@pytest.fixture
def survey(case_folder):
    (case_folder / "case.toml").write_text(SURVEY, encoding="utf-8")
    desk = Desk(open_case(case_folder))
    desk.ask({"do": "mode", "mode": "survey"})
    return desk


@pytest.fixture
def trials(case):
    case.trials.plan(
        "power", outcomes=["lost", "kept"], repetitions=2, seed=1, stop="2 of each",
        factors={"supply": ["brick", "bench"]}, control={"supply": "bench"},
    )  # fmt: skip
    desk = Desk(case)
    desk.ask({"do": "mode", "mode": "trials"})
    return desk


def typed(desk, text, **more):
    return desk.ask({"do": "record", "text": text, "using": "handheld", **more})


def cell(desk, text, **more):
    name = desk.shown()["survey"]["next"]["name"]
    return typed(desk, text, cell=name, **more)


def log(desk, name="readings.csv"):
    path = desk.case.folder / name
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


# Readings ------------------------------------------------------------------------


def test_a_reading_is_on_disk_when_the_answer_says_so(desk):
    answer = typed(desk, "12.10 V", at="socket, idle")
    assert answer.ok
    assert answer.text.startswith("r-0001: V_idle 12.10 V.")
    assert log(desk)[1].startswith("r-0001,reading,1,V_idle,12.10,V,handheld,,,")


def test_what_was_set_stays_for_the_next_reading(desk):
    typed(desk, "12.10 V", at="socket, idle", range="60.00 V")
    desk.ask({"do": "record", "text": "12.09"})
    first, second = desk.case.book.record.readings
    assert (second.instrument, second.range, second.at) == (
        "handheld", "60.00 V", "socket, idle",
    )  # fmt: skip
    assert second.entry == first.entry
    assert desk.case["V_idle"].is_measured


def test_a_bare_number_takes_the_unit_that_stands_beside_it(desk):
    assert desk.shown()["readings"]["unit"] == "V"
    typed(desk, "391.2 mV")
    assert desk.shown()["readings"]["unit"] == "mV"
    typed(desk, "391.0")
    assert [r.value.unit for r in desk.case.book.record.readings] == ["mV", "mV"]


def test_the_same_reading_seen_again_is_another_reading(desk):
    for _ in range(3):
        assert typed(desk, "12.10 V").ok
    assert len(desk.case.state().measured["V_idle"].readings) == 3


def test_a_message_that_arrives_twice_is_recorded_once(desk):
    for _ in range(2):
        assert typed(desk, "12.10 V", number="a-1").ok
    assert len(desk.case.book.record.readings) == 1


def test_a_line_may_name_its_measurand(desk):
    typed(desk, "V_load 11.39 V")
    assert desk.case["V_load"].is_measured
    assert desk.shown()["readings"]["measurand"] == "V_load"


def test_a_new_measurand_can_be_typed(desk):
    assert typed(desk, "I_slew 2.65 A", using="clamp").ok
    assert "I_slew" in [n["name"] for n in desk.shown()["readings"]["names"]]


def test_a_name_alone_turns_to_that_measurand(desk):
    assert "Now V_load" in typed(desk, "V_load").text
    assert log(desk) == []


def test_turning_back_brings_back_how_it_was_taken(desk):
    typed(desk, "12.10 V", at="socket, idle")
    typed(desk, "V_load 11.39 V", at="socket, loaded")
    desk.ask({"do": "choose", "measurand": "V_idle"})
    assert desk.shown()["readings"]["taken"]["at"] == "socket, idle"


def test_an_unknown_name_alone_is_said_to_be_new(desk):
    assert "a new measurand" in typed(desk, "V_idel").text
    assert "new" not in typed(desk, "V_idle").text


def test_over_range_and_counts_are_typed_as_seen(desk):
    assert typed(desk, "R_leak OL Mohm").ok
    assert typed(desk, "fault 17 of 20", using="").ok
    values = [r.value for r in desk.case.book.record.readings]
    assert (values[0].bound, values[1].of) == ("OL", 20)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "type what the display shows"),
        ("12,08", "'12,08' has a comma"),
        ("%%", "cannot read '%%'"),
        ("12.1 ohm", "recorded in V, now in ohm"),
        ("900 V", "600"),
        ("12.1 furlongs", "furlong"),
    ],
)
def test_what_cannot_be_recorded_is_answered_with_the_reason(desk, text, said):
    typed(desk, "12.10 V")
    before = log(desk)
    answer = typed(desk, text, measurand="V_idle")
    assert not answer.ok
    assert said in answer.text
    assert log(desk) == before


def test_without_an_instrument_one_reading_is_refused(desk):
    answer = typed(desk, "12.10 V", using="")
    assert not answer.ok
    assert "no uncertainty" in answer.text
    assert log(desk) == []


def test_a_reading_taken_otherwise_is_refused_with_two_ways_on(desk):
    typed(desk, "12.10 V")
    answer = typed(desk, "12.30 V", using="twin")
    assert not answer.ok
    assert answer.offers == ("correction", "round")
    assert len(desk.case.book.record.readings) == 1


def test_a_correction_supersedes_and_keeps_the_old_reading(desk):
    typed(desk, "12.10 V")
    assert typed(desk, "12.30 V", because="read the wrong meter").ok
    assert [r["state"] for r in desk.shown()["rows"]] == ["", "superseded"]


def test_a_round_that_a_cell_opened_is_seen_when_the_panel_is_used_again(desk):
    desk.ask(
        {"do": "record", "text": "V_idle 12.10 V", "using": "handheld", "number": "1"}
    )
    said = desk.answer
    desk.case.new_round(because="an objection")
    assert desk.ask({"do": "look"}) == said
    assert desk.shown()["round"] == 2
    assert desk.shown()["answer"]["number"] == "1"


def test_the_first_reading_is_taken_as_the_notebook_announced_it(case):
    case.record("V_idle", "? V", using="twin", at="socket, idle", range="60.00 V")
    desk = Desk(case)
    desk.ask({"do": "record", "text": "12.10"})
    (reading,) = case.book.record.readings
    assert (reading.instrument, reading.at) == ("twin", "socket, idle")
    assert (reading.range, reading.value.unit) == ("60.00 V", "V")


def test_what_is_measured_again_is_taken_as_it_was_before(desk):
    desk.ask(
        {"do": "record", "text": "V_idle 12.10 V", "using": "handheld", "at": "socket"}
    )
    desk.ask({"do": "record", "text": "V_load 11.39 V", "using": "twin", "at": "lead"})
    desk.case.new_round(because="an objection")
    desk.ask({"do": "choose", "measurand": "V_idle"})
    taken = desk.shown()["readings"]["taken"]
    assert (taken["using"], taken["at"]) == ("handheld", "socket")


def test_a_new_round_records_the_line_that_was_refused(desk):
    typed(desk, "12.10 V")
    answer = typed(desk, "12.10 V", do="round", because="the owner objected")
    assert answer.ok
    assert "Round 2 is open" in answer.text
    assert [r.round for r in desk.case.book.record.readings] == [1, 2]


def test_a_new_round_without_a_reason_is_refused(desk):
    typed(desk, "12.10 V")
    assert not typed(desk, "12.10 V", do="round", because=" ").ok
    assert len(log(desk)) == 2


def test_a_strike_asks_for_a_physical_reason_and_keeps_the_reading(desk):
    typed(desk, "12.10 V")
    assert not desk.ask({"do": "strike", "row": "r-0001", "because": ""}).ok
    assert desk.ask({"do": "strike", "row": "r-0001", "because": "probe off"}).ok
    assert desk.shown()["rows"][0]["state"] == "struck"
    assert not desk.case["V_idle"].is_measured


def test_after_a_strike_the_next_reading_counts_beside_the_others(desk):
    for text in ("12.10 V", "1.209 V"):
        typed(desk, text)
    desk.ask({"do": "strike", "row": "r-0002", "because": "the point was left out"})
    typed(desk, "12.09 V")
    counted = desk.case.state().measured["V_idle"].readings
    assert [r.value.text for r in counted] == ["12.10", "12.09"]


def test_a_row_that_is_not_there_cannot_be_struck(desk):
    assert "no reading 'r-9'" in desk.ask({"do": "strike", "row": "r-9"}).text


def test_a_slip_of_the_prefix_is_flagged_at_once(desk):
    typed(desk, "3.284 V")
    assert "10 times smaller" in typed(desk, "0.3284 V").flags[0]


def test_a_drift_is_flagged_while_the_leads_are_still_on(desk):
    for text in ("1.930", "2.280", "2.710", "3.050", "3.360"):
        answer = typed(desk, f"{text} V", range="6.000 V")
    assert any("drift" in flag for flag in answer.flags)


def test_steady_readings_raise_no_flag(desk):
    for text in ("3.284", "3.285", "3.284", "3.283", "3.284"):
        answer = typed(desk, f"{text} V", range="6.000 V")
    assert answer.flags == ()


def test_what_another_kernel_recorded_is_not_written_over(desk):
    typed(desk, "12.10 V")
    other = open_case(desk.case.folder)
    other.record("V_idle", "12.10 12.11 V", using="handheld")
    assert typed(desk, "12.12 V").ok
    texts = [r.value.text for r in desk.case.state().measured["V_idle"].readings]
    assert texts == ["12.10", "12.11", "12.12"]


def test_a_full_disk_is_an_answer_and_not_a_silence(desk, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(desk.case.book, "append", full)
    answer = typed(desk, "12.10 V")
    assert not answer.ok
    assert "No space left" in answer.text


def test_something_unforeseen_is_said_too(desk, monkeypatch):
    monkeypatch.setattr(desk.case, "record", lambda *_, **__: 1 / 0)
    answer = typed(desk, "12.10 V")
    assert not answer.ok
    assert "ZeroDivisionError" in answer.text


def test_an_earlier_round_is_looked_at_and_not_typed_into(desk):
    typed(desk, "12.10 V")
    desk.case.new_round(because="again")
    answer = typed(Desk(desk.case.at_round(1)), "12.10 V")
    assert not answer.ok
    assert "as it was in round 1" in answer.text


def test_an_unknown_request_names_the_known_ones(desk):
    assert "is not one of mode" in desk.ask({"do": "erase"}).text
    assert not desk.ask({"do": "mode", "mode": "erase"}).ok


def test_everything_shown_is_plain_data(desk):
    typed(desk, "12.10 V")
    assert json.loads(json.dumps(desk.shown())) == desk.shown()


def test_a_case_without_anything_declared_says_what_to_do(case):
    desk = Desk(case)
    assert "what is measured first" in typed(desk, "12.10 V").text


# The contact survey --------------------------------------------------------------


def test_the_survey_goes_state_by_state_and_leaves_out_what_is_forbidden(survey):
    assert [c.name for c in cells_of(survey.case.file.survey)] == [
        "V_P1_asleep", "V_P3_asleep", "V_P4_asleep",
        "R_P1_P2_pack_out", "R_P3_P2_pack_out",
    ]  # fmt: skip


def test_each_enter_leads_to_the_next_contact(survey):
    assert survey.shown()["survey"]["next"]["contact"] == "P1"
    assert cell(survey, "0.021").ok
    assert survey.shown()["survey"]["next"]["contact"] == "P3"
    assert survey.case.contacts.case["V_P1_asleep"].is_measured


def test_a_state_is_announced_when_it_changes(survey):
    assert survey.shown()["survey"]["next"]["new_state"]
    cell(survey, "0.021 V")
    assert not survey.shown()["survey"]["next"]["new_state"]
    cell(survey, "3.267 V")
    cell(survey, "3.267 V")
    following = survey.shown()["survey"]["next"]
    assert (following["state"], following["new_state"]) == ("pack out", True)


def test_a_contact_can_be_passed_over_and_asked_for_again(survey):
    assert cell(survey, "-").ok
    assert survey.shown()["survey"]["next"]["contact"] == "P3"
    survey.ask({"do": "again"})
    assert survey.shown()["survey"]["next"]["contact"] == "P1"
    assert log(survey) == []


def test_ohms_need_their_unit_since_no_prefix_is_usual(survey):
    for _ in range(3):
        cell(survey, "0.1 V")
    assert not cell(survey, "148").ok
    assert cell(survey, "148 ohm").ok
    assert survey.case["R_P1_P2_pack_out"].is_measured


def test_a_survey_reading_goes_to_the_contact_that_was_shown(survey):
    shown = survey.shown()["survey"]["next"]["name"]
    survey.case.contacts.voltages("asleep", {"P1": "0.021 V"}, using="handheld")
    answer = typed(survey, "3.267", cell=shown)
    assert not answer.ok
    assert "not waiting" in answer.text


def test_a_struck_survey_reading_is_asked_for_again(survey):
    cell(survey, "0.0021 V")
    survey.ask({"do": "strike", "row": "r-0001", "because": "probe beside the pad"})
    assert survey.shown()["survey"]["next"]["contact"] == "P1"
    assert cell(survey, "0.0210 V").ok
    assert len(survey.case.state().measured["V_P1_asleep"].readings) == 1


def test_at_the_end_nothing_is_asked_for(survey):
    for text in ("0.1 V", "0.1 V", "0.1 V", "148 ohm", "OL kohm"):
        assert cell(survey, text).ok
    assert "next" not in survey.shown()["survey"]
    assert survey.shown()["survey"]["left"] == 0


def test_a_case_without_contacts_has_no_survey(desk):
    desk.ask({"do": "mode", "mode": "survey"})
    assert not desk.shown()["survey"]["there"]


# Trials --------------------------------------------------------------------------


def due(desk):
    return str(desk.shown()["trials"]["next"]["place"])


def test_one_key_records_an_outcome_and_leads_to_the_next_place(trials):
    assert trials.shown()["trials"]["keys"]["l"] == "lost"
    assert trials.ask({"do": "outcome", "seen": "l", "place": due(trials)}).ok
    assert due(trials) == "2"
    assert len(log(trials, "trials.csv")) == 3


def test_a_key_pressed_twice_does_not_change_what_was_seen(trials):
    trials.ask({"do": "outcome", "seen": "l", "place": "1"})
    answer = trials.ask({"do": "outcome", "seen": "k", "place": "1"})
    assert not answer.ok
    assert "recorded as 'lost'" in answer.text


def test_an_outcome_is_corrected_for_a_reason_and_the_old_one_is_shown(trials):
    trials.ask({"do": "outcome", "seen": "l", "place": "1"})
    asked = {"do": "correct", "attempt": "1", "seen": "kept"}
    assert not trials.ask({**asked, "because": ""}).ok
    assert trials.ask({**asked, "because": "pressed the wrong key"}).ok
    made = trials.shown()["trials"]["made"][0]
    assert (made["typed"], made["outcome"]) == ("lost", "kept")


def test_an_attempt_without_outcome_leaves_its_place_open(trials):
    asked = {"do": "aborted", "place": "1", "because": "the fuse blew"}
    assert trials.ask(asked).ok
    assert due(trials) == "1"


def test_a_place_that_is_not_done_is_passed_with_its_reason(trials):
    assert trials.ask({"do": "skip", "place": "1", "because": "no brick left"}).ok
    assert due(trials) == "2"


def test_in_a_new_round_the_plan_begins_again(trials):
    trials.ask({"do": "outcome", "seen": "l", "place": "1"})
    trials.case.new_round(because="another brick")
    assert due(trials) == "1"
    assert trials.ask({"do": "outcome", "seen": "k", "place": "1"}).ok


def test_another_plan_can_be_chosen(trials):
    trials.case.trials.plan(
        "wiggle", outcomes=["lost", "kept"], repetitions=1, seed=1, stop="1 of each",
        factors={"hand": ["still", "wiggling"]}, control={"hand": "still"},
    )  # fmt: skip
    assert trials.ask({"do": "plan", "plan": "wiggle"}).ok
    assert trials.shown()["trials"]["plan"] == "wiggle"
    assert not trials.ask({"do": "plan", "plan": "none"}).ok


def test_a_case_without_a_plan_says_how_to_write_one(desk):
    desk.ask({"do": "mode", "mode": "trials"})
    assert not desk.shown()["trials"]["there"]
    assert "case.trials.plan" in desk.ask({"do": "outcome", "place": "1"}).text


# The panel in a cell -------------------------------------------------------------


def test_the_panel_as_text_is_the_latest_readings(desk):
    typed(desk, "12.10 V")
    shown = Panel(desk.case)
    assert "r-0001" in repr(shown)
    assert "<table>" in shown._repr_html_()


def test_before_anything_is_typed_the_table_says_so(case):
    assert "No reading yet" in repr(Panel(case))


def test_the_table_keeps_to_the_latest_and_says_how_many_are_earlier(desk):
    typed(desk, " ".join(["12.10"] * 15) + " V")
    table = Panel(desk.case).table()
    assert len(table.rows) == 12
    assert table.notes == ("3 earlier: case.report('readings').",)


def notebook_in(folder):
    cells = [
        "from benchproof import open_case\n"
        "from benchproof.keeping.entry.panel import Panel\n"
        "case = open_case()",
        "Panel(case)",
    ]
    book = nbformat.v4.new_notebook(cells=list(map(nbformat.v4.new_code_cell, cells)))
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    nbformat.write(book, folder / "investigation.ipynb")
    return folder / "investigation.ipynb"


def test_a_run_with_nobody_there_shows_the_table_and_compares_equal_again(desk):
    typed(desk, "12.10 V")
    path = notebook_in(desk.case.folder)
    run_case(desk.case.folder)
    (output,) = nbformat.read(path, as_version=4).cells[1].outputs
    assert set(output.data) == {"text/html", "text/plain"}
    assert "12.10 V" in output.data["text/html"]
    if panel.can_show():  # else the hint on how to get the panel is one output more
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "--nbval", "-q", "-p", "no:cacheprovider",
             "-c", os.devnull, str(path)],
            capture_output=True, text=True, timeout=60, cwd=desk.case.folder,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout


def test_without_the_extra_the_panel_says_how_to_go_on(desk, monkeypatch, capsys):
    monkeypatch.setattr(panel, "can_show", lambda: False)
    monkeypatch.delenv("BENCHPROOF_RERUN", raising=False)
    Panel(desk.case)._ipython_display_()
    assert "benchproof[entry]" in capsys.readouterr().err


def test_the_widget_carries_messages_to_the_desk_and_its_state_back(desk):
    pytest.importorskip("anywidget", reason="needs the extra: benchproof[entry]")
    widget = panel._widget_for(desk)
    changes = []
    panel._attach(widget, desk, lambda: changes.append(1))
    asked = {"do": "record", "text": "12.10 V", "using": "handheld", "number": "a-1"}
    widget._handle_custom_msg(asked, [])
    assert widget.shown["answer"]["number"] == "a-1"
    assert widget.shown["answer"]["ok"]
    assert changes == [1]
    widget._handle_custom_msg({"do": "record", "text": "nonsense"}, [])
    assert changes == [1]


def test_the_script_fetches_nothing_and_puts_no_text_in_as_markup():
    script = (panel._HERE / "panel.js").read_text(encoding="utf-8")
    for barred in ("http", "import ", "innerHTML", "fetch(", "eval("):
        assert barred not in script

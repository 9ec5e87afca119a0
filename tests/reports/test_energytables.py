"""Energy sources in the notebook and in the write-up: before anything is done."""

import re
import tomllib

import nbformat
import pytest

from benchproof import new_case, open_case
from benchproof.keeping.reports.report import report_tables
from benchproof.reasoning.cautions import CAUTIONS, DEFER
from benchproof.reasoning.energies import energy_from
from benchproof.showing.page.writeup import render_writeup

DECLARED = """\
title = "A case for the tests"
invented = true
[hazards]
heat = ""
[[energy]]
name = "rail <capacitor>"
kind = "stored charge"
capacitance = "2200 uF"
voltage = "12.1 V"
bleed = "100 ohm"
bleed_to = "0.1 V"
check = "below 0.1 V"
when = "before ohms"
stop = "above 0.1 V after 5 s: stop"
[[energy]]
name = "brick"
kind = "mains"
voltage = "230 V"
deferred = "a fault inside it"
"""


@pytest.fixture
def declared(case_folder):
    (case_folder / "case.toml").write_text(DECLARED, encoding="utf-8")
    return open_case(case_folder)


def rows(case, name):
    found = case.report("energy").rows
    return {what: (value, means) for source, what, value, means in found
            if source == name}  # fmt: skip


def test_caution_stop_rule_and_check_stand_before_the_numbers(declared):
    assert list(rows(declared, "rail <capacitor>")) == [
        "kind",
        "stop rule",
        "what was checked",
        "voltage",
        "capacitance",
        "bleed resistor",
        "stored energy",
        "bleed time to the touch limit of 60 V DC (dry)",
        "bleed time to 0.1 V",
    ]


def test_what_is_declared_and_computed_is_shown(declared):
    rail = rows(declared, "rail <capacitor>")
    assert rail["kind"] == ("stored charge", CAUTIONS["stored charge"])
    assert rail["what was checked"] == ("below 0.1 V", "when: before ohms")
    assert rail["stored energy"][0] == "0.161 J"
    assert rail["bleed time to 0.1 V"][0] == "1.06 s"  # 0.22 s × ln 121


def test_open_questions_and_missing_values_stay_visible(declared):
    brick = rows(declared, "brick")
    assert brick["stop rule"][0] == "NOT ANSWERED"
    assert brick["what was checked"][0] == "NOT ANSWERED"
    assert brick["current limit"][0] == "not stated"
    assert brick["left undone"][0] == "a fault inside it"
    assert "above the touch limits of 30 V rms" in brick["voltage"][1]


def test_the_overview_shows_each_source_with_stop_rule_and_caution(declared):
    overview = dict(declared.report("overview").rows)
    rail, brick = overview["Energy: rail <capacitor>"], overview["Energy: brick"]
    assert "stored energy 0.161 J" in rail
    assert "stop rule: above 0.1 V after 5 s: stop" in rail
    assert CAUTIONS["stored charge"] in rail
    assert "stop rule: NOT ANSWERED" in brick
    assert "above the touch limits" in brick
    assert DEFER in declared.report("overview").notes
    assert overview["Hazards unanswered"] == "heat"


def test_the_energy_report_defers_to_local_codes(declared, case_folder):
    assert declared.report("energy").notes[-1] == DEFER
    (case_folder / "case.toml").write_text('title = "x"', encoding="utf-8")
    empty = open_case(case_folder)
    assert empty.report("energy").rows == ()
    assert empty.report("energy").notes[0].startswith("No energy source is named")
    assert dict(empty.report("overview").rows)["Energy sources"].startswith("none")


def test_nothing_is_called_safe_but_in_saying_that_it_is_not_said(declared):
    said = f"{declared.report('energy').rows} {declared.report('overview').rows}"
    assert "does not say that it is safe" in said
    assert len(re.findall("safe", said)) == len(re.findall("say that it is safe", said))


def test_the_write_up_shows_energy_sources_before_any_procedure(declared):
    notebook = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_markdown_cell("## Procedure\nBleed it.")]
    )
    results = {"title": "x", "tables": report_tables(declared)}
    page = render_writeup(notebook, results)
    energy = page.index("Energy sources")
    assert page.index('<h2 id="hazards">') < energy < page.index('<h2 id="instruments"')
    assert energy < page.index("Bleed it.")
    assert "NOT ANSWERED" in page
    assert "rail &lt;capacitor&gt;" in page
    assert DEFER in page[energy:]


def test_the_template_asks_about_energy_and_its_example_can_be_read(tmp_path):
    folder = new_case("Pump trips", tmp_path)
    text = (folder / "case.toml").read_text(encoding="utf-8")
    example = text[text.index("# [[energy]]") :].partition("\n#\n")[0]
    (entry,) = tomllib.loads(re.sub("(?m)^# ", "", example))["energy"]
    assert energy_from(entry, "case.toml").kind == "stored charge"
    assert all(kind in text for kind in CAUTIONS)
    notebook = (folder / "investigation.ipynb").read_text(encoding="utf-8")
    assert 'case.report(\\"energy\\")' in notebook


def test_no_caution_promises_anything():
    words = re.compile(r"\b(never|proved|confirmed|impossible|ruled out|safe)\b")
    assert not [text for text in CAUTIONS.values() if words.search(text)]

"""A case folder from the template, and the worked case from the wheel."""

import json
import re
import tomllib

import pytest

from benchproof import new_case, open_case
from benchproof.keeping.captures.library import declared_captures
from benchproof.keeping.casefile import read_case_file, read_instruments
from benchproof.keeping.newcase import BENCH, TITLE, copy_worked_case, folder_name
from benchproof.keeping.runs.rerun import read_notebook
from benchproof.values.errors import FileError, InputError

TITLES = [
    "Garden pump trips its socket",
    'The "good" cable',
    r"Drive C:\new\temp is lost",
    "Prüfling 7 Ω – übertemperatur",
    "Drops $(x) and `y` and ${z}",
    "It's 50 % off; rm -rf *",
    "TITLE OF THE CASE again",
]


def heading(folder):
    return read_notebook(folder / "investigation.ipynb").cells[0].source.split("\n")[0]


def test_a_new_case_has_its_three_files_and_no_results(tmp_path):
    folder = new_case("Garden pump trips", tmp_path)
    assert folder == tmp_path / "garden-pump-trips"
    assert sorted(p.name for p in folder.iterdir()) == [
        "case.toml",
        "instruments.toml",
        "investigation.ipynb",
    ]
    assert "handheld" in read_instruments(folder / "instruments.toml")
    assert all(
        not c.outputs
        for c in read_notebook(folder / "investigation.ipynb").cells
        if c.cell_type == "code"
    )


@pytest.mark.parametrize("title", TITLES)
def test_a_title_survives_in_the_case_file(tmp_path, title):
    assert read_case_file(new_case(title, tmp_path) / "case.toml").title == title


@pytest.mark.parametrize("title", TITLES)
def test_a_title_survives_in_the_notebook(tmp_path, title):
    assert heading(new_case(title, tmp_path)) == f"# {title}"


def test_the_template_keeps_no_placeholder(tmp_path):
    folder = new_case("Garden pump trips", tmp_path)
    for path in folder.iterdir():
        assert TITLE not in path.read_text(encoding="utf-8")


def test_the_capture_lines_of_the_template_are_understood_once_uncommented(tmp_path):
    folder = new_case("Fan hums", tmp_path)
    path = folder / "case.toml"
    text = path.read_text("utf-8")
    (block,) = re.findall(r"(?ms)^# \[capture_defaults\].*?(?=^$)", text)
    path.write_text(text + re.sub("(?m)^# ?", "", block), "utf-8")
    case = open_case(folder)
    (rail,) = declared_captures(case.file.captures, case.file.capture_defaults)
    assert (rail.name, rail.instrument, rail.bits) == ("rail", "scope", 8)
    assert (rail.probe_ratio, rail.full_screen, rail.bandwidth) == (10, 16, 20e6)


def test_a_quick_check_has_the_files_of_a_case_and_the_bench_s_instruments(tmp_path):
    folder = new_case("Garden pump trips", tmp_path, template="quick")
    whole = new_case("Garden pump trips too", tmp_path)
    assert {p.name for p in folder.iterdir()} == {p.name for p in whole.iterdir()}
    told = [read_instruments(f / "instruments.toml") for f in (folder, whole)]
    assert told[0] == told[1]
    assert read_case_file(folder / "case.toml").title == "Garden pump trips"


def test_an_existing_folder_is_left_alone(tmp_path):
    folder = new_case("Garden pump", tmp_path)
    (folder / "readings.csv").write_text("mine", encoding="utf-8")
    (folder / "case.toml").write_text("mine too", encoding="utf-8")
    with pytest.raises(FileError, match="garden-pump exists already"):
        new_case("Garden Pump!", tmp_path)
    assert (folder / "readings.csv").read_text(encoding="utf-8") == "mine"
    assert (folder / "case.toml").read_text(encoding="utf-8") == "mine too"


def test_a_file_of_that_name_is_left_alone(tmp_path):
    (tmp_path / "pump").write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match="exists already"):
        new_case("Pump", tmp_path)
    assert (tmp_path / "pump").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("title", ["", "   ", "../..", "$$$"])
def test_a_title_without_a_letter_is_refused(tmp_path, title):
    with pytest.raises(InputError, match="no letter or digit"):
        new_case(title, tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("title", ["CON", "nul", "Com1", "lpt9"])
def test_a_name_that_windows_keeps_for_a_device_is_not_used(title):
    assert folder_name(title) == f"{title.lower()}-case"


@pytest.mark.parametrize("title", ["../../etc/passwd", "/abs", "a/b", ".hidden", "CON"])
def test_a_folder_name_stays_inside_its_parent(title):
    name = folder_name(title)
    assert name.strip("-abcdefghijklmnopqrstuvwxyz") == ""
    assert len(folder_name("long " * 100)) <= 60


def test_a_worked_case_is_copied_once_and_then_kept(tmp_path):
    folder = copy_worked_case("lost-alignment", tmp_path)
    assert tomllib.loads((folder / "case.toml").read_text("utf-8"))["invented"] is True
    notebook = json.loads((folder / "investigation.ipynb").read_text("utf-8"))
    assert notebook["nbformat"] == 4
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    assert copy_worked_case("lost-alignment", tmp_path) == folder
    assert (folder / "mine.txt").exists()
    assert not (folder / "results.json").exists()


def test_a_worked_case_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FileError, match="no worked case 'nothing'"):
        copy_worked_case("nothing", tmp_path)


# From an existing case, and from the bench's instruments ----------------------------

LIKE = """\
format = 1
title = "An earlier strip"
invented = true
[claim]
text = "it wakes by itself"
source = "a forum"
[hazards]
"lithium cells" = "one, taken out"
"tank \\"water\\"" = ""
[[difference]]
field = "firmware"
reported = "1.2"
tested = "1.3"
same = "different"
[[energy]]
name = "cell"
kind = "lithium cells"
voltage = "4.2 V"
check = "measured"
stop = "swelling"
[survey]
states = ["asleep"]
unpowered = ["pack out"]
reference = "P2"
forbidden = [["P1", "P2", "shorts the \\"pack\\" at C:\\\\x"]]
[[contact]]
name = "P1"
where = "edge"
x = "0 mm"
y = "1 mm"
guess = "supply"
evidence = "trace followed"
confidence = "seen"
[[contact]]
name = "P2"
"""

BENCH_FILE = """\
# our own bench
[bench_meter]
description = "invented bench meter"
["bench_meter"."DC V"]
unit = "V"
accuracy = "±(0.1 % + 2 digits)"
ranges = ["5.0000 V"]
"""


@pytest.fixture
def like(tmp_path):
    folder = tmp_path / "earlier"
    folder.mkdir()
    (folder / "case.toml").write_text(LIKE, encoding="utf-8")
    bench = BENCH_FILE.replace("bench_meter", "like_meter")
    (folder / "instruments.toml").write_text(bench, encoding="utf-8")
    (folder / "readings.csv").write_text("not for the new one", encoding="utf-8")
    return folder


@pytest.fixture
def bench(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH_FILE, encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def no_bench_named(monkeypatch):
    monkeypatch.delenv(BENCH, raising=False)


def test_a_case_like_another_asks_what_that_one_asked(tmp_path, like):
    file = read_case_file(new_case("Next strip", tmp_path, like=like) / "case.toml")
    assert [h.kind for h in file.hazards] == ["lithium cells", 'tank "water"']
    assert [d.field for d in file.differences] == ["firmware"]
    assert [(e.name, e.kind) for e in file.energies] == [("cell", "lithium cells")]


def test_a_case_like_another_keeps_none_of_its_answers(tmp_path, like):
    folder = new_case("Next strip", tmp_path, like=like)
    file = read_case_file(folder / "case.toml")
    assert (file.title, file.claim.text, file.invented) == ("Next strip", "", False)
    assert {h.answer for h in file.hazards} == {""}
    (difference,) = file.differences
    assert (difference.reported, difference.tested) == ("", "")
    assert difference.same == "unknown"
    (cell,) = file.energies
    assert (cell.voltage, cell.check, cell.stop) == (None, "", "")
    assert not (folder / "readings.csv").exists()


def test_a_case_like_another_has_its_contacts_but_what_was_seen_is_a_guess(
    tmp_path, like
):
    earlier = read_case_file(like / "case.toml").survey
    survey = read_case_file(
        new_case("Next strip", tmp_path, like=like) / "case.toml"
    ).survey
    assert (survey.names, survey.states) == (earlier.names, earlier.states)
    assert survey.forbidden == earlier.forbidden
    first = survey.contacts[0]
    assert first.place == earlier.contacts[0].place
    assert (first.guess, first.evidence, first.confidence) == ("supply", "", "guess")


def test_the_case_started_from_is_left_as_it_was(tmp_path, like):
    before = {p.name: p.read_bytes() for p in like.iterdir()}
    new_case("Next strip", tmp_path, like=like)
    assert {p.name: p.read_bytes() for p in like.iterdir()} == before


@pytest.mark.parametrize("name", ["lost-alignment", "freezing-scanner"])
def test_a_case_like_a_worked_one_opens(tmp_path, name):
    worked = copy_worked_case(name, tmp_path)
    case = open_case(new_case("The next one", tmp_path, like=worked))
    assert case.file.survey.names == read_case_file(worked / "case.toml").survey.names
    assert case.instruments == read_instruments(worked / "instruments.toml")


def test_a_folder_that_is_no_case_cannot_be_started_from(tmp_path):
    with pytest.raises(FileError, match=r"case\.toml is missing"):
        new_case("Next strip", tmp_path, like=tmp_path / "nowhere")
    assert list(tmp_path.iterdir()) == []


def instruments_of(folder):
    return list(read_instruments(folder / "instruments.toml"))


def test_the_bench_file_is_copied_as_it_is(tmp_path, bench):
    folder = new_case("Next strip", tmp_path, instruments=bench)
    assert (folder / "instruments.toml").read_text("utf-8") == BENCH_FILE


def test_the_notebook_asks_for_the_bench_s_instruments_and_not_the_invented_one(
    tmp_path, bench
):
    folder = new_case("Next strip", tmp_path, instruments=bench)
    cells = read_notebook(folder / "investigation.ipynb").cells
    asked = [c.source for c in cells if '"? V"' in c.source]
    assert asked
    assert all('"? V", using="bench_meter"' in text for text in asked)
    # It reads volts only: for amperes the name is left to the person.
    assert any('"? A", using="handheld"' in text for text in asked)


def test_the_bench_file_is_found_by_its_environment_variable(
    tmp_path, bench, monkeypatch
):
    monkeypatch.setenv(BENCH, str(bench))
    assert instruments_of(new_case("Next strip", tmp_path)) == ["bench_meter"]


def test_what_is_said_goes_before_what_is_set(tmp_path, bench, like, monkeypatch):
    monkeypatch.setenv(BENCH, str(bench))
    assert instruments_of(new_case("A", tmp_path, like=like)) == ["like_meter"]
    both = new_case("B", tmp_path, like=like, instruments=bench)
    assert instruments_of(both) == ["bench_meter"]


def test_a_bench_file_that_is_not_there_is_said_before_anything_is_made(tmp_path):
    with pytest.raises(FileError, match=r"bench\.toml, the instruments to copy"):
        new_case("Next strip", tmp_path, instruments=tmp_path / "bench.toml")
    assert list(tmp_path.iterdir()) == []


def test_a_broken_bench_file_is_refused_before_anything_is_made(tmp_path, bench):
    bench.write_text("[meter]\nunit = ", encoding="utf-8")
    with pytest.raises(FileError, match=r"bench\.toml"):
        new_case("Next strip", tmp_path, instruments=bench)
    assert list(tmp_path.iterdir()) == [bench]

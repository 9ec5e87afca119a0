"""A case folder from the template, and the worked case from the wheel."""

import json
import tomllib

import pytest

from benchproof import new_case
from benchproof.keeping.casefile import read_case_file, read_instruments
from benchproof.keeping.newcase import TITLE, copy_worked_case, folder_name
from benchproof.keeping.rerun import read_notebook
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

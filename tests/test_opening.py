"""A process finds the cases it opened again."""

import os
from pathlib import Path

import pytest
from conftest import CASE

from benchproof import open_case
from benchproof.keeping.opening import opened_case
from benchproof.values.errors import InputError


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "pump"
    made.mkdir()
    (made / "case.toml").write_text(CASE, encoding="utf-8")
    return made


def test_the_case_opened_last_in_a_folder_is_found(folder):
    open_case(folder)
    last = open_case(folder)
    assert opened_case(folder) is last


def test_a_case_is_found_under_another_name_of_its_folder(folder, monkeypatch):
    case = open_case(folder)
    other = folder.with_name("Pump")
    other.symlink_to(folder, target_is_directory=True)
    # Where case is ignored, no resolving makes one name of the two.
    monkeypatch.setattr(Path, "resolve", lambda self: Path(os.path.abspath(self)))
    assert opened_case(other) is case


def test_a_folder_that_was_not_opened_or_is_gone_has_no_case(folder, tmp_path):
    open_case(folder)
    for file in folder.iterdir():
        file.unlink()
    folder.rmdir()
    with pytest.raises(InputError, match="no case was opened"):
        opened_case(tmp_path)

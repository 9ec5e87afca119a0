"""What the last run left is read without the case, and told apart from what changed."""

import json
import shutil

import nbformat
import pytest

from benchproof import new_case, open_case
from benchproof.keeping.runs.lastrun import (
    NOTEBOOK,
    changed_since,
    notebook_code_hash,
    read_results,
    shown_notebook,
)
from benchproof.keeping.runs.rerun import read_notebook
from benchproof.keeping.runs.results import save_results
from benchproof.values.errors import FileError


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = new_case("Pump trips", tmp_path_factory.mktemp("lastrun"))
    case = open_case(folder)
    case.record("V_min", "7.50 7.51 V", using="handheld")
    plan = case.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        control={"supply": "bench"}, repetitions=2, stop="two of each", seed=1,
    )  # fmt: skip
    plan.record("l k l k")
    rival = case.hypothesis("H1", "It sags")
    rival.predicts("it goes low", case["V_min"].below("8.80 V"))
    notebook = read_notebook(folder / NOTEBOOK)
    save_results(str(folder), "2026-01-31T12:00:00Z", notebook_code_hash(notebook))
    return folder


@pytest.fixture
def folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / made.name)


def changed(folder):
    notebook = shown_notebook(folder / NOTEBOOK)
    return list(changed_since(folder, notebook, read_results(folder)))


def test_nothing_changed_right_after_a_run(folder):
    assert changed(folder) == []


@pytest.mark.parametrize("name", ["readings.csv", "trials.csv", "predictions.csv"])
def test_a_row_edited_in_any_log_is_told_by_the_name_of_the_file(folder, name):
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert ",1," in text
    path.write_text(text.replace(",1,", ",2,", 1), encoding="utf-8")
    assert changed(folder) == [name]


@pytest.mark.parametrize("name", ["readings.csv", "trials.csv", "predictions.csv"])
def test_a_log_that_is_gone_is_told(folder, name):
    (folder / name).unlink()
    assert changed(folder) == [name]


def test_a_header_edited_since_is_told(folder):
    path = folder / "trials.csv"
    head, rest = path.read_text(encoding="utf-8").split("\n", 1)
    path.write_text(f"{head},more\n{rest}", encoding="utf-8")
    with pytest.raises(FileError, match="trials.csv"):
        changed(folder)


def test_an_attempt_corrected_since_is_told(folder):
    plan = open_case(folder).trials["power"]
    plan.correct(1, "k", because="read the lamp wrongly")
    assert changed(folder) == ["trials.csv"]


def test_a_declaration_edited_since_is_told(folder):
    with (folder / "instruments.toml").open("a", encoding="utf-8") as file:
        file.write("\n# later\n")
    assert changed(folder) == ["instruments.toml"]


def test_a_results_file_that_knows_no_trials_is_still_read(folder):
    path = folder / "results.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    del data["trials"], data["predictions"]
    path.write_text(json.dumps(data), encoding="utf-8")
    (folder / "trials.csv").write_text("edited", encoding="utf-8")
    assert changed(folder) == []


def test_a_notebook_is_read_as_the_library_for_notebooks_reads_it(folder):
    path = folder / NOTEBOOK
    mine, theirs = shown_notebook(path), read_notebook(path)
    assert [c.source for c in mine.cells] == [c.source for c in theirs.cells]
    assert notebook_code_hash(mine) == notebook_code_hash(theirs)


def test_texts_kept_as_lines_are_joined(tmp_path):
    cell = {
        "cell_type": "code", "source": ["x = 1\n", "x"], "execution_count": 1,
        "outputs": [{"output_type": "stream", "name": "stdout", "text": ["1", "2"]}],
    }  # fmt: skip
    path = tmp_path / "a.ipynb"
    path.write_text(json.dumps({"nbformat": 4, "cells": [cell]}), encoding="utf-8")
    (found,) = shown_notebook(path).cells
    assert (found.source, found.outputs[0]["text"]) == ("x = 1\nx", "12")
    assert found.metadata == {}


def test_an_older_notebook_is_brought_up_to_date(tmp_path):
    old = nbformat.v3.new_notebook(
        worksheets=[nbformat.v3.new_worksheet(cells=[nbformat.v3.new_code_cell("x")])]
    )
    path = tmp_path / "a.ipynb"
    path.write_text(nbformat.v3.writes_json(old), encoding="utf-8")
    assert [c.source for c in shown_notebook(path).cells] == ["x"]


@pytest.mark.parametrize("text", ["{", "[]", '{"nbformat": 4}', '{"cells": [3]}'])
def test_what_is_no_notebook_is_refused_by_name(tmp_path, text):
    path = tmp_path / "a.ipynb"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=r"a\.ipynb: not a readable notebook"):
        shown_notebook(path)


def test_a_notebook_that_is_missing_is_told(tmp_path):
    with pytest.raises(FileError, match="is missing"):
        shown_notebook(tmp_path / "a.ipynb")

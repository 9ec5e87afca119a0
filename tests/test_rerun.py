"""Running a notebook in a fresh kernel: what is kept, and what an error says.

Each kernel takes seconds to start, so the runs of one story are shared.
"""

import json
from types import SimpleNamespace

import nbformat
import pytest

from benchproof import new_case, open_case, run_case
from benchproof.keeping.rerun import read_notebook
from benchproof.values.errors import FileError, RunError

CASE = 'format = 1\ntitle = "A case for the tests"\ninvented = true\n'
OPEN = "from benchproof import open_case\ncase = open_case()"


def case_with(folder, *cells):
    """Make a case whose notebook has these code cells, after a line of text."""
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    notebook = nbformat.v4.new_notebook()
    notebook.cells = [
        nbformat.v4.new_markdown_cell("# A case"),
        *map(nbformat.v4.new_code_cell, cells),
    ]
    nbformat.write(notebook, folder / "investigation.ipynb")
    return folder


def code_cells(folder):
    notebook = read_notebook(folder / "investigation.ipynb")
    return [c for c in notebook.cells if c.cell_type == "code"]


def refusal(folder, **options):
    with pytest.raises(RunError) as caught:
        run_case(folder, **options)
    return str(caught.value)


@pytest.fixture(scope="module")
def story(tmp_path_factory):
    """One template case: nothing measured, then measured, then measured again."""
    folder = new_case("Pump trips", tmp_path_factory.mktemp("story"))
    told = []
    fresh = run_case(folder, progress=lambda *step: told.append(step))
    case = open_case(folder)
    case.record("V_min", "7.50 7.51 V", using="handheld")
    measured = run_case(folder)
    case.new_round(because="objection: another supply")
    case.record("V_min", "9.50 9.51 V", using="handheld")
    again = run_case(folder)
    return SimpleNamespace(
        folder=folder, told=told, fresh=fresh, measured=measured, again=again
    )


def test_a_fresh_template_case_runs_with_nothing_measured(story):
    assert story.fresh.moved is None
    assert [v["verdict"] for v in story.fresh.results["verdicts"]] == ["not tested"] * 2
    assert story.fresh.results["quantities"]["V_min"]["text"] == "(not measured yet)"


def test_progress_is_told_before_each_code_cell(story):
    count = len(code_cells(story.folder))
    assert [number for number, _, _ in story.told] == list(range(1, count + 1))
    assert {total for _, total, _ in story.told} == {count}
    assert story.told[0][2].startswith("from benchproof import")


def test_a_run_leaves_results_and_a_notebook_with_its_outputs(story):
    written = json.loads((story.folder / "results.json").read_text("utf-8"))
    assert written == story.again.results
    assert all(c.execution_count for c in code_cells(story.folder))
    assert "save_results" not in (story.folder / "investigation.ipynb").read_text()
    names = {p.name for p in story.folder.iterdir()}
    assert not [n for n in names if n.endswith(".new")]


def test_a_first_value_moves_from_not_measured_and_its_verdict_flips(story):
    (move,) = [m for m in story.measured.moved.moves if m.name == "V_min"]
    assert (move.before, move.moved) == ("(not measured yet)", None)
    (flip,) = story.measured.moved.flips
    assert (flip.name, flip.before, flip.after) == ("H1", "not tested", "compatible")


def test_a_new_round_shows_how_many_u_the_value_moved_and_the_flip(story):
    (move,) = [m for m in story.again.moved.moves if m.name == "V_min"]
    old, new = (r.results["quantities"]["V_min"] for r in (story.measured, story.again))
    u = (old["standard_uncertainty"] ** 2 + new["standard_uncertainty"] ** 2) ** 0.5
    assert move.moved == pytest.approx((new["value"] - old["value"]) / u)
    assert move.moved > 10
    (flip,) = story.again.moved.flips
    assert (flip.before, flip.after) == ("compatible", "contradicted")
    shown = str(story.again.moved)
    assert "contradicted" in shown
    assert f"{move.moved:+.1f} u" in shown


def test_results_keep_each_round_as_it_was(story):
    rounds = story.again.results["rounds"]
    assert [r["verdicts"][0]["verdict"] for r in rounds] == [
        "compatible",
        "contradicted",
    ]


def test_a_failing_cell_is_named_and_what_ran_is_kept(tmp_path):
    folder = case_with(tmp_path, OPEN, "x = 1\nprint('reached')\n1 / 0", "y = 2")
    (folder / "results.json").write_text('{"format": 1, "old": 1}', encoding="utf-8")
    said = refusal(folder)
    assert said.startswith("cell 2 ('x = 1'): line 3: ZeroDivisionError")
    assert "results.json was not changed" in said
    assert json.loads((folder / "results.json").read_text())["old"] == 1
    first, second, third = code_cells(folder)
    assert "reached" in second.outputs[0].text
    assert second.outputs[-1].ename == "ZeroDivisionError"
    assert not third.outputs


def test_a_refused_reading_stops_the_run_with_its_own_message(tmp_path):
    folder = case_with(tmp_path, OPEN, 'case.record("V", "5.00")')
    said = refusal(folder)
    assert said.startswith("cell 2 (")
    assert "UnitError: V: '5.00' has no unit" in said


DIES = "import os, sys\nsys.stdout.flush()\nos._exit(1)"


def test_a_kernel_that_dies_is_reported_with_its_cell(tmp_path):
    folder = case_with(tmp_path, OPEN, DIES, "y = 2")
    said = refusal(folder)
    assert "cell 2 ('import os, sys')" in said
    assert "the kernel died" in said
    assert not (folder / "results.json").exists()


def test_a_cell_that_takes_too_long_is_named(tmp_path):
    folder = case_with(tmp_path, OPEN, "import time\ntime.sleep(60)", "y = 2")
    said = refusal(folder, cell_timeout=3)
    assert "cell 2 ('import time')" in said
    assert "longer --cell-timeout" in said


def test_a_notebook_that_opens_no_case_is_told_how_to(tmp_path):
    folder = case_with(tmp_path, "x = 1")
    said = refusal(folder)
    assert "Begin the notebook with: case = open_case()" in said
    assert not (folder / "results.json").exists()


def test_a_run_that_stops_keeps_nothing_of_the_run_before(tmp_path):
    folder = case_with(tmp_path, OPEN, "import os", "print('before')\n1 / 0")
    assert "cell 3" in refusal(folder)
    notebook = read_notebook(folder / "investigation.ipynb")
    notebook.cells[2].source = "undefined"
    nbformat.write(notebook, folder / "investigation.ipynb")
    assert refusal(folder).startswith("cell 2 ('undefined'): line 1: NameError")
    assert code_cells(folder)[2].outputs == []


def test_a_notebook_that_opens_another_case_too_keeps_its_own_results(tmp_path):
    for name in ("mine", "other"):
        (tmp_path / name).mkdir()
    case_with(tmp_path / "other", OPEN)
    folder = case_with(tmp_path / "mine", OPEN, 'other = open_case("../other")')
    assert run_case(folder).results["title"] == "A case for the tests"
    assert not (tmp_path / "other" / "results.json").exists()


def test_results_that_cannot_be_read_are_replaced_by_a_run(tmp_path):
    folder = case_with(tmp_path, OPEN)
    (folder / "results.json").write_text("{", encoding="utf-8")
    assert run_case(folder).moved is None


def test_a_folder_without_notebook_is_told_how_to_make_one(tmp_path):
    with pytest.raises(FileError, match="benchproof new"):
        run_case(tmp_path)


def test_a_file_that_is_no_notebook_is_named(tmp_path):
    (tmp_path / "investigation.ipynb").write_text("{}", encoding="utf-8")
    with pytest.raises(FileError, match=r"investigation.ipynb: not a readable"):
        run_case(tmp_path)

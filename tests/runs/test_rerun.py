"""Running a notebook in a fresh kernel: what is kept, and what an error says.

Each kernel takes seconds to start, so the runs of one story are shared.
"""

import json
import os
import signal
import subprocess
import sys
import time
from types import SimpleNamespace

import nbformat
import pytest

from benchproof import new_case, open_case, run_case
from benchproof.keeping.runs import rerun
from benchproof.keeping.runs.rerun import read_notebook
from benchproof.values.errors import FileError, InputError, RunError

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
    assert said.startswith(
        "cell 2 of 3 ('x = 1'), line 3 ('1 / 0'): ZeroDivisionError: division by zero. "
    )
    assert "results.json was not changed" in said
    assert json.loads((folder / "results.json").read_text())["old"] == 1
    first, second, third = code_cells(folder)
    assert "reached" in second.outputs[0].text
    assert second.outputs[-1].ename == "ZeroDivisionError"
    assert not third.outputs


def test_a_refused_reading_stops_the_run_with_its_own_message(tmp_path):
    folder = case_with(tmp_path, OPEN, 'case.record("V", "5.00")')
    said = refusal(folder)
    assert said.startswith("cell 2 of 2 (")
    assert "UnitError: V: '5.00' has no unit" in said


DIES = "import os, sys\nsys.stdout.flush()\nos._exit(1)"


def test_a_kernel_that_dies_is_reported_with_its_cell(tmp_path):
    folder = case_with(tmp_path, OPEN, DIES, "y = 2")
    said = refusal(folder)
    assert "cell 2 of 3 ('import os, sys')" in said
    assert "the kernel died" in said
    assert not (folder / "results.json").exists()


def test_a_cell_that_takes_too_long_is_named(tmp_path):
    folder = case_with(tmp_path, OPEN, "import time\ntime.sleep(60)", "y = 2")
    said = refusal(folder, cell_timeout=3)
    assert "cell 2 of 3 ('import time')" in said
    assert "longer than the 3 s allowed" in said
    assert "longer --cell-timeout" in said


def test_a_notebook_that_opens_no_case_is_told_how_to(tmp_path):
    folder = case_with(tmp_path, "x = 1")
    said = refusal(folder)
    assert "Begin the notebook with: case = open_case()" in said
    assert not (folder / "results.json").exists()


def test_a_run_that_stops_keeps_nothing_of_the_run_before(tmp_path):
    folder = case_with(tmp_path, OPEN, "import os", "print('before')\n1 / 0")
    assert "cell 3 of 3" in refusal(folder)
    notebook = read_notebook(folder / "investigation.ipynb")
    notebook.cells[2].source = "undefined"
    nbformat.write(notebook, folder / "investigation.ipynb")
    assert refusal(folder).startswith(
        "cell 2 of 3 ('undefined'), line 1 ('undefined'): NameError"
    )
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


def test_a_cell_is_told_by_the_heading_it_stands_under(story):
    titles = [title for _, _, title in story.told]
    assert 'What was claimed, and on what we test it · case.report("claim")' in titles


def test_a_line_that_fails_in_a_function_of_another_cell_is_named_too(tmp_path):
    folder = case_with(tmp_path, OPEN, "def half(x):\n    return 1 / x", "half(0)")
    said = refusal(folder)
    assert said.startswith(
        "cell 3 of 3 ('half(0)'), line 1 ('half(0)'), in cell 2, "
        "line 2 ('return 1 / x'): ZeroDivisionError"
    )


@pytest.mark.parametrize("seconds", [0, -1, float("nan"), float("inf")])
def test_a_time_out_that_is_none_is_refused_before_anything_runs(tmp_path, seconds):
    folder = case_with(tmp_path, OPEN)
    with pytest.raises(InputError, match="give the seconds a cell may take"):
        run_case(folder, cell_timeout=seconds)
    assert not (folder / "results.json").exists()


def assert_untouched(folder, said):
    assert "so no cell ran" in said
    assert "were not changed" in said
    (first, *_) = code_cells(folder)
    assert first.outputs[0].text == "kept"


def case_that_ran(folder):
    """Make a case whose notebook has an output of an earlier run."""
    case_with(folder, OPEN)
    notebook = read_notebook(folder / "investigation.ipynb")
    output = nbformat.v4.new_output("stream", text="kept")
    notebook.cells[1].outputs = [output]
    nbformat.write(notebook, folder / "investigation.ipynb")
    return folder


def test_a_missing_kernel_is_told_how_to_install_and_nothing_is_lost(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(rerun, "KERNEL", "no-such-kernel")
    folder = case_that_ran(tmp_path)
    said = refusal(folder)
    assert said.startswith("no kernel 'no-such-kernel' is installed here")
    assert "pip install ipykernel" in said
    assert_untouched(folder, said)


def test_a_kernel_whose_python_is_gone_is_told_and_nothing_is_lost(
    tmp_path, monkeypatch
):
    spec = tmp_path / "share" / "kernels" / "python3"
    spec.mkdir(parents=True)
    gone = {"argv": ["no-such-python", "{connection_file}"], "language": "python",
            "display_name": "of an environment that was removed"}  # fmt: skip
    (spec / "kernel.json").write_text(json.dumps(gone), encoding="utf-8")
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path / "share"))
    folder = case_that_ran(tmp_path)
    said = refusal(folder)
    assert said.startswith("the kernel 'python3' did not start (FileNotFoundError")
    assert_untouched(folder, said)


SLOW = "print('reached', flush=True)\nimport time\ntime.sleep(60)"
DEAF = """\
import time
print("reached", flush=True)
for _ in range(600):
    try:
        time.sleep(0.1)
    except KeyboardInterrupt:
        pass"""


def stopped(folder, *signals):
    """Run a case as a program of its own, and stop it in its second cell."""
    program = "import sys; from benchproof.cli import main; sys.exit(main())"
    command = [sys.executable, "-c", program, "run", str(folder)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as run:
        try:
            seen = ""
            while "[2/" not in seen:
                letter = run.stdout.read(1)
                assert letter, f"it ended before: {seen}{run.stderr.read()}"
                seen += letter
            for number in signals:
                time.sleep(1)
                run.send_signal(number)
            _, said = run.communicate(timeout=30)
        finally:
            run.kill()
    return run.returncode, said


@pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")
@pytest.mark.parametrize(
    ("cell", "signals"),
    [
        (SLOW, [signal.SIGINT]),
        (SLOW, [signal.SIGTERM]),
        (DEAF, [signal.SIGINT, signal.SIGINT]),
    ],
    ids=["interrupted", "terminated", "interrupted twice"],
)
def test_a_run_that_is_stopped_says_where_and_keeps_what_ran(tmp_path, cell, signals):
    folder = case_with(tmp_path, OPEN, cell, "y = 2")
    status, said = stopped(folder, *signals)
    assert status == 130, said
    assert f"stopped in cell 2 of 3 ({cell.splitlines()[0]!r})" in said
    assert "Traceback" not in said
    first, second, third = code_cells(folder)
    assert first.execution_count == 1
    assert second.outputs[0].text.startswith("reached")
    assert third.execution_count is None
    assert not (folder / "results.json").exists()

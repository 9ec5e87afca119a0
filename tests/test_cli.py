"""The command line, called as a function; one template case is run once."""

import argparse
import os
import re
import subprocess
import sys

import pytest

from benchproof import __version__, cli, open_case
from benchproof.keeping.runs.rerun import read_notebook

COMMANDS = ["new", "run", "compare", "publish", "bundle", "check", "lab", "demo"]


def run(capsys, *arguments):
    """Return the exit code, and what went to stdout and stderr."""
    capsys.readouterr()
    code = cli.main([str(a) for a in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """Make and run a case by the command line; the folder is shared."""
    parent = tmp_path_factory.mktemp("cli")
    assert cli.main(["new", "Pump trips", "--in", str(parent)]) == 0
    folder = parent / "pump-trips"
    open_case(folder).record("V_min", "7.50 V", using="handheld")
    assert cli.main(["run", str(folder)]) == 0
    return folder


def subparsers():
    (action,) = [
        a for a in cli._parser()._actions if isinstance(a, argparse._SubParsersAction)
    ]
    return action


def test_the_commands_are_these():
    assert list(subparsers().choices) == COMMANDS


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_argument_says_what_it_is_for(name, capsys):
    assert name in {a.dest for a in subparsers()._choices_actions if a.help}
    with pytest.raises(SystemExit, match="0"):
        cli.main([name, "--help"])
    assert f"usage: benchproof {name}" in capsys.readouterr().out


@pytest.mark.parametrize("wrong", [[], ["fly"], ["new"], ["run", "a", "b"]])
def test_wrong_usage_exits_with_two(wrong, capsys):
    with pytest.raises(SystemExit, match="2"):
        cli.main(wrong)
    assert "usage: benchproof" in capsys.readouterr().err


def test_new_makes_a_folder_and_says_what_is_next(tmp_path, capsys):
    code, out, err = run(capsys, "new", "Pump trips", "--in", tmp_path)
    assert (code, err) == (0, "")
    assert "Next: benchproof lab" in out
    assert (tmp_path / "pump-trips" / "case.toml").exists()


def test_run_tells_progress_and_verdicts(ran, capsys):
    # Again, so that there is something to compare with.
    code, out, err = run(capsys, "run", ran)
    assert (code, err) == (0, "")
    count = sum(
        c.cell_type == "code" for c in read_notebook(ran / "investigation.ipynb").cells
    )
    assert f"[1/{count}] from benchproof import" in out
    assert re.search(rf"^\[{count}/{count}\] .+  \d+\.\d s$", out, re.MULTILINE)
    assert "\x1b" not in out, "no terminal: plain lines"
    assert re.search(r"H1 +│ .*│ compatible", out)
    assert "Nothing moved" in out


def test_compare_prints_what_moved(ran, capsys):
    code, out, err = run(capsys, "compare", ran, f"{ran}@1")
    assert (code, err) == (0, "")
    assert "Nothing moved" in out


def test_compare_takes_other_names_and_writes_a_page(
    ran, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(
        capsys, "compare", ran, ran, "--map", "V_min=V_min", "--map", "H1=H1",
        "--same-instruments", "--html", "moved.html",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "Wrote moved.html" in out
    assert "pump-trips compared" in (tmp_path / "moved.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--map", "V_min"], "which name is which"),
        (["--map", "V_mim=V_min"], "Did you mean V_min?"),
        (["--html", "results.json"], "ends in .html"),
    ],
)
def test_compare_refuses_what_it_cannot_do_in_one_message(ran, more, said, capsys):
    code, _, err = run(capsys, "compare", ran, ran, *more)
    assert code == 1
    assert said in err


def test_a_time_out_that_is_none_is_refused(ran, capsys):
    code, out, err = run(capsys, "run", ran, "--cell-timeout", "0")
    assert (code, out) == (1, "")
    assert "above 0" in err


def test_a_run_that_was_stopped_says_where(ran, capsys, monkeypatch):
    def stopped(options):
        raise KeyboardInterrupt("stopped in cell 2 of 3 ('x').")

    monkeypatch.setattr(cli, "_run", stopped)
    code, _, err = run(capsys, "run", ran)
    assert code == 130
    assert err == "\nbenchproof: stopped in cell 2 of 3 ('x').\n"


def test_publish_names_the_file_and_its_size(ran, capsys, monkeypatch):
    monkeypatch.chdir(ran.parent)
    code, out, err = run(capsys, "publish", "pump-trips")
    assert (code, err) == (0, "")
    path = ran / "write-up" / "pump-trips.html"
    size = f"{path.stat().st_size / 1000:.0f} kB"
    assert out == f"Published pump-trips/write-up/pump-trips.html ({size})\n"


def test_the_version_is_said(capsys):
    with pytest.raises(SystemExit) as ended:
        cli.main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"benchproof {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["new", "$$$", "--in", "."], "no letter or digit"),
        (["run", "nowhere"], "investigation.ipynb is missing"),
        (["compare", "nowhere", "nowhere"], "nowhere is not there"),
        (["publish", "nowhere"], "nowhere is not there"),
        (["lab", "nowhere"], "is missing"),
    ],
)
def test_an_error_is_one_message_on_stderr_and_exit_code_one(
    arguments, said, tmp_path, capsys, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (1, "")
    assert err.startswith("benchproof: ")
    assert said in err
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_new_over_an_existing_folder_is_refused(ran, capsys):
    code, out, err = run(capsys, "new", "Pump trips", "--in", ran.parent)
    assert (code, out) == (1, "")
    assert "exists already" in err


def test_a_folder_that_cannot_be_made_is_no_traceback(tmp_path, capsys):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    code, out, err = run(capsys, "new", "Pump trips", "--in", tmp_path / "file")
    assert (code, out) == (1, "")
    assert err.startswith("benchproof: ")


def test_a_stopped_command_keeps_what_was_recorded(capsys, monkeypatch):
    def stopped(options):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_compare", stopped)
    code, _, err = run(capsys, "compare", "a", "b")
    assert code == 130
    assert "what was recorded is kept" in err


def test_as_a_command_it_says_what_a_terminal_cannot_show_and_starts_lightly(ran):
    code = (
        "import sys\nfrom benchproof import cli\n"
        f"sys.argv = ['benchproof', 'check', {str(ran)!r}]\ncli.main()\n"
        "print('Ω', 'nbformat' in sys.modules, sys.modules['rfc3987_syntax'])"
    )
    poor = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = subprocess.run([sys.executable, "-c", code], env=poor, capture_output=True)
    assert done.stdout.decode("ascii").splitlines()[-1] == r"\u03a9 True None"


def test_called_by_a_program_it_leaves_that_program_as_it_is(capsys, monkeypatch):
    monkeypatch.setattr(cli, "_arrange_process", pytest.fail)
    assert run(capsys, "check", "no-such-case")[0] == 2


def test_a_reader_who_has_seen_enough_gets_no_complaint(tmp_path):
    command = [sys.executable, "-m", "benchproof.cli", "new", "Fan hums"]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command, cwd=tmp_path, **pipes) as running:
        running.stdout.close()
        said = running.stderr.read()
    assert running.returncode == 1
    assert said == b""

"""A case is the same case in another time zone, locale and default encoding."""

import json
import os
import runpy
import shutil
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from conftest import CASE, INSTRUMENTS

from benchproof import open_case
from benchproof.keeping.runs.results import results_of

GUM_H2 = Path(__file__).resolve().parent.parent / "notebooks" / "gum-h2"
NUMBERS = ("quantities", "sources", "joints", "verdicts", "rounds", "statements")

# 20.000 ms of a rail, 1 ms apart, as scopes write where commas stand for points.
RAIL = "Zeit (s);Schiene (V)\n" + "".join(
    f"0,{k:03d};{12 - (k % 5) / 100:.2f}".replace(".", ",") + "\n" for k in range(20)
)
CELLS = [
    "import locale, time\n"
    'locale.setlocale(locale.LC_ALL, "")\n'
    'open("where.txt", "w").write(f"{1.5:n} {time.tzname[0]} {locale.getencoding()}")',
    "from benchproof import captures, open_case\ncase = open_case()",
    'case.record("V_idle", "12.10 12.10 12.09 V", using="handheld", at="Büchse, µA")',
    'case.record("R_wire", "5.00 ± 0.05 ohm (k=2)")',
    '@case.derive(unit="A")\ndef I_wire(V_idle, R_wire):\n    return V_idle / R_wire',
    'rail = case.captures.open("rail.csv", instrument="scope", coupling="DC",\n'
    '    probe_ratio=10, full_screen="80 V", bits=8, rails=["0 V", "80 V"],\n'
    '    accuracy="3 % of full screen", bandwidth="20 MHz")\n'
    'case.captures.keep("V_rail", captures.amplitudes_of(rail)["mean"])',
    'case.hypothesis("H1", "the supply sags").predicts(\n'
    '    "the rail falls", case["V_rail"].below("12.50 V"))',
    'case.conclude("The rail is at {V_rail}, the wire carries {I_wire}: {H1}.")',
]


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory):
    """Return an environment 14 h east, where 1.5 is 1,5 and text is not UTF-8."""
    folder = tmp_path_factory.mktemp("locales")
    name = "de_DE.ISO-8859-1"
    if not shutil.which("localedef"):
        pytest.skip("no localedef here to make a locale with")
    command = ["localedef", "-i", "de_DE", "-f", "ISO-8859-1", folder / name]
    if subprocess.run(command, capture_output=True).returncode:
        pytest.skip("localedef has no sources of a locale with a decimal comma here")
    there = {"LOCPATH": str(folder), "LC_ALL": name, "TZ": "Pacific/Kiritimati"}
    return {**os.environ, **there, "PYTHONUTF8": "0", "PYTHONIOENCODING": ""}


def run(folder, environment):
    """Run a case by the command; return its results."""
    command = [sys.executable, "-m", "benchproof.cli", "run", str(folder)]
    done = subprocess.run(command, env=environment, capture_output=True)
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return json.loads((folder / "results.json").read_bytes())


def test_a_small_case_gives_the_same_numbers_and_verdicts(
    tmp_path, elsewhere, monkeypatch
):
    (tmp_path / "case.toml").write_bytes(CASE.encode())
    (tmp_path / "instruments.toml").write_bytes(INSTRUMENTS.encode())
    (tmp_path / "captures").mkdir()
    (tmp_path / "captures" / "rail.csv").write_bytes(RAIL.encode())
    book = nbformat.v4.new_notebook(cells=[*map(nbformat.v4.new_code_cell, CELLS)])
    nbformat.write(book, tmp_path / "investigation.ipynb")
    there = run(tmp_path, elsewhere)
    where = (tmp_path / "where.txt").read_bytes()
    assert where == b"1,5 +14 ISO-8859-1"
    monkeypatch.chdir(tmp_path)
    script = tmp_path / "cells.py"
    script.write_text("\n\n".join(CELLS[1:]), encoding="utf-8")
    case = runpy.run_path(str(script))["case"]
    here = json.loads(json.dumps(results_of(case)))
    assert {name: there[name] for name in NUMBERS} == {n: here[n] for n in NUMBERS}
    assert there["verdicts"][0]["verdict"]
    assert there["quantities"]["V_rail"]["value"] == pytest.approx(11.98, abs=1e-3)
    assert there["readings"]["rows"] == 4
    assert open_case(tmp_path).book.record.readings[0].at == "Büchse, µA"


def test_a_worked_case_gives_the_same_numbers_and_verdicts_here_and_elsewhere(
    tmp_path, elsewhere
):
    ran = []
    for name, environment in (("here", dict(os.environ)), ("there", elsewhere)):
        left_out = shutil.ignore_patterns("write-up", "results.json")
        folder = shutil.copytree(GUM_H2, tmp_path / name, ignore=left_out)
        ran.append(run(folder, environment))
    here, there = ran
    for name, was in here["quantities"].items():
        now = there["quantities"][name]
        assert now["text"] == was["text"]
        for number in ("value", "standard_uncertainty"):
            assert now.get(number) == pytest.approx(was.get(number), rel=1e-9)
    assert there["verdicts"] == here["verdicts"]
    assert there["statements"] == here["statements"]

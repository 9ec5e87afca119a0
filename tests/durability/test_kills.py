"""Recorders that are killed; `make kills` does it a thousand times."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import benchproof
from benchproof import open_case
from benchproof.values.errors import RecordingRefusedError

KILLS = Path(__file__).with_name("kills.py")
KIT = Path(benchproof.__file__).parents[1]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills are made where forks are")
def test_a_recorder_killed_25_times_loses_nothing_that_it_said():
    done = subprocess.run(
        [sys.executable, KILLS, "--count", "25", "--seed", "2"],
        env=os.environ | {"PYTHONPATH": str(KIT)},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    found = re.search(r"25 kills: .*?(\d+) half readings, (\d+) record", done.stdout)
    assert found, done.stdout
    # Else the kills fell beside the writes, and nothing was tried.
    assert int(found[1]) > 0
    assert int(found[2]) > 0


PAIR = {"V_a": "1.00 1.10 V", "V_b": "2.00 2.10 V"}


@pytest.mark.parametrize("rows", [1, 2, 3])
def test_a_set_cut_off_while_it_was_written_is_completed_by_its_cell(case_folder, rows):
    open_case(case_folder).record_together(PAIR, using="handheld")
    path = case_folder / "readings.csv"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[: 1 + rows]) + lines[1 + rows][:9])
    case = open_case(case_folder)
    case.record_together(PAIR, using="handheld")
    case.record_together(PAIR, using="handheld")
    readings = open_case(case_folder).book.record.readings
    said = sorted((r.measurand, r.value.text) for r in readings)
    assert said == [("V_a", "1.00"), ("V_a", "1.10"), ("V_b", "2.00"), ("V_b", "2.10")]
    assert len({r.together for r in readings}) == 1
    assert len({r.entry for r in readings}) == 2


def test_a_set_with_other_readings_than_the_cut_off_one_is_refused(case_folder):
    open_case(case_folder).record_together(PAIR, using="handheld")
    path = case_folder / "readings.csv"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:3]))
    before = path.read_bytes()
    case = open_case(case_folder)
    with pytest.raises(RecordingRefusedError, match="these differ"):
        case.record_together({**PAIR, "V_a": "1.00 1.20 V"}, using="handheld")
    assert path.read_bytes() == before

"""A disk that is full, a folder that may only be read, a lock that is held: each says
what is wrong and what to do, and nothing that was recorded is lost."""

import datetime as dt
import errno
import os
import shutil
import subprocess
import sys
import tempfile
import textwrap
from pathlib import Path

import pytest
from conftest import CASE, INSTRUMENTS

import benchproof
from benchproof import open_case
from benchproof.keeping.logs import durable
from benchproof.values.errors import FileError

KIT = Path(benchproof.__file__).parents[1]
LOGS = ("readings.csv", "trials.csv", "predictions.csv")

posix_only = pytest.mark.skipif(os.name != "posix", reason="needs a POSIX system")

HEAD = """
import os, sys
from benchproof import open_case
from benchproof.values.errors import BenchproofError

folder, *rest = sys.argv[1:]

def plan_of(case):
    return case.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        control={"supply": "bench"}, stop="90 of each", repetitions=90, seed=1,
    )

def told(act, *arguments, **more):
    try:
        act(*arguments, **more)
    except BenchproofError as problem:
        print("refused:", problem, flush=True)
    else:
        print("recorded", flush=True)
"""


def start(script, *arguments, before=()):
    """Start a kernel of its own that records in a case."""
    return subprocess.Popen(
        [
            *before,
            sys.executable,
            "-c",
            textwrap.dedent(HEAD) + textwrap.dedent(script),
            *map(str, arguments),
        ],
        env=os.environ | {"PYTHONPATH": str(KIT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def said(process):
    out, problems = process.communicate(timeout=100)
    assert problems == ""
    return out.splitlines()


def plan_of(case):
    return case.trials.plan(
        "power",
        factors={"supply": ["brick", "bench"]},
        outcomes=["lost", "kept"],
        control={"supply": "bench"},
        stop="90 of each",
        repetitions=90,
        seed=1,
    )


@pytest.fixture
def recorded(case_folder):
    """Return a case folder with a reading and an attempt, and its logs' bytes."""
    case = open_case(case_folder)
    case.record("V_idle", "12.10 12.11 V", using="handheld")
    plan_of(case).record("l k")
    return case_folder


def logs_in(folder):
    return {n: (folder / n).read_bytes() for n in LOGS if (folder / n).exists()}


def readings_in(folder):
    readings = open_case(folder).book.record.readings
    return [(r.measurand, r.value.text) for r in readings]


FIRST = [("V_idle", "12.10"), ("V_idle", "12.11")]

# No room -------------------------------------------------------------------------


@posix_only
def test_a_file_that_cannot_grow_keeps_what_was_recorded(recorded):
    # A limit on the length of files stops a write half way, as a full disk does.
    script = """
    import resource
    case = open_case(folder)
    plan = plan_of(case)
    for name in ("readings.csv", "trials.csv"):
        size = os.path.getsize(os.path.join(folder, name))
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 60, -1))
        if name == "readings.csv":
            told(case.record, "V_slew", "11.4 V", using="handheld", at="x" * 100)
        else:
            told(plan.outcome, "lost", at=3, note="x" * 100)
    resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
    told(case.record, "V_slew", "11.4 V", using="handheld", at="x" * 100)
    told(plan.outcome, "lost", at=3, note="x" * 100)
    """
    before = logs_in(recorded)
    first, second, third, fourth = said(start(script, recorded))
    assert first.startswith("refused: readings.csv could not be written (File too")
    assert second.startswith("refused: trials.csv could not be written (File too")
    assert "the entry was NOT recorded" in first
    assert "has free space" in second
    assert (third, fourth) == ("recorded", "recorded")
    after = logs_in(recorded)
    for name, data in before.items():
        assert after[name].startswith(data)
    assert not list(recorded.glob("*.torn"))
    assert readings_in(recorded) == [*FIRST, ("V_slew", "11.4")]


def mounted(tmp_path):
    """Return what runs a command on a small disk of its own, None if we may not."""
    place = tmp_path / "small"
    place.mkdir()
    shell = shutil.which("unshare")
    if shell is None:
        return None
    mount = f'mount -t tmpfs -o size=32k small "{place}" && exec "$@"'
    inside = [shell, "--user", "--map-root-user", "--mount", "sh", "-c", mount, "sh"]
    done = subprocess.run([*inside, "true"], capture_output=True)
    return inside if done.returncode == 0 else None


@posix_only
def test_a_disk_that_fills_up_keeps_what_was_recorded(tmp_path):
    inside = mounted(tmp_path)
    if inside is None:
        pytest.skip("no disk may be mounted here")
    script = """
    for name, text in zip(("case.toml", "instruments.toml"), rest):
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text)
    case = open_case(folder)
    kept = 0
    try:
        for number in range(1000):
            case.record(f"V_{number}", "11.4 V", using="handheld", at="é" * 300)
            kept += 1
    except BenchproofError as problem:
        print("refused:", problem)
    again = open_case(folder)
    print(kept, len(again.book.record.readings), again.book.log.recovered)
    os.remove(os.path.join(folder, "predictions.csv"))
    told(case.record, "V_last", "1.0 V", using="handheld")
    print(len(open_case(folder).book.record.readings))
    """
    process = start(script, tmp_path / "small", CASE, INSTRUMENTS, before=inside)
    refused, counts, retried, left = said(process)
    assert "(No space left on device); the entry was NOT recorded" in refused
    assert "has free space" in refused
    kept, found, torn = counts.split(maxsplit=2)
    assert int(kept) == int(found) > 10
    assert torn == "[]"
    assert retried == "recorded"
    assert int(left) == int(kept) + 1


# No rights -----------------------------------------------------------------------


@posix_only
def test_a_folder_that_may_only_be_read_opens_and_refuses_to_record(recorded):
    # In the system's folder, because pytest's own is closed to other users, and
    # root, who may write everywhere, has to become one. Once as who we are first:
    # Python itself may be closed to others, and some of it is read when needed.
    script = """
    def work(folder):
        case = open_case(folder)
        print(case["V_idle"])
        told(case.record, "V_slew", "11.4 V", using="handheld")
        told(case.trials["power"].outcome, "lost", at=3)
        told(case.new_round, because="again")

    work(rest[0])
    if os.geteuid() == 0:
        os.seteuid(65534)
    work(folder)
    """
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place, "case")
        shutil.copytree(recorded, copy)
        os.chmod(place, 0o755)
        for path in copy.iterdir():
            path.chmod(0o444)
        copy.chmod(0o555)
        before = logs_in(copy)
        lines = said(start(script, copy, recorded))
        assert logs_in(copy) == before
        copy.chmod(0o755)
    assert lines[1:4] == ["recorded"] * 3
    assert lines[4].startswith("12.1")
    assert len(lines) == 8
    for line in lines[5:]:
        assert "(Permission denied); the entry was NOT recorded" in line
        assert "is writable" in line


# Others at the same file ---------------------------------------------------------


@posix_only
def test_a_program_that_has_the_log_open_is_in_nobodys_way(recorded):
    with (recorded / "readings.csv").open("r+b") as other:
        other.read(20)
        open_case(recorded).record("V_slew", "11.4 V", using="handheld")
    assert readings_in(recorded) == [*FIRST, ("V_slew", "11.4")]


@posix_only
def test_a_lock_that_is_kept_is_named_and_not_waited_for_without_end(
    recorded, monkeypatch
):
    import fcntl

    monkeypatch.setattr(durable, "PATIENCE", 0.2)
    case = open_case(recorded)
    before = logs_in(recorded)
    with (recorded / "readings.csv").open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(FileError, match="another program has kept it locked") as no:
            case.record("V_slew", "11.4 V", using="handheld")
        assert "NOT recorded" in str(no.value)
        with pytest.raises(FileError, match="could not be read .another program"):
            open_case(recorded)
    assert logs_in(recorded) == before
    case.record("V_slew", "11.4 V", using="handheld")
    assert readings_in(recorded) == [*FIRST, ("V_slew", "11.4")]


@posix_only
@pytest.mark.parametrize("number", [errno.ENOLCK, errno.ENOTSUP])
def test_a_file_system_without_locks_is_read_and_not_written(
    recorded, monkeypatch, number
):
    import fcntl

    def no_locks(handle, kind):
        raise OSError(number, os.strerror(number))

    before = logs_in(recorded)
    monkeypatch.setattr(fcntl, "flock", no_locks)
    case = open_case(recorded)
    assert str(case["V_idle"]).startswith("12.1")
    for act in (
        lambda: case.record("V_slew", "11.4 V", using="handheld"),
        lambda: case.trials["power"].outcome("lost", at=3),
    ):
        with pytest.raises(FileError, match="file system has no locks; move") as no:
            act()
        assert "NOT recorded" in str(no.value)
    assert logs_in(recorded) == before


@posix_only
def test_two_kernels_that_record_at_once_lose_nothing(recorded):
    script = """
    case = open_case(folder)
    plan = plan_of(case)
    mine, first = rest[0], int(rest[1])
    print("ready", flush=True)
    input()
    for number in range(25):
        case.record(f"V_{mine}{number}", f"{number}.0 mV", using="handheld")
        case.record(f"V_both{number}", f"{number}.5 mV", using="handheld")
        plan.outcome("kept", at=first + number)
    """
    kernels = [
        start(script, recorded, name, first) for name, first in (("a", 10), ("b", 50))
    ]
    for kernel in kernels:
        assert kernel.stdout.readline() == "ready\n"
    for kernel in kernels:
        kernel.stdin.write("go\n")
        kernel.stdin.flush()
    for kernel in kernels:
        assert said(kernel) == []
    case = open_case(recorded)
    names = [r.measurand for r in case.book.record.readings]
    wanted = {f"V_{k}{n}" for k in ("a", "b", "both") for n in range(25)}
    assert sorted(names) == sorted([*wanted, "V_idle", "V_idle"])
    places = {m.place for m in case.trials["power"].rows.made()}
    assert places == {1, 2, *range(10, 35), *range(50, 75)}


# The clock -----------------------------------------------------------------------


def test_a_clock_that_goes_back_is_said_and_the_rows_keep_their_order(case_folder):
    moments = [dt.datetime(2026, 1, 31, tzinfo=dt.UTC)] * 3
    case = open_case(case_folder, clock=lambda: moments[-1])
    case.record("V_idle", "12.10 V", using="handheld")
    assert "clock" not in str(case)
    moments.append(dt.datetime(2025, 1, 31, tzinfo=dt.UTC))
    case.record("V_idle", "12.10 12.20 V", using="handheld")
    case.new_round(because="another day")
    case.record("V_idle", "12.50 V", using="handheld")
    plan_of(case).record("l k")
    again = open_case(case_folder)
    found = [(r.round, r.value.text) for r in again.book.record.readings]
    assert found == [(1, "12.10"), (1, "12.20"), (2, "12.50")]
    assert str(again["V_idle"]).startswith("12.5")
    assert [m.outcome for m in again.trials["power"].rows.made()] == ["lost", "kept"]
    assert (
        "The clock of the computer went back: r-0002 says 2025-01-31T00:00:00Z, and "
        "r-0001 before it 2026-01-31T00:00:00Z."
    ) in " ".join(str(again).split())

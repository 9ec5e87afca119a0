"""Kill a recording process at random moments, and look what is left of its records.

One process imports the kit and then forks a writer for each kill, because importing
it anew would take a hundred times as long as what is to be interrupted. The writer
records readings, sets read together and attempts, and says so of each one through a
pipe once `record` has returned. Half of the writers hand their bytes to the system a
few at a time, which it may do by itself too: then kills fall inside rows.

    python tests/durability/kills.py --count 1000
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

if __name__ == "__main__":
    for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[variable] = "1"  # a process with threads should not be forked

from benchproof import open_case  # noqa: E402 - after the threads are turned off

CASE = 'format = 1\ntitle = "An invented case that is killed"\ninvented = true\n'
INSTRUMENTS = """\
[handheld]
description = "invented 6000-count meter"
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["60.00 V"]
"""
PLACE = 'invented shelf, "third" from the left, cable\nunder the lamp, ' + "é" * 40
"""Quotes, a comma, a line end and letters of two bytes: much that can be cut."""

KILLS_PER_CASE = 10
LOGS = ("readings.csv", "trials.csv")


def plan_of(case):
    return case.trials.plan(
        "power",
        factors={"supply": ["brick", "bench"]},
        outcomes=["lost", "kept"],
        control={"supply": "bench"},
        stop="400 of each, whatever happens",
        repetitions=400,
        seed=1,
    )


def text_of(number):
    """Return the invented reading of a number; each has its own."""
    return f"{number % 6000 / 100:.2f} V"


def seen_of(place):
    return ("lost", "kept")[place % 3 == 0]


# The writer -----------------------------------------------------------------------


def write_without_end(folder, voice, first, short):
    """Record until killed, saying each recording once it is made."""
    whole_write = os.write

    def say(line):
        whole_write(voice, f"{line}\n".encode())

    if short:

        def a_few_bytes(handle, data):
            # A short write is the system's right; the pause lets a kill fall there.
            time.sleep(0.0005)
            return whole_write(handle, bytes(data[:23]))

        os.write = a_few_bytes
    case = open_case(folder)
    plan = plan_of(case)
    say("opened")
    made = len(plan.rows.made())
    number = first
    while True:
        name = f"V_{number}"
        case.record(name, text_of(number), using="handheld", at=PLACE)
        say(f"reading {number}")
        number += 1
        pair = {f"V_{n}": text_of(n) for n in (number, number + 1)}
        case.record_together(pair, using="handheld", at=PLACE)
        say(f"reading {number}\nreading {number + 1}")
        number += 2
        made += 1
        plan.outcome(seen_of(made), at=made, note=PLACE)
        say(f"attempt {made}")


# The killer -----------------------------------------------------------------------


@dataclass
class Folder:
    """One case folder, and what its writers said so far."""

    path: Path
    readings: set[int] = field(default_factory=set)
    attempts: set[int] = field(default_factory=set)
    first: int = 0

    def write_case(self):
        self.path.mkdir()
        (self.path / "case.toml").write_text(CASE, encoding="utf-8")
        (self.path / "instruments.toml").write_text(INSTRUMENTS, encoding="utf-8")


def kill_once(folder, moments):
    """Fork a writer, kill it, and return the whole lines it said."""
    ears, voice = os.pipe()
    short = moments.random() < 0.5
    child = os.fork()
    if not child:
        os.close(ears)
        try:
            write_without_end(folder.path, voice, folder.first, short)
        except BaseException as problem:
            os.write(voice, f"failed {type(problem).__name__}: {problem}\n".encode())
        os._exit(1)
    os.close(voice)
    said = b""
    # A fifth of the kills may fall while the case is being opened or recovered.
    if moments.random() < 0.8:
        said = os.read(ears, 1 << 16)
    time.sleep(moments.uniform(0, 0.03))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(ears, 1 << 16):
        said += part
    os.close(ears)
    return said.decode().split("\n")[:-1]  # what has no line end was not said


def note_what_was_said(folder, lines):
    for line in lines:
        kind, _, rest = line.partition(" ")
        if kind == "failed":
            raise AssertionError(f"the writer stopped by itself: {rest}")
        if kind == "reading":
            folder.readings.add(int(rest))
        elif kind == "attempt":
            folder.attempts.add(int(rest))


def end_of_whole_rows(data):
    """Return where the last whole row ends, found without the kit's reader.

    A row ends at a line end with an even number of quotes before it.
    """
    end = quotes = 0
    for place, byte in enumerate(data):
        quotes += byte == ord('"')
        if byte == ord("\n") and quotes % 2 == 0:
            end = place + 1
    return end


def left_by(folder):
    """Return, for each log, its half row and the bytes of its whole ones."""
    found = {}
    for log in LOGS:
        path = folder.path / log
        data = path.read_bytes() if path.exists() else b""
        end = end_of_whole_rows(data)
        found[log] = (data[end:], data[:end])
    return found


def check(folder, before):
    """Open the case that is left, record in it, and hold it against what was said.

    Parameters
    ----------
    before : dict
        Log to its half row and the bytes of its whole ones, as the kill left them.
    """
    case = open_case(folder.path)
    plan = plan_of(case)
    folder.first = max([n + 1 for n in folder.readings] or [0]) + 10
    case.record(f"V_{folder.first}", text_of(folder.first), using="handheld")
    folder.readings.add(folder.first)
    folder.first += 1
    made = len(plan.rows.made()) + 1
    plan.outcome(seen_of(made), at=made)
    folder.attempts.add(made)

    again = open_case(folder.path)
    record = again.book.record
    for number in folder.readings:
        found = record.of(f"V_{number}")
        assert len(found) == 1, f"V_{number}: {len(found)} readings are left"
    for reading in record.readings:
        number = int(reading.measurand.removeprefix("V_"))
        value = f"{reading.value.text} {reading.value.unit}"
        assert value == text_of(number), f"{reading} is not what was recorded"
        assert reading.at in ("", PLACE), f"{reading.row}: a half place"
    attempts = {m.place: m for m in again.trials["power"].rows.made()}
    assert folder.attempts <= attempts.keys(), "an attempt that was said is gone"
    for place, made in attempts.items():
        assert made.outcome == seen_of(place), f"attempt {place}: {made.outcome}"
        assert made.note in ("", PLACE), f"attempt {place}: a half note"
    for log, (torn, whole) in before.items():
        data = (folder.path / log).read_bytes()
        assert data.startswith(whole), f"{log}: whole rows changed"
        # A row that lacks only its line end is whole, and stays where it is.
        if torn and not data.startswith(whole + torn + b"\n"):
            aside = folder.path / f"{log}.torn"
            kept = aside.read_bytes() if aside.exists() else b""
            assert kept.endswith(torn + b"\n"), f"{log}: {torn!r} was thrown away"


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=1000, help="how many kills")
    parser.add_argument("--seed", type=int, default=1, help="of the moments")
    wanted = parser.parse_args()
    moments, counts = random.Random(wanted.seed), Counter()
    with tempfile.TemporaryDirectory() as root:
        for kill in range(wanted.count):
            if kill % KILLS_PER_CASE == 0:
                folder = Folder(Path(root, f"case-{kill}"))
                folder.write_case()
            said = kill_once(folder, moments)
            note_what_was_said(folder, said)
            before = left_by(folder)
            counts["half readings"] += bool(before["readings.csv"][0])
            counts["half attempts"] += bool(before["trials.csv"][0])
            counts["recordings said"] += sum(" " in line for line in said)
            try:
                check(folder, before)
            except Exception as problem:
                sys.exit(f"kill {kill}, seed {wanted.seed}: {problem!r}")
    told = ", ".join(f"{count} {what}" for what, count in sorted(counts.items()))
    sys.stdout.write(f"{wanted.count} kills: {told}; none lost, every log opened\n")


if __name__ == "__main__":
    main()

"""Measure the paths people wait for against floors timed in the same run.

``python bench/run.py`` runs everything, ``python bench/run.py budget load`` only
the groups whose names begin so. A floor is what the work costs at least: only
ratios are worth comparing between machines. All files go to a folder that is
removed at the end, the compiled copy of the kit included.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

sys.dont_write_bytecode = True
from budgets import budget  # noqa: E402
from captures import capture  # noqa: E402
from circuits import nodes  # noqa: E402
from covering import coverage  # noqa: E402
from harness import Line, report  # noqa: E402
from logs import append, check, load  # noqa: E402
from montecarlo import monte_carlo  # noqa: E402
from scaling import scaling  # noqa: E402
from sessions import living, run, start  # noqa: E402
from trials import ledger, limits, plans  # noqa: E402

KIT = Path(__file__).resolve().parent.parent / "kit"


RECORDS = (append, load, check)
SESSIONS = (start, living, run)
CAPTURES = (capture, scaling, coverage)
TRIALS = (limits, plans, ledger)
ALL = (monte_carlo, budget, *RECORDS, *SESSIONS, *CAPTURES, nodes, *TRIALS)
GROUPS = {f.__name__: f for f in ALL}


def main(wanted: list[str]) -> None:
    chosen = [g for name, g in GROUPS.items() if name.startswith(tuple(wanted or [""]))]
    if not chosen:
        sys.exit(f"no group begins so; there are {', '.join(GROUPS)}")
    lines: list[Line] = []
    failed = False
    with tempfile.TemporaryDirectory(prefix="benchproof-bench-") as name:
        folder = Path(name)
        copied = folder / "kit"
        shutil.copytree(KIT, copied, ignore=shutil.ignore_patterns("__pycache__"))
        sys.path.insert(0, str(copied))
        os.environ["PYTHONPATH"] = str(copied)
        # An installed kit is compiled once: so is the copy, whatever was asked here.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        for group in chosen:
            print(f"{group.__name__} …", file=sys.stderr, flush=True)
            try:
                lines.extend(group(folder))
            except Exception as problem:  # the other groups are still worth having
                failed = True
                said = str(problem).strip().partition("\n")[0]
                note = f"FAILED: {type(problem).__name__}: {said}"
                lines.append(Line(group.__name__, note=note))
    print(report(lines))
    sys.exit(failed)


if __name__ == "__main__":
    main(sys.argv[1:])

"""Timings of a session: commands, the first cell, a headless run."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from harness import Act, Line, again, medians
from invented import case_folder

if TYPE_CHECKING:
    from benchproof import Case
    from benchproof.keeping.state.state import State

KIT = Path(__file__).resolve().parent.parent / "kit"


def start(folder: Path) -> Iterator[Line]:
    made = case_folder(folder, count=0)
    bare = _python(folder, "-c", "pass")
    if find_spec("benchproof.cli"):
        shown = _python(folder, "-m", "benchproof.cli", "--help")
        floor, seconds = medians(15, again(bare), again(shown))
        yield Line("benchproof --help", seconds, floor, 3)
    else:
        yield Line("benchproof --help", note="skipped: there is no benchproof.cli yet")
    code = f"from benchproof import open_case; open_case({str(made)!r})"
    imports = _python(folder, "-c", "import pint, pandas")
    floor, seconds = medians(9, again(imports), again(_python(folder, "-c", code)))
    yield Line("first cell: import and open_case()", seconds, floor, 1.3)


def _python(folder: Path, *arguments: str) -> Act:
    command = [sys.executable, *arguments]
    return partial(
        subprocess.run,
        command,
        check=True,
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
    )


CIRCUITS = 20


def living(folder: Path) -> Iterator[Line]:
    """Time every budget of a 200-quantity case again after one change."""
    from benchproof.keeping.state.renewing import state_of

    case = _circuits(folder)
    numbers = iter(range(10**6))

    def ask(state: State) -> None:
        for name in state.graph.units:
            state.budget(name)

    def from_the_start() -> None:
        ask(state_of(case.book.record, case.instruments, case.defined))

    def one_reading(name: str) -> Act:
        text = f"12.{next(numbers) % 1000:03d} 12.100 12.110 V"
        case.record(name, text, using="handheld", because="read again")
        return lambda: ask(case.state())

    def one_constant() -> Act:
        case.constant("k", f"1.{next(numbers):06d}(2)")
        return lambda: ask(case.state())

    whole, last, first, shared = medians(
        25,
        again(from_the_start),
        partial(one_reading, "V_7_3"),
        partial(one_reading, "V_7_0"),
        one_constant,
    )
    count = len(case.state().graph.units)
    yield Line(f"{count} quantities, one reading that 2 rest on", last, whole, 0.05)
    yield Line("  one that 5 rest on", first, whole, 0.05)
    yield Line("  a constant that 100 rest on", shared, whole)


def _circuits(folder: Path) -> Case:
    """A case of circuits, each with five measurands and five derived quantities."""
    from benchproof import open_case

    case = open_case(case_folder(folder, count=0))
    case.constant("k", "1.0(2)")
    for i in range(CIRCUITS):
        for j in range(5):
            text = f"1{j}.10 1{j}.12 1{j}.11 V"
            case.record(f"V_{i}_{j}", text, using="handheld")
        names = [f"V_{i}_{j}" for j in range(5)]
        for j in range(5):
            first, second = names[-1], names[j]
            names.append(f"D_{i}_{j}")
            code = f"def {names[-1]}({first}, {second}, k):"
            code += f"\n    return k * {first} + {second} ** 2 / {first}"
            space: dict[str, Any] = {}
            exec(code, space)
            case.derive(unit="V")(space[names[-1]])
    return case


CELLS = [
    "from benchproof import open_case\ncase = open_case()",
    'case.record("V_idle", "12.10 12.10 12.09 V", using="handheld")',
    'case.record("V_slew", "11.39 V", using="handheld")',
    '@case.derive(unit="V")\ndef sag(V_idle, V_slew):\n    return V_idle - V_slew',
    'case.budget("sag")',
    'case.hypothesis("H1", "the supply sags").predicts(\n'
    '    "the rail falls", case["V_slew"].below("11.50 V"))',
    "case.verdicts()",
    'case.conclude("The rail sags by {sag}: {H1}.")',
]


def run(folder: Path) -> Iterator[Line]:
    if not find_spec("benchproof.keeping.runs.rerun"):
        yield Line(
            "headless run", note="skipped: there is no keeping/runs/rerun.py yet"
        )
        return
    from benchproof import run_case

    empty = partial(_execute, folder, ["pass"] * len(CELLS))
    opened = CELLS[:1] + ["pass"] * (len(CELLS) - 1)
    for name, cells in (("a case just opened", opened), ("a small case", CELLS)):
        made = case_folder(folder, count=0)
        _notebook(made, cells)
        floor, by_hand, seconds = medians(
            5,
            again(empty),
            again(partial(_execute, made, cells)),
            again(partial(run_case, made)),
        )
        yield Line(f"headless run, {name}, {len(cells)} cells", seconds, floor, 1.3)
        yield Line("  against nbclient running the same", seconds, by_hand, 1.3)
    script, command = medians(
        5,
        again(_python(folder, "-c", _SCRIPT, str(made))),
        again(_python(folder, "-m", "benchproof.cli", "run", str(made))),
    )
    name = "benchproof run, the command, against nbclient in a script"
    yield Line(name, command, script, 1.3)


_SCRIPT = """import sys, nbformat, nbclient
path = sys.argv[1]
book = nbformat.read(path + "/investigation.ipynb", 4)
client = nbclient.NotebookClient(book, resources={"metadata": {"path": path}})
client.execute()
nbformat.write(book, path + "/copy.ipynb")
"""


def _notebook(folder: Path, cells: list[str]) -> None:
    import nbformat

    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(c) for c in cells])
    nbformat.write(book, folder / "investigation.ipynb")


def _execute(folder: Path, cells: list[str]) -> None:
    import nbclient
    import nbformat

    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(c) for c in cells])
    resources = {"metadata": {"path": str(folder)}}
    # Its kernels warn that they talk in the clear; the table is what matters here.
    client = nbclient.NotebookClient(book, resources=resources)
    client.execute(stderr=subprocess.DEVNULL)

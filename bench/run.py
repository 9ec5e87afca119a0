"""Measure the paths people wait for against floors timed in the same run.

``python bench/run.py`` runs everything, ``python bench/run.py budget load`` only
the groups whose names begin so. A floor is what the work costs at least: only
ratios are worth comparing between machines. All files go to a folder that is
removed at the end, the compiled copy of the kit included.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import tracemalloc
from collections.abc import Callable, Iterator
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

sys.dont_write_bytecode = True
from captures import capture  # noqa: E402
from harness import Act, Candidate, Line, again, medians, report  # noqa: E402
from invented import case_folder, reading, readings  # noqa: E402

KIT = Path(__file__).resolve().parent.parent / "kit"
# Monte Carlo --------------------------------------------------------------------


def monte_carlo(folder: Path) -> Iterator[Line]:
    from benchproof.reasoning.montecarlo.runs import monte_carlo_of

    numbers = iter(range(10**6))

    def one_new_reading() -> Act:
        graph = _six_inputs(moved=1e-6 * next(numbers))
        return partial(monte_carlo_of, graph, "y", draws=1_000_000, threads=1)

    fixed = partial(monte_carlo_of, _six_inputs(), "y", draws=1_000_000)
    alone = partial(fixed, threads=1)
    steadied = partial(alone, control=True)
    floor, seconds, both, more = medians(
        7, again(_only_draw), _fresh(alone), _fresh(fixed), _fresh(steadied)
    )
    yield Line("Monte Carlo, 1e6 draws, 6 inputs, one thread", seconds, floor, 1.3)
    yield Line("  two threads", both, floor)
    yield Line("  one thread, steadied by the linear model", more, floor)
    alone()  # leaves its draws behind, which the first below would otherwise make
    (rerun,) = medians(7, one_new_reading)
    yield Line("  again after one new reading, against fresh", rerun, seconds, 0.25)
    # How many draws settle two digits depends on how near the linear result lies to
    # its limit: with 30 degrees of freedom it is clear of it, with 9 it is not.
    for name, dof in (("", 30.0), (", linear result in doubt", 9.0)):
        act = partial(monte_carlo_of, _six_inputs(dof), "y")
        (seconds,) = medians(25, _fresh(act))
        word = "met" if seconds <= 0.010 else "missed"
        note = f"10 ms {word}; {act().draws} draws"
        yield Line(f"Monte Carlo to 2 digits{name}", seconds, note=note)
    gain = _gain(100)
    word = "met" if gain >= 100 else "missed"
    note = f"1/{gain:.0f} (100 replicates), 1/100 {word}"
    yield Line("  draws for equal ends, to those of plain draws", note=note)


def _fresh(act: Act) -> Candidate:
    """Forget the draws kept from before, untimed."""
    from benchproof.reasoning.montecarlo.draws import DRAWS

    def prepare() -> Act:
        DRAWS.empty()
        return act

    return prepare


def _gain(replicates: int) -> float:
    """Variance of the interval ends of plain draws over that of steadied ones."""
    import numpy as np

    from benchproof.reasoning.montecarlo.runs import monte_carlo_of

    variances = []
    for control in (False, True):
        run = partial(monte_carlo_of, _six_inputs(), "y", draws=20_000, control=control)
        ends = [run(seed=seed).symmetric for seed in range(replicates)]
        variances.append(np.var(ends, axis=0))
    return float((variances[0] / variances[1]).min())


def _six_inputs(degrees_of_freedom: float = 9.0, moved: float = 0.0) -> object:
    from benchproof.reasoning.budgets.formulas import Formula
    from benchproof.reasoning.budgets.graph import Graph
    from benchproof.values.sources import Estimate, Source
    from benchproof.values.units import unit_of

    def y(a, b, c, d, e, f):
        return (a - b) / c + d * e / f

    one = unit_of("")
    shapes = ("normal", "normal", "rectangular", "rectangular", "triangular", "t")
    inputs = {}
    for place, (name, shape) in enumerate(zip("abcdef", shapes, strict=True)):
        dof = degrees_of_freedom if shape == "t" else float("inf")
        source = Source(f"{name} · source", "B", shape, 0.01, one, dof)
        inputs[name] = Estimate(1.0 + 0.5 * place, ((source, 1.0),))
    inputs["d"] = Estimate(2.5 + moved, inputs["d"].parts)
    formula = Formula("y", one, y, tuple("abcdef"))
    return Graph(inputs, dict.fromkeys([*inputs, "y"], one), {"y": formula})


def _only_draw() -> None:
    """Draw what the six inputs need, block by block, and keep nothing."""
    import numpy as np

    size = 20_000
    streams = [np.random.Generator(np.random.SFC64(n)) for n in range(6)]
    for _ in range(1_000_000 // size):
        for stream in streams[:2]:
            stream.standard_normal(size)
        for stream in streams[2:4]:
            stream.random(size)
        streams[4].random(size)
        streams[4].random(size)
        streams[5].standard_t(9.0, size)


# Budgets ------------------------------------------------------------------------


def budget(folder: Path) -> Iterator[Line]:
    from benchproof.reasoning.budgets import graph as graphs
    from benchproof.reasoning.budgets.budget import budget_of

    sys.setrecursionlimit(1_000_000)  # for the floor, not for the kit
    for count, repeats in ((100, 99), (1000, 25), (10_000, 7), (100_000, 3)):
        make, last = partial(_chain, count), f"q{count - 1}"
        graph = make()
        floor, least, seconds = medians(
            repeats,
            again(partial(_values_by_name, graph, last)),
            again(partial(_only_values, graph)),
            lambda make=make, last=last: partial(budget_of, make(), last),
        )
        each = f"{seconds / count * 1e6:.1f} µs each"
        most = _peak(partial(budget_of, make(), last))
        note = f"{each}, peak {most / 1e6:.2f} MB"
        path = f"budget of the last of {count} quantities"
        yield Line(path, seconds, floor, 5, note=note)
        yield Line("  against a bare loop, order known", seconds, least)

    def first_time() -> Act:
        graphs._ANALYTIC.clear()
        return partial(budget_of, _chain(1000), "q999")

    (seconds,) = medians(5, first_time)
    yield Line("  1000, functions not seen before", seconds, note="derivatives checked")
    yield from _libraries()
    yield _formula_with_units()


def _peak(act: Act) -> int:
    """Return the most bytes held at a time; tracing slows, so nothing is timed."""
    tracemalloc.start()
    act()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


def _libraries() -> Iterator[Line]:
    """Time general libraries on the same chain, and say whether u agrees."""
    from benchproof.reasoning.budgets.budget import budget_of

    # Module, what makes a number with its u, what takes u from the result.
    libraries = (
        ("uncertainties", "ufloat", lambda y: y.std_dev),
        ("gvar", "gvar", lambda y: y.sdev),
        ("soerp", "N", lambda y: y.std),
    )
    for name, maker, spread in libraries:
        if not find_spec(name):
            yield Line(f"  with the {name} library", note="not installed")
            continue
        make = getattr(import_module(name), maker)
        for count in (25, 50, 100):
            graph = _chain(count)
            values = {n: make(e.value, 0.01) for n, e in graph.inputs.items()}
            act = partial(lambda g, v, u: u(_only_values(g, v)), graph, values, spread)
            floor, seconds = medians(3, again(partial(_only_values, graph)), again(act))
            u = budget_of(graph, f"q{count - 1}").standard_uncertainty
            note = f"u is {float(act()) / u:.4g} times ours"
            path = f"  {count} with the {name} library"
            yield Line(path, seconds, floor, note=note)


def _formula_with_units() -> Line:
    """Time one block of draws, the units checked anew each time."""
    import numpy as np

    from benchproof.reasoning.budgets.formulas import Formula, check_dimension
    from benchproof.values.units import unit_of

    def resistance(volt, current, phase):
        return volt / current * np.cos(phase)

    units = {
        "volt": unit_of("V"),
        "current": unit_of("mA"),
        "phase": unit_of("rad"),
    }
    formula = Formula("resistance", unit_of("ohm"), resistance, tuple(units))
    point = (5.0, 0.02, 1.04)
    stream = np.random.default_rng(1)
    block = [value * (1 + 0.01 * stream.standard_normal(16_384)) for value in point]

    def checked() -> object:
        check_dimension(formula, point, units)
        return formula(block)

    floor, seconds = medians(200, again(partial(resistance, *block)), again(checked))
    return Line("formula with units checked, 16k block", seconds, floor, 1.5)


def _chain(count: int) -> object:
    """Link quantities that each take one just before, one far before, one input."""
    from benchproof.reasoning.budgets.formulas import Formula
    from benchproof.reasoning.budgets.graph import Graph
    from benchproof.values.sources import Estimate, Source
    from benchproof.values.units import unit_of

    one = unit_of("")
    inputs = {}
    for i in range(10):
        source = Source(f"x{i} · source", "B", "normal", 0.01, one)
        inputs[f"x{i}"] = Estimate(1.0 + i / 10, ((source, 1.0),))
    formulas = {}
    for i, function in enumerate(_functions(count)):
        before = f"q{i - 1}" if i else "x1"
        further = f"q{i // 2}" if i > 1 else "x2"
        arguments = (before, further, f"x{i % 10}")
        formulas[f"q{i}"] = Formula(f"q{i}", one, function, arguments)
    return Graph(inputs, dict.fromkeys([*inputs, *formulas], one), formulas)


_made: list[Callable[..., float]] = []


def _functions(count: int) -> list[Callable[..., float]]:
    """Return distinct functions, as distinct cells define them."""
    while len(_made) < count:

        def quantity(a, b, c, weight=0.5):
            return weight * a + 0.4 * b * c / (1 + c)

        _made.append(quantity)
    return _made[:count]


def _values_by_name(graph, target):
    """Find what is needed and call it once: the least that takes only names."""
    found = {name: e.value for name, e in graph.inputs.items()}

    def value(name):
        if name not in found:
            formula = graph.formulas[name]
            found[name] = formula.function(*[value(a) for a in formula.arguments])
        return found[name]

    return value(target)


def _only_values(graph, values=None):
    """Call each function once, in an order known beforehand."""
    found = values or {name: e.value for name, e in graph.inputs.items()}
    found = dict(found)
    for name, formula in graph.formulas.items():
        a, b, c = formula.arguments
        result = found[name] = formula.function(found[a], found[b], found[c])
    return result


# Readings -----------------------------------------------------------------------


def append(folder: Path) -> Iterator[Line]:
    from benchproof import open_case
    from benchproof.keeping.logs.log import AppendLog
    from benchproof.measuring.readings import COLUMNS

    made = case_folder(folder, count=1000)
    log = AppendLog(made / "readings.csv", COLUMNS)
    case = open_case(case_folder(folder, count=1000))
    entry = {**reading(1), "time": "2026-01-31T12:00:00Z"}
    line = readings(1).splitlines(keepends=True)[1]
    plain = folder / "plain.csv"
    numbers = iter(range(10**6))

    def by_case() -> Act:
        name = f"W_{next(numbers)}"
        return partial(
            case.record, name, "12.10 V", using="handheld", at="socket, idle"
        )

    floor, by_log, recorded = medians(
        200,
        again(partial(_append_plainly, plain, line)),
        again(partial(log.append, lambda rows: [entry])),
        by_case,
    )
    yield Line("append a reading, the log alone", by_log, floor, 1.3)
    yield Line("append a reading, case.record", recorded, floor, 1.3)


def _append_plainly(path: Path, line: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, line)
    os.fsync(handle)
    os.close(handle)


def load(folder: Path) -> Iterator[Line]:
    import pandas as pd

    from benchproof import open_case
    from benchproof.keeping.logs.log import AppendLog
    from benchproof.measuring.readings import COLUMNS

    made = case_folder(folder, count=100_000)
    path = made / "readings.csv"
    floor, rows, whole, asked = medians(
        5,
        again(partial(pd.read_csv, path)),
        again(lambda: AppendLog(path, COLUMNS).rows()),
        again(partial(open_case, made)),
        lambda: open_case(made).state,
    )
    yield Line("load 1e5 readings, rows alone", rows, floor, 1.5)
    yield Line("load 1e5 readings, open_case", whole, floor, 1.5)
    yield Line("  then evaluate all 1000 measurands", asked, floor)
    case = open_case(made)
    names = iter(range(10**6))

    def record_and_ask() -> object:
        name = f"W_{next(names)}"
        case.record(name, "12.10 V", using="handheld", at="socket, idle")
        return case.state()

    (seconds,) = medians(3, again(record_and_ask))
    yield Line("  then record one more and evaluate", seconds)


# Starting -----------------------------------------------------------------------


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


# Running ------------------------------------------------------------------------

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
    if not find_spec("benchproof.keeping.rerun"):
        yield Line("headless run", note="skipped: there is no keeping/rerun.py yet")
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
        yield Line("  against nbclient running the same", seconds, by_hand)


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


# --------------------------------------------------------------------------------

GROUPS = {
    f.__name__: f for f in (monte_carlo, budget, append, load, start, run, capture)
}


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

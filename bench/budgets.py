"""Timings of budgets, against values only, and of general libraries."""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Callable, Iterator
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from harness import Act, Line, again, medians

KIT = Path(__file__).resolve().parent.parent / "kit"


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

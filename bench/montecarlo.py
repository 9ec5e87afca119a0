"""Timings of Monte Carlo, against drawing alone."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from harness import Act, Candidate, Line, again, medians

KIT = Path(__file__).resolve().parent.parent / "kit"


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

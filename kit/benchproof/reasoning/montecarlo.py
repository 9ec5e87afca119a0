"""Propagation of distributions by Monte Carlo, in blocks of bounded memory."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchproof.reasoning.budget import Budget, budget_of
from benchproof.reasoning.graph import Graph
from benchproof.reasoning.intervals import (
    Floats,
    coverage_intervals,
    numerical_tolerance,
    symmetric_interval,
)
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.quantities import rounded, shorthand
from benchproof.values.sources import Joint, Source
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit

BLOCK = 20_000
"""Draws per block: JCGM 101:2008, 7.9.4 asks for at least 10^4 at 95 %."""
MOST_DRAWS = 2_000_000
"""Where adaptive stopping gives up and says so."""


@dataclass(frozen=True, slots=True, repr=False)
class MonteCarlo(Tabular):
    """What Monte Carlo says about a quantity; numbers in SI.

    Attributes
    ----------
    value, standard_uncertainty : float
        Mean and standard deviation of the draws.
    symmetric, shortest : (float, float)
        Coverage intervals at `level`, probabilistically symmetric and shortest.
    stable : bool
        Whether the requested digits had settled when drawing stopped.
    linear_holds : bool
        JCGM 101:2008, clause 8: both ends of the budget's interval agree.
    budget : Budget or None
        The linear result; None where the formula has no derivative.
    tolerance : float
        Half a unit of the last requested digit of u.
    """

    name: str
    unit: Unit
    value: float
    standard_uncertainty: float
    level: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    draws: int
    seed: int
    tolerance: float
    stable: bool
    linear_holds: bool
    budget: Budget | None
    caveats: tuple[str, ...] = ()

    def table(self) -> Table:
        """Return Monte Carlo beside the linear budget."""
        drawn = shorthand(
            self.unit.from_si(self.value),
            self.standard_uncertainty / self.unit.difference().factor,
            self.unit.symbol,
        )
        rows = [
            ("Monte Carlo", drawn, self._interval(self.symmetric), "symmetric"),
            ("Monte Carlo", drawn, self._interval(self.shortest), "shortest"),
        ]
        if self.budget:
            k = f"k = {self.budget.coverage_factor:.2f}"
            ends = self._interval(_linear_ends(self.budget))
            rows.insert(0, ("linear budget", self.budget.result(), ends, k))
        heads = columns("Method", "Value(u)>", f"{100 * self.level:g} % interval", "")
        verdict = "the linear result holds" if self.linear_holds else "use Monte Carlo"
        note = f"{verdict} ({self.draws} draws, seed {self.seed}; JCGM 101, clause 8)"
        return Table(
            f"Monte Carlo of {self.name}", heads, tuple(rows), (note, *self.caveats)
        )

    def _interval(self, ends: tuple[float, float]) -> str:
        u = self.standard_uncertainty / self.unit.difference().factor
        low, high = (rounded(self.unit.from_si(end), u)[0] for end in ends)
        return f"{low} … {high} {self.unit.symbol}".rstrip()


def monte_carlo_of(
    graph: Graph,
    target: str,
    *,
    level: float = 0.95,
    digits: int = 2,
    draws: int | None = None,
    seed: int = 20260101,
) -> MonteCarlo:
    """Propagate the sources' distributions through the formulas.

    Parameters
    ----------
    level : float
        Coverage probability.
    digits : int
        Significant digits of u that must be stable when `draws` is None.
    draws : int, optional
        A fixed number of draws instead of adaptive stopping.
    seed : int
        The same seed gives the same result; each source has its own stream.

    Raises
    ------
    FormulaError
        If a formula does not take arrays or gives values that are not finite.
    InputError
        If `digits` or `draws` make no sense.

    References
    ----------
    JCGM 101:2008, 7 (procedure), 7.9 (adaptive), 7.7 (intervals), 8 (validation).
    """
    if digits not in (1, 2, 3) or (draws is not None and draws < 1000):
        raise InputError("monte_carlo: digits is 1, 2 or 3; draws at least 1000.")
    linear = _linear(graph, target, level)
    blocks = _blocks(graph, target, seed)
    if draws is None:
        ends = _linear_ends(linear) if linear else None
        outcome, stable = _adaptive(blocks, level, digits, ends)
    else:
        outcome, stable = _fixed(blocks, draws), True
    u = float(outcome.std(ddof=1))
    shortest, symmetric = coverage_intervals(outcome, level)
    tolerance = numerical_tolerance(u, digits)
    return MonteCarlo(
        target,
        graph.units[target],
        float(outcome.mean()),
        u,
        level,
        symmetric,
        shortest,
        outcome.size,
        seed,
        tolerance,
        stable,
        linear is not None and _gap(_linear_ends(linear), symmetric) <= tolerance,
        linear,
        _caveats(linear, stable),
    )


def _linear(graph: Graph, target: str, level: float) -> Budget | None:
    try:
        return budget_of(graph, target, level)
    except FormulaError:
        graph.value(target)  # a formula that fails even without derivatives says so
        return None


def _linear_ends(linear: Budget) -> tuple[float, float]:
    half = linear.expanded_uncertainty
    return linear.value - half, linear.value + half


def _gap(first: tuple[float, float], second: tuple[float, float]) -> float:
    """Return the larger distance between the ends of two intervals."""
    return max(abs(first[0] - second[0]), abs(first[1] - second[1]))


def _fixed(blocks: Iterator[Floats], draws: int) -> Floats:
    outcome = np.empty(draws)
    for start in range(0, draws, BLOCK):
        block = next(blocks)
        outcome[start : start + BLOCK] = block[: draws - start]
    return outcome


def _adaptive(
    blocks: Iterator[Floats],
    level: float,
    digits: int,
    linear: tuple[float, float] | None,
) -> tuple[Floats, bool]:
    """Draw until twice the standard deviation of the block averages is small.

    Where the linear result lies so close to the tolerance that chance would decide
    about it, drawing goes on (JCGM 101:2008, 8.2, asks for more draws there).
    """
    kept: list[Floats] = []
    figures: list[tuple[float, float, float, float]] = []
    settled = False
    while len(kept) * BLOCK < MOST_DRAWS:
        block = next(blocks)
        kept.append(block)
        low, high = symmetric_interval(block, level)
        figures.append((float(block.mean()), float(block.std(ddof=1)), low, high))
        if len(kept) < 2:
            continue
        table = np.array(figures)
        spread = 2 * table.std(axis=0, ddof=1) / math.sqrt(len(kept))
        tolerance = numerical_tolerance(float(table[:, 1].mean()), digits)
        settled = bool(np.all(spread <= tolerance))
        if settled and (linear is None or _is_clear(table, spread, linear, tolerance)):
            break
    return np.concatenate(kept), settled


def _is_clear(
    table: Floats, spread: Floats, linear: tuple[float, float], tolerance: float
) -> bool:
    """Tell whether the linear ends are surely within the tolerance, or surely not."""
    low, high = (float(end) for end in table[:, 2:].mean(axis=0))
    gap, noise = _gap((low, high), linear), float(spread[2:].max())
    return gap + noise <= tolerance or gap - noise > tolerance


def _caveats(linear: Budget | None, stable: bool) -> tuple[str, ...]:
    caveats = []
    if linear is None:
        return ("the formula has no derivative here: there is no linear budget",)
    if not stable:
        caveats.append(f"not settled to the requested digits after {MOST_DRAWS} draws")
    few = [x.source.name for x in linear.lines if x.source.degrees_of_freedom <= 2]
    if few:
        caveats.append(
            f"{', '.join(few)}: with three repeats or fewer the distribution has no "
            "standard deviation; trust the interval, not u"
        )
    return tuple(caveats)


def _blocks(graph: Graph, target: str, seed: int) -> Iterator[Floats]:
    """Yield blocks of the target's draws; memory does not grow with their number."""
    sensitive = graph.inputs_of(target)
    inputs = [name for name in sensitive if graph.inputs[name].parts]
    sources = {s.name: s for n in inputs for s, _ in graph.inputs[n].parts}
    draw = _Draws(sources, graph.joints, seed)
    steps = [graph.formulas[name] for name in graph.order(target)]
    while True:
        standard = draw.block()
        values: dict[str, Any] = {}
        for name in sensitive:
            values[name] = _drawn(graph, name, standard)
        for formula in steps:
            arguments = [values[n] for n in formula.arguments]
            values[formula.name] = _vector(formula.name, formula(arguments))
        yield _finite(target, np.broadcast_to(values[target], (BLOCK,)))


def _drawn(graph: Graph, name: str, standard: Mapping[str, Floats]) -> Any:
    estimate = graph.inputs[name]
    total: Any = estimate.value
    for source, sensitivity in estimate.parts:
        step = sensitivity * source.standard_uncertainty
        total = total + step * standard[source.name]
    return total


def _vector(name: str, result: Any) -> Any:
    shape = np.shape(result)
    if shape not in ((), (BLOCK,)):
        raise FormulaError(
            f"{name}: given arrays of {BLOCK} draws, the formula returned shape "
            f"{shape}. Write it so that it works element by element (numpy functions)."
        )
    return result


def _finite(name: str, block: Floats) -> Floats:
    if not np.isfinite(block).all():
        bad = int(np.count_nonzero(~np.isfinite(block)))
        raise FormulaError(
            f"{name}: {bad} of {BLOCK} draws are not finite. The formula leaves its "
            "domain within the uncertainty of its inputs: guard it or measure closer."
        )
    return block


class _Draws:
    """Standardised draws, one stream per source so that adding one moves no other."""

    def __init__(
        self, sources: Mapping[str, Source], joints: tuple[Joint, ...], seed: int
    ) -> None:
        self.sources = sources
        self.streams = {name: _stream(seed, name) for name in sources}
        self.joints = [j for j in joints if any(n in sources for n in j.names)]
        self.joint_streams = [_stream(seed, " & ".join(j.names)) for j in self.joints]
        self.roots = [_root(j) for j in self.joints]
        self.joined = {n for j in self.joints for n in j.names}

    def block(self) -> dict[str, Floats]:
        """Return one block of draws of every source, mean 0 and unit scale."""
        drawn = {
            name: _standard(source, self.streams[name])
            for name, source in self.sources.items()
            if name not in self.joined
        }
        for joint, stream, root in zip(
            self.joints, self.joint_streams, self.roots, strict=True
        ):
            together = root @ stream.standard_normal((len(joint.names), BLOCK))
            if math.isfinite(joint.degrees_of_freedom):
                together /= np.sqrt(_chi_square_over(joint.degrees_of_freedom, stream))
            drawn.update(zip(joint.names, together, strict=True))
        return drawn


def _stream(seed: int, name: str) -> np.random.Generator:
    key = zlib.crc32(name.encode())
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed, key])))


def _root(joint: Joint) -> Floats:
    """Return a square root of the correlation matrix, which may be singular."""
    values, vectors = np.linalg.eigh(np.array(joint.correlation))
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))


def _chi_square_over(dof: float, stream: np.random.Generator) -> Floats:
    return stream.chisquare(dof, BLOCK) / dof


_DRAW: dict[str, Callable[[np.random.Generator], Floats]] = {
    "normal": lambda stream: stream.standard_normal(BLOCK),
    "rectangular": lambda stream: (stream.random(BLOCK) - 0.5) * math.sqrt(12),
    "triangular": lambda stream: (
        (stream.random(BLOCK) - stream.random(BLOCK)) * math.sqrt(6)
    ),
    "arcsine": lambda stream: np.sin(math.tau * stream.random(BLOCK)) * math.sqrt(2),
}


def _standard(source: Source, stream: np.random.Generator) -> Floats:
    """Draw from a source's distribution, scaled as JCGM 101:2008, 6.4 says.

    A t distribution is scaled by u, so that its standard deviation exceeds u.
    """
    if source.distribution == "t" and math.isfinite(source.degrees_of_freedom):
        return stream.standard_t(source.degrees_of_freedom, BLOCK)
    return _DRAW["normal" if source.distribution == "t" else source.distribution](
        stream
    )

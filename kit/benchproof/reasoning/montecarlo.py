"""Propagation of distributions by Monte Carlo, in blocks of bounded memory."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.budget import Budget, budget_of
from benchproof.reasoning.graph import Graph
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.quantities import rounded, shorthand
from benchproof.values.sources import Joint, Source
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit

Floats = NDArray[np.float64]

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
    budget: Budget
    caveats: tuple[str, ...] = ()

    def table(self) -> Table:
        """Return Monte Carlo beside the linear budget."""
        half = self.budget.expanded_uncertainty
        centre = self.budget.value
        linear = (self.budget.result(), self._interval((centre - half, centre + half)))
        drawn = shorthand(
            self.unit.from_si(self.value),
            self.standard_uncertainty / self.unit.factor,
            self.unit.symbol,
        )
        rows = (
            ("linear budget", *linear, f"k = {self.budget.coverage_factor:.2f}"),
            ("Monte Carlo", drawn, self._interval(self.symmetric), "symmetric"),
            ("Monte Carlo", drawn, self._interval(self.shortest), "shortest"),
        )
        heads = columns("Method", "Value(u)>", f"{100 * self.level:g} % interval", "")
        verdict = "the linear result holds" if self.linear_holds else "use Monte Carlo"
        note = f"{verdict} ({self.draws} draws, seed {self.seed}; JCGM 101, clause 8)"
        return Table(f"Monte Carlo of {self.name}", heads, rows, (note, *self.caveats))

    def _interval(self, ends: tuple[float, float]) -> str:
        u = self.standard_uncertainty / self.unit.factor
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
    linear = budget_of(graph, target, level)
    blocks = _blocks(graph, target, seed)
    if draws is None:
        outcome, stable = _adaptive(blocks, level, digits)
    else:
        outcome, stable = _fixed(blocks, draws), True
    return _summary(linear, outcome, level, digits, seed, stable)


def _fixed(blocks: Iterator[Floats], draws: int) -> Floats:
    outcome = np.empty(draws)
    for start in range(0, draws, BLOCK):
        block = next(blocks)
        outcome[start : start + BLOCK] = block[: draws - start]
    return outcome


def _adaptive(
    blocks: Iterator[Floats], level: float, digits: int
) -> tuple[Floats, bool]:
    """Draw until twice the standard deviation of the block averages is small."""
    kept: list[Floats] = []
    figures: list[tuple[float, float, float, float]] = []
    while len(kept) * BLOCK < MOST_DRAWS:
        block = next(blocks)
        kept.append(block)
        low, high = symmetric_interval(block, level)
        figures.append((float(block.mean()), float(block.std(ddof=1)), low, high))
        if len(kept) > 1:
            table = np.array(figures)
            spread = 2 * table.std(axis=0, ddof=1) / math.sqrt(len(kept))
            if np.all(spread < numerical_tolerance(float(table[:, 1].mean()), digits)):
                return np.concatenate(kept), True
    return np.concatenate(kept), False


def numerical_tolerance(standard_uncertainty: float, digits: int) -> float:
    """Half a unit in the last of the `digits` significant digits of u.

    References
    ----------
    JCGM 101:2008, 7.9.2.

    Examples
    --------
    >>> numerical_tolerance(0.35, 2)
    0.005
    """
    if not standard_uncertainty > 0:
        return 0.0
    exponent = math.floor(math.log10(standard_uncertainty)) - (digits - 1)
    return 0.5 * float(f"1e{exponent}")


def _summary(
    linear: Budget,
    outcome: Floats,
    level: float,
    digits: int,
    seed: int,
    stable: bool,
) -> MonteCarlo:
    u = float(outcome.std(ddof=1))
    shortest, symmetric = _intervals(outcome, level)
    tolerance = numerical_tolerance(u, digits)
    centre, half = linear.value, linear.expanded_uncertainty
    ends = (abs(centre - half - symmetric[0]), abs(centre + half - symmetric[1]))
    return MonteCarlo(
        linear.name,
        linear.unit,
        float(outcome.mean()),
        u,
        level,
        symmetric,
        shortest,
        outcome.size,
        seed,
        tolerance,
        stable,
        max(ends) <= tolerance,
        linear,
        _caveats(linear, stable),
    )


def _caveats(linear: Budget, stable: bool) -> tuple[str, ...]:
    caveats = []
    if not stable:
        caveats.append(f"not settled to the requested digits after {MOST_DRAWS} draws")
    few = [x.source.name for x in linear.lines if x.source.degrees_of_freedom <= 2]
    if few:
        caveats.append(
            f"{', '.join(few)}: with three repeats or fewer the distribution has no "
            "standard deviation; trust the interval, not u"
        )
    return tuple(caveats)


def symmetric_interval(outcome: Floats, level: float) -> tuple[float, float]:
    """Return the interval that leaves equal probability on both sides.

    References
    ----------
    JCGM 101:2008, 5.3.3 and 7.7.1.
    """
    low, high = _ranks(outcome.size, level)
    parted = np.partition(outcome, (low, high))
    return float(parted[low]), float(parted[high])


def _ranks(size: int, level: float) -> tuple[int, int]:
    inside = min(math.floor(level * size + 0.5), size - 1)
    low = (size - inside) // 2
    return low, low + inside


def _intervals(
    outcome: Floats, level: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Shortest and symmetric interval; only the two tails are sorted."""
    size = outcome.size
    inside = min(math.floor(level * size + 0.5), size - 1)
    tail = size - inside
    if 2 * tail > size:
        ordered = np.sort(outcome)
        lows, highs = ordered[:tail], ordered[inside:]
    else:
        parted = np.partition(outcome, (tail - 1, inside))
        lows, highs = np.sort(parted[:tail]), np.sort(parted[inside:])
    best = int(np.argmin(highs - lows))
    low = tail // 2
    return (
        (float(lows[best]), float(highs[best])),
        (float(lows[low]), float(highs[low])),
    )


def _blocks(graph: Graph, target: str, seed: int) -> Iterator[Floats]:
    """Yield blocks of the target's draws; memory does not grow with their number."""
    sensitive = list(graph.sensitivities(target))
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

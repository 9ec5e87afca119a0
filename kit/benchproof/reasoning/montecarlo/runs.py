"""Propagation of distributions by Monte Carlo, in blocks of bounded memory."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.reasoning.budgets.budget import Budget, budget_of
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.draws import BLOCK
from benchproof.reasoning.montecarlo.intervals import (
    Control,
    Figures,
    Floats,
    Interval,
    numerical_tolerance,
    plain_figures,
)
from benchproof.reasoning.montecarlo.linearsum import linear_sum_of
from benchproof.reasoning.montecarlo.propagation import Propagation
from benchproof.reasoning.montecarlo.stopping import (
    MOST_DRAWS,
    draw_fixed,
    draw_until_settled,
    steadied,
    told,
)
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.inturn import Progress
from benchproof.values.quantities import rounded, shorthand, two_figures
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit

STEADIED_DRAWS = 200_000
"""Up to so many draws are steadied by the linear model unless told otherwise."""
SEED = 20260101
"""Of every Monte Carlo that names no other: the same case gives the same digits."""
ALONE_DRAWS = 100_000
"""Draws for the effect of each source alone, at most."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """Effect of one source, or of sources observed together, all others held still.

    Attributes
    ----------
    name : str
    standard_uncertainty : float
        Of the target if only this varied, in SI.
    share : float
        Of the target's variance. The shares need not add up to 1: what sources do
        together is in none of them.
    """

    name: str
    standard_uncertainty: float
    share: float


@dataclass(frozen=True, slots=True, repr=False)
class MonteCarlo(Tabular):
    """What Monte Carlo says about a quantity; numbers in SI.

    Attributes
    ----------
    value, standard_uncertainty : float
        Mean and standard deviation.
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
    gain : float
        How many times as many plain draws, at least, would give the ends of the
        symmetric interval as exactly; 1 where the linear model did not steady them.
    control : str
        Whether the linear model steadied the draws, and why not if not.
    inside, inside_uncertainty : float or None
        Fraction of the draws between the limits asked for, and its standard
        uncertainty.
    contributions : tuple of Contribution
        Largest first; empty unless asked for.
    """

    name: str
    unit: Unit
    value: float
    standard_uncertainty: float
    level: float
    symmetric: Interval
    shortest: Interval
    draws: int
    seed: int
    tolerance: float
    stable: bool
    linear_holds: bool
    budget: Budget | None
    caveats: tuple[str, ...] = ()
    gain: float = 1.0
    control: str = ""
    inside: float | None = None
    inside_uncertainty: float | None = None
    contributions: tuple[Contribution, ...] = ()

    def table(self) -> Table:
        """Return Monte Carlo beside the linear budget."""
        drawn = self._drawn()
        rows = [
            ("Monte Carlo", drawn, self._interval(self.symmetric), "symmetric"),
            ("Monte Carlo", drawn, self._interval(self.shortest), "shortest"),
        ]
        if self.budget:
            k = f"k = {self.budget.coverage_factor:.2f}"
            ends = self._interval(_linear_ends(self.budget))
            rows.insert(0, ("linear budget", self.budget.result(), ends, k))
        heads = columns("Method", "Value(u)>", f"{100 * self.level:g} % interval", "")
        return Table(f"Monte Carlo of {self.name}", heads, tuple(rows), self._notes())

    def _drawn(self) -> str:
        """Write the value with its u, if their distribution has one at all."""
        value = self.unit.from_si(self.value)
        if self.budget and _without_deviation(self.budget):
            return f"{value:.4g} {self.unit.symbol}".rstrip() + ", no u"
        u = self.standard_uncertainty / self.unit.difference().factor
        return shorthand(value, u, self.unit.symbol)

    def contributions_table(self) -> Table:
        """Return the effect of each source alone, largest first."""
        factor = self.unit.difference().factor
        rows = [
            (
                line.name,
                f"{two_figures(line.standard_uncertainty / factor)} "
                f"{self.unit.symbol}".rstrip(),
                f"{100 * line.share:.1f} %",
            )
            for line in self.contributions
        ]
        rest = 1 - math.fsum(line.share for line in self.contributions)
        note = (
            f"what sources do together makes up {100 * rest:.1f} % of the variance"
            if rows
            else "not asked for: call monte_carlo with contributions=True"
        )
        heads = columns("Source", "u, this one alone>", "Share>")
        return Table(f"Contributions to {self.name}", heads, tuple(rows), (note,))

    def _notes(self) -> tuple[str, ...]:
        verdict = "the linear result holds" if self.linear_holds else "use Monte Carlo"
        notes = [
            f"{verdict} ({self.draws} draws, seed {self.seed}; JCGM 101, clause 8)"
        ]
        if self.control:
            notes.append(self.control)
        if self.inside is not None and self.inside_uncertainty is not None:
            share = shorthand(100 * self.inside, 100 * self.inside_uncertainty, "%")
            notes.append(f"between the limits: {share} of the draws")
        return (*notes, *self.caveats)

    def _interval(self, ends: Interval) -> str:
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
    seed: int = SEED,
    limits: tuple[float | None, float | None] | None = None,
    contributions: bool = False,
    control: bool | None = None,
    threads: int = 2,
    progress: Progress | None = None,
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
    limits : (float or None, float or None), optional
        Lower and upper limit, in SI: the result says which fraction lies between.
    contributions : bool
        Also vary each source alone.
    control : bool, optional
        Steady the figures by the linear model, whose distribution is known exactly,
        where that helps. Unless said, this is done when drawing stops by itself and
        for up to 200 000 draws; more are certain enough alone. Memory grows by about
        10 bytes a draw, 37 with a control, beside up to 96 MB of kept draws.
    threads : int
        From 200 000 draws on; the result does not depend on it.
    progress : callable, optional
        Called with the fraction of the draws done; where drawing stops by itself, of
        the most that could be needed.

    Raises
    ------
    FormulaError
        If a formula does not take arrays or gives values that are not finite.
    InputError
        If an option makes no sense.

    References
    ----------
    JCGM 101:2008, 7 (procedure), 7.9 (adaptive), 7.7 (intervals), 8 (validation),
    Annex B (contributions).

    Examples
    --------
    >>> from benchproof.reasoning.budgets.formulas import formula_from
    >>> from benchproof.values.sources import Estimate, Source
    >>> from benchproof.values.units import unit_of
    >>> def power(I):
    ...     return 2.0 * I**2
    >>> current = Estimate(3.0, ((Source("I", "B", "rectangular", 0.1), 1.0),))
    >>> units = {"I": unit_of("A"), "power": unit_of("W")}
    >>> formula = formula_from(power, units["power"])
    >>> graph = Graph({"I": current}, units, {"power": formula})
    >>> drawn = monte_carlo_of(graph, "power")
    >>> round(drawn.value, 1), round(drawn.standard_uncertainty, 1)
    (18.0, 1.2)
    """
    _check(level, digits, draws, limits)
    linear = _linear(graph, target, level)
    if control is None:
        control = draws is None or draws <= STEADIED_DRAWS
    steady, reason = _control(linear, graph) if control else (None, "")
    run = Propagation(graph, target, seed, linear if steady else None)
    if draws is None:
        ends = _linear_ends(linear) if linear else None
        blocks = told(run.blocks(None, threads), MOST_DRAWS, progress)
        outcome, line, stable = draw_until_settled(blocks, level, digits, ends, steady)
    else:
        blocks = told(run.blocks(-(-draws // BLOCK), threads), draws, progress)
        outcome, line = draw_fixed(blocks, draws)
        stable = True
    found, gain_note = _figures(outcome, line, steady, level)
    u = found.standard_uncertainty
    tolerance = numerical_tolerance(u, digits)
    inside = _inside(outcome, limits) if limits else (None, None)
    return MonteCarlo(
        target,
        graph.units[target],
        found.value,
        u,
        level,
        found.symmetric,
        found.shortest,
        outcome.size,
        seed,
        tolerance,
        stable,
        linear is not None and _gap(_linear_ends(linear), found.symmetric) <= tolerance,
        linear,
        _caveats(linear, stable),
        found.gain,
        gain_note or reason,
        inside[0],
        inside[1],
        _each_alone(run, u, outcome.size) if contributions else (),
    )


def _check(
    level: float,
    digits: int,
    draws: int | None,
    limits: tuple[float | None, float | None] | None,
) -> None:
    if digits not in (1, 2, 3) or (draws is not None and draws < 1000):
        raise InputError("monte_carlo: digits is 1, 2 or 3; draws at least 1000.")
    if not 0 < level < 1:
        raise InputError(f"monte_carlo: level {level}; give one between 0 and 1.")
    if limits is not None:
        low, high = _open(limits)
        if not low < high:
            raise InputError(
                f"monte_carlo: limits {limits}; give (lower, upper) in SI with lower "
                "below upper, None where there is none."
            )


def _open(limits: tuple[float | None, float | None]) -> Interval:
    low, high = limits
    return -math.inf if low is None else low, math.inf if high is None else high


def _linear(graph: Graph, target: str, level: float) -> Budget | None:
    try:
        return budget_of(graph, target, level)
    except FormulaError:
        graph.value(target)  # a formula that fails even without derivatives says so
        return None


def _linear_ends(linear: Budget) -> Interval:
    half = linear.expanded_uncertainty
    return linear.value - half, linear.value + half


def _gap(first: Interval, second: Interval) -> float:
    """Return the larger distance between the ends of two intervals."""
    return max(abs(first[0] - second[0]), abs(first[1] - second[1]))


def _control(linear: Budget | None, graph: Graph) -> tuple[Control | None, str]:
    """Find the linear model's exact distribution, or say why it is of no use."""
    if linear is None or not linear.standard_uncertainty:
        return None, ""
    try:
        exact = linear_sum_of(linear, graph.joints)
    except InputError:
        return None, "plain draws: a source has two degrees of freedom or fewer"
    return Control(linear.value, exact, linear.level), ""


def _figures(
    outcome: Floats, line: Floats | None, steady: Control | None, level: float
) -> tuple[Figures, str]:
    found = steadied(outcome, line, steady)
    if found is None:
        return plain_figures(outcome, level), (
            "plain draws: the linear model has too little in common with the result"
            if steady
            else ""
        )
    return found, (
        "steadied by the linear model: the ends of the symmetric interval are at least "
        f"as certain as from {two_figures(found.gain)} times as many plain draws"
    )


def _inside(
    outcome: Floats, limits: tuple[float | None, float | None]
) -> tuple[float, float]:
    """Fraction of the draws between limits, and its standard uncertainty.

    The latter as of a uniform prior, so that it is not 0 where all draws agree.
    """
    low, high = _open(limits)
    hits, n = int(np.count_nonzero((outcome >= low) & (outcome <= high))), outcome.size
    variance = (hits + 1) * (n - hits + 1) / ((n + 2) ** 2 * (n + 3))
    return hits / n, math.sqrt(variance)


def _caveats(linear: Budget | None, stable: bool) -> tuple[str, ...]:
    caveats = []
    if not stable:
        caveats.append(f"not settled to the requested digits after {MOST_DRAWS} draws")
    if linear is None:
        none = "the formula has no derivative here: there is no linear budget"
        return (none, *caveats)
    if few := _without_deviation(linear):
        caveats.append(
            f"{', '.join(few)}: with three repeats or fewer the distribution has no "
            "standard deviation; trust the interval, not u"
        )
    return tuple(caveats)


def _without_deviation(linear: Budget) -> list[str]:
    """Name the sources whose t distribution has no variance."""
    return [x.source.name for x in linear.lines if x.source.degrees_of_freedom <= 2]


def _each_alone(run: Propagation, u: float, draws: int) -> tuple[Contribution, ...]:
    found = []
    for names in run.groups():
        effect = float(run.alone(names, min(draws, ALONE_DRAWS)).std(ddof=1))
        share = (effect / u) ** 2 if u else 0.0
        found.append(Contribution(" & ".join(names), effect, share))
    return tuple(sorted(found, key=lambda one: (-one.share, one.name)))

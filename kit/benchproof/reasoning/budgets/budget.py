"""The uncertainty budget of a quantity, and its coverage."""

from __future__ import annotations

import math
import operator
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchproof.reasoning.budgets.budgettables import (
    budget_table,
    instrument_table,
    measurand_table,
    per_cent,
)
from benchproof.reasoning.budgets.covariation import contributions, quadratic
from benchproof.reasoning.budgets.coverage import (
    coverage_factor,
    effective_degrees_of_freedom,
    trapezoid_factor,
)
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.quantities import engineering, shorthand, two_figures
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.tables import Table, Tabular
from benchproof.values.units import Unit


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One source in a budget; numbers in SI.

    Attributes
    ----------
    contribution : float
        Signed, |sensitivity|·u in size.
    share : float
        Fraction of the variance it has alone; correlations are not in it.
    pull : float
        Covariance of the source, in units of its u, with the result, over the
        variance of the result.
    """

    source: Source
    sensitivity: float
    contribution: float
    share: float
    pull: float

    @property
    def whole_share(self) -> float:
        """Share with its part of the correlations: these add up to 1.

        One whose error offsets that of others is negative.
        """
        return self.contribution * self.pull


@dataclass(frozen=True, slots=True)
class BudgetInput:
    """One measured input or constant in a budget; numbers in SI.

    Attributes
    ----------
    standard_uncertainty : float
        Of the input itself.
    share : float
        Fraction of the target's variance that goes through it, correlations counted:
        its covariance with the target, over the target's variance.
    """

    name: str
    unit: Unit
    value: float
    standard_uncertainty: float
    sensitivity: float
    share: float

    def estimate(self) -> str:
        """Return the value with its standard uncertainty."""
        u = self.standard_uncertainty / self.unit.factor
        return shorthand(self.unit.from_si(self.value), u, self.unit.symbol)


@dataclass(frozen=True, slots=True, repr=False)
class Budget(Tabular):
    """Where the uncertainty of one quantity comes from.

    Attributes
    ----------
    value, standard_uncertainty : float
        In SI.
    degrees_of_freedom : float
        Effective, by Welch-Satterthwaite.
    level, coverage_factor : float
        ``U = coverage_factor · standard_uncertainty``.
    lines : tuple of BudgetLine
        Largest share first.
    correlation_share : float
        Fraction of the variance that correlations add (or, negative, remove).
    caveats : tuple of str
        Why the coverage factor may not hold.
    through : tuple of (str, Unit, Estimate, float)
        Every measured input and constant it depends on, and the sensitivity to it.
    """

    name: str
    unit: Unit
    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    level: float
    coverage_factor: float
    lines: tuple[BudgetLine, ...]
    correlation_share: float = 0.0
    caveats: tuple[str, ...] = ()
    through: tuple[tuple[str, Unit, Estimate, float], ...] = ()

    @property
    def expanded_uncertainty(self) -> float:
        """Expanded uncertainty U = k·u, in SI."""
        return self.coverage_factor * self.standard_uncertainty

    @property
    def inputs(self) -> tuple[BudgetInput, ...]:
        """Measured inputs and constants, the largest share first."""
        pulls = {line.source.name: line.pull for line in self.lines}
        found = []
        for name, unit, estimate, slope in self.through:
            own = [(c * s.standard_uncertainty, s.name) for s, c in estimate.parts]
            share = slope * math.fsum(step * pulls[source] for step, source in own)
            u = math.hypot(*(step for step, _ in own))
            found.append(BudgetInput(name, unit, estimate.value, u, slope, share))
        return tuple(sorted(found, key=lambda i: -i.share))

    def owners(self) -> dict[str, tuple[str, ...]]:
        """Return for each source the inputs it belongs to; several share it."""
        found: dict[str, tuple[str, ...]] = {}
        for name, _, estimate, _ in sorted(self.through, key=operator.itemgetter(0)):
            for source in dict.fromkeys(s.name for s, _ in estimate.parts):
                found[source] = (*found.get(source, ()), name)
        return found

    def summary(self) -> str:
        """Say the result in one line: value(u), U with k and level, degrees of freedom.

        References
        ----------
        JCGM 100:2008, 7.2.2-7.2.4.
        """
        if not self.standard_uncertainty:
            return f"{self.result()} ({self.without_spread})"
        unit = self.unit.difference()
        half = self.expanded_uncertainty / unit.factor
        scale, symbol = engineering(half, unit.symbol)
        dof = self.degrees_of_freedom
        # Beyond 200, k no longer shows it.
        freedom = "" if dof > 200 else f", {math.floor(dof + 1e-9)} degrees of freedom"
        return (
            f"{self.result()}, U = {two_figures(half * scale)} {symbol}".rstrip()
            + f" (k = {self.coverage_factor:.2f}, {100 * self.level:g} %{freedom})"
        )

    @property
    def without_spread(self) -> str:
        """Say why U is 0: nothing varies, or what does has no effect to first order."""
        if any(line.source.standard_uncertainty for line in self.lines):
            return "u = 0 to first order"
        return "exact"

    def result(self) -> str:
        """Return the value with its standard uncertainty, ``0.268(10) Ω``."""
        u = self.standard_uncertainty / self.unit.factor
        return shorthand(self.unit.from_si(self.value), u, self.unit.symbol)

    def table(self) -> Table:
        """Return the budget as a table, largest share first."""
        return budget_table(self)

    def by_instrument(self) -> Table:
        """Return the share of the variance that comes from each instrument.

        Correlations are counted, so that the shares add up to 100 %.
        """
        return instrument_table(self)

    def by_measurand(self) -> Table:
        """Return the share of the variance that goes through each measured input.

        Sources that inputs share are counted along each of their ways, with the sign
        of that way: the shares add up to 100 %.
        """
        return measurand_table(self)


def budget_of(graph: Graph, target: str, level: float = 0.95) -> Budget:
    """Evaluate the uncertainty budget of a quantity by the law of propagation.

    Parameters
    ----------
    target : str
        A measured, constant or derived quantity that has a value.
    level : float
        Coverage probability of U, between 0 and 1.

    References
    ----------
    JCGM 100:2008, 5.1.2 and 5.2.2 (variance), G.4.1 (degrees of freedom),
    G.6.4 (coverage factor from t, degrees of freedom truncated).
    """
    parts = graph.parts(target)
    steps = contributions(parts)
    own = math.fsum(c * c for c in steps.values())
    terms = _independent_terms(parts, steps, graph.joints)
    variance = math.fsum(v for v, _ in terms)
    dof = effective_degrees_of_freedom((math.sqrt(v), d) for v, d in terms)
    factor = coverage_factor(level, dof)
    lines = _lines(parts, steps, graph.joints, variance)
    return Budget(
        target,
        graph.units[target],
        graph.value(target),
        math.sqrt(variance),
        dof,
        level,
        factor,
        lines,
        (variance - own) / variance if variance else 0.0,
        (*_correlated(steps, graph.joints), *_limited(lines, level, factor)),
        tuple(
            (name, graph.units[name], graph.inputs[name], slope)
            for name, slope in graph.sensitivities(target).items()
        ),
    )


def _lines(
    parts: Mapping[str, tuple[Source, float]],
    steps: Mapping[str, float],
    joints: Iterable[Joint],
    variance: float,
) -> tuple[BudgetLine, ...]:
    pulls = dict(steps)
    for joint in joints:
        vector = [steps.get(name, 0.0) for name in joint.names]
        if any(vector):
            for name, row in zip(joint.names, joint.correlation, strict=True):
                pulls[name] = math.fsum(map(operator.mul, row, vector))
    lines = []
    for name, (source, slope) in parts.items():
        step = steps[name]
        share = step * step / variance if variance else 0.0
        pull = pulls[name] / variance if variance else 0.0
        lines.append(BudgetLine(source, slope, step, share, pull))
    lines.sort(key=lambda line: (-line.share, line.source.name))
    return tuple(lines)


def _independent_terms(
    parts: Mapping[str, tuple[Source, float]],
    steps: Mapping[str, float],
    joints: Iterable[Joint],
) -> list[tuple[float, float]]:
    """Variance and degrees of freedom of each independent source or joint group.

    A joint group of repeats counts as one source: a linear combination of sets of
    readings has the degrees of freedom of the sets (JCGM 100:2008, H.2, approach 2).
    """
    joined = {name for joint in joints for name in joint.names}
    terms = [
        (steps[name] ** 2, source.degrees_of_freedom)
        for name, (source, _) in parts.items()
        if name not in joined
    ]
    for joint in joints:
        vector = [steps.get(name, 0.0) for name in joint.names]
        if any(vector):
            variance = max(quadratic(vector, joint.correlation), 0.0)
            terms.append((variance, joint.degrees_of_freedom))
    return terms


def _correlated(steps: Mapping[str, float], joints: Iterable[Joint]) -> tuple[str, ...]:
    declared = [
        joint
        for joint in joints
        if math.isinf(joint.degrees_of_freedom)
        and sum(bool(steps.get(name)) for name in joint.names) > 1
    ]
    if declared:
        return (
            "correlation was declared: Welch-Satterthwaite does not hold strictly, "
            "compare with case.monte_carlo",
        )
    return ()


_MOST = 0.85
"""Share of the variance from which one or two rectangular sources shape the result."""


def _limited(
    lines: Sequence[BudgetLine], level: float, factor: float
) -> tuple[str, ...]:
    """Say where the result has the limits of its rectangular sources, not t's tails.

    References
    ----------
    EA-4/02, examples S9 and S11 (one and two dominant rectangular sources);
    JCGM 101:2008, 9.2.4 (what the usual factor gives there).
    """
    flat = [x for x in lines if x.source.distribution == "rectangular"][:2]
    whole = math.fsum(x.share for x in flat)
    if whole < _MOST or any(not math.isclose(x.whole_share, x.share) for x in flat):
        return ()
    nearer = trapezoid_factor(level, *(abs(x.contribution) for x in flat))
    if abs(factor / nearer - 1) < 0.08:
        return ()
    if len(flat) > 1 and flat[1].share < 0.01:
        flat = flat[:1]
    names = " and ".join(x.source.name for x in flat)
    word = "wide" if factor > nearer else "narrow"
    return (
        f"{names}: rectangular, with {per_cent(math.fsum(x.share for x in flat))} of "
        f"the variance; k = {factor:.2f} is too {word}, the interval is nearer to "
        f"k = {nearer:.2f}: compare with case.monte_carlo",
    )

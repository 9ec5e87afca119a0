"""The uncertainty budget of a quantity, and its coverage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchproof.reasoning.graph import Graph
from benchproof.values.errors import InputError
from benchproof.values.quantities import engineering, shorthand, two_figures
from benchproof.values.sources import Joint, Source
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One source in a budget; numbers in SI.

    `contribution` is signed, |sensitivity|·u in size; `share` is the fraction of
    the variance, negative where a correlation takes some away.
    """

    source: Source
    sensitivity: float
    contribution: float
    share: float


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

    @property
    def expanded_uncertainty(self) -> float:
        """Expanded uncertainty U = k·u, in SI."""
        return self.coverage_factor * self.standard_uncertainty

    def summary(self) -> str:
        """Say the result in one line: value(u), U with k and level, degrees of freedom.

        References
        ----------
        JCGM 100:2008, 7.2.2-7.2.4.
        """
        if not self.standard_uncertainty:
            return f"{self.result()} (exact)"
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

    def result(self) -> str:
        """Return the value with its standard uncertainty, ``0.268(10) Ω``."""
        u = self.standard_uncertainty / self.unit.factor
        return shorthand(self.unit.from_si(self.value), u, self.unit.symbol)

    def table(self) -> Table:
        """Return the budget as a table, largest share first."""
        heads = columns(
            "Source", "Type", "Distribution", "u>", "Degrees of freedom>",
            "Sensitivity>", "Contribution>", "Share>",
        )  # fmt: skip
        rows = [self._row(line) for line in self.lines]
        if self.correlation_share:
            share = f"{100 * self.correlation_share:.1f} %"
            rows.append(("correlation of these", "", "", "", "", "", "", share))
        note = (f"{self.name} = {self.summary()}", *self.caveats)
        return Table(f"Budget of {self.name}", heads, tuple(rows), note)

    def _row(self, line: BudgetLine) -> tuple[str, ...]:
        source, target = line.source, self.unit.difference()
        slope = line.sensitivity * source.unit.factor / target.factor
        per = f"{target.symbol or '1'}/{source.unit.symbol or '1'}"
        # One prefix for the whole column, so that its numbers compare at a glance.
        total = self.standard_uncertainty / target.factor
        step, symbol = engineering(total, target.symbol)
        dof = source.degrees_of_freedom
        return (
            source.name,
            source.evaluation,
            source.distribution,
            _with_prefix(source.standard_uncertainty / source.unit.factor, source.unit),
            "∞" if math.isinf(dof) else f"{dof:g}",
            f"{slope:.3g} {per}",
            f"{two_figures(abs(line.contribution / target.factor) * step)} {symbol}",
            f"{100 * line.share:.1f} %",
        )


def _with_prefix(number: float, unit: Unit) -> str:
    scale, symbol = engineering(number, unit.symbol)
    return f"{two_figures(number * scale)} {symbol}".rstrip()


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
    steps = _steps(parts)
    own = math.fsum(c * c for c in steps.values())
    terms = _independent_terms(parts, steps, graph.joints)
    variance = math.fsum(v for v, _ in terms)
    u = math.sqrt(variance)
    dof = effective_degrees_of_freedom((math.sqrt(v), d) for v, d in terms)
    lines = [
        BudgetLine(s, c, steps[n], steps[n] ** 2 / variance if variance else 0.0)
        for n, (s, c) in parts.items()
    ]
    lines.sort(key=lambda line: (-line.share, line.source.name))
    return Budget(
        target,
        graph.units[target],
        graph.value(target),
        u,
        dof,
        level,
        coverage_factor(level, dof),
        tuple(lines),
        (variance - own) / variance if variance else 0.0,
        _caveats(steps, graph.joints),
    )


def _steps(parts: Mapping[str, tuple[Source, float]]) -> dict[str, float]:
    """Return each source's signed contribution."""
    return {n: c * s.standard_uncertainty for n, (s, c) in parts.items()}


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


def quadratic(
    vector: Sequence[float],
    matrix: Sequence[Sequence[float]],
    other: Sequence[float] | None = None,
) -> float:
    """Return vᵀ·M·w (w = v unless given)."""
    right = vector if other is None else other
    return math.fsum(
        a * m * b
        for a, row in zip(vector, matrix, strict=True)
        for m, b in zip(row, right, strict=True)
    )


def covariance(graph: Graph, first: str, second: str) -> float:
    """Covariance of two quantities through the sources they share, in SI.

    References
    ----------
    JCGM 100:2008, H.2.3 (equation H.9) for results of common inputs.
    """
    a, b = _steps(graph.parts(first)), _steps(graph.parts(second))
    joined = {name for joint in graph.joints for name in joint.names}
    total = math.fsum(a[n] * b[n] for n in a if n in b and n not in joined)
    for joint in graph.joints:
        left = [a.get(n, 0.0) for n in joint.names]
        right = [b.get(n, 0.0) for n in joint.names]
        total += quadratic(left, joint.correlation, right)
    return total


def correlation_of(graph: Graph, first: str, second: str) -> float:
    """Correlation coefficient of two quantities; 0 if one of them is exact."""
    variances = [covariance(graph, name, name) for name in (first, second)]
    scale = math.sqrt(variances[0] * variances[1])
    return covariance(graph, first, second) / scale if scale else 0.0


def effective_degrees_of_freedom(terms: Iterable[tuple[float, float]]) -> float:
    """Welch-Satterthwaite: degrees of freedom of a combined uncertainty.

    Parameters
    ----------
    terms : iterable of (contribution, degrees of freedom)
        Independent contributions, all in one unit.

    References
    ----------
    JCGM 100:2008, G.4.1, equation (G.2b).

    Examples
    --------
    >>> round(effective_degrees_of_freedom([(0.25, 9), (0.57, 4), (0.82, 14)]), 1)
    19.0
    """
    listed = list(terms)
    variance = math.fsum(u * u for u, _ in listed)
    if variance == 0.0:
        return math.inf
    denominator = math.fsum((u * u / variance) ** 2 / dof for u, dof in listed)
    return 1 / denominator if denominator else math.inf


def coverage_factor(level: float, degrees_of_freedom: float = math.inf) -> float:
    """Two-sided coverage factor from Student's t.

    Parameters
    ----------
    level : float
        Coverage probability, between 0 and 1 exclusive.
    degrees_of_freedom : float
        At least 1; truncated to a whole number, as the standard does.

    Raises
    ------
    InputError
        If either is out of range.

    References
    ----------
    JCGM 100:2008, Table G.2 and G.6.4.

    Examples
    --------
    >>> round(coverage_factor(0.95, 4), 3), round(coverage_factor(0.95), 3)
    (2.776, 1.96)
    """
    if not 0 < level < 1 or not degrees_of_freedom >= 1:
        raise InputError(
            f"coverage_factor: level {level}, degrees of freedom {degrees_of_freedom}; "
            "give a level between 0 and 1 and at least 1 degree of freedom."
        )
    from scipy.special import ndtri, stdtrit  # lazily: not needed to open a case

    upper = 0.5 + level / 2
    # Truncate 7.999999 to 8: rounding noise of the sum is not information.
    whole = math.floor(degrees_of_freedom + 1e-9) if degrees_of_freedom < 1e9 else None
    return float(stdtrit(whole, upper) if whole else ndtri(upper))


def _caveats(steps: Mapping[str, float], joints: Iterable[Joint]) -> tuple[str, ...]:
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

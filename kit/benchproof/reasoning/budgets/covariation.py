"""How quantities of one graph vary together, through sources and declared groups."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.sources import Joint, Source
from benchproof.values.tables import Table, columns


def contributions(parts: Mapping[str, tuple[Source, float]]) -> dict[str, float]:
    """Return each source's signed contribution, sensitivity times u."""
    return {n: c * s.standard_uncertainty for n, (s, c) in parts.items()}


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
    """Covariance of two quantities through the sources they share, in SI."""
    a, b = contributions(graph.parts(first)), contributions(graph.parts(second))
    return covariance_of_sums(a, b, graph.joints)


def covariance_of_sums(
    first: Mapping[str, float], second: Mapping[str, float], joints: Iterable[Joint]
) -> float:
    """Covariance of two sums of signed contributions by source.

    Parameters
    ----------
    first, second : mapping
        Contribution by the source's name, in the units of the two results.
    joints : iterable of Joint
        Correlated groups of sources.

    References
    ----------
    JCGM 100:2008, H.2.3 (equation H.9) for results of common inputs.

    Examples
    --------
    >>> covariance_of_sums({"gain": 2.0, "a": 1.0}, {"gain": 3.0, "b": 1.0}, ())
    6.0
    """
    groups = tuple(joints)
    joined = {name for joint in groups for name in joint.names}
    total = math.fsum(
        c * second[n] for n, c in first.items() if n in second and n not in joined
    )
    for joint in groups:
        left = [first.get(n, 0.0) for n in joint.names]
        right = [second.get(n, 0.0) for n in joint.names]
        total += quadratic(left, joint.correlation, right)
    return total


def correlation_of(graph: Graph, first: str, second: str) -> float:
    """Correlation coefficient of two quantities; 0 if one of them is exact."""
    variances = [covariance(graph, name, name) for name in (first, second)]
    scale = math.sqrt(variances[0] * variances[1])
    return covariance(graph, first, second) / scale if scale else 0.0


def correlation_table(graph: Graph, names: Sequence[str]) -> Table:
    """Correlation coefficients of several quantities, as a table.

    Parameters
    ----------
    names : sequence of str
        Quantities that have a value.

    Returns
    -------
    Table
        Symmetric, ones on the diagonal; "–" for a quantity that is exact.

    References
    ----------
    JCGM 100:2008, 5.2.2 (coefficient), 7.2.6 (three digits).
    """
    spread = {
        name: math.sqrt(max(covariance(graph, name, name), 0.0)) for name in names
    }

    def cell(first: str, second: str) -> str:
        scale = spread[first] * spread[second]
        return f"{covariance(graph, first, second) / scale:.3f}" if scale else "–"

    rows = tuple((a, *(cell(a, b) for b in names)) for a in names)
    exact = [name for name in names if not spread[name]]
    notes = (f"–: {', '.join(exact)} is exact, so nothing varies with it",) * bool(
        exact
    )
    heads = columns("", *(f"{name}>" for name in names))
    return Table("Correlation of results", heads, rows, notes)

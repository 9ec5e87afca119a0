"""What a result owes to the errors that its readings were taken to share."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from benchproof.reasoning.budgets.budget import Budget, budget_of
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.quantities import engineering, two_figures
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.tables import Table, Tabular, columns

_MATTERS = 0.05
"""Relative change of u below which the assumption makes no difference worth a word."""


@dataclass(frozen=True, slots=True, repr=False)
class Sharing(Tabular):
    """The budget of one quantity under three assumptions about shared errors.

    Attributes
    ----------
    declared : Budget
        As the case has it.
    offsets_shared : Budget
        All offsets of one range taken as one error.
    independent : Budget
        Nothing shared: every source of every input its own error, nothing correlated.
    pools : tuple of str
        The ranges whose offsets are independent by assumption, by the name they
        would share.
    """

    declared: Budget
    offsets_shared: Budget
    independent: Budget
    pools: tuple[str, ...]

    def meaning(self) -> str:
        """Say in one sentence what the assumptions do to u."""
        declared = self.declared.standard_uncertainty
        parts = []
        if self._matters(self.offsets_shared):
            was, would = _size(self.declared), _size(self.offsets_shared)
            parts.append(
                f"if {', '.join(self.pools)} is one error, u is {would} instead of "
                f"{was}: read a zero on that range, or declare the offset shared"
            )
        if self._matters(self.independent):
            less = self.independent.standard_uncertainty > declared
            word = "cancel" if less else "add up"
            parts.append(
                f"the errors it does share {word}: as if nothing were shared, "
                f"u would be {_size(self.independent)}"
            )
        if not parts:
            return "u changes by less than 5 %, whatever the readings share."
        said = "; ".join(parts)
        return f"{said[0].upper()}{said[1:]}."

    def _matters(self, other: Budget) -> bool:
        ours, theirs = self.declared.standard_uncertainty, other.standard_uncertainty
        return not math.isclose(ours, theirs, rel_tol=_MATTERS)

    def table(self) -> Table:
        """Return u and the degrees of freedom under each assumption."""
        cases = (
            ("as declared", self.declared),
            ("offsets of one range shared", self.offsets_shared),
            ("nothing shared", self.independent),
        )
        rows = tuple((name, _size(b), _freedom(b)) for name, b in cases)
        heads = columns("Errors", "u>", "Degrees of freedom>")
        title = f"Shared errors of {self.declared.name}"
        return Table(title, heads, rows, (self.meaning(),))


def sharing(graph: Graph, target: str) -> Sharing:
    """Compare u of a quantity under three assumptions about shared errors.

    Readings on one range of an instrument share its gain; whether they share its offset
    is rarely known. The budgets are evaluated on altered copies of the graph.

    Parameters
    ----------
    target : str
        A quantity that has a value.

    References
    ----------
    JCGM 100:2008, 5.2.2 (correlated inputs) and F.1.2.3 (errors of one instrument).

    Examples
    --------
    >>> from benchproof.reasoning.budgets.formulas import formula_from
    >>> from benchproof.values.units import unit_of
    >>> volt = unit_of("V")
    >>> def drop(a, b):
    ...     return a - b
    >>> def offset(name):
    ...     return Source(f"{name} · offset", "B", "normal", 0.03, volt, pool="offset")
    >>> inputs = {n: Estimate(12.0, ((offset(n), 1.0),)) for n in "ab"}
    >>> units = dict.fromkeys(["a", "b", "drop"], volt)
    >>> graph = Graph(inputs, units, {"drop": formula_from(drop, volt)})
    >>> print(sharing(graph, "drop"))
    Shared errors of drop
    Errors                      │       u │ Degrees of freedom
    ────────────────────────────┼─────────┼───────────────────
    as declared                 │ 0.042 V │                  ∞
    offsets of one range shared │     0 V │                  ∞
    nothing shared              │ 0.042 V │                  ∞
    If offset is one error, u is 0 V instead of 0.042 V: read a zero on that range, or
    declare the offset shared.
    """
    declared = budget_of(graph, target)
    assumed = [
        line.source.pool
        for line in declared.lines
        if line.source.pool not in ("", line.source.name)
    ]
    joined = {name for joint in graph.joints for name in joint.names}
    pooled = _renamed(graph, lambda _, s: s.name if s.name in joined else s.pool)
    apart = _renamed(graph, lambda owner, s: f"{owner} · {s.name}", joints=())
    return Sharing(
        declared,
        budget_of(pooled, target),
        budget_of(apart, target),
        tuple(dict.fromkeys(assumed)),
    )


def _renamed(
    graph: Graph,
    name_of: Callable[[str, Source], str],
    joints: tuple[Joint, ...] | None = None,
) -> Graph:
    """Return the graph with other names, so that other errors are shared.

    A source keeps its contribution where those that share a name differ in size.
    """
    first: dict[str, Source] = {}
    inputs = {}
    for owner, estimate in graph.inputs.items():
        parts = []
        for source, slope in estimate.parts:
            if not source.standard_uncertainty:
                continue  # no error at all, and no size that others could be scaled by
            name = name_of(owner, source) or source.name
            shared = first.setdefault(name, replace(source, name=name))
            scale = source.standard_uncertainty / shared.standard_uncertainty
            parts.append((shared, slope * scale))
        inputs[owner] = Estimate(estimate.value, tuple(parts))
    kept = graph.joints if joints is None else joints
    return replace(graph, inputs=inputs, joints=kept)


def _size(budget: Budget) -> str:
    unit = budget.unit.difference()
    u = budget.standard_uncertainty / unit.factor
    scale, symbol = engineering(u, unit.symbol)
    return f"{two_figures(u * scale)} {symbol}".rstrip()


def _freedom(budget: Budget) -> str:
    dof = budget.degrees_of_freedom
    return "∞" if math.isinf(dof) else f"{dof:.3g}"

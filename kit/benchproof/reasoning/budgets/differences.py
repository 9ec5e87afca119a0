"""The difference of two quantities, with what they share cancelled."""

from __future__ import annotations

import operator

from benchproof.reasoning.budgets.budget import Budget, budget_of
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.units import require_same_dimension


def budget_of_difference(
    graph: Graph, first: str, second: str, level: float = 0.95
) -> Budget:
    """Return the budget of ``first - second``.

    Parameters
    ----------
    first, second : str
        Quantities of the graph that have values.
    level : float
        Coverage probability of U.

    Raises
    ------
    UnitError
        If they measure different things.
    """
    name = f"{first} - {second}"
    unit = graph.units[first].difference()
    require_same_dimension(graph.units[second].difference(), unit, name)
    formula = Formula(name, unit, operator.sub, (first, second))
    both = Graph(
        graph.inputs,
        {**graph.units, name: unit},
        {**graph.formulas, name: formula},
        graph.joints,
    )
    return budget_of(both, name, level)

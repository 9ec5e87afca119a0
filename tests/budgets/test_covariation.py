"""How results of one graph vary together."""

import numpy as np
import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.covariation import (
    correlation_of,
    correlation_table,
    covariance,
    quadratic,
)
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

VOLT = unit_of("V")


def gap(a, b):
    return a - b


def graph_with_joint(r):
    """Make two inputs with u = 3 and u = 4, correlated, and their gap."""
    sizes = {"a": 3.0, "b": 4.0}
    inputs = {
        name: Estimate(1.0, ((Source(name, "A", "t", u, VOLT), 1.0),))
        for name, u in sizes.items()
    }
    inputs["exact"] = Estimate(7.0)
    units = dict.fromkeys([*inputs, "gap"], VOLT)
    joint = Joint(("a", "b"), ((1.0, r), (r, 1.0)))
    return Graph(inputs, units, {"gap": formula_from(gap, VOLT)}, (joint,))


def test_covariance_of_a_quantity_with_itself_is_its_variance():
    graph = graph_with_joint(0.5)
    variance = budget_of(graph, "gap").standard_uncertainty ** 2
    assert covariance(graph, "gap", "gap") == pytest.approx(variance)


def test_covariance_reaches_through_correlated_groups():
    graph = graph_with_joint(0.5)
    # cov(a - b, b) = cov(a, b) - var(b) = 0.5·12 - 16.
    assert covariance(graph, "gap", "b") == pytest.approx(-10.0)


def test_a_quadratic_form_is_what_numpy_says():
    vector, other = [1.0, -2.0, 0.5], [0.3, 0.7, -1.0]
    matrix = [[1.0, 0.2, -0.4], [0.2, 1.0, 0.1], [-0.4, 0.1, 1.0]]
    expected = np.array(vector) @ np.array(matrix) @ np.array(other)
    assert quadratic(vector, matrix, other) == pytest.approx(expected)


def test_the_table_of_correlations_is_symmetric_with_ones_on_its_diagonal():
    table = correlation_table(graph_with_joint(0.5), ["a", "b", "gap"])
    # By hand: cov(a, gap) = 9 - 6, cov(b, gap) = 6 - 16, u² of the gap 13.
    assert table.rows == (
        ("a", "1.000", "0.500", "0.277"),
        ("b", "0.500", "1.000", "-0.693"),
        ("gap", "0.277", "-0.693", "1.000"),
    )
    assert table.notes == ()


def test_an_exact_quantity_has_a_dash_and_a_note():
    table = correlation_table(graph_with_joint(0.5), ["a", "exact"])
    assert table.rows[0] == ("a", "1.000", "–")
    assert table.rows[1] == ("exact", "–", "–")
    assert "exact is exact, so nothing varies with it" in table.notes[0]


@pytest.mark.parametrize(
    ("first", "second", "r"),
    # As in the table above, of quantities whose u are 3, 4 and √13.
    [
        ("a", "b", 0.5),
        ("a", "gap", 3 / (3 * 13**0.5)),
        ("gap", "b", -10 / (4 * 13**0.5)),
    ],
)
def test_a_correlation_is_the_covariance_over_both_uncertainties(first, second, r):
    assert correlation_of(graph_with_joint(0.5), first, second) == pytest.approx(r)


def test_the_correlation_with_an_exact_quantity_is_zero():
    assert correlation_of(graph_with_joint(0.5), "a", "exact") == 0.0

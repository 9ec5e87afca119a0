import math

import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.correlations import Correlation, declared_joints
from benchproof.reasoning.budgets.covariation import correlation_of
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

ONE = unit_of("")


def quantity(name, u, *more):
    own = Source(f"{name} · stated", "B", "normal", u, ONE)
    return Estimate(1000.0, ((own, 1.0), *((s, 1.0) for s in more)))


def resistors(count, r):
    """JCGM 100:2008, 5.2.2, example: resistors compared with one standard."""
    names = [f"R{i}" for i in range(count)]
    inputs = {n: quantity(n, 0.1) for n in names}
    said = [
        Correlation(a, b, r, "same standard")
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    ]
    total = Formula("R", ONE, lambda *parts: sum(parts), tuple(names))
    joints = tuple(declared_joints(inputs, said))
    return Graph(inputs, dict.fromkeys([*names, "R"], ONE), {"R": total}, joints)


def test_ten_fully_correlated_resistors_add_up_linearly():
    # JCGM 100:2008, 5.2.2 (from memory): 1.0 ohm, and 0.32 ohm if independent.
    assert budget_of(resistors(10, 1.0), "R").standard_uncertainty == pytest.approx(1.0)
    independent = budget_of(resistors(10, 0.0), "R").standard_uncertainty
    assert independent == pytest.approx(0.1 * math.sqrt(10))


def test_a_declared_coefficient_is_the_correlation_of_the_two():
    inputs = {n: quantity(n, 0.2) for n in "ab"}
    joints = declared_joints(inputs, [Correlation("a", "b", -0.4, "a reason")])
    graph = Graph(inputs, dict.fromkeys("ab", ONE), {}, tuple(joints))
    assert correlation_of(graph, "a", "b") == pytest.approx(-0.4)


def test_a_quantity_not_measured_yet_lets_its_correlation_wait():
    said = [Correlation("a", "b", 0.5, "a reason")]
    assert declared_joints({"a": quantity("a", 1.0)}, said) == []


@pytest.mark.parametrize("r", [1.01, -2.0, math.nan])
def test_a_coefficient_outside_its_range_is_refused_by_name(r):
    with pytest.raises(InputError, match="a and b"):
        Correlation("a", "b", r, "a reason")


def test_a_correlation_with_itself_is_refused():
    with pytest.raises(InputError, match="itself"):
        Correlation("a", "a", 0.5, "a reason")


def test_coefficients_that_contradict_each_other_are_refused_by_name():
    inputs = {n: quantity(n, 1.0) for n in "abc"}
    said = [
        Correlation("a", "b", 0.9, ""),
        Correlation("b", "c", 0.9, ""),
        Correlation("a", "c", -0.9, ""),
    ]
    with pytest.raises(InputError, match="a, b, c contradict"):
        declared_joints(inputs, said)


def test_one_of_several_own_sources_must_be_named():
    extra = Source("a · offset", "B", "rectangular", 0.3, ONE)
    inputs = {"a": quantity("a", 1.0, extra), "b": quantity("b", 1.0)}
    with pytest.raises(InputError, match=r"there are 2 \(a · stated, a · offset\)"):
        declared_joints(inputs, [Correlation("a", "b", 0.5, "")])
    said = Correlation("a", "b", 0.5, "", of=("offset", ""))
    assert declared_joints(inputs, [said])[0].names == ("a · offset", "b · stated")


def test_a_shared_source_is_nobodys_own():
    gain = Source("meter · gain", "B", "rectangular", 0.3, ONE)
    inputs = {n: Estimate(1.0, ((gain, 1.0),)) for n in "ab"}
    with pytest.raises(InputError, match="there are 0"):
        declared_joints(inputs, [Correlation("a", "b", 0.5, "")])


def test_readings_taken_together_are_not_correlated_twice():
    inputs = {n: quantity(n, 1.0) for n in "ab"}
    together = Joint(("a · stated", "c · stated"), ((1.0, 0.1), (0.1, 1.0)), 4)
    with pytest.raises(InputError, match="correlated already"):
        declared_joints(inputs, [Correlation("a", "b", 0.5, "")], [together])

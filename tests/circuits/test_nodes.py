"""Voltages of several contacts."""

import numpy as np
import pytest

from benchproof.measuring.circuits.films import critical_leak
from benchproof.measuring.circuits.nodes import node_voltages
from benchproof.values.errors import InputError


def pads(film, *more):
    """Five pads in a row, wet between, three of them pulled up; all invented."""
    rail = [("rail", "in6", 47e3), ("rail", "in5", 47e3), ("rail", "in3", 100e3)]
    series = [("in6", "p6", 1e3), ("in5", "p5", 1e3), ("in3", "p3", 1e3)]
    row = [("p6", "p5"), ("p5", "p4"), ("p4", "p3"), ("p3", "ground")]
    wet = [(a, b, film) for a, b in row]
    return node_voltages([*rail, *series, *wet, *more], {"rail": 3.3, "ground": 0.0})


# Figures that were solved numerically apart from this code, to a millivolt.
@pytest.mark.parametrize(
    ("film", "volts"), [(1.5789e3, 0.719), (5.263e3, 1.586), (120e3, 3.253)]
)
def test_a_ladder_of_films_agrees_with_figures_solved_apart(film, volts):
    assert pads(film)["in6"] == pytest.approx(volts, abs=1e-3)


def test_a_driven_neighbour_lifts_the_input():
    driven = pads(1.5789e3, ("p4", "rail", 100.0))
    assert driven["in6"] == pytest.approx(3.21, abs=5e-3)


def test_a_divider_divides():
    volts = node_voltages([("a", "b", 2e3), ("b", "c", 1e3)], {"a": 3.0, "c": 0.0})
    assert volts["b"] == pytest.approx(1.0)
    assert (volts["a"], volts["c"]) == (3.0, 0.0)


def test_links_between_the_same_nodes_are_in_parallel():
    links = [("a", "b", 2e3), ("a", "b", 2e3), ("b", "c", 1e3)]
    assert node_voltages(links, {"a": 3.0, "c": 0.0})["b"] == pytest.approx(1.5)


def test_one_bridge_crosses_the_threshold_at_the_critical_leak():
    leak = critical_leak(47e3, 3.3, 1.42, 1e3)
    links = [("rail", "in", 47e3), ("in", "pad", 1e3), ("pad", "ground", leak)]
    volts = node_voltages(links, {"rail": 3.3, "ground": 0.0})
    assert volts["in"] == pytest.approx(1.42)


def test_a_current_driven_in_lifts_a_node():
    volts = node_voltages([("a", "ground", 1e3)], {"ground": 0.0}, {"a": 2e-3})
    assert volts["a"] == pytest.approx(2.0)
    # Into a fixed node it changes nothing.
    held = node_voltages([("a", "g", 1e3)], {"g": 0.0}, {"g": 1.0})
    assert held["a"] == pytest.approx(0.0)


def test_the_currents_of_every_node_balance():
    volts = pads(np.array([1e3, 1e4]))
    into = (volts["p6"] - volts["p5"]) / np.array([1e3, 1e4])
    from_input = (volts["in6"] - volts["p6"]) / 1e3
    assert into == pytest.approx(from_input)


def test_draws_are_solved_as_each_would_be():
    film = 1.6e3 * (1 + 0.1 * np.random.default_rng(5).standard_normal(20_000))
    together = pads(film)["in6"]
    assert together.shape == (20_000,)
    assert together[123] == pytest.approx(pads(film[123])["in6"])


def test_a_complex_step_passes_through_the_network():
    slope = pads(complex(1.6e3, 1e-20))["in6"].imag / 1e-20
    rise = (pads(1.6e3 + 0.1)["in6"] - pads(1.6e3 - 0.1)["in6"]) / 0.2
    assert slope == pytest.approx(rise, rel=1e-6)


def test_a_floating_node_is_named():
    links = [("a", "ground", 1e3), ("b", "c", 1e3)]
    with pytest.raises(InputError, match=r"b, c has no path to a fixed node"):
        node_voltages(links, {"ground": 0.0})
    with pytest.raises(InputError, match="x has no path"):
        node_voltages([("a", "ground", 1e3)], {"ground": 0.0}, {"x": 1e-6})


@pytest.mark.parametrize(
    ("links", "text"),
    [([("a", "b", 0.0)], "resistance a-b is 0"), ([("a", "a", 1e3)], "to itself")],
)
def test_shorts_and_loops_are_refused(links, text):
    with pytest.raises(InputError, match=text):
        node_voltages(links, {"a": 1.0})


def test_a_network_of_fixed_nodes_alone_is_what_it_is():
    assert node_voltages([("a", "b", 1.0)], {"a": 1.0, "b": 0.0}) == {
        "a": 1.0,
        "b": 0.0,
    }

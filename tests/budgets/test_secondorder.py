"""Second-order terms, against published examples and polynomials with known moments."""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import numpy as np
import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.formulas import Formula, formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.budgets.secondorder import second_order
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

ONE = unit_of("")


def graph_of(function, *, joints=(), **inputs):
    """Make a graph; each input is (value, u) or (value, u, distribution)."""
    estimates = {}
    for name, (value, u, *shape) in inputs.items():
        source = Source(name, "B", shape[0] if shape else "normal", u)
        estimates[name] = Estimate(value, ((source, 1.0),))
    formula = formula_from(function, ONE)
    units = dict.fromkeys([*estimates, formula.name], ONE)
    return Graph(estimates, units, {formula.name: formula}, tuple(joints))


# JCGM 100:2008, H.1.7 (end gauge). Read and recomputed: 32 nm becomes 34 nm, unrounded
# 31.66 and 33.81. Two sensitivities are zero: only products with a zero act.
def end_gauge():
    def length(standard, difference, da, theta, expansion, dt):
        return standard + difference - standard * (da * theta + expansion * dt)

    return graph_of(
        length,
        standard=(50000623.0, 25.0),
        difference=(215.0, math.sqrt(5.8**2 + 3.9**2 + 6.7**2)),
        da=(0.0, 1e-6 / math.sqrt(3), "rectangular"),
        theta=(-0.1, math.sqrt(0.2**2 + 0.5**2 / 2)),
        expansion=(11.5e-6, 2e-6 / math.sqrt(3), "rectangular"),
        dt=(0.0, 0.05 / math.sqrt(3), "rectangular"),
    )


def test_gum_h1_grows_from_32_to_34_nanometre():
    found = second_order(end_gauge(), "length")
    # Half of the last digit that was recomputed.
    assert found.first == pytest.approx(31.66, abs=0.005)
    assert found.second == pytest.approx(33.81, abs=0.005)
    assert found.value_shift == 0.0
    assert found.sources == 6


def test_gum_h1_has_a_caveat_that_names_both_and_points_to_monte_carlo():
    caveat = second_order(end_gauge(), "length").caveat()
    assert "first-order u = 32, with second-order terms 34" in caveat
    assert "case.monte_carlo" in caveat


# JCGM 101:2008, 9.3 (mass calibration), Table 6. Partly read, the rest from memory;
# recomputed agrees: 0.0539 mg of first order, 0.0750 mg of second.
def test_a_mass_in_air_grows_from_0_0539_to_0_0750_milligram():
    def dm(m_r, dm_r, air, weight, reference):
        buoyancy = 1 + (air - 1.2) * (1 / weight - 1 / reference)
        return (m_r + dm_r) * buoyancy - 100000

    def flat(low, high):
        return (low + high) / 2, (high - low) / math.sqrt(12), "rectangular"

    graph = graph_of(
        dm,
        m_r=(100000.0, 0.05),
        dm_r=(1.234, 0.02),
        air=flat(1.1, 1.3),
        weight=flat(7000.0, 9000.0),
        reference=flat(7950.0, 8050.0),
    )
    found = second_order(graph, "dm")
    assert found.first == pytest.approx(0.0539, abs=0.00005)
    # Half of the last digit: by derivatives 0.07496, by differences 0.07501.
    assert found.second == pytest.approx(0.0750, abs=0.00005)
    assert "case.monte_carlo" in found.caveat()


# JCGM 101:2008, 9.4 (comparison loss), Tables 7 and 8, zero covariance, in 1e-6.
# Partly read, the rest from memory; recomputed agrees.
@pytest.mark.parametrize(
    ("x_one", "first", "u", "mean"),
    [
        (0.0, 0.0, 50.0, 50.0),
        (0.010, 100.0, 112.0, 150.0),
        (0.050, 500.0, 502.0, 2551.0),
    ],
)
def test_a_comparison_loss_has_the_published_u_and_mean(x_one, first, u, mean):
    def loss(x_one, x_two):
        return x_one**2 + x_two**2

    graph = graph_of(loss, x_one=(x_one, 0.005), x_two=(0.0, 0.005))
    found = second_order(graph, "loss")
    assert 1e6 * found.first == pytest.approx(first, abs=1e-6)
    assert 1e6 * found.second == pytest.approx(u, abs=1)
    assert 1e6 * (graph.value("loss") + found.value_shift) == pytest.approx(mean, abs=1)


def test_where_the_first_order_is_zero_the_ratio_is_infinite_and_said():
    def loss(x_one, x_two):
        return x_one**2 + x_two**2

    graph = graph_of(loss, x_one=(0.0, 0.005), x_two=(0.0, 0.005))
    found = second_order(graph, "loss")
    assert math.isinf(found.ratio)
    assert "first-order u = 0, with second-order terms 0.000050" in found.caveat()


# Polynomials, whose moments are known. With normal x = m + u·z the variance of x² is
# 4m²u² + 2u⁴; of x³ it is 9m⁴u² + 36m²u⁴ + 15u⁶, of which the third is sixth order.
@pytest.mark.parametrize(("m", "u"), [(3.0, 0.1), (-2.0, 1.0), (0.0, 0.5)])
def test_a_square_is_exact(m, u):
    found = second_order(graph_of(lambda_named(lambda x: x**2), x=(m, u)), "y")
    expected = math.sqrt(4 * m**2 * u**2 + 2 * u**4)
    assert found.second == pytest.approx(expected, rel=1e-9)
    assert found.value_shift == pytest.approx(u**2, rel=1e-9)


@pytest.mark.parametrize(("m", "u"), [(3.0, 0.1), (-2.0, 0.5)])
def test_a_cube_is_exact_up_to_the_fourth_order_in_u(m, u):
    found = second_order(graph_of(lambda_named(lambda x: x**3), x=(m, u)), "y")
    assert found.second**2 == pytest.approx(9 * m**4 * u**2 + 36 * m**2 * u**4)
    assert found.value_shift == pytest.approx(3 * m * u**2)


def test_a_product_of_two_has_the_product_of_their_u_too():
    graph = graph_of(lambda_named(lambda a, b: a * b), a=(2.0, 0.3), b=(1.0, 0.4))
    exact = math.sqrt((2 * 0.4) ** 2 + (1 * 0.3) ** 2 + (0.3 * 0.4) ** 2)
    assert second_order(graph, "y").second == pytest.approx(exact, rel=1e-12)


def test_a_product_with_a_square_is_exact():
    # f = a·b²: f_abb and f_bb act together; by hand for normal a, b.
    a, b, u_a, u_b = 2.0, 3.0, 0.1, 0.2
    graph = graph_of(lambda_named(lambda a, b: a * b**2), a=(a, u_a), b=(b, u_b))
    terms = [
        (b**2 * u_a) ** 2,
        (2 * a * b * u_b) ** 2,
        (2 * a * u_b**2) ** 2 / 2,
        (2 * b * u_a * u_b) ** 2,
        b**2 * u_a * 2 * u_a * u_b**2,
    ]
    found = second_order(graph, "y")
    assert found.second == pytest.approx(math.sqrt(sum(terms)), rel=1e-9)


def lambda_named(function):
    function.__name__ = "y"
    return function


@pytest.mark.parametrize("sign", [1, -1])
def test_a_sum_of_unlike_sizes_has_no_second_order_at_all(sign):
    graph = graph_of(
        lambda_named(lambda a, b, c: sign * (a - 3 * b + c / 7)),
        a=(5.0000623e7, 1e-3), b=(1e-6, 1e-9), c=(3.0, 1e3),
    )  # fmt: skip
    found = second_order(graph, "y")
    assert found.second == found.first
    assert found.value_shift == 0.0
    assert found.caveat() == ""


def test_the_first_order_is_that_of_the_budget():
    graph = end_gauge()
    u = budget_of(graph, "length").standard_uncertainty
    assert second_order(graph, "length").first == pytest.approx(u, rel=1e-12)


def test_an_input_has_no_second_order():
    found = second_order(end_gauge(), "theta")
    assert found.second == found.first
    assert found.ratio == 1.0


def test_a_quantity_of_exact_numbers_has_nothing():
    graph = Graph(
        {"a": Estimate(2.0)}, {"a": ONE, "y": ONE},
        {"y": formula_from(lambda_named(lambda a: a**2), ONE)},
    )  # fmt: skip
    found = second_order(graph, "y")
    assert (found.first, found.second, found.value_shift) == (0.0, 0.0, 0.0)
    assert found.ratio == 1.0
    assert found.caveat() == ""


# Correlated groups go through their root.


def test_the_product_of_two_fully_correlated_is_a_square():
    joint = Joint(("a", "b"), ((1.0, 1.0), (1.0, 1.0)))
    pair = graph_of(
        lambda_named(lambda a, b: a * b), joints=[joint], a=(2.0, 0.3), b=(2.0, 0.3)
    )
    square = graph_of(lambda_named(lambda a: a * a), a=(2.0, 0.3))
    found, expected = second_order(pair, "y"), second_order(square, "y")
    assert found.second == pytest.approx(expected.second, rel=1e-9)
    assert found.value_shift == pytest.approx(0.09, rel=1e-9)
    assert found.sources == 1


@pytest.mark.parametrize("r", [-0.9, 0.0, 0.5])
def test_the_product_of_two_correlated_has_its_known_variance(r):
    # Of normal a, b: (au_b)² + (bu_a)² + 2ab·c + u_a²u_b² + c², c = r·u_a·u_b.
    joint = Joint(("a", "b"), ((1.0, r), (r, 1.0)))
    a, b, u_a, u_b = 2.0, 1.0, 0.3, 0.4
    graph = graph_of(
        lambda_named(lambda a, b: a * b), joints=[joint], a=(a, u_a), b=(b, u_b)
    )
    c = r * u_a * u_b
    exact = (a * u_b) ** 2 + (b * u_a) ** 2 + 2 * a * b * c + (u_a * u_b) ** 2 + c**2
    found = second_order(graph, "y")
    assert found.second**2 == pytest.approx(exact, rel=1e-9)
    assert found.value_shift == pytest.approx(c, abs=1e-12)


def test_a_shared_source_is_one_source():
    gain = Source("gain", "B", "normal", 0.1)
    inputs = {"a": Estimate(2.0, ((gain, 2.0),)), "b": Estimate(3.0, ((gain, 3.0),))}
    formula = formula_from(lambda_named(lambda a, b: a * b), ONE)
    graph = Graph(inputs, dict.fromkeys("aby", ONE), {"y": formula})
    # 6·(1 + 0.1z)²: first 1.2, second order 6·0.01·√2.
    found = second_order(graph, "y")
    assert found.sources == 1
    assert found.second == pytest.approx(math.hypot(1.2, 0.06 * math.sqrt(2)))


# Formulas that take no arrays give the same, one point after another.


@pytest.mark.parametrize(
    "function",
    [
        lambda x, z: math.exp(x) * z,
        lambda x, z: np.exp(x) * z if x > -100 else 0.0,
        lambda x, z: float(np.mean([np.exp(x) * z, np.exp(x) * z])),
    ],
)
def test_a_formula_that_takes_no_arrays_agrees_with_one_that_does(function):
    def plain(x, z):
        return np.exp(x) * z

    inputs = {"x": (0.5, 0.2), "z": (2.0, 0.1)}
    found = second_order(graph_of(lambda_named(function), **inputs), "y")
    expected = second_order(graph_of(plain, **inputs), "plain")
    assert found.second == pytest.approx(expected.second, rel=1e-9)
    assert found.value_shift == pytest.approx(expected.value_shift, rel=1e-9)


def test_an_average_over_the_points_is_not_mistaken_for_one_over_the_arguments():
    def y(a, b):
        return np.mean([a, b]) ** 2

    def same(a, b):
        return ((a + b) / 2) ** 2

    inputs = {"a": (1.0, 0.3), "b": (2.0, 0.4)}
    found = second_order(graph_of(y, **inputs), "y")
    expected = second_order(graph_of(same, **inputs), "same")
    assert found.second == pytest.approx(expected.second, rel=1e-9)


def test_a_formula_that_leaves_its_domain_within_one_u_is_refused():
    graph = graph_of(lambda_named(lambda x: np.sqrt(x)), x=(1.0, 1.1))
    with pytest.raises(FormulaError, match="y: no finite value within one u"):
        second_order(graph, "y")


# Many sources.


def many(count):
    """Add up many squares, and 50 times a product of two zeros."""

    def y(*values):
        zero, far, *rest = values
        return 50 * zero * far + sum(0.001 * i * x**2 for i, x in enumerate(rest, 1))

    names = ["zero", "far", *(f"x{i}" for i in range(count))]
    inputs = {
        name: Estimate(float(i > 1), ((Source(name, "B", "normal", 0.1), 1.0),))
        for i, name in enumerate(names)
    }
    formula = Formula("y", ONE, y, tuple(names))
    return Graph(inputs, dict.fromkeys([*names, "y"], ONE), {"y": formula})


def test_of_many_sources_the_most_important_count_and_the_rest_are_said():
    found = second_order(many(60), "y")
    assert (found.sources, found.left_out) == (40, 22)
    assert "22 less important ones were left out" in str(found)


def test_two_zeros_that_act_only_as_a_product_are_not_left_out():
    # At the estimates neither moves the result; together 50·0.1·0.1 = 0.5.
    found = second_order(many(60), "y", most=5)
    assert found.second**2 - found.first**2 >= 0.25


def test_a_source_that_lowers_the_result_is_as_important():
    graph = graph_of(
        lambda_named(lambda a, b: a**2 - 10 * b**2), a=(1.0, 0.1), b=(1.0, 0.1)
    )
    found = second_order(graph, "y", most=1)
    # Of a the shift would be 0.01, of b it is -10·0.01.
    assert (found.sources, found.left_out) == (1, 1)
    assert found.value_shift == pytest.approx(-0.1)


def test_every_source_counts_when_there_are_few():
    found = second_order(many(3), "y")
    assert (found.sources, found.left_out) == (5, 0)


# Saying it.


def test_a_series_that_fails_has_no_second_order_and_says_so():
    # u² - 6u⁴: the third derivative outweighs the first.
    graph = graph_of(lambda_named(lambda x: x - x**3), x=(0.0, 0.5))
    found = second_order(graph, "y")
    assert math.isnan(found.second)
    assert "no value (the series fails)" in found.caveat()
    assert "case.monte_carlo" in str(found)


def test_the_table_is_in_the_unit_of_the_quantity():
    nanometre = unit_of("nm")
    source = Source("x", "B", "normal", 2e-9, nanometre)
    inputs = {"x": Estimate(5e-9, ((source, 1.0),))}
    formula = formula_from(lambda_named(lambda x: x), nanometre)
    graph = Graph(inputs, dict.fromkeys("xy", nanometre), {"y": formula})
    text = str(second_order(graph, "y"))
    assert text.count("2.0 nm") == 2
    assert "JCGM 100, 5.1.2, note" in text

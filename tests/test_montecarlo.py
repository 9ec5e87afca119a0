import math
import warnings

import numpy as np
import pytest

from benchproof.reasoning.formulas import formula_from
from benchproof.reasoning.graph import Graph
from benchproof.reasoning.montecarlo import (
    BLOCK,
    monte_carlo_of,
    numerical_tolerance,
    symmetric_interval,
)
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

ONE = unit_of("")
DRAWS = 100_000


def uncertain(value, u, shape="normal", dof=math.inf, name="x"):
    return Estimate(value, ((Source(name, "B", shape, u, ONE, dof), 1.0),))


def graph_of(function, joints=(), **inputs):
    formula = formula_from(function, ONE)
    units = dict.fromkeys([*inputs, formula.name], ONE)
    return Graph(inputs, units, {formula.name: formula}, tuple(joints))


def draw(function, joints=(), draws=DRAWS, seed=1, level=0.95, **inputs):
    graph = graph_of(function, joints, **inputs)
    return monte_carlo_of(graph, function.__name__, draws=draws, seed=seed, level=level)


def itself(x):
    return x


def gap(a, b):
    return a - b


# Distributions. The ends of an interval of 1e5 draws scatter by u/100 or less.


@pytest.mark.parametrize(
    ("shape", "half"),
    [
        ("normal", 1.95996),
        ("rectangular", 0.95 * math.sqrt(3)),
        ("triangular", (1 - math.sqrt(0.05)) * math.sqrt(6)),
        ("arcsine", math.sin(0.95 * math.pi / 2) * math.sqrt(2)),
    ],
)
def test_each_distribution_has_its_own_interval_and_the_same_u(shape, half):
    drawn = draw(itself, x=uncertain(5.0, 2.0, shape))
    assert drawn.value == pytest.approx(5, abs=0.03)
    assert drawn.standard_uncertainty == pytest.approx(2, abs=0.025)
    assert drawn.symmetric == pytest.approx((5 - 2 * half, 5 + 2 * half), abs=0.06)


def test_repeats_are_drawn_from_t_scaled_by_u():
    drawn = draw(itself, x=uncertain(0.0, 1.0, "t", 5))
    # t(0.975; 5) = 2.571; its standard deviation is sqrt(5/3). JCGM 101:2008, 6.4.9.
    assert drawn.symmetric == pytest.approx((-2.571, 2.571), abs=0.06)
    assert drawn.standard_uncertainty == pytest.approx(math.sqrt(5 / 3), abs=0.03)


def test_three_repeats_bring_the_caveat_that_u_does_not_exist():
    drawn = draw(itself, x=uncertain(0.0, 1.0, "t", 2))
    assert "trust the interval, not u" in drawn.caveats[0]


def test_a_shared_source_is_drawn_once():
    gain = Source("gain", "B", "rectangular", 0.1)
    a, b = Estimate(3.0, ((gain, 3.0),)), Estimate(3.0, ((gain, 3.0),))
    drawn = draw(gap, a=a, b=b)
    assert drawn.standard_uncertainty == 0.0
    assert drawn.symmetric == (0.0, 0.0)


@pytest.mark.parametrize("dof", [math.inf, 20])
def test_correlated_sources_are_drawn_correlated(dof):
    joint = Joint(("a", "b"), ((1.0, 0.8), (0.8, 1.0)), dof)
    drawn = draw(
        gap,
        [joint],
        a=uncertain(0.0, 1.0, "t", dof, "a"),
        b=uncertain(0.0, 1.0, "t", dof, "b"),
    )
    # 1 + 1 - 2·0.8, times dof/(dof - 2) where it is finite; 2 % is four deviations.
    wider = 1.0 if math.isinf(dof) else dof / (dof - 2)
    assert drawn.standard_uncertainty**2 == pytest.approx(0.4 * wider, rel=0.02)


def test_fully_correlated_sources_cancel():
    joint = Joint(("a", "b"), ((1.0, 1.0), (1.0, 1.0)))
    drawn = draw(
        gap, [joint], a=uncertain(0.0, 1.0, name="a"), b=uncertain(0.0, 1.0, name="b")
    )
    assert drawn.standard_uncertainty == pytest.approx(0, abs=1e-7)


# Repeatability.


def test_the_same_seed_gives_the_same_result():
    first = draw(itself, x=uncertain(1.0, 0.1))
    assert first == draw(itself, x=uncertain(1.0, 0.1))


def test_another_seed_gives_another_result():
    first = draw(itself, x=uncertain(1.0, 0.1))
    assert first.value != draw(itself, x=uncertain(1.0, 0.1), seed=2).value


def test_adding_a_source_moves_no_draw_of_the_others():
    def both(x, y):
        return x + 0 * y

    alone = draw(itself, x=uncertain(1.0, 0.1))
    beside = draw(both, x=uncertain(1.0, 0.1), y=uncertain(1.0, 0.1, name="y"))
    assert beside.symmetric == alone.symmetric


def test_a_number_of_draws_need_not_fill_blocks():
    drawn = draw(itself, draws=BLOCK + 1234, x=uncertain(1.0, 0.1))
    assert drawn.draws == BLOCK + 1234
    assert drawn.stable


def test_drawing_stops_when_the_digits_have_settled():
    graph = graph_of(itself, x=uncertain(1.0, 0.5))
    one = monte_carlo_of(graph, "itself", digits=1)
    two = monte_carlo_of(graph, "itself", digits=2)
    assert one.stable
    assert two.stable
    assert one.draws < two.draws
    assert two.draws % BLOCK == 0
    assert two.standard_uncertainty == pytest.approx(0.5, abs=two.tolerance)


# Against the linear budget.


def test_the_linear_result_holds_for_a_sum_of_normals():
    def total(a, b):
        return a + b

    # u = 2.0, tolerance 0.05; the ends of so many draws scatter by 0.008.
    drawn = draw(
        total,
        draws=400_000,
        a=uncertain(1.0, 1.2, name="a"),
        b=uncertain(2.0, 1.6, name="b"),
    )
    assert drawn.linear_holds
    assert "the linear result holds" in str(drawn)


def test_chance_seldom_decides_whether_a_linear_model_is_linear():
    graph = graph_of(itself, x=uncertain(1.0, 3.5))
    results = [monte_carlo_of(graph, "itself", seed=seed) for seed in range(40)]
    refused = sum(not drawn.linear_holds for drawn in results)
    # Normal and linear: the budget is exact. One in twenty would be chance enough.
    assert refused <= 2


def test_the_linear_result_fails_for_a_square_at_zero():
    def square(x):
        return x * x

    drawn = draw(square, x=uncertain(0.0, 1.0))
    assert drawn.budget.standard_uncertainty == 0.0
    # Chi-square with one degree of freedom: mean 1, standard deviation √2.
    assert drawn.value == pytest.approx(1, abs=0.02)
    assert drawn.standard_uncertainty == pytest.approx(math.sqrt(2), abs=0.04)
    assert not drawn.linear_holds
    assert "use Monte Carlo" in str(drawn)


def test_the_shortest_interval_of_a_skewed_result_is_shorter_and_lower():
    def square(x):
        return x * x

    drawn = draw(square, x=uncertain(0.0, 1.0))
    # Shortest: from 0 to the 95 % point of chi-square, 3.841.
    assert drawn.shortest == pytest.approx((0.0, 3.841), abs=0.06)
    symmetric = drawn.symmetric[1] - drawn.symmetric[0]
    assert drawn.shortest[1] - drawn.shortest[0] < symmetric


@pytest.mark.parametrize("level", [0.3, 0.6827, 0.95, 0.99])
def test_intervals_hold_the_asked_share_of_the_draws(level):
    drawn = draw(itself, level=level, x=uncertain(0.0, 1.0, "rectangular"))
    low, high = drawn.symmetric
    # Of a rectangle, the share is the length; 0.5 % is four deviations.
    assert (high - low) / math.sqrt(12) == pytest.approx(level, abs=0.006)


def test_the_symmetric_interval_leaves_the_same_number_on_both_sides():
    low, high = symmetric_interval(np.arange(1000.0), 0.95)
    below, above = low, 999 - high
    assert abs(below - above) <= 1
    assert high - low == 950


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [(0.35, 2, 0.005), (0.35, 1, 0.05), (35.0, 2, 0.5), (1.0, 2, 0.05), (0.0, 2, 0.0)],
)
def test_the_tolerance_is_half_the_last_digit_of_u(u, digits, tolerance):
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance)


# Refusals.


def test_a_formula_that_branches_is_refused_with_the_way_out():
    def cut(x):
        return 2 * x if x > 1 else x

    with pytest.raises(FormulaError, match=r"cut: the formula failed.*np\.where"):
        draw(cut, x=uncertain(1.0, 0.1))


def test_the_same_branch_written_with_where_is_drawn():
    def cut(x):
        return np.where(x > 1, 2 * x, x)

    assert draw(cut, x=uncertain(5.0, 0.1)).value == pytest.approx(10, abs=0.01)


def test_a_formula_for_single_numbers_is_refused_with_the_way_out():
    def root(x):
        return math.sqrt(x)

    with pytest.raises(FormulaError, match=r"root: the formula failed.*np\.sqrt"):
        draw(root, x=uncertain(4.0, 0.1))


def test_a_formula_that_sums_over_the_draws_is_refused():
    def mean(x):
        return np.array([np.sum(x), 0.0])[:1] if np.shape(x) else x

    with pytest.raises(FormulaError, match=r"mean: given arrays .* shape \(1,\)"):
        draw(mean, x=uncertain(4.0, 0.1))


def test_draws_that_are_not_finite_are_refused_and_counted():
    def root(x):
        with np.errstate(invalid="ignore"):
            return np.sqrt(x)

    with pytest.raises(FormulaError, match=r"root: \d+ of 20000 draws are not finite"):
        draw(root, x=uncertain(0.1, 0.1))


@pytest.mark.parametrize("options", [{"digits": 0}, {"digits": 4}, {"draws": 999}])
def test_options_that_make_no_sense_are_refused(options):
    graph = graph_of(itself, x=uncertain(1.0, 0.1))
    with pytest.raises(InputError, match="digits is 1, 2 or 3; draws at least 1000"):
        monte_carlo_of(graph, "itself", **options)


def test_drawing_gives_no_warnings():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        draw(itself, x=uncertain(1.0, 0.1, "t", 3))


# Zero.


def test_an_exact_quantity_has_a_point_for_an_interval():
    drawn = draw(itself, x=Estimate(2.0))
    assert (drawn.value, drawn.standard_uncertainty) == (2.0, 0.0)
    assert drawn.symmetric == drawn.shortest == (2.0, 2.0)
    assert drawn.linear_holds


def test_an_exact_quantity_settles_at_once():
    drawn = monte_carlo_of(graph_of(itself, x=Estimate(2.0)), "itself")
    assert drawn.stable
    assert drawn.draws <= 2 * BLOCK


def test_monte_carlo_needs_no_derivative():
    def jump(x):
        # Not defined for single numbers below 1, where the difference quotient looks.
        if np.ndim(x) == 0 and x < 1:
            return math.nan
        return np.maximum(np.real(x), 1.0)

    drawn = monte_carlo_of(graph_of(jump, x=uncertain(1.0, 0.1)), "jump", draws=DRAWS)
    assert drawn.shortest[0] == pytest.approx(1.0)

import math
import warnings

import numpy as np
import pytest

from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo import draws as drawing
from benchproof.reasoning.montecarlo.draws import BLOCK
from benchproof.reasoning.montecarlo.runs import monte_carlo_of
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


def draw(function, joints=(), draws=DRAWS, seed=1, control=False, **rest):
    names = ("level", "limits", "contributions", "threads", "progress")
    options = {name: rest.pop(name) for name in names if name in rest}
    graph = graph_of(function, joints, **rest)
    return monte_carlo_of(
        graph, function.__name__, draws=draws, seed=seed, control=control, **options
    )


def itself(x):
    return x


@pytest.mark.parametrize("draws", [None, 1000, 50_000, 400_000])
def test_progress_rises_with_the_draws_and_ends_at_all_of_them(draws):
    seen = []
    draw(itself, x=uncertain(1.0, 0.1), draws=draws, progress=seen.append)
    assert seen == sorted(seen)
    assert 0 < seen[-1] <= 1
    assert draws is None or seen[-1] == 1


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
    assert "no u" in str(drawn).split("trust")[0]


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
    one = monte_carlo_of(graph, "itself", digits=1, control=False)
    two = monte_carlo_of(graph, "itself", digits=2, control=False)
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


@pytest.mark.parametrize("control", [True, False])
def test_chance_seldom_decides_whether_a_linear_model_is_linear(control):
    graph = graph_of(itself, x=uncertain(1.0, 3.5))
    results = [
        monte_carlo_of(graph, "itself", seed=seed, control=control)
        for seed in range(40)
    ]
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


# The linear model as a control.


def ratio(a, b):
    return a / b


def near_linear(seed, draws, control):
    # u of a tenth and a twentieth of a per cent; u of the result 0.0022.
    return draw(
        ratio,
        draws=draws,
        seed=seed,
        control=control,
        a=uncertain(2.0, 0.002, "rectangular", name="a"),
        b=uncertain(1.0, 0.0005, name="b"),
    )


def scatter(results):
    return np.std([drawn.symmetric for drawn in results], axis=0, ddof=1)


def test_a_near_linear_model_needs_a_hundredth_of_the_draws():
    plain = scatter([near_linear(s, 20_000, control=False) for s in range(60)])
    steady = scatter([near_linear(s, 20_000, control=True) for s in range(60)])
    # The ratio of two variances of 60 exceeds 2 by chance less than once in 200, so
    # a measured 200 shows 100; it is thousands.
    assert (plain**2 / steady**2 > 200).all()


def test_the_control_moves_no_end_away_from_the_truth():
    truth = np.mean(
        [near_linear(s, 1_000_000, control=False).symmetric for s in range(90, 94)],
        axis=0,
    )
    found = near_linear(1, 20_000, control=True)
    # Four million draws leave the ends uncertain by 0.0015 u; five of those.
    assert found.symmetric == pytest.approx(tuple(truth), abs=0.0075 * 0.0022)


def test_the_result_says_by_how_much_the_control_gained():
    drawn = near_linear(1, 20_000, control=True)
    assert drawn.gain > 100
    assert "steadied by the linear model" in str(drawn)
    plain = near_linear(1, 20_000, control=False)
    assert (plain.gain, plain.control) == (1.0, "")


@pytest.mark.parametrize("at", [0.0, 0.2, 0.5])
def test_near_a_stationary_point_the_control_is_off_and_loses_nothing(at):
    def square(x):
        return x * x

    for seed in range(5):
        x = uncertain(at, 1.0)
        steady = draw(square, draws=20_000, seed=seed, control=True, x=x)
        plain = draw(square, draws=20_000, seed=seed, control=False, x=x)
        assert steady.gain == 1.0
        assert steady.symmetric == plain.symmetric
        assert steady.shortest == plain.shortest
        assert steady.standard_uncertainty == plain.standard_uncertainty


def test_half_way_to_linear_the_control_does_no_harm():
    def bent(x, y):
        return x * x + y

    def ends_of(seeds, control):
        x, y = uncertain(2.0, 0.5, name="x"), uncertain(0.0, 0.5, "t", 8, name="y")
        options = {"draws": 20_000, "control": control, "x": x, "y": y}
        return np.array([draw(bent, seed=s, **options).symmetric for s in seeds])

    truth = ends_of(range(900, 1000), control=False).mean(axis=0)
    plain, steady = (
        np.square(ends_of(range(80), control) - truth).mean(axis=0)
        for control in (False, True)
    )
    # Chance makes the ratio of 80 paired squares exceed 1.2 hardly ever.
    assert (steady <= 1.2 * plain).all()


def test_a_result_cut_off_near_the_end_of_its_interval_is_not_smoothed_over():
    def cut(x):
        return np.maximum(x, -1.9)

    drawn = draw(cut, draws=20_000, control=True, x=uncertain(0.0, 1.0))
    assert drawn.symmetric[0] == pytest.approx(-1.9, abs=1e-9)
    assert drawn.symmetric[1] == pytest.approx(1.96, abs=0.02)


def test_two_degrees_of_freedom_leave_the_control_off_and_say_so():
    graph = graph_of(itself, x=uncertain(0.0, 1.0, "t", 2))
    drawn = monte_carlo_of(graph, "itself", draws=20_000)
    assert drawn.gain == 1.0
    assert "two degrees of freedom or fewer" in drawn.control


def test_the_linear_result_in_doubt_is_settled_with_few_draws():
    def total(a, b, c):
        return a + 0.5 * b + 0.4 * c * c

    graph = graph_of(
        total,
        a=uncertain(1.0, 0.01, "rectangular", name="a"),
        b=uncertain(1.0, 0.01, "t", 9, name="b"),
        c=uncertain(1.0, 0.01, name="c"),
    )
    steady = monte_carlo_of(graph, "total")
    assert steady.stable
    assert steady.draws <= 4 * BLOCK
    many = monte_carlo_of(graph, "total", draws=1_000_000)
    u = many.standard_uncertainty
    assert steady.symmetric == pytest.approx(many.symmetric, abs=0.015 * u)


# Threads and memory.


def test_threads_change_no_digit():
    def total(a, b):
        return np.exp(a) + b

    inputs = {
        "a": uncertain(1.0, 0.1, "t", 7, name="a"),
        "b": uncertain(1.0, 0.1, "triangular", name="b"),
    }
    one, two, three = (
        draw(total, draws=410_000, control=True, threads=n, **inputs) for n in (1, 2, 3)
    )
    assert one == two == three


def test_threads_change_no_digit_of_adaptive_stopping():
    def square(x):
        return x * x

    graph = graph_of(square, x=uncertain(1.0, 0.4))
    one, two = (
        monte_carlo_of(graph, "square", digits=3, seed=3, threads=n, control=False)
        for n in (1, 2)
    )
    assert one.draws > 200_000
    assert one == two


def test_a_second_run_from_kept_draws_changes_no_digit():
    drawing.DRAWS.empty()
    x, y = uncertain(1.0, 0.1, "t", 6), uncertain(2.0, 0.1, "arcsine", name="y")
    fresh = draw(gap, draws=60_000, control=True, a=x, b=y)
    again = draw(gap, draws=60_000, control=True, a=x, b=y)
    drawing.DRAWS.empty()
    assert fresh == again == draw(gap, draws=60_000, control=True, a=x, b=y)


def test_a_failure_on_another_thread_is_reported_as_usual():
    def root(x):
        with np.errstate(invalid="ignore"):
            return np.sqrt(x)

    # Five deviations from zero: only some block far on goes below.
    with pytest.raises(FormulaError, match=r"root: \d+ of 20000 draws are not finite"):
        draw(root, draws=2_000_000, x=uncertain(4.7, 1.0), threads=2)


# Limits and contributions.


def test_the_fraction_between_limits_comes_with_its_uncertainty():
    drawn = draw(itself, limits=(-1.0, 1.0), x=uncertain(0.0, 1.0))
    # erf(1/sqrt 2); of 1e5 draws its standard uncertainty is 0.00147.
    assert drawn.inside_uncertainty == pytest.approx(0.00147, rel=0.01)
    assert drawn.inside == pytest.approx(0.682689, abs=4 * 0.00147)
    assert "between the limits: 68." in str(drawn)


def test_a_limit_may_be_open():
    drawn = draw(itself, limits=(None, 0.0), x=uncertain(0.0, 1.0))
    assert drawn.inside == pytest.approx(0.5, abs=0.0064)


def test_all_draws_inside_still_leave_an_uncertainty():
    drawn = draw(itself, limits=(-1.0, 1.0), x=uncertain(0.0, 0.01))
    assert drawn.inside == 1.0
    assert 0 < drawn.inside_uncertainty < 2e-5


def test_no_limits_leave_the_fraction_open():
    drawn = draw(itself, x=uncertain(0.0, 1.0))
    assert (drawn.inside, drawn.inside_uncertainty) == (None, None)


@pytest.mark.parametrize("limits", [(1.0, 1.0), (2.0, 1.0), (math.nan, 1.0)])
def test_limits_in_the_wrong_order_are_refused(limits):
    with pytest.raises(InputError, match="lower below upper"):
        draw(itself, limits=limits, x=uncertain(0.0, 1.0))


def test_contributions_show_what_the_linear_budget_does_not_see():
    def area(a, b):
        return a * b

    # At (0, 1): b alone does nothing, together they do 0.25² of 1.0625.
    drawn = draw(
        area,
        contributions=True,
        a=uncertain(0.0, 1.0, name="a"),
        b=uncertain(1.0, 0.25, name="b"),
    )
    first, second = drawn.contributions
    assert (first.name, second.name) == ("a", "b")
    assert first.standard_uncertainty == pytest.approx(1.0, abs=0.01)
    assert first.share == pytest.approx(1 / 1.0625, abs=0.01)
    assert second.standard_uncertainty == 0.0
    table = str(drawn.contributions_table())
    assert "what sources do together makes up" in table


def test_a_source_the_budget_gives_nothing_has_its_contribution():
    def square(x):
        return x * x

    drawn = draw(square, contributions=True, x=uncertain(0.0, 1.0))
    assert drawn.budget.standard_uncertainty == 0.0
    (only,) = drawn.contributions
    assert only.share == pytest.approx(1.0)


def test_sources_observed_together_contribute_together():
    joint = Joint(("a", "b"), ((1.0, 0.5), (0.5, 1.0)))
    drawn = draw(
        gap,
        [joint],
        contributions=True,
        a=uncertain(0.0, 1.0, name="a"),
        b=uncertain(0.0, 1.0, name="b"),
    )
    (only,) = drawn.contributions
    assert only.name == "a & b"
    assert only.share == pytest.approx(1.0)


# JCGM 101:2008, worked examples.


def four(a, b, c, d):
    return a + b + c + d


def four_of(shape, us, **options):
    inputs = {
        n: uncertain(0.0, u, shape, name=n) for n, u in zip("abcd", us, strict=True)
    }
    return draw(four, draws=100_000, control=True, **options, **inputs)


def test_supplement_1_clause_9_2_2_four_normals():
    # Read and recomputed: u 2.0, interval ±3.92.
    drawn = four_of("normal", (1, 1, 1, 1))
    assert drawn.value == pytest.approx(0.0, abs=0.005)
    assert drawn.standard_uncertainty == pytest.approx(2.0, abs=0.005)
    assert drawn.symmetric == pytest.approx((-3.92, 3.92), abs=0.005)


def test_supplement_1_clause_9_2_3_four_rectangulars():
    # From memory, recomputed by the closed form: ±3.8794.
    drawn = four_of("rectangular", (1, 1, 1, 1))
    assert drawn.standard_uncertainty == pytest.approx(2.0, abs=0.005)
    assert drawn.symmetric == pytest.approx((-3.8794, 3.8794), abs=0.005)


def test_supplement_1_clause_9_2_4_one_rectangular_dominates():
    # From memory, recomputed: u 10.1, linear ±19.9, Monte Carlo ±17.0.
    drawn = four_of("rectangular", (1, 1, 1, 10))
    assert drawn.standard_uncertainty == pytest.approx(10.1, abs=0.05)
    assert drawn.symmetric == pytest.approx((-17.0, 17.0), abs=0.05)
    assert drawn.shortest == pytest.approx((-17.0, 17.0), abs=0.1)
    assert not drawn.linear_holds


def test_supplement_1_clause_9_3_mass_calibration():
    # Tables 5 and 6: partly read, rest from memory, recomputed (0.0755, 1.0844 and
    # 1.3835 rather than the printed 0.0754, 1.0834 and 1.3825). In mg.
    def mass(reference, small, air, weight_density, reference_density):
        lift = (air - 1.2) * (1 / weight_density - 1 / reference_density)
        return (reference + small) * (1 + lift) - 100_000

    def between(low, high, name):
        half = (high - low) / 2
        source = Source(name, "B", "rectangular", half / math.sqrt(3), ONE)
        return Estimate((low + high) / 2, ((source, 1.0),))

    drawn = draw(
        mass,
        draws=1_000_000,
        reference=uncertain(100_000.0, 0.05, name="reference"),
        small=uncertain(1.234, 0.02, name="small"),
        air=between(1.1, 1.3, "air"),
        weight_density=between(7000.0, 9000.0, "weight density"),
        reference_density=between(7950.0, 8050.0, "reference density"),
    )
    assert drawn.value == pytest.approx(1.2341, abs=0.0005)
    assert drawn.standard_uncertainty == pytest.approx(0.0754, abs=0.0002)
    # The ends, sought along a flat width, scatter by 0.0009 here and as printed.
    low, high = drawn.shortest
    assert (low, high) == pytest.approx((1.0834, 1.3825), abs=0.005)
    assert high - low == pytest.approx(1.3825 - 1.0834, abs=0.0005)
    assert drawn.budget.standard_uncertainty == pytest.approx(0.0539, abs=0.00005)
    assert not drawn.linear_holds


@pytest.mark.parametrize(
    ("at", "value", "u", "low", "high"),
    [(0.0, 50, 50, 0, 150), (0.010, 150, 112, 0, 367), (0.050, 2551, 502, 1590, 3543)],
)
def test_supplement_1_clause_9_4_comparison_loss(at, value, u, low, high):
    # Tables 7 and 8, no covariance: partly read, rest from memory, recomputed. In 1e-6.
    def loss(x1, x2):
        return x1 * x1 + x2 * x2

    drawn = draw(
        loss,
        draws=1_000_000,
        x1=uncertain(at, 0.005, name="x1"),
        x2=uncertain(0.0, 0.005, name="x2"),
    )
    # The printed figures are of a million draws, too: 2551 is exactly 2550.
    assert drawn.value * 1e6 == pytest.approx(value, abs=2)
    assert drawn.standard_uncertainty * 1e6 == pytest.approx(u, abs=1.5)
    # The ends, sought along a flat width, scatter by up to 6 here and as printed.
    found = np.array(drawn.shortest) * 1e6
    assert found == pytest.approx([low, high], abs=25)
    assert found[1] - found[0] == pytest.approx(high - low, abs=4)


@pytest.mark.parametrize("control", [True, False])
def test_supplement_1_clause_9_5_gauge_block(control):
    # Tables 10 and 11: read and recomputed. In nm; nominal length 50 mm.
    def length(LS, D, d1, d2, aS, theta0, Delta, da, dtheta):
        return LS + D + d1 + d2 - LS * (da * (theta0 + Delta) + aS * dtheta)

    def inexact(half, by, name):
        size = half * math.sqrt(1 / 3 + (by / half) ** 2 / 9)
        shape = "curvilinear trapezoid"
        source = Source(name, "B", shape, size, ONE, shape=by / half)
        return Estimate(0.0, ((source, 1.0),))

    drawn = draw(
        length,
        draws=1_000_000,
        level=0.99,
        control=control,
        LS=uncertain(50_000_623.0, 25.0, "t", 18, "LS"),
        D=uncertain(215.0, 6.0, "t", 24, "D"),
        d1=uncertain(0.0, 4.0, "t", 5, "d1"),
        d2=uncertain(0.0, 7.0, "t", 8, "d2"),
        aS=uncertain(11.5e-6, 2e-6 / math.sqrt(3), "rectangular", name="aS"),
        theta0=uncertain(-0.1, 0.2, name="theta0"),
        Delta=uncertain(0.0, 0.5 / math.sqrt(2), "arcsine", name="Delta"),
        da=inexact(1e-6, 1e-7, "da"),
        dtheta=inexact(0.05, 0.025, "dtheta"),
    )
    assert drawn.value - 50_000_000 == pytest.approx(838, abs=1)
    assert drawn.standard_uncertainty == pytest.approx(36, abs=1)
    ends = [end - 50_000_000 for end in drawn.shortest]
    assert ends == pytest.approx([745, 932], abs=2)

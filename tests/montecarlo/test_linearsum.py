"""The exact distribution of a sum against closed forms and independent draws."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.linearsum import (
    LinearSum,
    Term,
    characteristic,
    linear_sum_of,
)
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

ROOT3 = math.sqrt(3)


def total(*terms):
    return LinearSum(tuple(terms))


def rectangle(size=1.0):
    return Term("rectangular", size)


def points(reach, count=61):
    return np.linspace(-0.99 * reach, 0.99 * reach, count)


def test_two_normals_make_a_normal():
    x = points(8.0)
    found = total(Term("normal", 1.0), Term("normal", 2.0)).cdf(x)
    assert found == pytest.approx(stats.norm.cdf(x / math.sqrt(5)), abs=1e-12)


def test_two_equal_rectangles_make_a_triangle():
    x = points(2 * ROOT3)
    exact = stats.triang.cdf(x, 0.5, -2 * ROOT3, 4 * ROOT3)
    assert total(rectangle(), rectangle()).cdf(x) == pytest.approx(exact, abs=1e-8)


def test_two_unequal_rectangles_make_a_trapezoid():
    x = points(3 * ROOT3)
    exact = stats.trapezoid.cdf(x, 1 / 3, 2 / 3, -3 * ROOT3, 6 * ROOT3)
    assert total(rectangle(), rectangle(2.0)).cdf(x) == pytest.approx(exact, abs=1e-8)


def test_a_trapezoid_is_the_one_scipy_knows():
    # A top of 0.3 of the base: half-width sqrt(6 / 1.09) for u = 1.
    half = math.sqrt(6 / (1 + 0.3**2))
    exact = stats.trapezoid.cdf(points(half), 0.35, 0.65, -half, 2 * half)
    found = total(Term("trapezoidal", 1.0, shape=0.3)).cdf(points(half))
    assert found == pytest.approx(exact, abs=1e-8)


def test_four_rectangles_agree_with_supplement_1_clause_9_2_3():
    # JCGM 101:2008, 9.2.3.3, from memory; the closed form gives 3.8794.
    found = total(*[rectangle()] * 4).quantile(0.975)
    assert found == pytest.approx(2 * ROOT3 * (2 - 0.6**0.25), abs=1e-9)
    assert found == pytest.approx(3.88, abs=0.005)


def test_a_rectangle_and_a_normal_agree_with_their_convolution():
    x = points(3.0, 21)
    exact = [
        quad(lambda r, x=x: stats.norm.cdf((x - r) / 0.3), -ROOT3, ROOT3)[0] / 2 / ROOT3
        for x in x
    ]
    found = total(rectangle(), Term("normal", 0.3)).cdf(x)
    assert found == pytest.approx(exact, abs=1e-8)


@pytest.mark.parametrize("dof", [3, 4.5, 9, 59, 60, 99, 1000])
def test_t_alone_and_through_the_integral_is_students(dof):
    x = np.array([-4.0, -2.0, -0.3, 0.5, 3.0])
    exact = stats.t.cdf(x, dof)
    assert total(Term("t", 1.0, dof)).cdf(x) == pytest.approx(exact, abs=1e-12)
    # A normal of a thousandth makes it go through the characteristic function.
    through = total(Term("t", 1.0, dof), Term("normal", 1e-3)).cdf(x)
    assert through == pytest.approx(exact, abs=1e-6)


@pytest.mark.parametrize(
    ("term", "density", "reach"),
    [
        (Term("t", 1.0, 5), lambda x: stats.t.pdf(x, 5), 2000),
        (Term("t", 1.0, 80), lambda x: stats.t.pdf(x, 80), 30),
        (rectangle(), lambda x: 1 / (2 * ROOT3), ROOT3),
        (Term("arcsine", 1.0), None, math.sqrt(2)),
    ],
)
def test_characteristic_functions_are_the_integrals_they_stand_for(
    term, density, reach
):
    for t in (0.1, 1.0, 2.5):
        if density is None:  # by angle, as the density has no bound
            exact = quad(lambda a, t=t: math.cos(t * reach * math.sin(a)), 0, math.pi)[
                0
            ]
            exact /= math.pi
        else:
            exact = (
                2
                * quad(
                    lambda x, t=t: density(x) * math.cos(t * x), 0, reach, limit=5000
                )[0]
            )
        found = float(characteristic([term], np.array([t]))[0])
        assert found == pytest.approx(exact, abs=2e-8)


def test_a_trapezoid_of_exact_limits_is_a_rectangle():
    t = np.array([0.1, 1.0, 2.5, 9.0])
    for shape in (0.0, 1e-7, 1e-5):
        term = Term("curvilinear trapezoid", 1.0, shape=shape)
        assert characteristic([term], t) == pytest.approx(
            characteristic([rectangle()], t), abs=1e-9
        )


MIXES = [
    (Term("arcsine", 1.0), Term("rectangular", 0.01)),
    (Term("arcsine", 1.0), Term("arcsine", 0.5)),
    (Term("curvilinear trapezoid", 1.0, shape=0.5),),
    (Term("curvilinear trapezoid", 1.0, shape=1.0), Term("t", 0.3, 4)),
    (Term("rectangular", 1.0), Term("normal", 0.001)),
    (Term("t", 1.0, 3), Term("rectangular", 2.0)),
    (
        Term("t", 1.0, 9),
        Term("rectangular", 1.0),
        Term("triangular", 1.0),
        Term("normal", 2.0),
        Term("trapezoidal", 1.5, shape=0.5),
    ),
]
NAMES = [" + ".join(term.distribution for term in terms) for terms in MIXES]


def independent(term, source, n):
    """Draw by textbook recipes that share no line with the kit."""
    if term.distribution == "t":
        return term.size * source.standard_t(term.degrees_of_freedom, n)
    if term.distribution == "normal":
        return term.size * source.standard_normal(n)
    first, second = source.random(n), source.random(n)
    s = term.shape
    raw, variance = {
        "rectangular": (2 * first - 1, 1 / 3),
        "arcsine": (np.cos(math.pi * first), 1 / 2),
        "triangular": (first + second - 1, 1 / 6),
        "trapezoidal": (
            (1 + s) / 2 * (2 * first - 1) + (1 - s) / 2 * (2 * second - 1),
            (1 + s * s) / 6,
        ),
        # JCGM 101:2008, 6.4.3.4: the limits are drawn, then the value between them.
        "curvilinear trapezoid": (
            (-1 - s + 2 * s * first) * (1 - 2 * second),
            1 / 3 + s * s / 9,
        ),
    }[term.distribution]
    return term.size / math.sqrt(variance) * raw


@pytest.mark.parametrize("terms", MIXES, ids=NAMES)
def test_sums_agree_with_a_large_independent_monte_carlo(terms):
    source, n = np.random.default_rng(11), 1_000_000
    draws = np.sort(sum(independent(term, source, n) for term in terms))
    exact = LinearSum(terms)
    x = np.linspace(-2.5, 2.5, 21) * math.sqrt(exact.variance)
    share = np.searchsorted(draws, x, side="right") / n
    p = exact.cdf(x)
    # 21 comparisons in 7 mixes at 4.7 deviations: a false alarm once in 2600 seeds.
    allowed = 4.7 * np.sqrt(np.maximum(p * (1 - p), 1e-6) / n)
    assert (abs(share - p) <= allowed).all()


@pytest.mark.parametrize("terms", MIXES, ids=NAMES)
def test_quantiles_invert_the_distribution_function(terms):
    exact, p = LinearSum(terms), np.array([1e-4, 0.025, 0.3, 0.5, 0.9, 0.975, 0.9999])
    assert exact.cdf(exact.quantile(p)) == pytest.approx(p, abs=1e-9)


def test_the_variance_of_t_is_its_own():
    found = total(Term("t", 2.0, 6), Term("normal", 1.0)).variance
    assert found == pytest.approx(4 * 6 / 4 + 1)


def test_beyond_its_reach_there_is_nothing():
    exact = total(rectangle(), rectangle())
    assert exact.cdf(np.array([-9.0, 9.0])).tolist() == [0.0, 1.0]


def test_two_degrees_of_freedom_are_refused():
    with pytest.raises(InputError, match="two degrees of freedom or fewer"):
        total(Term("t", 1.0, 2), Term("normal", 1.0))


def test_a_sum_of_nothing_is_refused():
    with pytest.raises(InputError, match="nothing varies"):
        total(Term("normal", 0.0))


@pytest.mark.parametrize("p", [0.0, 1.0, math.nan])
def test_a_probability_without_quantile_is_refused(p):
    with pytest.raises(InputError, match="between 0 and 1"):
        total(Term("normal", 1.0)).quantile(p)


def test_one_probability_out_of_range_is_refused_among_others():
    with pytest.raises(InputError, match="between 0 and 1"):
        total(rectangle(), rectangle()).quantile([0.5, 1.0])


@pytest.mark.parametrize(
    ("term", "known"),
    [
        (Term("rectangular", 2.0), stats.uniform(-2 * ROOT3, 4 * ROOT3)),
        (Term("arcsine", 2.0), stats.arcsine(-2 * math.sqrt(2), 4 * math.sqrt(2))),
        (Term("t", 2.0, 4.5), stats.t(4.5, scale=2.0)),
        (Term("t", 2.0), stats.norm(scale=2.0)),
        (Term("normal", 2.0), stats.norm(scale=2.0)),
    ],
    ids=lambda x: getattr(x, "distribution", ""),
)
def test_a_term_alone_is_the_distribution_scipy_knows(term, known):
    # 5 lies beyond the ends of the first two.
    x, p = np.array([-5.0, -2.0, 0.3, 2.5, 5.0]), np.array([0.025, 0.4, 0.9])
    assert total(term).cdf(x) == pytest.approx(known.cdf(x), abs=1e-12)
    assert total(term).quantile(p) == pytest.approx(known.ppf(p), rel=1e-9)


def test_sources_read_together_are_one_t_term_and_the_others_their_own():
    def out(a, b, c):
        return a - b + 2 * c

    repeats = [
        Source(name, "A", "t", u, unit_of(""), 4)
        for name, u in (("a", 0.3), ("b", 0.4))
    ]
    limits = Source("c", "B", "rectangular", 0.5)
    sources = {"a": repeats[0], "b": repeats[1], "c": limits}
    inputs = {name: Estimate(1.0, ((s, 1.0),)) for name, s in sources.items()}
    joint = Joint(("a", "b"), ((1.0, 0.5), (0.5, 1.0)), 4)
    formula = formula_from(out, unit_of(""))
    units = dict.fromkeys([*inputs, "out"], unit_of(""))
    graph = Graph(inputs, units, {"out": formula}, (joint,))
    found = linear_sum_of(budget_of(graph, "out"), graph.joints).terms
    # 0.09 + 0.16 - 2·0.5·0.12 = 0.13.
    assert [term.size for term in found] == pytest.approx([math.sqrt(0.13), 1.0])
    assert found[0].degrees_of_freedom == 4
    assert [term.distribution for term in found] == ["t", "rectangular"]

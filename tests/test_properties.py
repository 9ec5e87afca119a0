"""What must hold for every case, whatever the numbers: tried on random ones."""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math
import shutil

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from benchproof import open_case, summarise

# The folder is only copied from, so that examples do not see each other.
many = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture
def fresh(case_folder, tmp_path_factory):
    """Make an empty case with the book of instruments, as often as called."""

    def make():
        folder = tmp_path_factory.mktemp("case")
        for name in ("case.toml", "instruments.toml"):
            shutil.copy(case_folder / name, folder)
        return open_case(folder)

    return make


def figures(case, name):
    """What must not change: value, u, degrees of freedom and U."""
    budget = case.budget(name)
    return (
        budget.value,
        budget.standard_uncertainty,
        budget.degrees_of_freedom,
        budget.expanded_uncertainty,
    )


# Sums in another order differ by rounding.
def same(expected):
    return pytest.approx(expected, rel=1e-10)


MILLIVOLTS = st.lists(st.integers(6_500, 59_000), min_size=1, max_size=5)
MILLIAMPERES = st.lists(st.integers(10_000, 50_000), min_size=1, max_size=5)


def in_volt(millivolts):
    return " ".join(f"{n / 1000:.3f}" for n in millivolts) + " V"


def in_millivolt(millivolts):
    return " ".join(map(str, millivolts)) + " mV"


def in_ampere(milliamperes):
    return " ".join(f"{n / 1000:.3f}" for n in milliamperes) + " A"


def in_milliampere(milliamperes):
    return " ".join(map(str, milliamperes)) + " mA"


def derive_resistance(case, unit="ohm"):
    @case.derive(unit=unit)
    def R(V_idle, V_slew, I_slew):
        return (V_idle - V_slew) / I_slew


def record_supply(case, idle, slew, current, *, names=("V_idle", "V_slew", "I_slew")):
    case.record(names[0], in_volt(idle), using="handheld")
    case.record(names[1], in_volt(slew), using="handheld")
    case.record(names[2], in_ampere(current), using="clamp")


@many
@given(idle=MILLIVOLTS, slew=MILLIVOLTS, current=MILLIAMPERES)
def test_the_prefix_of_a_unit_changes_no_result(fresh, idle, slew, current):
    assume(sum(idle) / len(idle) != sum(slew) / len(slew))
    plain, other = fresh(), fresh()
    record_supply(plain, idle, slew, current)
    derive_resistance(plain)
    other.record("V_idle", in_millivolt(idle), using="handheld")
    other.record("V_slew", in_millivolt(slew), using="handheld")
    other.record("I_slew", in_milliampere(current), using="clamp")
    derive_resistance(other, unit="mohm")
    assert figures(other, "R") == same(figures(plain, "R"))


@many
@given(MILLIVOLTS, MILLIVOLTS, MILLIAMPERES, st.permutations(range(3)))
def test_the_order_of_declarations_does_not_matter(fresh, idle, slew, current, order):
    plain, other = fresh(), fresh()
    record_supply(plain, idle, slew, current)
    derive_resistance(plain)
    steps = [
        lambda: other.record("V_idle", in_volt(idle), using="handheld"),
        lambda: other.record("V_slew", in_volt(slew), using="handheld"),
        lambda: other.record("I_slew", in_ampere(current), using="clamp"),
    ]
    for number in order:
        steps[number]()
    derive_resistance(other)
    assert figures(other, "R") == same(figures(plain, "R"))


@many
@given(MILLIVOLTS, MILLIVOLTS, MILLIAMPERES)
def test_the_order_of_arguments_does_not_matter(fresh, idle, slew, current):
    case = fresh()
    record_supply(case, idle, slew, current)
    derive_resistance(case)

    @case.derive(unit="ohm")
    def R_again(I_slew, V_slew, V_idle):
        return (V_idle - V_slew) / I_slew

    assert figures(case, "R_again") == same(figures(case, "R"))
    assert case.correlation("R", "R_again") == pytest.approx(1.0)


@many
@given(MILLIVOLTS, MILLIVOLTS, MILLIAMPERES)
def test_names_of_measurands_do_not_matter(fresh, idle, slew, current):
    plain, other = fresh(), fresh()
    record_supply(plain, idle, slew, current)
    derive_resistance(plain)
    record_supply(other, idle, slew, current, names=("zeta", "alpha", "mu"))

    @other.derive(unit="ohm")
    def source_resistance(zeta, alpha, mu):
        return (zeta - alpha) / mu

    assert figures(other, "source_resistance") == same(figures(plain, "R"))


@many
@given(
    st.lists(st.integers(11_900, 12_100), min_size=3, max_size=12),
    st.randoms(use_true_random=False),
)
def test_permuting_steady_readings_changes_neither_mean_nor_u(fresh, readings, random):
    shuffled = random.sample(readings, len(readings))
    for order in (readings, shuffled):
        # With a trend, or where each resembles the one before, order is information.
        found = summarise([n / 1000 for n in order], step=0.001)
        assume(not found.drift and found.effective_count == len(order))
    cases = fresh(), fresh()
    for case, order in zip(cases, (readings, shuffled), strict=True):
        case.record("V", in_volt(order), using="handheld")
    assert figures(cases[0], "V") == same(figures(cases[1], "V"))


@many
@given(MILLIVOLTS)
def test_a_quantity_minus_itself_is_exactly_nothing(fresh, readings):
    case = fresh()
    case.record("V", in_volt(readings), using="handheld")

    @case.derive(unit="V")
    def doubled(V):
        return V + V

    @case.derive(unit="V")
    def gone(V):
        return V - V

    @case.derive(unit="V")
    def gone_the_long_way(doubled, V):
        return doubled - V - V

    for name in ("gone", "gone_the_long_way"):
        budget = case.budget(name)
        assert (budget.value, budget.standard_uncertainty) == (0.0, 0.0)


def drop(case, idle, slew, meters):
    case.record("V_idle", in_volt(idle), using=meters[0])
    case.record("V_slew", in_volt(slew), using=meters[1])

    @case.derive(unit="V")
    def drop(V_idle, V_slew):
        return V_idle - V_slew

    return case["drop"].standard_uncertainty


@many
@given(MILLIVOLTS, MILLIVOLTS)
def test_a_difference_on_one_range_is_better_known_than_one_of_two_meters(
    fresh, idle, slew
):
    shared = drop(fresh(), idle, slew, ("handheld", "handheld"))
    all_shared = drop(fresh(), idle, slew, ("steady", "steady"))
    apart = drop(fresh(), idle, slew, ("handheld", "twin"))
    # The readings are of one sign and not zero: what they share takes something away.
    assert all_shared < shared < apart


@many
@given(MILLIVOLTS, MILLIVOLTS)
def test_a_sum_on_one_range_is_less_known_than_one_of_two_meters(fresh, idle, slew):
    found = []
    for second in ("handheld", "twin"):
        case = fresh()
        case.record("V_1", in_volt(idle), using="handheld")
        case.record("V_2", in_volt(slew), using=second)

        @case.derive(unit="V")
        def whole(V_1, V_2):
            return V_1 + V_2

        found.append(case["whole"].standard_uncertainty)
    assert found[0] > found[1]


@many
@given(MILLIVOLTS, st.integers(-10_000, 10_000))
def test_an_exact_constant_added_changes_no_u(fresh, readings, millivolts):
    case = fresh()
    case.record("V", in_volt(readings), using="handheld")
    case.constant("shift", in_millivolt([millivolts]))

    @case.derive(unit="V")
    def moved(V, shift):
        return V + shift

    before, after = case.budget("V"), case.budget("moved")
    assert after.value == pytest.approx(before.value + millivolts / 1000)
    assert after.standard_uncertainty == same(before.standard_uncertainty)
    assert after.degrees_of_freedom == same(before.degrees_of_freedom)


# Values well away from zero in units of u, so that no formula leaves its domain.
UNCERTAIN = st.tuples(st.floats(0.5, 5), st.floats(0.001, 0.1))


def curved(case, inputs, factor=1.0):
    """Declare a, b, c with their u times a factor, and a formula that curves."""
    for name, (value, u) in zip("abc", inputs, strict=True):
        case.constant(name, f"{value} ± {u * factor} V")

    @case.derive(unit="V")
    def y(a, b, c):
        return a * np.exp(-b / c) + np.sqrt(a * c)

    return case


@many
@given(st.lists(UNCERTAIN, min_size=3, max_size=3), st.floats(0.01, 2))
def test_u_grows_in_proportion_to_the_u_of_all_inputs(fresh, inputs, factor):
    once = curved(fresh(), inputs).budget("y")
    scaled = curved(fresh(), inputs, factor).budget("y")
    assert scaled.value == once.value
    assert scaled.standard_uncertainty == same(factor * once.standard_uncertainty)


@many
@given(st.lists(UNCERTAIN, min_size=3, max_size=3))
def test_shares_of_a_budget_add_up_to_all_of_it(fresh, inputs):
    budget = curved(fresh(), inputs).budget("y")
    assert math.fsum(line.whole_share for line in budget.lines) == same(1.0)
    assert math.fsum(part.share for part in budget.inputs) == same(1.0)


COEFFICIENTS = st.floats(-0.99, 0.99)


@many
@given(UNCERTAIN, UNCERTAIN, COEFFICIENTS)
def test_a_declared_correlation_follows_the_law_of_two_variances(fresh, a, b, r):
    case = fresh()
    case.constant("a", f"{a[0]} ± {a[1]} V")
    case.constant("b", f"{b[0]} ± {b[1]} V")
    case.correlate({("a", "b"): r}, because="calibrated together")

    @case.derive(unit="V")
    def total(a, b):
        return a + b

    @case.derive(unit="V")
    def gap(a, b):
        return a - b

    squares = a[1] ** 2 + b[1] ** 2
    twice = 2 * r * a[1] * b[1]
    u_total, u_gap = (
        case["total"].standard_uncertainty,
        case["gap"].standard_uncertainty,
    )
    assert u_total**2 == pytest.approx(squares + twice, rel=1e-9)
    assert u_gap**2 == pytest.approx(squares - twice, rel=1e-9)


# Five standard deviations of a mean, of a standard deviation and of an end (which
# scatters by 2.67 u/√n); derandomized, so that nothing moves. So many draws that the
# kit takes them plainly: the linear model would put its own figures in.
@settings(many, max_examples=20, derandomize=True)
@given(st.lists(UNCERTAIN, min_size=3, max_size=3), COEFFICIENTS)
def test_monte_carlo_of_a_linear_normal_case_agrees_with_its_budget(fresh, inputs, r):
    case = fresh()
    for name, (value, u) in zip("abc", inputs, strict=True):
        case.constant(name, f"{value} ± {u} V")
    case.correlate({("a", "b"): r}, because="calibrated together")

    @case.derive(unit="V")
    def y(a, b, c):
        return 2 * a - b + c / 2

    draws = 250_000
    drawn = case.monte_carlo("y", draws=draws)
    assert not drawn.control
    budget = case.budget("y")
    u = budget.standard_uncertainty
    scatter = 5 * u / math.sqrt(draws)
    half = budget.expanded_uncertainty
    assert drawn.value == pytest.approx(budget.value, abs=scatter)
    assert drawn.standard_uncertainty == pytest.approx(u, abs=scatter / math.sqrt(2))
    ends = (budget.value - half, budget.value + half)
    assert drawn.symmetric == pytest.approx(ends, abs=2.67 * scatter)


def test_degrees_of_freedom_mean_the_same_in_words_and_as_an_argument(fresh):
    case = fresh()
    case.constant("argued", "0 ± 0.05 K (limits)", dof=2)
    case.constant("worded", "0 ± 0.05 K (limits, 2 dof)")
    argued, worded = (
        case.budget(name).lines[0].source for name in ("argued", "worded")
    )
    assert argued.degrees_of_freedom == worded.degrees_of_freedom == 2
    assert argued.distribution == worded.distribution


def test_a_formula_undefined_within_one_u_keeps_its_linear_budget_and_says_so(fresh):
    case = fresh()
    case.constant("P", "0.010(20) W")
    case.constant("R_L", "10 ohm")

    @case.derive(unit="V")
    def V_rms(P, R_L):
        return np.sqrt(P * R_L)

    budget = case.budget("V_rms")
    # dV/dP = V/(2P), evaluated by hand: 0.31623 V / 0.020 W · 0.020 W.
    assert budget.standard_uncertainty == pytest.approx(0.31623, abs=5e-6)
    assert budget.caveats

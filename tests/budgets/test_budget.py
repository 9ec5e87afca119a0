# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.coverage import coverage_factor
from benchproof.reasoning.budgets.formulas import Formula, formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.errors import FormulaError, InputError, PendingError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

VOLT = unit_of("V")


def source(name, u, dof=math.inf):
    return Source(name, "A", "t", u, VOLT, dof)


def graph_of(function, inputs, joints=()):
    formula = formula_from(function, VOLT)
    units = dict.fromkeys([*inputs, formula.name], VOLT)
    return Graph(inputs, units, {formula.name: formula}, tuple(joints))


def total(a, b):
    return a + b


def gap(a, b):
    return a - b


def two(u_a=3.0, u_b=4.0, dof=math.inf):
    return {
        "a": Estimate(1.0, ((source("a", u_a, dof), 1.0),)),
        "b": Estimate(2.0, ((source("b", u_b, dof), 1.0),)),
    }


def joint(r, dof=math.inf):
    return Joint(("a", "b"), ((1.0, r), (r, 1.0)), dof)


# Combining.


def test_independent_sources_add_in_squares():
    assert budget_of(graph_of(total, two()), "total").standard_uncertainty == 5.0
    assert budget_of(graph_of(gap, two()), "gap").standard_uncertainty == 5.0


@pytest.mark.parametrize(
    ("r", "function", "u"),
    [(1.0, total, 7.0), (1.0, gap, 1.0), (-1.0, total, 1.0), (-1.0, gap, 7.0)],
)
def test_full_correlation_adds_or_subtracts_plainly(r, function, u):
    graph = graph_of(function, two(), [joint(r)])
    found = budget_of(graph, function.__name__).standard_uncertainty
    assert found == pytest.approx(u, rel=1e-12)


def test_correlation_is_shown_as_a_share_of_its_own():
    added = budget_of(graph_of(total, two(), [joint(0.5)]), "total")
    # u² = 9 + 16 + 2·0.5·12 = 37, of which 12 by correlation.
    assert added.correlation_share == pytest.approx(12 / 37)
    taken = budget_of(graph_of(gap, two(), [joint(0.5)]), "gap")
    assert taken.correlation_share == pytest.approx(-12 / 13)
    assert taken.table().rows[-1][0] == "correlation of these"


def test_shares_add_up_to_the_whole():
    budget = budget_of(graph_of(total, two(), [joint(-0.3)]), "total")
    shares = sum(line.share for line in budget.lines) + budget.correlation_share
    assert shares == pytest.approx(1, abs=1e-12)
    assert sum(line.whole_share for line in budget.lines) == pytest.approx(1)


def test_the_largest_share_comes_first():
    budget = budget_of(graph_of(total, two(u_a=1.0, u_b=2.0)), "total")
    assert [line.source.name for line in budget.lines] == ["b", "a"]


def test_contributions_keep_their_sign():
    budget = budget_of(graph_of(gap, two()), "gap")
    found = {line.source.name: line.contribution for line in budget.lines}
    assert found == {"a": 3.0, "b": -4.0}


def test_a_shared_source_cancels_in_a_difference():
    gain = source("gain", 0.5)
    inputs = {"a": Estimate(5.0, ((gain, 5.0),)), "b": Estimate(4.0, ((gain, 4.0),))}
    budget = budget_of(graph_of(gap, inputs), "gap")
    assert budget.standard_uncertainty == 0.5
    assert len(budget.lines) == 1


# What goes through each input.


def test_the_shares_of_the_inputs_add_up_to_the_whole():
    budget = budget_of(graph_of(total, two(), [joint(-0.3)]), "total")
    # cov(a, y) = 9 - 0.3·12, cov(b, y) = 16 - 0.3·12, of u² = 25 - 0.6·12.
    assert {i.name: i.share for i in budget.inputs} == {
        "b": pytest.approx(12.4 / 17.8),
        "a": pytest.approx(5.4 / 17.8),
    }


def test_an_input_whose_error_cancels_that_of_another_has_a_negative_share():
    gain = source("gain", 0.01)
    inputs = {"a": Estimate(5.0, ((gain, 5.0),)), "b": Estimate(4.0, ((gain, 4.0),))}
    budget = budget_of(graph_of(gap, inputs), "gap")
    # Of (0.05 - 0.04)², 0.05·0.01 goes through a and -0.04·0.01 through b.
    assert {i.name: i.share for i in budget.inputs} == {
        "a": pytest.approx(5.0),
        "b": pytest.approx(-4.0),
    }
    assert budget.owners() == {"gain": ("a", "b")}


def test_a_source_that_cancels_still_carries_shares_through_its_correlation():
    # a and b share x, which cancels; x is correlated with y of c.
    shared, other = source("x", 1.0), source("y", 2.0)
    inputs = {
        "a": Estimate(1.0, ((shared, 1.0),)),
        "b": Estimate(1.0, ((shared, 1.0),)),
        "c": Estimate(1.0, ((other, 1.0),)),
    }
    declared = Joint(("x", "y"), ((1.0, 0.5), (0.5, 1.0)))

    def out(a, b, c):
        return a - b + c

    budget = budget_of(graph_of(out, inputs, [declared]), "out")
    assert budget.standard_uncertainty == pytest.approx(2.0)
    # cov(a, y) = 0.5·1·2 = 1 of u² = 4; b the same with the other sign.
    shares = {i.name: i.share for i in budget.inputs}
    assert shares == pytest.approx({"a": 0.25, "b": -0.25, "c": 1.0})


def test_the_inputs_keep_their_own_estimate_and_uncertainty():
    found = {i.name: i for i in budget_of(graph_of(gap, two()), "gap").inputs}
    assert found["a"].standard_uncertainty == 3.0
    assert found["b"].sensitivity == -1.0
    assert found["b"].estimate() == "2.0(4.0) V"


# Zero.


def test_a_quantity_of_exact_numbers_has_u_zero_and_says_so():
    inputs = {"a": Estimate(1.0), "b": Estimate(2.0)}
    budget = budget_of(graph_of(total, inputs), "total")
    assert budget.standard_uncertainty == budget.expanded_uncertainty == 0.0
    assert math.isinf(budget.degrees_of_freedom)
    assert budget.lines == ()
    assert budget.result() == "3 V"
    assert budget.summary() == "3 V (exact)"
    assert "total = 3 V (exact)" in str(budget)


def test_sources_of_zero_have_no_share_and_do_no_harm():
    budget = budget_of(graph_of(total, two(0.0, 0.0)), "total")
    assert budget.standard_uncertainty == 0.0
    assert [line.share for line in budget.lines] == [0.0, 0.0]


def test_sources_that_cancel_leave_u_zero():
    graph = graph_of(gap, two(3.0, 3.0, dof=4), [joint(1.0, dof=4)])
    budget = budget_of(graph, "gap")
    assert budget.standard_uncertainty == 0.0
    assert math.isinf(budget.degrees_of_freedom)


# Degrees of freedom and coverage.


def test_two_equal_sources_have_twice_the_degrees_of_freedom():
    budget = budget_of(graph_of(total, two(1.0, 1.0, dof=4)), "total")
    assert budget.degrees_of_freedom == pytest.approx(8)
    assert budget.coverage_factor == coverage_factor(0.95, 8)


def test_sets_read_together_have_the_degrees_of_freedom_of_the_sets():
    graph = graph_of(total, two(1.0, 1.0, dof=4), [joint(0.5, dof=4)])
    budget = budget_of(graph, "total")
    assert budget.degrees_of_freedom == pytest.approx(4)
    assert budget.caveats == ()


def test_declared_correlation_brings_a_caveat():
    budget = budget_of(graph_of(total, two(), [joint(0.5)]), "total")
    assert "compare with case.monte_carlo" in budget.caveats[0]


def test_correlation_with_what_the_result_does_not_use_changes_nothing():
    def twice(a):
        return 2 * a

    found = budget_of(graph_of(twice, two(), [joint(0.5)]), "twice")
    assert found.standard_uncertainty == 6.0
    assert found.caveats == ()


def rectangular(name, u):
    return Estimate(1.0, ((Source(name, "B", "rectangular", u, VOLT), 1.0),))


# JCGM 101:2008, 9.2.4: three rectangular sources of u = 1 and one of u = 10. From
# memory, recomputed agrees: ±19.9 by the usual factor, ±17.0 in truth, k = 1.68.
def test_one_dominant_rectangular_source_brings_a_caveat():
    def sum_of(a, b, c, d):
        return a + b + c + d

    sizes = {"a": 1.0, "b": 1.0, "c": 1.0, "d": 10.0}
    inputs = {name: rectangular(name, u) for name, u in sizes.items()}
    budget = budget_of(graph_of(sum_of, inputs), "sum_of")
    # Half of the last digit.
    assert budget.standard_uncertainty == pytest.approx(10.1, abs=0.05)
    assert budget.expanded_uncertainty == pytest.approx(19.9, abs=0.05)
    (caveat,) = budget.caveats
    assert caveat.startswith("d: rectangular, with 97.1 % of the variance; k = 1.96")
    assert "too wide, the interval is nearer to k = 1.65" in caveat
    assert "compare with case.monte_carlo" in caveat


# EA-4/02, S11 (temperature block calibrator), contributions in mK. Read; u recomputed
# agrees with 164, k of the two largest 1.797 where 1.81 is printed.
def test_two_dominant_rectangular_sources_bring_a_caveat_with_the_k_of_a_trapezoid():
    sizes = dict(zip("abcdefgh", [15, 10, 23, 29, 58, 144, 29, 17], strict=True))
    inputs = {name: rectangular(name, u) for name, u in sizes.items()}

    def block(a, b, c, d, e, f, g, h):
        return a + b + c + d + e + f + g + h

    budget = budget_of(graph_of(block, inputs), "block")
    assert budget.standard_uncertainty == pytest.approx(164, abs=0.5)
    (caveat,) = budget.caveats
    assert caveat.startswith("f and e: rectangular, with 89.5 % of the variance")
    assert "nearer to k = 1.80" in caveat


def test_a_rectangular_source_among_equals_brings_no_caveat():
    inputs = {name: rectangular(name, 1.0) for name in "ab"}
    # The triangle of two equal ones has k = 1.90, 3 % below 1.96.
    assert budget_of(graph_of(total, inputs), "total").caveats == ()
    assert budget_of(graph_of(total, two()), "total").caveats == ()


def test_a_dominant_source_that_is_not_rectangular_brings_no_caveat():
    assert budget_of(graph_of(total, two(0.1, 10.0)), "total").caveats == ()


def test_at_a_low_level_the_usual_factor_is_too_narrow():
    graph = graph_of(total, {"a": rectangular("a", 1.0), "b": Estimate(2.0)})
    (caveat,) = budget_of(graph, "total", 0.5).caveats
    assert "k = 0.67 is too narrow, the interval is nearer to k = 0.87" in caveat


# JCGM 100:2008, 5.2.2: ten resistors of 1000 Ω, each calibrated against one standard of
# u = 100 mΩ. From memory, recomputed agrees: 1 Ω; as if independent 0.32 Ω.
@pytest.mark.parametrize(("shared", "u"), [(True, 1.0), (False, 0.32)])
def test_ten_resistors_share_the_error_of_their_standard(shared, u):
    names = [f"R{i}" for i in range(10)]
    inputs = {}
    for name in names:
        standard = source("standard" if shared else f"standard of {name}", 0.1)
        inputs[name] = Estimate(1000.0, ((standard, 1.0),))

    def series(*resistors):
        return sum(resistors)

    formula = Formula("series", VOLT, series, tuple(names))
    units = dict.fromkeys([*names, "series"], VOLT)
    budget = budget_of(Graph(inputs, units, {"series": formula}), "series")
    assert budget.standard_uncertainty == pytest.approx(u, abs=0.005)


# EA-4/02, budgets by their contributions. S4 (gauge block, nm), S5 (thermocouple, °C)
# and S6 (power sensor) read and recomputed; S3 (resistor, mΩ) partly read, the rest
# from memory, recomputed agrees. Tolerance half of the last digit.
@pytest.mark.parametrize(
    ("terms", "u", "tolerance"),
    [
        ([2.5, 10 / 3**0.5, 2.75 / 3**0.5, 5.5 / 3**0.5, 10 / 6**0.5, 0.707],
         8.33, 0.005),
        ([15, 17.3, 5.37, 18.5, 16.6, 11.8, 3.87], 36.4, 0.05),
        ([0.1, 0.077, 0.29 * 0.077, 1.15 * 0.077, 0.058 * 0.407, 0.15, 0.173, 0.577],
         0.641, 0.0006),
        ([0.009, 0.0025, 0.0011, 0.02, 0.0017, 0.0003, 0.0003, 0.002, 0.002],
         0.0224, 0.00006),
    ],
)  # fmt: skip
def test_published_budgets_add_up_to_their_u(terms, u, tolerance):
    inputs = {
        f"x{i}": Estimate(0.0, ((source(f"x{i}", term), 1.0),))
        for i, term in enumerate(terms)
    }

    def out(*values):
        return sum(values)

    formula = Formula("out", VOLT, out, tuple(inputs))
    units = dict.fromkeys([*inputs, "out"], VOLT)
    budget = budget_of(Graph(inputs, units, {"out": formula}), "out")
    assert budget.standard_uncertainty == pytest.approx(u, abs=tolerance)


# EA-4/02, S12.14 (household water meter). Read and recomputed: 10.4 degrees of freedom
# are truncated to 10, hence k = 2.28 at 95.45 %.
def test_few_degrees_of_freedom_widen_k_as_published():
    inputs = {
        "a": Estimate(0.0, ((source("a", 0.0006, 2), 1.0),)),
        "b": Estimate(0.0, ((source("b", 0.00068), 1.0),)),
    }
    budget = budget_of(graph_of(total, inputs), "total", 0.9545)
    assert budget.standard_uncertainty == pytest.approx(0.00091, abs=5e-6)
    assert math.floor(budget.degrees_of_freedom) == 10
    assert budget.coverage_factor == pytest.approx(2.28, abs=0.01)
    assert budget.expanded_uncertainty == pytest.approx(0.002, abs=0.0005)


def test_a_higher_level_widens_u_but_not_the_standard_uncertainty():
    graph = graph_of(total, two(dof=4))
    usual, strict = budget_of(graph, "total"), budget_of(graph, "total", 0.99)
    assert strict.expanded_uncertainty > usual.expanded_uncertainty
    assert strict.standard_uncertainty == usual.standard_uncertainty


# What is shown, through a case.


def test_a_budget_shows_result_expanded_uncertainty_and_degrees_of_freedom(case):
    case.constant("R", "127.732(71) ohm", dof=4)
    assert case.budget("R").summary() == (
        "127.732(71) Ω, U = 0.20 Ω (k = 2.78, 95 %, 4 degrees of freedom)"
    )


def test_a_budget_names_its_sources_by_instrument_function_and_range(case):
    case.record("V_idle", "12.10 12.11 12.09 V", using="handheld")
    assert sorted(line.source.name for line in case.budget("V_idle").lines) == [
        "V_idle · handheld · DC V · 60 V · offset",
        "V_idle · repeatability",
        "handheld · DC V · 60 V · gain",
    ]


def test_a_budget_in_a_prefixed_unit_agrees_with_the_plain_one(case):
    case.constant("V_in", "3.000(30) V")
    case.constant("I_in", "2.000(40) mA")

    @case.derive(unit="kohm")
    def R_kilo(V_in, I_in):
        return V_in / I_in

    @case.derive(unit="ohm")
    def R_plain(V_in, I_in):
        return V_in / I_in

    kilo, plain = case.budget("R_kilo"), case.budget("R_plain")
    assert kilo.standard_uncertainty == plain.standard_uncertainty
    assert kilo.result() == "1.500(34) kΩ"
    assert plain.result() == "1500(34) Ω"


def test_a_temperature_has_its_uncertainty_in_kelvin(case):
    case.constant("case_top", "57.5(8) °C")
    budget = case.budget("case_top")
    assert budget.result() == "57.50(80) °C"
    assert "U = 1.6 K" in budget.summary()


def test_an_unmeasured_quantity_has_no_budget_and_says_what_it_waits_for(case):
    case.record("V_min", "? V")
    case.constant("drop", "0.4 V")

    @case.derive(unit="V")
    def rail(V_min, drop):
        return V_min + drop

    with pytest.raises(PendingError, match="rail has no value: V_min is not measured"):
        case.budget("rail")


def test_an_unknown_quantity_has_no_budget_and_gets_a_suggestion(case):
    case.record("V_min", "? V")
    with pytest.raises(FormulaError, match="'V_mim' is not .* Did you mean V_min"):
        case.budget("V_mim")


def test_a_branching_formula_still_has_a_linear_budget(case):
    case.constant("V_in", "3.00(3) V")
    case.constant("limit", "1.0 V")

    @case.derive(unit="V")
    def cut(V_in, limit):
        return 2 * V_in if V_in > limit else limit

    # Central differences: nine digits.
    assert case.budget("cut").standard_uncertainty == pytest.approx(0.06, rel=1e-8)


def test_degrees_of_freedom_below_one_are_refused(case):
    with pytest.raises(InputError, match="-3 degrees of freedom; at least 1"):
        case.constant("drop", "0.40(5) V", dof=-3)


def test_zero_degrees_of_freedom_are_refused(case):
    with pytest.raises(InputError, match="0 degrees of freedom; at least 1"):
        case.constant("drop", "0.40(5) V", dof=0)

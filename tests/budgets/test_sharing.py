"""What shared errors do to u: declared, offsets of one range shared, nothing shared."""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import math

import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.budgets.sharing import sharing
from benchproof.values.sources import Estimate, Joint, Source, half_width_source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
POOL = "handheld · DC V · 60 V · offset"
GAIN = half_width_source("handheld · DC V · 60 V · gain", 0.005, unit_of("%"))


def offset(owner, half_width=0.03):
    return half_width_source(f"{owner} · {POOL}", half_width, VOLT, pool=POOL)


def drop(V_idle, V_slew):
    return V_idle - V_slew


def total(V_idle, V_slew):
    return V_idle + V_slew


def graph_of(function, inputs, joints=()):
    formula = formula_from(function, VOLT)
    units = dict.fromkeys([*inputs, formula.name], VOLT)
    return Graph(inputs, units, {formula.name: formula}, tuple(joints))


def two_readings(function=drop):
    inputs = {
        "V_idle": Estimate(12.10, ((GAIN, 12.10), (offset("V_idle"), 1.0))),
        "V_slew": Estimate(11.39, ((GAIN, 11.39), (offset("V_slew"), 1.0))),
    }
    return graph_of(function, inputs)


# JCGM 100:2008, 5.2.2, on an invented meter of ±(0.5 % + 3 × 10 mV): evaluated
# numerically from (0.005 · 0.71 V)²/3 + (1 + 1 - 2ρ)(30 mV)²/3. Half of the last digit.
def test_a_drop_on_one_range_has_24_6_or_2_05_or_53_9_millivolt():
    found = sharing(two_readings(), "drop")
    u = [
        1e3 * budget.standard_uncertainty
        for budget in (found.declared, found.offsets_shared, found.independent)
    ]
    assert u == [
        pytest.approx(24.6, abs=0.05),
        pytest.approx(2.05, abs=0.005),
        pytest.approx(53.9, abs=0.05),
    ]


def test_the_three_are_shown_with_a_sentence():
    text = str(sharing(two_readings(), "drop"))
    assert "as declared                 │  0.025 V" in text
    assert "offsets of one range shared │ 0.0020 V" in text
    assert "nothing shared              │  0.054 V" in text
    assert f"If {POOL} is one error, u is 0.0020 V instead of 0.025 V" in text
    assert "cancel: as if nothing were shared, u would be 0.054 V" in text


def test_in_a_sum_shared_errors_add_up():
    found = sharing(two_readings(total), "total")
    assert found.offsets_shared.standard_uncertainty > (
        found.declared.standard_uncertainty
    )
    assert found.independent.standard_uncertainty < found.declared.standard_uncertainty
    assert "the errors it does share add up" in found.meaning()


def test_one_reading_shares_nothing_and_says_so():
    found = sharing(two_readings(), "V_idle")
    assert found.declared.standard_uncertainty == (
        found.independent.standard_uncertainty
    )
    assert found.meaning() == "u changes by less than 5 %, whatever the readings share."


def test_an_offset_declared_shared_is_no_assumption():
    shared = half_width_source(POOL, 0.03, VOLT, pool=POOL)
    inputs = {
        "V_idle": Estimate(12.10, ((shared, 1.0),)),
        "V_slew": Estimate(11.39, ((shared, 1.0),)),
    }
    found = sharing(graph_of(drop, inputs), "drop")
    assert found.pools == ()
    assert found.declared.standard_uncertainty == 0.0
    assert found.offsets_shared.standard_uncertainty == 0.0
    assert found.independent.standard_uncertainty > 0.02


def test_offsets_of_unlike_size_keep_their_size_when_shared():
    inputs = {
        "V_idle": Estimate(12.10, ((offset("V_idle", 0.03), 1.0),)),
        "V_slew": Estimate(11.39, ((offset("V_slew", 0.01), 1.0),)),
    }
    found = sharing(graph_of(drop, inputs), "drop").offsets_shared
    assert found.standard_uncertainty == pytest.approx(0.02 / math.sqrt(3))


@pytest.mark.parametrize(("first", "second"), [(0.03, 0.0), (0.0, 0.03)])
def test_an_offset_of_zero_does_not_hide_another(first, second):
    inputs = {
        "V_idle": Estimate(12.10, ((offset("V_idle", first), 1.0),)),
        "V_slew": Estimate(11.39, ((offset("V_slew", second), 1.0),)),
    }
    found = sharing(graph_of(drop, inputs), "drop").offsets_shared
    assert found.standard_uncertainty == pytest.approx(0.03 / math.sqrt(3))


def test_nothing_shared_also_drops_declared_correlation():
    inputs = {
        name: Estimate(1.0, ((Source(name, "A", "t", 3.0, VOLT, 4), 1.0),))
        for name in ("V_idle", "V_slew")
    }
    joint = Joint(("V_idle", "V_slew"), ((1.0, 0.5), (0.5, 1.0)), 4)
    found = sharing(graph_of(total, inputs, [joint]), "total")
    assert found.declared.standard_uncertainty == pytest.approx(math.sqrt(27))
    assert found.independent.standard_uncertainty == pytest.approx(math.sqrt(18))
    assert found.independent.degrees_of_freedom == pytest.approx(8)
    assert found.offsets_shared.standard_uncertainty == pytest.approx(math.sqrt(27))


def test_the_graph_itself_is_left_as_it_was():
    graph = two_readings()
    before = budget_of(graph, "drop")
    sharing(graph, "drop")
    assert budget_of(graph, "drop") == before
    assert graph.inputs["V_idle"].parts[1][0].name == f"V_idle · {POOL}"


def test_sources_of_no_range_stay_apart():
    inputs = {
        name: Estimate(
            1.0, ((Source(f"{name} by hand", "B", "normal", 3.0, VOLT), 1.0),)
        )
        for name in ("V_idle", "V_slew")
    }
    found = sharing(graph_of(total, inputs), "total").offsets_shared
    assert found.standard_uncertainty == pytest.approx(math.sqrt(18))


@pytest.mark.parametrize(("r", "matters"), [(0.08, False), (0.15, True)])
def test_five_per_cent_of_u_are_worth_a_word(r, matters):
    # u² is 2·(1 + r) with the correlation, 2 without: u larger by 3.9 or 7.2 %.
    inputs = {
        name: Estimate(1.0, ((Source(name, "A", "normal", 1.0, VOLT), 1.0),))
        for name in ("V_idle", "V_slew")
    }
    joint = Joint(("V_idle", "V_slew"), ((1.0, r), (r, 1.0)))
    found = sharing(graph_of(total, inputs, [joint]), "total")
    assert ("as if nothing were shared" in found.meaning()) is matters


def test_u_is_said_in_the_unit_of_the_quantity():
    millivolt = unit_of("mV")
    graph = two_readings()
    told = Graph(graph.inputs, {**graph.units, "drop": millivolt}, graph.formulas)
    assert "as declared                 │  25 mV" in str(sharing(told, "drop"))

"""A budget as tables: by source, by instrument, by measured input."""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: N802

import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.sources import Estimate, Joint, Source, half_width_source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
POOL = "handheld · DC V · 60 V · offset"
GAIN = half_width_source(
    "handheld · DC V · 60 V · gain", 0.005, unit_of("%"), instrument="handheld"
)


def offset(name):
    return half_width_source(name, 0.03, VOLT, instrument="handheld", pool=POOL)


def drop(V_idle, V_slew):
    return V_idle - V_slew


def graph_of_drop(*offsets, joints=()):
    scatter = Source("V_slew · repeatability", "A", "t", 0.01, VOLT, 4)
    idle, slew = offsets
    inputs = {
        "V_idle": Estimate(12.10, ((GAIN, 12.10), (idle, 1.0))),
        "V_slew": Estimate(11.39, ((GAIN, 11.39), (slew, 1.0), (scatter, 1.0))),
    }
    units = dict.fromkeys(["V_idle", "V_slew", "drop"], VOLT)
    return Graph(inputs, units, {"drop": formula_from(drop, VOLT)}, tuple(joints))


def budget_of_drop(*offsets, joints=()):
    return budget_of(graph_of_drop(*offsets, joints=joints), "drop")


@pytest.fixture
def apart():
    return budget_of_drop(offset(f"V_idle · {POOL}"), offset(f"V_slew · {POOL}"))


def percent(table):
    """Add up the last column."""
    return sum(float(row[-1].removesuffix(" %")) for row in table.rows)


# By source.


def test_every_source_is_shown_with_all_that_is_known_of_it(apart):
    table = apart.table()
    assert [c.title for c in table.columns] == [
        "Source", "Of", "Type", "Distribution", "u", "Degrees of freedom",
        "Sensitivity", "Contribution", "Share",
    ]  # fmt: skip
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["V_slew · repeatability"] == (
        "V_slew = 11.390(38) V", "A", "t", "0.010 V", "4", "-1 V/V", "0.010 V",
        "14.2 %",
    )  # fmt: skip
    # A shared source belongs to no single estimate.
    assert rows[GAIN.name][:3] == ("V_idle, V_slew", "B", "rectangular")


def test_offsets_taken_as_independent_are_noted(apart):
    note = f"{POOL}: taken as independent between V_idle, V_slew (an assumption)"
    assert note in apart.table().notes


def test_an_offset_taken_as_shared_is_noted():
    budget = budget_of_drop(offset(POOL), offset(POOL))
    note = f"{POOL}: taken as one error, shared by V_idle, V_slew"
    assert note in budget.table().notes


def test_the_offset_of_a_single_reading_needs_no_note():
    graph = graph_of_drop(offset(f"V_idle · {POOL}"), offset(f"V_slew · {POOL}"))
    alone = budget_of(graph, "V_idle")
    assert not [note for note in alone.table().notes if "taken as" in note]


# By instrument.


def test_shares_by_instrument_add_up_to_100_per_cent(apart):
    table = apart.by_instrument()
    assert table.rows == (
        ("handheld", "3", "85.8 %"),
        ("no instrument", "1", "14.2 %"),
    )
    assert table.notes == ()


def test_correlation_counts_in_the_shares_by_instrument():
    names = (f"V_idle · {POOL}", "V_slew · repeatability")
    joint = Joint(names, ((1.0, 0.9), (0.9, 1.0)))
    slew = offset(f"V_slew · {POOL}")
    budget = budget_of_drop(offset(names[0]), slew, joints=[joint])
    table = budget.by_instrument()
    assert percent(table) == pytest.approx(100, abs=0.1)
    # V_slew's scatter enters with minus, and follows V_idle's offset: it takes away.
    assert table.rows[1][0] == "no instrument"
    assert table.rows[1][2].startswith("-")
    assert "a negative share" in table.notes[0]


# By measurand.


def test_shares_by_measurand_add_up_to_100_per_cent(apart):
    table = apart.by_measurand()
    assert [row[:3] for row in table.rows] == [
        ("V_idle", "12.100(39) V", "1 V/V"),
        ("V_slew", "11.390(38) V", "-1 V/V"),
    ]
    assert percent(table) == pytest.approx(100, abs=0.1)


def test_a_shared_offset_that_cancels_gives_one_input_a_negative_share():
    slightly = Estimate(12.10, ((GAIN, 12.10),)), Estimate(11.39, ((GAIN, 11.39),))
    inputs = dict(zip(["V_idle", "V_slew"], slightly, strict=True))
    units = dict.fromkeys(["V_idle", "V_slew", "drop"], VOLT)
    graph = Graph(inputs, units, {"drop": formula_from(drop, VOLT)})
    table = budget_of(graph, "drop").by_measurand()
    # 12.10/0.71 and -11.39/0.71 of the whole.
    assert [row[-1] for row in table.rows] == ["1704.2 %", "-1604.2 %"]
    assert "u would be larger without it" in table.notes[0]


def test_a_quantity_of_exact_numbers_has_no_shares():
    inputs = {"V_idle": Estimate(12.10), "V_slew": Estimate(11.39)}
    units = dict.fromkeys(["V_idle", "V_slew", "drop"], VOLT)
    graph = Graph(inputs, units, {"drop": formula_from(drop, VOLT)})
    budget = budget_of(graph, "drop")
    assert budget.by_instrument().rows == ()
    assert [row[-1] for row in budget.by_measurand().rows] == ["0.0 %", "0.0 %"]

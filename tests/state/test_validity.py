"""Readings that are invalid where the meter changed what the device did."""

# Quantities are named as at the bench, not as code usually is.
# ruff: noqa: N802

import pytest

from benchproof import open_case
from benchproof.measuring.circuits import cell_dip
from benchproof.values.errors import (
    FormulaError,
    InputError,
    PendingError,
    UnitError,
)

METERS = """\
[handheld]
description = "invented 6000-count meter"
[handheld."µA"]
unit = "µA"
accuracy = "±(1.0 % + 3 digits)"
ranges = [{ range = "600.0 µA", burden = "100 ohm" }]
[handheld."DC mA"]
unit = "mA"
accuracy = "±(1.0 % + 3 digits)"
ranges = [{ range = "60.00 mA", burden = "1.8 ohm" }]
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V"]
"""


@pytest.fixture
def bench(case_folder):
    (case_folder / "instruments.toml").write_text(METERS, encoding="utf-8")
    return open_case(case_folder)


def beacon(case, reading="590 µA", burden="100 ohm", function="µA"):
    """A cell, a sleeping device whose pulses take 38 mA, and a meter between them."""
    case.record("V_cell", "3.000 V", using="handheld", at="cell")
    case.record("I_sleep", reading, using="handheld", function=function, at="lead")
    case.constant("I_pulse", "38 mA")
    case.constant("R_burden", burden)

    @case.derive(unit="V")
    def V_at_device(V_cell, I_sleep, I_pulse, R_burden):
        return V_cell - (I_sleep + I_pulse) * R_burden

    @case.derive(unit="W")
    def P_sleep(V_cell, I_sleep):
        return V_cell * I_sleep

    case.valid_only_if("I_sleep", case["V_at_device"].above("2.0 V"))
    return case


def test_a_burden_that_takes_the_supply_makes_the_reading_invalid(bench):
    # 38 mA through 100 Ω is 3.8 V, more than the cell has.
    beacon(bench)
    assert bench.state().measured["I_sleep"].status == "invalid"
    because = "invalid because 'V_at_device above 2.0 V' is contradicted"
    assert str(bench["I_sleep"]) == f"({because})"
    with pytest.raises(PendingError, match=r"invalid because.*Measure it another way"):
        _ = bench["I_sleep"].value


def test_a_small_burden_leaves_the_reading_valid(bench):
    # 38 mA through 1.8 Ω is 68.4 mV.
    beacon(bench, "0.41 mA", "1.8 ohm", "DC mA")
    assert bench.state().measured["I_sleep"].status == "measured"
    assert bench["P_sleep"].is_measured
    assert "│ met" in str(bench.report("validity"))
    assert "Invalid readings" not in str(bench)


def test_what_depends_on_an_invalid_reading_is_not_measured(bench):
    beacon(bench)
    said = str(bench["P_sleep"])
    assert said.startswith("(not measured: I_sleep: invalid because 'V_at_device")
    rival = bench.hypothesis("H2", "It does not sleep")
    rival.predicts("it takes more than 1 mW", bench["P_sleep"].above("1 mW"))
    rival.predicts("it takes more than 0.1 mA", bench["I_sleep"].above("0.1 mA"))
    (verdict,) = bench.verdicts().verdicts
    assert verdict.word == "not tested"
    assert all("invalid because" in j.detail for j in verdict.judged)
    filled = bench.conclude("Asleep it takes {I_sleep}.").text
    assert filled.startswith("Asleep it takes (invalid because")


def test_an_invalid_reading_stays_visible_with_its_reason(bench):
    beacon(bench)
    table = str(bench["I_sleep"].table())
    assert "590 µA" in table
    assert "V_at_device above 2.0 V: -0.85" in table
    readings = bench.report("readings").to_csv()
    assert "590 µA" in readings
    assert "invalid because" in readings
    assert "measured, but invalid" in bench.report("quantities").to_csv()
    assert ("Invalid readings", "I_sleep") in bench.table().rows
    assert "-0.85" in bench.report("validity").to_csv()


def test_an_invalid_reading_is_not_corrected(bench):
    beacon(bench)
    bench.constant("R_loop", "5 kohm")
    bench.corrections.burden("I_free", reading="I_sleep", source="R_loop")
    assert str(bench["I_free"]).startswith("(not measured: I_sleep: invalid")


def test_the_results_of_a_run_keep_the_reason(bench):
    from benchproof.keeping.runs.results import results_of

    beacon(bench)
    saved = results_of(bench)
    assert "invalid because" in saved["quantities"]["I_sleep"]["text"]
    assert "value" not in saved["quantities"]["P_sleep"]
    assert "validity" in [table["id"] for table in saved["tables"]]


def test_a_condition_that_is_undetermined_does_not_show_the_reading_valid(bench):
    # 3.000 V less 38.4 mA × 26 Ω is 2.00 V within its uncertainty.
    beacon(bench, "0.41 mA", "26.03 ohm", "DC mA")
    assert str(bench["I_sleep"]).endswith("is undetermined)")


def test_a_condition_that_cannot_be_checked_yet_only_warns(bench):
    bench.record("V_cell", "? V")
    bench.record("I_sleep", "590 µA", using="handheld", function="µA")
    bench.constant("R_burden", "100 ohm")

    @bench.derive(unit="V")
    def V_at_device(V_cell, I_sleep, R_burden):
        return V_cell - I_sleep * R_burden

    bench.valid_only_if("I_sleep", bench["V_at_device"].above("2.0 V"))
    assert bench["I_sleep"].is_measured
    (warning,) = bench.state().warnings("I_sleep")
    assert warning.endswith("not checked: not measured yet: V_cell")
    bench.record("V_cell", "3.000 V", using="handheld")
    assert bench.state().warnings("I_sleep") == []


def test_a_pulse_that_the_bulk_capacitor_carries_is_judged_by_its_dip(bench):
    # 38 mA for 4.2 ms from 100 µF behind 41 Ω dips by 1.00 V.
    bench.record("V_pulse", "2.900 V", using="handheld")
    for name, value in {
        "I_tx": "38 mA", "ESR": "41 ohm", "t_tx": "4.2 ms", "C_bulk": "100 uF",
    }.items():  # fmt: skip
        bench.constant(name, value)

    @bench.derive(unit="V")
    def V_lowest(V_pulse, I_tx, ESR, t_tx, C_bulk):
        return V_pulse - cell_dip(I_tx, ESR, t_tx, C_bulk)

    bench.valid_only_if("V_pulse", bench["V_lowest"].above("2.0 V"))
    (checked,) = bench.state().checked
    assert checked.outcome == "contradicted"
    assert checked.detail.startswith("1.90")


def test_a_censored_reading_can_be_invalid_too(bench):
    beacon(bench, "OL µA")
    assert bench.state().measured["I_sleep"].status == "invalid"
    assert "OL" in str(bench["I_sleep"].table())


def test_a_condition_whose_formula_refuses_does_not_show_the_reading_valid(bench):
    from benchproof.measuring.circuits import burden_voltage

    bench.record("V_cell", "3.000 V", using="handheld")
    bench.record("I_tx", "38.00 mA", using="handheld", function="DC mA")
    bench.constant("R_burden", "1.8 ohm")

    @bench.derive(unit="V")
    def V_burden(I_tx, R_burden, V_cell):
        return burden_voltage(I_tx, R_burden, V_cell)

    bench.valid_only_if("I_tx", bench["V_burden"].below("0.5 V"))
    assert bench["I_tx"].is_measured
    bench.constant("R_burden", "100 ohm")
    assert str(bench["I_tx"]).endswith("is undetermined)")
    assert "takes the whole supply" in bench.report("validity").to_csv()


def test_two_conditions_are_both_named_where_both_fail(bench):
    beacon(bench)
    bench.valid_only_if("I_sleep", bench["I_sleep"].below("0.1 mA"))
    assert str(bench["I_sleep"]).count("invalid because") == 2


def test_each_round_is_judged_by_its_own_readings(bench):
    bench.record("V_device", "1.685 V", using="handheld")
    bench.record("I_sleep", "590 µA", using="handheld", function="µA")
    bench.valid_only_if("I_sleep", bench["V_device"].above("2.0 V"))
    bench.new_round(because="a range of lower burden")
    bench.record("V_device", "2.930 V", using="handheld")
    bench.record("I_sleep", "0.41 mA", using="handheld", function="DC mA")
    assert bench["I_sleep"].is_measured
    assert "invalid because" in str(bench.at_round(1)["I_sleep"])


def test_the_cells_of_a_fresh_case_are_pending_and_nothing_raises(bench):
    bench.record("V_cell", "? V")
    bench.record("I_sleep", "? A")

    @bench.derive(unit="V")
    def V_at_device(V_cell, I_sleep):
        return V_cell - I_sleep * (V_cell / I_sleep)

    for _ in range(2):
        said = bench.valid_only_if("I_sleep", bench["V_at_device"].above("2.0 V"))
    assert str(said) == "(not measured yet)"
    assert ("Still to be measured", "V_cell, I_sleep") in bench.table().rows
    assert "not measured" in str(bench.report("validity"))


def test_a_cell_run_again_changes_nothing_and_an_edited_one_replaces(bench):
    beacon(bench)
    version = bench.defined.version
    bench.valid_only_if("I_sleep", bench["V_at_device"].above("2.0 V"))
    assert bench.defined.version == version
    bench.valid_only_if("I_sleep", bench["V_at_device"].above("-2.0 V"))
    assert bench["I_sleep"].is_measured


def test_only_known_readings_can_be_made_invalid(bench):
    beacon(bench)
    above = bench["V_at_device"].above("2.0 V")
    with pytest.raises(InputError, match="P_sleep is a derived quantity, and only"):
        bench.valid_only_if("P_sleep", above)
    with pytest.raises(FormulaError, match="Did you mean I_sleep"):
        bench.valid_only_if("I_slep", above)
    with pytest.raises(FormulaError, match="Did you mean V_at_device"):
        bench.valid_only_if("I_sleep", bench["V_at_devic"].above("2.0 V"))
    with pytest.raises(UnitError, match="valid_only_if I_sleep: V_at_device above 2"):
        bench.valid_only_if("I_sleep", bench["V_at_device"].above("2.0 A"))

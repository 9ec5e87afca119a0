"""Zero checks: recorded like readings, and counted as drift of their round."""

import math

import pytest

from benchproof import open_case
from benchproof.measuring.zeros import zero_name
from benchproof.values.errors import InputError, RecordingRefusedError

METERS = """\
[handheld]
description = "invented 6000-count meter"
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V"]
zero_drift = "2 mV"
[handheld."Ω"]
unit = "ohm"
accuracy = "±(0.8 % + 5 digits)"
ranges = ["600.0 ohm", "6.000 kohm"]
[handheld."DC mA"]
unit = "mA"
accuracy = "±(1.0 % + 3 digits)"
ranges = ["60.00 mA"]
zero_drift = "1 %"
"""

OHMS = "handheld · Ω · zero drift"
VOLTS = "handheld · DC V · zero drift"


@pytest.fixture
def bench(case_folder):
    (case_folder / "instruments.toml").write_text(METERS, encoding="utf-8")
    return open_case(case_folder)


def drifts(case, name):
    """Give u of the zero drifts in a reading, by source name."""
    parts = case.state().measured[name].estimate.parts
    return {
        s.name: s.standard_uncertainty * abs(c)
        for s, c in parts
        if "zero drift" in s.name
    }


def test_the_larger_zero_becomes_a_source_of_the_function(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    assert drifts(bench, "R") == {}
    bench.zero_check("handheld", "Ω", before="0.2 ohm", after="0.3 ohm")
    assert drifts(bench, "R") == {OHMS: pytest.approx(0.3 / math.sqrt(3))}
    assert "zero check of round 1: 0.3 Ω" in str(bench["R"].table())


def test_a_function_may_be_named_by_its_unit_where_only_one_measures_it(bench):
    bench.zero_check("handheld", "ohm", before="0.2 ohm")
    assert "zero_handheld_Ω_before" in bench.names()


def test_a_zero_below_the_display_counts_by_its_size(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    bench.zero_check("handheld", "Ω", before="-0.4 ohm", after="0.3 ohm")
    assert drifts(bench, "R")[OHMS] == pytest.approx(0.4 / math.sqrt(3))


def test_the_drift_is_shared_by_all_readings_of_the_function(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    bench.record("R_leads", "0.3 ohm", using="handheld")
    bench.zero_check("handheld", "Ω", before="0.5 ohm")
    bench.corrections.leads("R_part", reading="R", leads="R_leads")
    slopes = {x.source.name: x.contribution for x in bench.budget("R_part").lines}
    assert slopes.get(OHMS, 0.0) == pytest.approx(0.0, abs=1e-12)


def test_another_function_is_left_alone(bench):
    bench.record("V", "5.000 V", using="handheld")
    bench.zero_check("handheld", "Ω", before="0.3 ohm")
    assert drifts(bench, "V") == {VOLTS: pytest.approx(2e-3 / math.sqrt(3))}


@pytest.mark.parametrize(
    ("after", "mv", "said"),
    [
        ("3 mV", 3, "in place of the declared zero_drift"),
        ("1 mV", 2, "no more than the declared zero_drift, which stays"),
    ],
)
def test_the_larger_of_declared_and_seen_drift_counts_and_is_said(
    bench, after, mv, said
):
    bench.record("V", "5.000 V", using="handheld")
    bench.zero_check("handheld", "DC V", before="0.000 V", after=after)
    assert drifts(bench, "V") == {VOLTS: pytest.approx(mv * 1e-3 / math.sqrt(3))}
    assert said in bench.report("zeros").to_csv()
    assert said in bench.report("quantities").to_csv()


def test_a_zero_that_did_not_move_is_said_and_adds_nothing(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    bench.zero_check("handheld", "Ω", before="0.0 ohm", after="0.0 ohm")
    assert drifts(bench, "R") == {}
    assert "no drift was seen" in bench.report("zeros").to_csv()


def test_a_relative_drift_and_a_seen_one_both_count(bench):
    bench.record("I", "20.00 mA", using="handheld")
    bench.zero_check("handheld", "DC mA", before="0.05 mA")
    assert drifts(bench, "I") == {
        "handheld · DC mA · zero drift": pytest.approx(0.2e-3 / math.sqrt(3)),
        "handheld · DC mA · zero drift, checked": pytest.approx(5e-5 / math.sqrt(3)),
    }


def test_the_checks_themselves_are_readings_of_the_case(bench):
    table = bench.zero_check(
        "handheld", "Ω", before="0.2 ohm", after="0.3 ohm", at="tips together"
    )
    rows = bench.report("readings").rows
    assert [r[1] for r in rows] == ["zero_handheld_Ω_before", "zero_handheld_Ω_after"]
    assert rows[0][4] == "tips together"
    assert table.rows[0][:5] == ("handheld", "Ω", "1", "0.2 Ω", "0.3 Ω")
    assert drifts(bench, "zero_handheld_Ω_before") == {}


def test_a_check_counts_for_the_readings_of_its_round_only(bench):
    bench.record("R_old", "150.7 ohm", using="handheld")
    bench.zero_check("handheld", "Ω", before="0.2 ohm", after="0.3 ohm")
    bench.new_round(because="measured again")
    bench.record("R_new", "150.9 ohm", using="handheld")
    assert drifts(bench, "R_new") == {}
    bench.zero_check("handheld", "Ω", before="0.8 ohm")
    assert drifts(bench, "R_old") == {OHMS: pytest.approx(0.3 / math.sqrt(3))}
    assert drifts(bench, "R_new") == {f"{OHMS}, round 2": pytest.approx(0.8 / 3**0.5)}
    assert bench.correlation("R_old", "R_new") < 1
    assert [row[2] for row in bench.report("zeros").rows] == ["1", "2"]


def test_an_earlier_round_is_seen_with_its_own_checks(bench):
    bench.record("V", "5.000 V", using="handheld")
    bench.zero_check("handheld", "DC V", before="3 mV")
    bench.new_round(because="measured again")
    bench.zero_check("handheld", "DC V", before="9 mV")
    bench.record("V", "5.010 V", using="handheld")
    first = bench.at_round(1)
    assert drifts(first, "V") == {VOLTS: pytest.approx(3e-3 / math.sqrt(3))}
    assert [row[2] for row in first.report("zeros").rows] == ["1"]


def test_the_declared_drift_is_another_source_than_the_check_of_round_one(bench):
    bench.record("V_old", "5.000 V", using="handheld")
    bench.zero_check("handheld", "DC V", before="3 mV")
    bench.new_round(because="measured again")
    bench.record("V_new", "5.010 V", using="handheld")
    assert drifts(bench, "V_new") == {
        f"{VOLTS}, as declared": pytest.approx(2e-3 / math.sqrt(3))
    }


def test_a_check_that_was_corrected_or_struck_no_longer_counts(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    bench.zero_check("handheld", "Ω", before="2.0 ohm")
    bench.zero_check("handheld", "Ω", before="0.2 ohm", because="read the wrong line")
    assert drifts(bench, "R")[OHMS] == pytest.approx(0.2 / math.sqrt(3))
    bench.strike("zero_handheld_Ω_before", "0.2 ohm", because="tips not clean")
    assert drifts(bench, "R") == {}


def test_a_cell_run_again_records_once_and_another_reading_is_refused(bench):
    for _ in range(2):
        bench.zero_check("handheld", "Ω", before="0.2 ohm", after="0.3 ohm")
    assert len(bench.report("readings").rows) == 2
    with pytest.raises(RecordingRefusedError):
        bench.zero_check("handheld", "Ω", before="0.4 ohm")


def test_in_a_fresh_case_a_check_is_pending_and_nothing_is_written(bench):
    table = bench.zero_check("handheld", "Ω", before="? ohm", after="? ohm")
    assert table.rows == ()
    assert str(bench["zero_handheld_Ω_after"]) == "(not measured yet)"
    assert "zero_handheld_Ω_before" in dict(bench.table().rows)["Still to be measured"]
    assert not (bench.folder / "readings.csv").exists()


@pytest.mark.parametrize(
    ("instrument", "function", "before", "said"),
    [
        ("handhold", "Ω", "0.2 ohm", "'handhold' is not in instruments.toml"),
        ("handheld", "Hz", "0.2 Hz", "no function 'Hz'. It has: DC V [V], Ω [ohm], "),
        ("handheld", "Ω", "OL ohm", "'OL ohm' is no zero"),
        ("handheld", "Ω", "3 of 4", "'3 of 4' is no zero"),
        ("handheld", "Ω", "0.2 V", "'V' cannot be converted"),
    ],
)
def test_what_is_no_zero_check_is_refused(bench, instrument, function, before, said):
    with pytest.raises(InputError) as caught:
        bench.zero_check(instrument, function, before=before)
    assert said in str(caught.value)
    assert not (bench.folder / "readings.csv").exists()


def test_a_check_that_is_refused_records_neither_half(bench):
    with pytest.raises(InputError, match="'OL ohm' is no zero"):
        bench.zero_check("handheld", "Ω", before="0.2 ohm", after="OL ohm")
    assert not (bench.folder / "readings.csv").exists()


def test_a_zero_is_named_so_that_a_formula_can_take_it():
    name = zero_name("bench meter", "DC V, four wires", "after")
    assert name == "zero_bench_meter_DC_V_four_wires_after"
    assert name.isidentifier()

"""Corrections in a case: raw beside corrected, and no answer where none holds."""

import math

import pytest

from benchproof import open_case
from benchproof.measuring.corrections import KINDS, declared_property, refusal
from benchproof.measuring.instruments import instrument_from
from benchproof.measuring.properties import burden_from, property_from
from benchproof.measuring.readings import Reading
from benchproof.values.errors import (
    FileError,
    FormulaError,
    InputError,
    PendingError,
    UnitError,
)
from benchproof.values.quantities import read_values

METERS = """\
[handheld]
description = "invented 6000-count meter"
input_resistance = "10 MΩ"
[handheld."DC V"]
unit = "V"
accuracy = "±0.5 %"
ranges = ["6.000 V", "60.00 V"]
[handheld."Ω"]
unit = "ohm"
accuracy = "±(0.8 % + 5 digits)"
ranges = ["600.0 ohm", "6.000 kohm", "600.0 kohm", "6.000 Mohm", "60.00 Mohm"]
[handheld."DC mA"]
unit = "mA"
accuracy = "±1.0 %"
ranges = [
  { range = "6.000 mA", burden = "0.2 V" },
  { range = "60.00 mA", burden = "1.80 ohm ± 5 %" },
  "600.0 mA",
]

[bench]
description = "invented bench meter"
input_resistance = "10.00 MΩ, U = 1 %, k = 2"
[bench."DC V"]
unit = "V"
accuracy = "±0.02 %"
ranges = ["20.000 V"]
[bench."Ω"]
unit = "ohm"
accuracy = "±0.1 %"
ranges = ["200.00 ohm"]
lead_resistance = "0.20 ± 0.03 ohm"

[fine]
description = "invented millivolt meter"
input_resistance = "10 MΩ"
[fine."DC mV"]
unit = "mV"
accuracy = "±0.5 %"
ranges = ["60.00 mV"]
input_resistance = "1 GΩ ± 10 %"

[bare]
description = "invented meter of which little is declared"
[bare."DC V"]
unit = "V"
accuracy = "±1 %"
ranges = ["20.00 V"]

[scope]
description = "invented scope"
[scope."DC V"]
unit = "V"
accuracy = "±3 %"
ranges = ["8.00 V", "16.00 V"]
"""


@pytest.fixture
def bench(case_folder):
    (case_folder / "instruments.toml").write_text(METERS, encoding="utf-8")
    return open_case(case_folder)


def loaded(case, using="handheld", volts="3.267 V"):
    case.record("V_P3", volts, using=using, at="P3, asleep")
    case.record("R_P3", "101.0 kohm", using="handheld", at="P3")
    return case.corrections.loading("V_open", reading="V_P3", source="R_P3")


# Loading ----------------------------------------------------------------------------


def test_the_load_of_a_meter_is_undone_and_the_raw_reading_stays(bench):
    # Worked example: 3.267 V behind 101 kΩ on 10 MΩ is 3.3000 V.
    corrected = loaded(bench)
    assert corrected.value.magnitude.nominal_value == pytest.approx(3.3, abs=1e-4)
    assert str(bench["V_P3"]).startswith("3.267")
    table = bench.report("corrections").to_csv()
    assert "V_P3 = 3.267" in table
    assert "V_open = 3.300" in table


def test_the_budget_of_a_loading_correction_agrees_with_its_closed_form(bench):
    corrected = loaded(bench, using="bench")
    v, r, rin = 3.267, 101e3, 10e6
    # Without a digits term the last digit written counts by itself.
    u_v = math.hypot(0.0002 * v / math.sqrt(3), 0.001 / math.sqrt(12))
    u_r = math.hypot(0.008 * r, 500) / math.sqrt(3)
    u_in = 0.01 * rin / 2
    # The gain and the fixed part of the ohm range are two sources.
    expected = math.sqrt(
        ((1 + r / rin) * u_v) ** 2 + (v / rin * u_r) ** 2 + (v * r / rin**2 * u_in) ** 2
    )
    assert corrected.standard_uncertainty == pytest.approx(expected, rel=1e-9)
    names = [line.source.name for line in bench.budget("V_open").lines]
    assert "bench_input_resistance · stated" in names


def test_the_input_resistance_becomes_a_constant_with_its_source(bench):
    loaded(bench, using="bench")
    rows = bench.report("constants").rows
    text = "10.00 MΩ, U = 1 %, k = 2"
    assert ("bench_input_resistance", text, "instruments.toml") in rows
    assert "bench_input_resistance" in bench.names()


def test_a_tolerance_that_is_not_stated_is_said(bench):
    loaded(bench)
    caveat = "tolerance of handheld_input_resistance is not stated"
    assert caveat in str(bench.budget("V_open"))
    assert "taken as exact" in bench.report("corrections").to_csv()


def test_a_stated_tolerance_is_not_remarked_on(bench):
    loaded(bench, using="bench")
    assert bench.state().warnings("V_open") == []


def test_a_function_may_declare_an_input_resistance_of_its_own(bench):
    bench.record("V_P3", "30.00 mV", using="fine")
    bench.constant("R_P3", "10 Mohm")
    bench.corrections.loading("V_open", reading="V_P3", source="R_P3")
    expected = pytest.approx(30.00 * 1.01)
    assert bench["V_open"].value.magnitude.nominal_value == expected
    assert "fine_DC_mV_input_resistance" in str(bench.report("constants"))


@pytest.mark.parametrize("units", [("V", "mV"), ("mV", "V")])
def test_of_functions_that_declare_the_same_the_first_by_name_owns_it(units):
    function = {"accuracy": "±1 %", "input_resistance": "10 MΩ"}
    table = {
        "DC V": function | {"unit": "V", "ranges": ["6.000 V"]},
        "DC mV": function | {"unit": "mV", "ranges": ["60.00 mV"]},
    }
    meters = {"meter": instrument_from("meter", table, "instruments.toml")}
    readings = [
        Reading("", 1, "V_P3", read_values(f"5.00 {unit}")[0], "meter", f"DC {unit}")
        for unit in units
    ]
    name, _ = declared_property("input_resistance", readings, meters)
    assert name == "meter_DC_V_input_resistance"


def test_what_a_result_depends_on_is_said_for_what_follows_from_it(bench):
    loaded(bench)

    @bench.derive(unit="V")
    def doubled(V_open):
        return 2 * V_open

    assert "V_open (loading)" in str(bench.budget("doubled"))


def test_a_large_correction_is_flagged_by_the_ratio_that_is_allowed(bench):
    bench.record("V_P3", "3.000 V", using="bench")
    bench.constant("R_P3", "2 Mohm")
    cell = bench.corrections.loading
    cell("V_open", reading="V_P3", source="R_P3")
    assert (
        "the correction is 20 % of the reading" in bench.report("corrections").to_csv()
    )
    cell("V_open", reading="V_P3", source="R_P3", largest_ratio=0.25)
    assert "% of the reading" not in bench.report("corrections").to_csv()


@pytest.mark.parametrize(
    ("source", "why"),
    [
        ("OL Mohm", "no answer: R_P3 is only known as a bound (> 59.47 MΩ)"),
        ("? ohm", "no answer: R_P3 is not measured yet"),
    ],
)
def test_a_source_that_nothing_drives_or_nobody_measured_gives_no_answer(
    bench, source, why
):
    bench.record("V_P3", "0.021 V", using="handheld")
    bench.record("R_P3", source, using="handheld")
    corrected = bench.corrections.loading("V_open", reading="V_P3", source="R_P3")
    assert str(corrected) == f"({why})"
    assert not corrected.is_measured
    with pytest.raises(PendingError, match="no answer"):
        _ = corrected.value


def test_no_answer_leaves_what_depends_on_it_not_measured(bench):
    bench.record("V_P3", "0.021 V", using="handheld")
    bench.record("R_P3", "OL ohm", using="handheld")
    bench.corrections.loading("V_open", reading="V_P3", source="R_P3")

    @bench.derive(unit="V")
    def doubled(V_open):
        return 2 * V_open

    rival = bench.hypothesis("H1", "It is pulled up")
    rival.predicts("it is high", bench["V_open"].above("3 V"))
    assert str(doubled).startswith("(not measured: V_open: no answer")
    assert bench.verdicts().verdicts[0].word == "not tested"
    assert "no answer" in str(bench.report("predictions"))


def test_an_instrument_that_declares_no_input_resistance_is_named(bench):
    loaded(bench, using="bare")
    assert "input_resistance of bare is not declared" in str(bench["V_open"])
    assert "below [bare] in instruments.toml" in str(bench["V_open"])


def test_a_reading_without_an_instrument_gives_no_answer(bench):
    bench.record("V_P3", "3.267(10) V")
    bench.constant("R_P3", "101 kohm")
    bench.corrections.loading("V_open", reading="V_P3", source="R_P3")
    assert "names no instrument" in str(bench["V_open"])


def test_a_name_the_notebook_uses_itself_is_not_taken_by_a_property(bench):
    bench.constant("handheld_input_resistance", "11 Mohm")
    loaded(bench)
    assert "declared in the notebook as well" in str(bench["V_open"])


def test_the_instrument_of_each_round_is_the_one_that_counts(bench):
    loaded(bench)
    bench.new_round(because="a better meter")
    bench.record("V_P3", "3.2668 V", using="bench", at="P3, asleep")
    assert "bench_input_resistance" in bench.state().formulas["V_open"].arguments
    first = bench.at_round(1)
    assert "handheld_input_resistance" in first.state().formulas["V_open"].arguments
    assert str(first["V_open"]).startswith("3.300")


# Burden -----------------------------------------------------------------------------


def test_the_burden_of_a_range_is_undone_with_its_tolerance(bench):
    bench.record("I", "20.00 mA", using="handheld")
    bench.constant("R_s", "150.0(5) ohm")
    corrected = bench.corrections.burden("I_free", reading="I", source="R_s")
    assert corrected.value.magnitude.nominal_value == pytest.approx(20.00 * 151.8 / 150)
    i, rb, rs = 20e-3, 1.8, 150.0
    u_i = math.hypot(0.01 * i / math.sqrt(3), 0.01e-3 / math.sqrt(12))
    expected = math.sqrt(
        ((1 + rb / rs) * u_i) ** 2
        + (i / rs * 0.05 * rb / math.sqrt(3)) ** 2
        + (i * rb / rs**2 * 0.5) ** 2
    )
    assert corrected.standard_uncertainty == pytest.approx(expected * 1e3, rel=1e-9)
    assert "handheld_DC_mA_60_mA_burden" in str(bench.report("constants"))


def test_a_burden_voltage_is_divided_by_the_full_range(bench):
    bench.record("I", "3.000 mA", using="handheld")
    bench.constant("R_s", "1 kohm")
    corrected = bench.corrections.burden("I_free", reading="I", source="R_s")
    expected = 3.0 * (1 + 0.2 / 6e-3 / 1e3)
    assert corrected.value.magnitude.nominal_value == pytest.approx(expected)
    assert "0.2 V at full range, 0.006 A" in str(bench.report("constants"))


def test_a_range_without_burden_and_readings_of_several_ranges_give_no_answer(bench):
    bench.constant("R_s", "1 kohm")
    bench.record("I", "100.0 mA", using="handheld")
    bench.corrections.burden("I_free", reading="I", source="R_s")
    assert "burden of handheld · DC mA · 600 mA is not declared" in str(bench["I_free"])
    bench.record("I_2", "5.000 20.00 mA", using="handheld")
    bench.corrections.burden("I_2_free", reading="I_2", source="R_s")
    ranges = "handheld · DC mA · 6 mA, handheld · DC mA · 60 mA"
    assert f"taken with different burden ({ranges})" in str(bench["I_2_free"])


def test_a_burden_correction_says_that_the_device_must_do_the_same(bench):
    bench.record("I", "20.00 mA", using="handheld")
    bench.constant("R_s", "150 ohm")
    bench.corrections.burden("I_free", reading="I", source="R_s")
    assert "a device that did the same" in bench.report("corrections").to_csv()


# Leads, body, reversal, gain --------------------------------------------------------


def test_the_gain_is_shared_where_leads_were_read_on_the_same_range(bench):
    bench.record("R", "150.7 ohm", using="handheld")
    bench.record("R_leads", "0.3 ohm", using="handheld")
    corrected = bench.corrections.leads("R_part", reading="R", leads="R_leads")
    expected = math.hypot(0.008 * 150.4, math.sqrt(2) * 0.5) / math.sqrt(3)
    assert corrected.value.magnitude.nominal_value == pytest.approx(150.4)
    assert corrected.standard_uncertainty == pytest.approx(expected, rel=1e-9)


def test_a_stated_lead_resistance_is_subtracted_and_is_no_limit_of_the_reading(bench):
    raw = bench.record("R", "12.50 ohm", using="bench")
    assert raw.standard_uncertainty == pytest.approx(0.001 * 12.5 / math.sqrt(3), 0.1)
    assert "the leads, 0.20 ± 0.03 ohm, are still in it" in str(raw.table())
    corrected = bench.corrections.leads("R_part", reading="R")
    u_raw = raw.standard_uncertainty
    assert corrected.value.magnitude.nominal_value == pytest.approx(12.30)
    expected = math.hypot(u_raw, 0.03 / math.sqrt(3))
    assert corrected.standard_uncertainty == pytest.approx(expected, rel=1e-9)
    assert "bench_Ω_lead_resistance" in str(bench.report("constants"))


def test_leads_larger_than_the_reading_give_no_answer(bench):
    bench.record("R", "0.2 ohm", using="handheld")
    bench.record("R_leads", "0.3 ohm", using="handheld")
    bench.corrections.leads("R_part", reading="R", leads="R_leads")
    assert str(bench["R_part"]).startswith("(no answer: the leads are larger")


def test_a_body_across_the_tips_is_taken_off(bench):
    # 1.0 MΩ with 2.4 MΩ across it was 1.714 MΩ.
    bench.record("R", "1.000 Mohm", using="handheld")
    bench.record("R_body", "2.400(200) Mohm")
    corrected = bench.corrections.body("R_part", reading="R", body="R_body")
    assert corrected.value.magnitude.nominal_value == pytest.approx(1.714, abs=5e-4)
    slope = (1.7142857 / 2.4) ** 2
    u_r = math.hypot(0.008, 5e-3) / math.sqrt(3)
    expected = math.hypot(1.7142857**2 * u_r, slope * 0.2)
    assert corrected.standard_uncertainty == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("0.900 Mohm", "not larger than the reading"),
        ("1.010(100) Mohm", "not larger than the reading by more than 2 u"),
        ("? ohm", "R_body is not measured yet"),
        ("OL ohm", "R_body is only known as a bound"),
    ],
)
def test_a_body_not_measured_or_not_larger_gives_no_answer(bench, body, why):
    bench.record("R", "1.000 Mohm", using="handheld")
    bench.record("R_body", body, using="" if "(" in body else "handheld")
    bench.corrections.body("R_part", reading="R", body="R_body")
    assert str(bench["R_part"]).startswith("(no answer: ")
    assert why in str(bench["R_part"])


def test_reversing_the_current_removes_a_thermal_voltage(bench):
    bench.record("V_p", "612(6) µV")
    bench.record("V_m", "-588(6) µV")
    corrected = bench.corrections.reversal("V_free", plus="V_p", minus="V_m")
    assert corrected.value.magnitude.nominal_value == pytest.approx(600)
    assert corrected.standard_uncertainty == pytest.approx(6 / math.sqrt(2))


def test_a_scope_reading_on_the_gain_of_a_meter_loses_its_own_gain(bench):
    bench.record("v", "8.98 V", using="scope")
    bench.record("v_s", "12.31 V", using="scope")
    bench.record("V_m", "12.060 V", using="bench")
    corrected = bench.corrections.gain("V_dip", reading="v", scope="v_s", meter="V_m")
    value = corrected.value.magnitude.nominal_value
    assert value == pytest.approx(12.060 / 12.31 * 8.98)
    # Left are the meter's gain, and the last digits of the scope (no digits term).
    resolution = 0.01 / math.sqrt(12)
    parts = (
        value * 0.0002 / math.sqrt(3),
        value / 12.060 * 0.001 / math.sqrt(12),
        value / 8.98 * resolution,
        value / 12.31 * resolution,
    )
    assert corrected.standard_uncertainty == pytest.approx(math.hypot(*parts), rel=1e-6)
    gain = [x for x in bench.budget("V_dip").lines if "scope · DC V" in x.source.name]
    assert all(abs(x.contribution) < 1e-12 for x in gain)


def test_a_zero_of_the_scope_is_taken_off_both_levels(bench):
    for name, text in {"v": "8.98 V", "v_s": "12.31 V", "v_0": "0.10 V"}.items():
        bench.record(name, text, using="scope", range="16 V")
    bench.record("V_m", "12.060 V", using="bench")
    bench.corrections.gain("V_dip", reading="v", scope="v_s", meter="V_m", zero="v_0")
    expected = 12.060 / 12.21 * 8.88
    assert bench["V_dip"].value.magnitude.nominal_value == pytest.approx(expected)


def test_the_gain_of_another_range_is_not_transferred(bench):
    bench.record("v", "6.98 V", using="scope")
    bench.record("v_s", "12.31 V", using="scope")
    bench.record("V_m", "12.060 V", using="bench")
    bench.corrections.gain("V_dip", reading="v", scope="v_s", meter="V_m")
    said = str(bench["V_dip"])
    assert "no answer: the gain is known on one range only" in said
    assert "v on scope · DC V · 8 V" in said


def test_a_correction_may_build_on_another_one(bench):
    bench.record("R_raw", "150.7 ohm", using="handheld")
    bench.record("R_leads", "0.3 ohm", using="handheld")
    bench.corrections.leads("R_s", reading="R_raw", leads="R_leads")
    bench.record("I", "20.00 mA", using="handheld")
    corrected = bench.corrections.burden("I_free", reading="I", source="R_s")
    expected = 20.00 * (1 + 1.8 / 150.4)
    assert corrected.value.magnitude.nominal_value == pytest.approx(expected)
    bench.record("R_leads", "200.0 ohm", using="handheld", because="read again")
    assert "I_free: no answer" not in str(corrected)
    assert str(corrected).startswith("(no answer: R_s: no answer: the leads are larger")


def test_a_bound_on_the_reading_is_carried_through(bench):
    bench.record("R_raw", "OL ohm", using="handheld", range="600 ohm")
    bench.constant("R_leads", "0.3 ohm")
    corrected = bench.corrections.leads("R_part", reading="R_raw", leads="R_leads")
    assert str(corrected) == "> 594.4 Ω"


# Cells ------------------------------------------------------------------------------


def all_cells(case, measured=False):
    units = {"V_P3": "V", "R_P3": "ohm", "I": "A", "R": "ohm", "R_body": "ohm",
             "V_p": "V", "V_m": "V", "v": "V", "v_s": "V"}  # fmt: skip
    for name, unit in units.items():
        case.record(name, f"? {unit}")
    make = case.corrections
    return [
        make.loading("V_open", reading="V_P3", source="R_P3"),
        make.burden("I_free", reading="I", source="R_P3"),
        make.leads("R_1", reading="R", leads="R_P3"),
        make.leads("R_2", reading="R"),
        make.body("R_3", reading="R", body="R_body"),
        make.reversal("V_free", plus="V_p", minus="V_m"),
        make.gain("V_dip", reading="v", scope="v_s", meter="V_m"),
    ]


def test_in_a_fresh_case_every_correction_is_pending_and_nothing_raises(bench):
    for corrected in all_cells(bench):
        assert str(corrected) == "(not measured yet)"
        assert str(corrected.table())
    for what in ("overview", "quantities", "constants", "corrections", "readings"):
        assert str(bench.report(what))
    assert not (bench.folder / "readings.csv").exists()


def test_a_cell_run_again_changes_nothing(bench):
    all_cells(bench)
    version = bench.defined.version
    all_cells(bench)
    assert bench.defined.version == version


def test_a_formula_of_the_same_name_takes_the_place_of_a_correction(bench):
    loaded(bench)

    def V_open(V_P3):  # noqa: N802 - a quantity's name
        return 2 * V_P3

    bench.derive(unit="V")(V_open)
    assert bench["V_open"].value.magnitude.nominal_value == pytest.approx(6.534)
    assert bench.report("corrections").rows == ()


def test_a_correction_of_the_wrong_quantity_is_refused(bench):
    bench.record("V_P3", "3.267 V", using="handheld")
    bench.record("R_P3", "101.0 kohm", using="handheld")
    make = bench.corrections
    with pytest.raises(UnitError, match="V_open: source V_P3: 'V' cannot be conv"):
        make.loading("V_open", reading="V_P3", source="V_P3")
    with pytest.raises(FormulaError, match="Did you mean R_P3"):
        make.loading("V_open", reading="V_P3", source="R_P2")
    with pytest.raises(InputError, match="largest_ratio is 0"):
        make.loading("V_open", reading="V_P3", source="R_P3", largest_ratio=0)
    with pytest.raises(InputError, match="already a measurand"):
        make.loading("V_P3", reading="V_P3", source="R_P3")
    bench.constant("V_ref", "5 V")
    with pytest.raises(InputError, match="V_ref is no measurand"):
        make.loading("V_open", reading="V_ref", source="R_P3")


def test_a_correction_cannot_depend_on_itself(bench):
    loaded(bench)

    @bench.derive(unit="ohm")
    def R_mean(V_open, V_P3, R_P3):  # noqa: N802 - a quantity's name
        return V_open / V_P3 * R_P3

    with pytest.raises(FormulaError, match="cannot depend on itself"):
        bench.corrections.loading("V_open", reading="V_P3", source="R_mean")


def test_a_corrected_value_is_saved_and_drawn_like_any_other(bench):
    loaded(bench, using="bench")
    drawn = bench.monte_carlo("V_open", draws=20_000)
    assert drawn.value == pytest.approx(3.3, abs=1e-3)


ROLES = {"reading": 3.2, "source": 5.0, "input_resistance": 50.0, "burden": 0.3,
         "leads": 0.2, "body": 9.0, "plus": 4.0, "minus": -3.0, "scope": 8.0,
         "meter": 7.5, "zero": 0.1}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_the_formula_written_out_is_the_one_that_is_computed(kind):
    known = KINDS[kind]
    space = {}
    exec(known.text("result", known.roles), space)
    values = [ROLES[role] for role in known.roles]
    assert space["result"](*values) == pytest.approx(known.function(*values))


def test_a_scope_without_a_zero_is_written_out_with_a_zero_of_nothing():
    text = KINDS["gain"].text("V", ["v", "v_s", "V_m"])
    assert text.endswith("return V_m / (v_s - 0) * (v - 0)")


# What instruments.toml declares -----------------------------------------------------


@pytest.mark.parametrize(
    ("text", "u"),
    [
        ("10 MΩ ± 1 % (limits)", 0.1 / math.sqrt(3)),
        ("10 MΩ ± 1 %", 0.1 / math.sqrt(3)),
        ("10.0 ± 0.1 MΩ", 0.1 / math.sqrt(3)),
        ("10 MΩ ± 100 kΩ (triangular)", 0.1 / math.sqrt(6)),
        ("10.0 ± 0.1 MΩ (k=2)", 0.05),
        ("10 MΩ, U = 0.1 MΩ, k = 2", 0.05),
        ("10 MΩ, U = 1 %, k = 2", 0.05),
        ("10.00(5) MΩ", 0.05),
    ],
)
def test_a_property_is_read_as_makers_and_certificates_state_it(text, u):
    found = property_from(text, ("ohm",), "here")
    assert found.value == pytest.approx(10e6)
    assert found.stated.standard_uncertainty == pytest.approx(u)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0 ohm", "one value above 0"),
        ("OL ohm", "one value above 0"),
        ("10 20 MΩ", "one value above 0"),
        ("10 V", "cannot be converted"),
        ("10 MΩ ± 1 V", "cannot be converted"),
        ("10 MΩ ± 1", "the tolerance has no unit"),
        ("high", "cannot read 'high'"),
    ],
)
def test_a_property_that_is_not_understood_is_refused_by_its_place(text, said):
    with pytest.raises(InputError, match="meter, input_resistance") as caught:
        property_from(text, ("ohm",), "meter, input_resistance")
    assert said in str(caught.value)


def test_the_tolerance_of_a_burden_voltage_is_divided_too():
    found = burden_from("0.2 V ± 10 %", 60e-3, "here")
    assert found.value == pytest.approx(0.2 / 60e-3)
    u = 0.02 / math.sqrt(3) / 60e-3
    assert found.stated.standard_uncertainty == pytest.approx(u)
    assert found.unit.symbol == "Ω"


AMPS = {"unit": "mA", "accuracy": "1 %", "ranges": ["60.00 mA"]}


def test_a_function_may_declare_one_burden_for_all_its_ranges():
    ranges = ["6.000 mA", {"range": "60.00 mA", "burden": "1.8 ohm"}]
    table = {**AMPS, "burden": "0.2 V", "ranges": ranges}
    found = instrument_from("meter", {"mA": table}, "here").functions[0].ranges
    assert [r.burden for r in found] == ["0.2 V", "1.8 ohm"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"burden": "2 s"}, "burden: 's' cannot be converted"),
        ({"burden": "none"}, "burden"),
        ({"ranges": [{"range": "60.00 mA", "burdn": "1 ohm"}]}, "'burdn' of a range"),
        ({"unit": "V", "ranges": ["6 V"], "burden": "1 ohm"}, "measures current"),
        ({"input_resistance": "10 V"}, "input_resistance: 'V' cannot be"),
    ],
)
def test_a_mistake_in_what_is_declared_is_named_when_the_file_is_read(change, said):
    with pytest.raises(InputError, match="here") as caught:
        instrument_from("meter", {"mA": {**AMPS, **change}}, "here")
    assert said in str(caught.value)


def test_a_bad_burden_is_a_mistake_of_the_file(case_folder):
    text = METERS.replace("1.80 ohm ± 5 %", "1.80 s")
    (case_folder / "instruments.toml").write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match="burden"):
        open_case(case_folder)


@pytest.mark.parametrize(
    ("kind", "values", "said"),
    [
        ("loading", {"reading": 1, "source": -1, "input_resistance": 1}, "below 0"),
        ("burden", {"reading": 1, "source": 0, "burden": 1}, "not above 0"),
        ("leads", {"reading": 1, "leads": -0.1}, "below 0"),
        ("body", {"reading": 0, "body": 1}, "not above 0"),
        ("gain", {"reading": 1, "scope": 0.1, "meter": 1, "zero": 0.1}, "zero"),
    ],
)
def test_values_that_a_formula_would_refuse_give_no_answer_instead(kind, values, said):
    assert said in refusal(kind, values)

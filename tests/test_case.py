"""A case from an empty folder to values, predictions and filled prose."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from benchproof import open_case
from benchproof.measuring.influences import influence_from
from benchproof.values.errors import (
    BenchproofError,
    FileError,
    FormulaError,
    InputError,
    PendingError,
    RecordingRefusedError,
    UnitError,
)
from benchproof.values.quantities import read_values


def log(case):
    path = case.folder / "readings.csv"
    return path.read_bytes() if path.exists() else b""


def loaded(case):
    case.record("V_idle", "12.10 12.12 12.09 V", using="handheld", at="socket")
    case.record("V_load", "11.61 11.60 11.63 V", using="handheld", at="socket")
    case.record("I_load", "0.50 0.51 0.50 A", using="clamp", at="lead")

    @case.derive(unit="ohm")
    def source_ohm(V_idle, V_load, I_load):
        return (V_idle - V_load) / I_load

    return source_ohm


# A fresh case -----------------------------------------------------------------------


def test_a_fresh_case_runs_with_everything_pending(case):
    case.record("V_min", "? V")
    case.record("lost", "?")

    @case.derive(unit="mV")
    def sag(V_min):
        return 12.0 * V_min - 11 * V_min

    rival = case.hypothesis("H1", "The supply sags")
    rival.predicts("the rail goes low", case["V_min"].below("8.80 V"))
    rival.predicts("it is lost", case["lost"].at_least(0.5), role="symptom")
    assert str(case["V_min"]) == "(not measured yet)"
    assert not sag.is_measured
    assert case.verdicts().verdicts[0].word == "not tested"
    assert case.conclude("{V_min}, {H1}").text == "(not measured yet), not tested"
    assert "V_min, lost" in str(case)
    assert log(case) == b""


def test_every_report_shows_itself_before_anything_is_measured(case):
    for what in ("claim", "differences", "hazards", "predictions", "instruments",
                 "readings", "constants", "quantities", "rounds"):  # fmt: skip
        table = case.report(what)
        assert str(table)
        assert "<table>" in table._repr_html_()


def test_an_unknown_report_names_those_there_are(case):
    with pytest.raises(InputError, match="claim, differences, hazards"):
        case.report("readigns")


def test_a_folder_without_case_file_says_how_to_make_one(tmp_path):
    with pytest.raises(FileError, match="benchproof new"):
        open_case(tmp_path)


def test_a_prediction_may_be_written_before_its_measurand_is_declared(case):
    rival = case.hypothesis("H1", "The supply sags")
    rival.predicts("the rail goes low", case["V_min"].below("8.80 V"))
    assert case.verdicts().verdicts[0].word == "not tested"
    case.record("V_min", "7.50 V", using="handheld")
    assert case.verdicts().verdicts[0].word == "compatible"


# Values -----------------------------------------------------------------------------


def test_a_value_shows_itself_with_its_uncertainty(case):
    measured = case.record("V", "5.034 V", using="handheld")
    # ±(0.5 % + 3 digits) kept as two rectangular sources: gain and offset.
    gain, offset = 0.005 * 5.034 / math.sqrt(3), 0.003 / math.sqrt(3)
    assert measured.standard_uncertainty == pytest.approx(math.hypot(gain, offset))
    assert str(measured) == "5.034(15) V"


def test_an_estimate_carries_the_sources_that_a_capture_shares(case):
    case.record("V", "5.034 V", using="handheld")
    case.constant("V_diode", "0.40 V")
    sources = [source.name for source, _ in case["V"].estimate.parts]
    assert "handheld · DC V · 6 V · gain" in sources
    with pytest.raises(PendingError, match="no readings of its own"):
        _ = case["V_diode"].estimate


def test_values_carry_their_correlation(case):
    case.record("V", "5.00 5.02 V", using="handheld")
    a = case["V"].value
    nothing = a - case["V"].value
    assert nothing.magnitude.nominal_value == 0
    assert nothing.magnitude.std_dev == 0
    assert (a / a).magnitude.std_dev == pytest.approx(0, abs=1e-12)


def test_the_gain_of_a_shared_range_cancels_in_a_difference(case):
    loaded(case)
    difference = case["V_idle"].value - case["V_load"].value
    a, b = (case[n].standard_uncertainty for n in ("V_idle", "V_load"))
    r = case.correlation("V_idle", "V_load")
    expected = math.sqrt(a * a + b * b - 2 * r * a * b)
    assert r > 0.5
    assert difference.magnitude.std_dev == pytest.approx(expected, rel=1e-9)
    assert difference.magnitude.std_dev < math.hypot(a, b) / 1.4


def test_readings_of_several_units_are_shown_with_their_own(case):
    case.record("V", "5.00 V; 500.0 mV", using="handheld")
    shown = str(case["V"].table())
    assert "5.00 V, 500.0 mV" in shown
    assert "500.0 V" not in shown


def test_a_derived_value_agrees_with_its_budget(case):
    derived = loaded(case)
    number = derived.value
    assert f"{number.units:~P}" == "Ω"
    budget = case.budget("source_ohm")
    assert number.magnitude.nominal_value == pytest.approx(budget.value)
    assert number.magnitude.std_dev == pytest.approx(budget.standard_uncertainty)
    by_hand = (case["V_idle"].value - case["V_load"].value) / case["I_load"].value
    assert by_hand.to("ohm").magnitude.std_dev == pytest.approx(
        budget.standard_uncertainty, rel=1e-9
    )


def test_a_derived_quantity_is_correlated_with_its_input(case):
    loaded(case)
    nothing = (
        case["source_ohm"].value
        - (case["V_idle"].value - case["V_load"].value) / case["I_load"].value
    )
    assert nothing.to("ohm").magnitude.std_dev == pytest.approx(0, abs=1e-9)


def test_readings_taken_together_correlate_their_scatter(case):
    case.record_together(
        {"V": "5.00(0) 5.02(0) 5.04(0) V", "W": "3.00(0) 3.02(0) 3.04(0) V"}
    )
    assert case.correlation("V", "W") == pytest.approx(1.0)
    difference = case["V"].value - case["W"].value
    assert difference.magnitude.std_dev == pytest.approx(0, abs=1e-6)


def test_the_correlation_of_a_new_round_replaces_the_old_one(case):
    case.record_together(
        {"V": "5.00(0) 5.02(0) 5.04(0) V", "W": "3.00(0) 3.02(0) 3.04(0) V"}
    )
    assert (case["V"].value - case["W"].value).magnitude.std_dev < 1e-6
    case.new_round(because="measured again")
    case.record_together(
        {"V": "5.00(0) 5.02(0) 5.04(0) V", "W": "3.04(0) 3.02(0) 3.00(0) V"}
    )
    difference = (case["V"].value - case["W"].value).magnitude.std_dev
    assert difference == pytest.approx(2 * case["V"].standard_uncertainty, rel=1e-6)


def test_the_scatter_of_two_rounds_does_not_cancel(case):
    case.record("V", "5.00(0) 5.02(0) 5.04(0) V")
    case.new_round(because="measured again")
    case.record("V", "5.10(0) 5.12(0) 5.14(0) V")
    step = case["V"].value - case.at_round(1)["V"].value
    expected = math.sqrt(2) * case["V"].standard_uncertainty
    assert step.magnitude.std_dev == pytest.approx(expected)


def test_temperatures_keep_their_scale(case):
    case.record("T", "21.5(2) °C")
    assert case.budget("T").value == pytest.approx(294.65)
    assert case["T"].standard_uncertainty == pytest.approx(0.2)
    assert case["T"].value.magnitude.nominal_value == pytest.approx(21.5)


def test_a_censored_reading_shows_its_bound_and_has_no_value(case):
    case.record("R", "OL Mohm", using="handheld")
    assert str(case["R"]).startswith("> 59.")
    with pytest.raises(PendingError, match="only known as a bound"):
        case.budget("R")


def test_counts_show_how_often_of_how_many(case):
    case.record("lost", "17 of 20", at="both axes")
    assert str(case["lost"]) == "17 of 20"
    assert "95 % interval" in str(case["lost"].table())
    with pytest.raises(PendingError, match="is a count"):
        case.budget("lost")


@pytest.mark.parametrize(
    "text",
    [
        "5.00(5) V",
        "5.00 ± 0.05 V",
        "5.00 ± 0.05 V (k=2)",
        "5.00 ± 0.05 V (limits)",
    ],
)
def test_a_stated_uncertainty_survives_closing_the_notebook(case, text):
    u = read_values(text)[0].standard_uncertainty
    assert case.record("V", text).standard_uncertainty == pytest.approx(u)
    again = open_case(case.folder)
    assert again["V"].standard_uncertainty == pytest.approx(u)


# Constants --------------------------------------------------------------------------


def test_an_exact_constant_has_no_uncertainty(case):
    case.constant("drop", "0.40 V", source="data sheet")
    assert case["drop"].standard_uncertainty == 0
    assert "data sheet" in str(case.report("constants"))


@pytest.mark.parametrize(
    ("text", "u"),
    [
        ("10.00(5) ohm", 0.05),
        ("10.00 ± 0.10 ohm", 0.10),
        ("10.00 ± 0.10 ohm (k=2)", 0.05),
        ("10.00 ± 0.10 ohm (limits)", 0.10 / math.sqrt(3)),
    ],
)
def test_a_constant_is_read_in_every_form_of_uncertainty(case, text, u):
    case.constant("R_lead", text)
    assert case["R_lead"].standard_uncertainty == pytest.approx(u)


def test_degrees_of_freedom_of_a_constant_reach_the_budget(case):
    case.constant("R_lead", "10.00(5) ohm", dof=4)
    assert case.budget("R_lead").degrees_of_freedom == pytest.approx(4)
    assert case.budget("R_lead").coverage_factor == pytest.approx(2.776, abs=0.001)


def test_a_constant_without_unit_is_a_plain_number(case):
    case.constant("turns", "12")
    assert case.budget("turns").value == 12


def test_a_constant_of_several_values_is_refused(case):
    with pytest.raises(InputError, match="give one value"):
        case.constant("R_lead", "10.0 10.1 ohm")


# Rounds, rivals, prose --------------------------------------------------------------


def rounds(case):
    rival = case.hypothesis("H1", "The supply sags")
    rival.predicts("the rail goes low", case["V_min"].below("8.80 V"))
    case.record("V_min", "7.50 V", using="handheld")
    case.new_round(because="objection: another supply")
    case.record("V_min", "9.50 V", using="handheld")


def test_a_round_can_be_looked_at_as_it_was(case):
    rounds(case)
    assert case.verdicts().verdicts[0].word == "contradicted"
    first = case.at_round(1)
    assert first.verdicts().verdicts[0].word == "compatible"
    assert first.budget("V_min").value == pytest.approx(7.5)
    assert "as of round 1" in str(first.verdicts())


def test_the_rounds_report_shows_how_a_verdict_flipped(case):
    rounds(case)
    said = [row[-1] for row in case.report("rounds").rows]
    assert said == ["H1 compatible", "H1 contradicted"]


def test_a_later_strike_does_not_change_how_a_round_was(case):
    case.record("V", "5.00 9.00 V", using="handheld")
    case.new_round(because="objection")
    case.strike("V", "9.00 V", because="probe slipped")
    assert case.budget("V").value == pytest.approx(5.0)
    assert case.at_round(1).budget("V").value == pytest.approx(7.0)


def test_an_earlier_round_cannot_be_recorded_in(case):
    rounds(case)
    before = log(case)
    with pytest.raises(RecordingRefusedError, match="as it was in round 1"):
        case.at_round(1).record("V_min", "8.00 V", using="handheld")
    assert log(case) == before


def test_a_round_that_does_not_exist_is_named(case):
    with pytest.raises(InputError, match=r"round 7 does not exist; there are \[1\]"):
        case.at_round(7)


def test_prose_is_filled_by_values_and_verdicts(case):
    rounds(case)
    said = case.conclude("H1 is {H1}: {V_min}. {{kept}}").text
    assert said == f"H1 is contradicted: {case['V_min']}. {{kept}}"


def test_prose_with_an_unknown_name_offers_the_closest(case):
    case.record("V_min", "7.50 V", using="handheld")
    with pytest.raises(FormulaError, match="Did you mean V_min"):
        case.conclude("{V_mim}")


def test_an_unclosed_brace_is_explained(case):
    with pytest.raises(InputError, match="for a brace"):
        case.conclude("half open {V_min")


def test_a_rival_written_again_keeps_one_prediction_of_each_text(case):
    for limit in ("8.80 V", "8.90 V"):
        rival = case.hypothesis("H1", "The supply sags")
        rival.predicts("the rail goes low", case["V_min"].below(limit))
        rival.predicts("the rail goes low", case["V_min"].below(limit))
    assert len(case.verdicts().verdicts) == 1
    assert len(case.verdicts().predictions().rows) == 1


# What is refused, and leaves the log as it was --------------------------------------


REFUSED = [
    ("12.10", {"using": "handheld"}, UnitError, "has no unit"),
    ("12.10 Vdc", {"using": "handheld"}, UnitError, "function='DC V'"),
    ("12.10 blip", {"using": "handheld"}, UnitError, "is not known"),
    ("1,5 V", {"using": "handheld"}, InputError, "decimal point"),
    ("", {"using": "handheld"}, InputError, "cannot read"),
    ("abc V", {"using": "handheld"}, InputError, "cannot read"),
    ("12.10 V", {"using": "hand"}, InputError, "not in instruments.toml .there: hand"),
    ("700 V", {"using": "handheld"}, InputError, "above every range"),
    ("5 V", {"using": "handheld", "range": "7 V"}, InputError, "has no range '7 V'"),
    ("5 W", {"using": "handheld"}, InputError, "nothing fits"),
    ("5 V", {"using": "handheld", "function": "AC V"}, InputError, "nothing fits"),
    ("5.00 V", {}, InputError, "no uncertainty"),
    ("OL V", {}, InputError, "without an instrument"),
    ("21 of 20", {}, InputError, "is not a count"),
    ("5 of 20; 3 V", {}, InputError, "cannot be converted"),
    ("<5 V; >6 V", {"using": "handheld"}, InputError, "bounds from both sides"),
]


@pytest.mark.parametrize(("text", "way", "kind", "said"), REFUSED)
def test_a_bad_reading_is_refused_and_the_log_stays(case, text, way, kind, said):
    case.record("other", "5.00 V", using="handheld")
    before = log(case)
    with pytest.raises(kind, match=said):
        case.record("V", text, **way)
    assert log(case) == before


def test_a_reading_above_its_named_range_is_refused(case):
    with pytest.raises(InputError, match="above"):
        case.record("V", "70.00 V", using="handheld", range="6 V")
    assert log(case) == b""


def test_a_reading_of_another_dimension_is_refused(case):
    case.record("V", "5.00 V", using="handheld")
    before = log(case)
    with pytest.raises(InputError, match="recorded in V, now in mA"):
        case.record("V", "5.00 mA", using="handheld")
    assert log(case) == before


def test_a_fresh_kernel_refuses_a_reading_of_another_dimension(case):
    case.record("V", "5.00 V", using="handheld")
    case.new_round(because="measured again")
    before = log(case)
    with pytest.raises(InputError, match="recorded in V, now in mA"):
        open_case(case.folder).record("V", "5.00 mA", using="handheld")
    assert log(case) == before


def test_units_that_do_not_fit_each_other_are_refused(case):
    with pytest.raises(UnitError, match="cannot be converted"):
        case.record("V", "5.00(1) V; 3.0(1) mA")
    assert log(case) == b""


@pytest.mark.parametrize("name", ["V idle", "1V", "", "V-idle", "H(1)"])
def test_a_measurand_without_a_plain_name_is_refused(case, name):
    with pytest.raises(InputError, match="Name it like V_idle"):
        case.record(name, "5.00 V", using="handheld")
    assert log(case) == b""


def test_a_name_stands_for_one_thing(case):
    case.record("V", "5.00 V", using="handheld")
    case.constant("drop", "0.40 V")
    before = log(case)
    with pytest.raises(InputError, match="already a measurand"):
        case.constant("V", "5.00 V")
    with pytest.raises(InputError, match="already a constant"):
        case.record("drop", "0.40 V", using="handheld")
    with pytest.raises(InputError, match="already a constant"):

        @case.derive(unit="V")
        def drop(V):
            return V

    with pytest.raises(InputError, match="taken"):
        case.hypothesis("V", "x")
    assert log(case) == before


def test_a_rival_and_a_measurand_do_not_share_a_name(case):
    case.hypothesis("H1", "It sags")
    with pytest.raises(InputError, match="already a"):
        case.record("H1", "5.00 V", using="handheld")
    assert log(case) == b""


def test_a_word_of_python_is_no_name(case):
    with pytest.raises(InputError, match="Name it like V_idle"):
        case.record("lambda", "5.00 V", using="handheld")
    assert log(case) == b""


def test_a_malformed_row_is_named_by_line_and_nothing_is_recorded(case):
    case.record("V", "5.00 V", using="handheld")
    path = case.folder / "readings.csv"
    broken = path.read_text("utf-8").replace(",5.00,", ",five,")
    path.write_text(broken, encoding="utf-8")
    before = log(case)
    with pytest.raises(FileError, match="readings.csv line 2"):
        open_case(case.folder)
    with pytest.raises(FileError, match=r"readings.csv line 2, column 'value'"):
        case.record("W", "5.00 V", using="handheld")
    assert log(case) == before


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (",reading,", ",reeding,", "not reading, round or strike"),
        (",reading,1,", ",reading,one,", "not a whole number"),
        (",5.00,V,", ",5.00,,", "has no unit"),
    ],
)
def test_a_row_that_makes_no_sense_is_named(case, old, new, said):
    case.record("V", "5.00 V", using="handheld")
    path = case.folder / "readings.csv"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(FileError, match="line 2") as caught:
        open_case(case.folder)
    assert said in str(caught.value)


def test_a_formula_that_fails_names_the_quantity(case):
    case.record("V", "5.00 V", using="handheld")
    before = log(case)
    with pytest.raises(FormulaError, match="ratio: the formula failed with ZeroDiv"):

        @case.derive(unit="V")
        def ratio(V):
            return V / 0

    assert log(case) == before


def test_a_formula_of_the_wrong_unit_says_what_it_gives(case):
    case.record("V", "5.00 V", using="handheld")
    case.record("I", "10.0 mA", using="handheld")
    with pytest.raises(FormulaError, match=r"power: the formula gives W, not V"):

        @case.derive(unit="V")
        def power(V, I):  # noqa: E741 - the letter of the trade
            return V * I


def test_a_formula_that_adds_unlike_units_is_refused(case):
    case.record("V", "5.00 V", using="handheld")
    with pytest.raises(FormulaError, match="unlike units are added"):

        @case.derive(unit="V")
        def shifted(V):
            return V + 1.0


def test_a_formula_of_an_unknown_quantity_offers_the_closest(case):
    case.record("V_idle", "5.00 V", using="handheld")
    with pytest.raises(FormulaError, match="Did you mean V_idle"):

        @case.derive(unit="V")
        def doubled(V_idel):
            return 2 * V_idel


def test_a_value_that_waits_for_another_says_for_which(case):
    case.record("V", "? V")

    @case.derive(unit="V")
    def doubled(V):
        return 2 * V

    before = log(case)
    with pytest.raises(PendingError, match="doubled has no value: V is not measured"):
        case.budget("doubled")
    with pytest.raises(PendingError, match="not measured yet"):
        _ = case["doubled"].value
    assert log(case) == before


def test_everything_refused_is_one_kind_of_error(case):
    with pytest.raises(BenchproofError):
        case.record("V", "5.00", using="handheld")


def test_text_that_looks_like_markup_is_shown_as_text(case):
    case.record("V", "5.00 V", using="handheld", at="<script>alert(1)</script> $x$")
    shown = case.report("readings")._repr_html_() + case["V"]._repr_html_()
    assert "<script>" not in shown
    assert "$x$" not in shown
    assert "&lt;script&gt;" in shown


def test_an_exceeded_calibration_follows_every_number_that_depends_on_it(case):
    meter = case.instruments["handheld"]
    old = dt.date(2020, 1, 1)
    case.instruments["handheld"] = replace(meter, calibrated=old, interval_months=12)
    case.record("V_a", "5.000 V", using="handheld")
    case.record("V_b", "4.000 V", using="handheld")

    @case.derive(unit="V")
    def drop(V_a, V_b):
        return V_a - V_b

    (caveat,) = [c for c in case.budget("drop").caveats if "calibration" in c]
    assert caveat.startswith("V_a, V_b: handheld: calibration interval exceeded")
    assert "calibration interval exceeded" in str(drop.table())
    assert "calibration interval exceeded" in str(case.report("quantities"))


def test_a_declared_correlation_counts_in_every_budget(case):
    case.constant("R_1", "100.0 ohm, U = 0.2 ohm, k = 2")
    case.constant("R_2", "100.0 ohm, U = 0.2 ohm, k = 2")

    @case.derive(unit="ohm")
    def in_series(R_1, R_2):
        return R_1 + R_2

    assert in_series.standard_uncertainty == pytest.approx(0.1 * math.sqrt(2))
    case.correlate({("R_1", "R_2"): 1.0}, because="calibrated with one standard")
    assert in_series.standard_uncertainty == pytest.approx(0.2)
    assert case.correlation("R_1", "R_2") == pytest.approx(1.0)
    assert "Welch" in " ".join(case.budget("in_series").caveats)
    assert "one standard" in str(case.report("correlations"))


def test_a_correlation_that_cannot_hold_changes_nothing(case):
    for name in ("a", "b", "c"):
        case.constant(name, "1.0(1) V")
    pairs = {("a", "b"): 0.9, ("b", "c"): 0.9}
    with pytest.raises(InputError, match="contradict"):
        case.correlate(pairs, because="a reason")
    assert case.correlation("a", "b") == 0
    case.correlate(pairs | {("a", "c"): 0.9}, because="a reason")
    assert case.correlation("a", "b") == pytest.approx(0.9)
    with pytest.raises(FormulaError, match="'d' is not"):
        case.correlate({("a", "d"): 0.5}, because="a reason")
    with pytest.raises(InputError, match="because"):
        case.correlate({("a", "c"): 0.5}, because=" ")


def test_a_plain_number_can_carry_a_certificate(case):
    factor = case.constant("factor", "1.02, U = 0.02, k = 2")
    assert factor.standard_uncertainty == pytest.approx(0.01)


def test_two_quantities_are_judged_by_their_difference_and_what_they_share(case):
    case.record("V_a", "5.000 V", using="handheld")
    case.record("V_b", "5.003 V", using="handheld")
    case.record("V_c", "5.300 V", using="handheld")
    rival = case.hypothesis("H1", "The nodes are one net")
    rival.predicts("the same", case["V_a"].agrees_with("V_b"))
    rival.predicts("within", case["V_a"].agrees_with(case["V_b"], within="50 mV"))
    rival.predicts("apart", case["V_a"].differs_from("V_c", by="100 mV"))
    rival.predicts("missing", case["V_a"].agrees_with("V_d"))
    judged = case.verdicts().verdicts[0].judged
    assert [j.outcome for j in judged] == ["met", "met", "met", "not measured"]
    # One range: the gain cancels, so 300 mV are far more than u of the difference.
    assert "would have been noticed" in judged[0].detail
    assert judged[1].flips.startswith("undetermined at")


def test_a_prediction_says_how_far_the_measured_value_is_from_another_outcome(case):
    case.record("V_min", "8.82(6) V")
    rival = case.hypothesis("H1", "It falls below")
    rival.predicts("it falls", case["V_min"].below("8.80 V"))
    (judged,) = case.verdicts().verdicts[0].judged
    assert judged.outcome == "undetermined"
    assert judged.flips == "contradicted at 8.899 V, 0.079 V away"
    assert "8.899 V" in str(case.report("predictions"))


def test_a_bent_formula_is_judged_by_monte_carlo(case):
    # y = x² at x = 0: the linear u is 0; the draws are chi-square, 95 % below 3.84 u².
    case.constant("x", "0.0(1) V")

    @case.derive(unit="V**2")
    def squared(x):
        return x**2

    rival = case.hypothesis("H1", "It is small")
    rival.predicts("small", squared.below("0.038 V**2"))
    rival.predicts("smaller", squared.below("0.03 V**2"))
    judged = case.verdicts().verdicts[0].judged
    assert "Monte Carlo: probability 0.95" in judged[0].detail
    assert judged[1].outcome == "undetermined"
    assert "case.monte_carlo" in " ".join(case.budget("squared").caveats)


def test_a_value_less_itself_is_exactly_zero_also_when_read_together(case):
    case.record_together({"V": "5.007 4.994 5.005 V", "I": "19.663 19.639 19.640 mA"})

    @case.derive(unit="ohm")
    def resistance(V, I):  # noqa: E741 - Ohm
        return V / I

    rest = resistance.value - resistance.value
    assert (rest.magnitude.nominal_value, rest.magnitude.std_dev) == (0.0, 0.0)


def test_combining_counts_what_the_quantities_share_and_refuses_what_disagrees(case):
    case.constant("R_a", "411.0(4.5) ohm")
    case.constant("R_b", "402(6) ohm")
    case.constant("R_c", "431.0(7.5) ohm")
    case.constant("R_d", "398(5) ohm")
    # Formula sheet: weighted mean 407.9, chi-square 14.85, Birge ratio 2.22.
    with pytest.raises(InputError, match="14.85"):
        case.combine("R_a", "R_b", "R_c", "R_d")
    pooled = case.combine("R_a", "R_b", "R_c", "R_d", spread="birge")
    assert pooled.value == pytest.approx(407.9, abs=0.05)
    case.record("V_a", "5.000 V", using="handheld")
    case.record("V_b", "5.001 V", using="handheld")
    both = case.combine("V_a", "V_b")
    # The shared gain of 0.5 % stays; only the offsets average out.
    assert both.standard_uncertainty > 0.025 / math.sqrt(3)
    with pytest.raises(UnitError):
        case.combine("V_a", "R_a")


def test_sharing_shows_what_the_assumption_about_offsets_is_worth(case):
    # Formula sheet: 24.6 mV as declared, 2.05 mV shared, 53.9 mV if independent.
    case.record("V_idle", "12.10 V", using="handheld")
    case.record("V_load", "11.39 V", using="handheld")

    @case.derive(unit="V")
    def drop(V_idle, V_load):
        return V_idle - V_load

    found = case.sharing("drop")
    said = [found.declared, found.offsets_shared, found.independent]
    assert [b.standard_uncertainty for b in said] == pytest.approx(
        [24.6e-3, 2.05e-3, 53.9e-3], rel=0.01
    )
    assert "1.000" in str(case.correlations("V_idle", "drop"))


def test_an_influence_names_its_instrument_in_the_budget(case):
    meter = case.instruments["handheld"]
    volts = meter.functions[0]
    drift = influence_from("zero drift", "20 mV", "V", "here")
    warm = replace(volts, influences=(drift,))
    case.instruments["handheld"] = replace(
        meter, functions=(warm, *meter.functions[1:])
    )
    case.record("V_a", "5.000 V", using="handheld")
    assert "no instrument" not in str(case.budget("V_a").by_instrument())


def test_a_value_without_spread_says_whether_it_is_exact(case):
    case.constant("a", "0.0(1) V")
    case.constant("b", "2 V")

    @case.derive(unit="V**2")
    def bent(a):
        return a**2

    assert "u = 0 to first order" in case.budget("bent").summary()
    assert case.budget("b").summary() == "2 V (exact)"
    assert "case.monte_carlo" in str(case.report("quantities"))


def test_the_rules_below_the_predictions_are_those_that_were_used(case):
    case.constant("a", "1.0(1) V")
    case.constant("b", "1.1(1) V")
    case.hypothesis("H1", "Alike").predicts("alike", case["a"].agrees_with("b"))
    notes = case.verdicts().predictions().notes
    assert ["2 u" in note for note in notes] == [True]
    case.hypothesis("H2", "Low").predicts("low", case["a"].below("2 V"))
    assert len(case.verdicts().predictions().notes) == 2


def test_a_result_that_mixes_rounds_says_so(case):
    case.record("V_a", "5.000 V", using="handheld")
    case.record("V_b", "4.000 V", using="handheld")

    @case.derive(unit="V")
    def drop(V_a, V_b):
        return V_a - V_b

    assert "round" not in " ".join(case.budget("drop").caveats)
    case.new_round(because="another supply")
    case.record("V_b", "4.100 V", using="handheld")
    said = " ".join(case.budget("drop").caveats)
    assert "rests on readings of round 2 and older ones: V_a" in said


def test_a_zero_is_filled_in_with_its_bound(case):
    case.record("lost", "0 of 12")
    case.record("kept", "3 of 12")
    said = case.conclude("{lost}; {kept}").text
    assert said == "0 of 12, p < 22.1 % (95 %, one-sided); 3 of 12"


def test_a_limit_of_another_dimension_is_refused_before_anything_is_measured(case):
    case.record("V_idle", "? V", using="handheld")
    case.record("I_load", "? A", using="handheld")

    @case.derive(unit="ohm")
    def source_ohm(V_idle, I_load):
        return V_idle / I_load

    rival = case.hypothesis("H1", "the supply is soft")
    rival.predicts("more than 2 V", case["source_ohm"].above("2 V"))
    with pytest.raises(InputError, match="source_ohm above 2 V"):
        case.verdicts()


def test_a_bare_plus_minus_says_how_it_was_taken_wherever_it_stands(case):
    read = case.record("V_bare", "12.1 ± 0.2 V")
    assert "± without (k=…) or (limits): taken" in str(read.table())
    case.constant("R", "10.0 ± 0.1 ohm")
    (note,) = case.report("constants").notes
    assert note.startswith("R: ± without")
    said = case.record("V_said", "12.1 ± 0.2 V (k=2)")
    assert "without" not in str(said.table())


def test_what_waits_for_an_instrument_nobody_declared_says_so(case):
    waiting = case.record("V", "? V", using="nobody")
    assert "'nobody' is not declared in instruments.toml" in str(waiting.table())
    declared = case.record("V", "? V", using="handheld")
    assert "not declared" not in str(declared.table())


def test_an_instrument_of_captures_stands_among_the_instruments(case):
    path = case.folder / "instruments.toml"
    scope = '\n[scope]\ndescription = "invented, 8 bits"\ncalibrated = 2026-01-31\n'
    path.write_text(path.read_text("utf-8") + scope, "utf-8")
    table = open_case(case.folder).report("instruments")
    (row,) = [row for row in table.rows if row[0] == "scope"]
    assert row[1:4] == ("captures", "", "see the captures")
    assert row[4].startswith("calibrated 2026-01-31")

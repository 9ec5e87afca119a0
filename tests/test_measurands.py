"""From readings and an accuracy line to an estimate with named sources."""

import math

import pytest

from benchproof.measuring.instruments import instrument_from
from benchproof.measuring.measurands import evaluate, joint_repeatability
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError, UnitError
from benchproof.values.quantities import read_values

ROOT3 = math.sqrt(3)


def contributions(estimate):
    """Each source's signed contribution to an estimate, in SI."""
    totals = {}
    for source, sensitivity in estimate.parts:
        step = sensitivity * source.standard_uncertainty
        totals[source.name] = totals.get(source.name, 0.0) + step
    return totals


def meter(name="meter", accuracy="±(0.5 % + 3 digits)", **more):
    volts = {"unit": "V", "accuracy": accuracy,
             "ranges": ["600.0 mV", "6.000 V", "60.00 V"], **more}  # fmt: skip
    celsius = {"unit": "°C", "accuracy": "1 % + 0.5 °C", "ranges": ["400.0 °C"]}
    return {name: instrument_from(name, {"DC V": volts, "T": celsius}, "here")}


def readings(text, instrument="meter", name="V", **more):
    values = read_values(text, name)
    return [
        Reading(f"r-{i}", 1, name, value, instrument, **more)
        for i, value in enumerate(values, 1)
    ]


def measured(text, instrument="meter", instruments=None, **more):
    return evaluate("V", readings(text, instrument, **more), instruments or meter())


def sources(result):
    return {s.name: (s, slope) for s, slope in result.estimate.parts}


def uncertainty(result):
    sizes = contributions(result.estimate).values()
    return math.sqrt(sum(c * c for c in sizes))


# One reading ------------------------------------------------------------------------


def test_gain_and_fixed_part_are_two_rectangular_sources():
    found = sources(measured("5.000 V"))
    gain, slope = found["meter · DC V · 6 V · gain"]
    offset, one = found["V · meter · DC V · 6 V · offset"]
    assert gain.standard_uncertainty == pytest.approx(0.005 / ROOT3)
    assert slope == pytest.approx(5.0)
    assert offset.standard_uncertainty == pytest.approx(0.003 / ROOT3)
    assert one == 1
    assert {gain.distribution, offset.distribution} == {"rectangular"}
    assert len(found) == 2


def test_one_reading_is_flagged_because_its_repeatability_is_unknown():
    assert "one reading: repeatability unknown" in measured("5.000 V").flags


def test_an_accuracy_without_a_fixed_part_gets_the_resolution_added():
    result = measured("5.00 V", instruments=meter(accuracy="0.5 %"))
    resolution, _ = sources(result)["V · resolution"]
    assert resolution.standard_uncertainty == pytest.approx(0.005 / ROOT3)


def test_millivolts_are_evaluated_in_volts():
    result = measured("500.0 mV")
    assert result.estimate.value == pytest.approx(0.5)
    found = sources(result)
    offset, _ = found["V · meter · DC V · 600 mV · offset"]
    assert offset.standard_uncertainty == pytest.approx(3e-4 / ROOT3)
    assert found["meter · DC V · 600 mV · gain"][1] == pytest.approx(0.5)


def test_celsius_takes_its_gain_from_the_shown_number():
    result = measured("20.0 °C")
    assert result.estimate.value == pytest.approx(293.15)
    found = sources(result)
    assert found["meter · T · 400 °C · gain"][1] == pytest.approx(20)
    offset, _ = found["V · meter · T · 400 °C · offset"]
    assert offset.standard_uncertainty == pytest.approx(0.5 / ROOT3)


# Repeats ----------------------------------------------------------------------------


def test_repeats_add_the_scatter_of_their_mean():
    result = measured("5.00 5.02 5.04 V")
    scatter, slope = sources(result)["V · repeatability"]
    assert scatter.standard_uncertainty == pytest.approx(0.02 / ROOT3)
    assert (scatter.evaluation, scatter.degrees_of_freedom, slope) == ("A", 2, 1.0)
    assert result.estimate.value == pytest.approx(5.02)


@pytest.mark.parametrize("instrument", ["meter", ""])
@pytest.mark.parametrize("accuracy", ["±(0.5 % + 3 digits)", "0.5 %"])
def test_identical_readings_do_not_have_zero_uncertainty(instrument, accuracy):
    for text in ("5.00 5.00 5.00 V", "0.00 0.00 0.00 V"):
        result = measured(text, instrument, meter(accuracy=accuracy))
        assert uncertainty(result) > 0


def test_identical_readings_without_instrument_fall_back_on_one_digit():
    result = measured("5.00 5.00 5.00 V", "")
    assert uncertainty(result) == pytest.approx(0.005 / ROOT3)
    assert any("no instrument named" in flag for flag in result.flags)


def test_repeats_do_not_average_the_accuracy_away():
    one, many = measured("5.000 V"), measured("5.000 5.000 5.000 5.000 V")
    assert uncertainty(many) == pytest.approx(uncertainty(one))


def test_a_drift_warns_everything_that_depends_on_it():
    result = measured("5.00 5.01 5.02 5.03 5.04 5.05 V")
    assert any("the readings drift" in warning for warning in result.warnings)


def test_a_range_told_by_the_last_digit_alone_is_said():
    assert any("by its last digit" in f for f in measured("5.00 V").flags)
    assert not any("by its last digit" in f for f in measured("5.000 V").flags)


# Shared and independent sources -----------------------------------------------------


def test_the_gain_of_one_range_is_shared_between_measurands():
    a = evaluate("A", readings("5.000 V", name="A"), meter())
    b = evaluate("B", readings("4.000 V", name="B"), meter())
    assert set(sources(a)) & set(sources(b)) == {"meter · DC V · 6 V · gain"}


def test_an_offset_is_shared_only_where_that_is_declared():
    both = meter(offset_shared=True)
    a = evaluate("A", readings("5.000 V", name="A"), both)
    b = evaluate("B", readings("4.000 V", name="B"), both)
    shared = {"meter · DC V · 6 V · gain", "meter · DC V · 6 V · offset"}
    assert set(sources(a)) & set(sources(b)) == shared
    # One zero error does not make two readings round alike.
    assert set(sources(a)) - shared == {"A · meter · DC V · 6 V · resolution"}


def test_two_instruments_and_two_ranges_share_nothing():
    two = meter() | meter("other")
    a = evaluate("A", readings("5.000 V", name="A"), two)
    b = evaluate("B", readings("5.000 V", "other", name="B"), two)
    c = evaluate("C", readings("5.000 V", name="C", range="60 V"), two)
    assert not set(sources(a)) & set(sources(b))
    assert not set(sources(a)) & set(sources(c))


def test_readings_of_several_ranges_each_keep_their_own_accuracy():
    result = measured("5.000 7.00 V")
    found = sources(result)
    assert found["meter · DC V · 6 V · gain"][1] == pytest.approx(2.5)
    assert found["meter · DC V · 60 V · gain"][1] == pytest.approx(3.5)
    assert found["V · meter · DC V · 60 V · offset"][1] == pytest.approx(0.5)


def test_readings_that_fell_into_several_ranges_are_flagged():
    flags = measured("5.000 7.00 V").flags
    assert any("several ranges" in flag for flag in flags)


# Stated uncertainties ---------------------------------------------------------------


def test_a_stated_uncertainty_replaces_the_accuracy_line():
    result = measured("5.00(5) V")
    assert list(sources(result)) == ["V · stated"]
    assert uncertainty(result) == pytest.approx(0.05)


def test_limits_are_a_rectangle_and_a_standard_uncertainty_is_normal():
    for text, shape in (("5.00 ± 0.06 V (limits)", "rectangular"),
                        ("5.00(5) V", "normal")):  # fmt: skip
        source, _ = sources(measured(text, ""))["V · stated"]
        assert source.distribution == shape


def test_stated_uncertainties_are_one_common_error_of_the_mean():
    source, slope = sources(measured("5.00(5) 5.00(5) 5.00(5) V", ""))["V · stated"]
    assert source.standard_uncertainty * slope == pytest.approx(0.05)


# Bounds and counts ------------------------------------------------------------------


def test_an_overload_is_a_bound_below_the_top_of_the_largest_range():
    result = measured("OL V")
    assert result.status == "censored"
    assert result.estimate is None
    # 60 V less its limit of error, 0.5 % and three digits of 10 mV.
    assert result.bound == (">", pytest.approx(60 - 0.3 - 0.03))


def test_an_overload_of_a_named_range_is_bound_by_that_range():
    sign, limit = measured("OL V", range="6 V").bound
    assert (sign, limit) == (">", pytest.approx(6 - 0.03 - 0.003))


def test_an_overload_without_an_instrument_says_nothing():
    with pytest.raises(InputError, match="OL says nothing without an instrument"):
        measured("OL V", "")


def test_of_several_bounds_the_weakest_holds():
    assert measured(">5 V; >4 V", "").bound == (">", 4.0)
    assert measured("<5 mV; <4 mV", "").bound == ("<", pytest.approx(0.005))


def test_bounds_of_both_sides_are_refused():
    with pytest.raises(InputError, match="bounds from both sides"):
        measured(">5 V; <6 V", "")


def test_a_number_beside_a_bound_forms_no_mean_and_is_flagged():
    result = measured("5.00 V; OL V")
    assert result.status == "censored"
    assert any("no mean is formed" in flag for flag in result.flags)


def test_counts_add_up():
    result = measured("17 of 20; 3 of 10", "")
    assert (result.status, result.count) == ("count", (20, 30))


def test_counts_and_numbers_are_not_mixed():
    with pytest.raises(InputError):
        measured("17 of 20; 5", "")
    with pytest.raises(UnitError, match="cannot be converted"):
        evaluate("V", readings("17 of 20", "") + readings("5 V", ""), {})


def test_without_readings_a_measurand_is_pending():
    assert evaluate("V", [], {}).status == "pending"


# What does not fit ------------------------------------------------------------------


def test_an_unknown_instrument_is_named_with_those_there_are():
    with pytest.raises(InputError, match="'metre' is not in instruments.toml") as said:
        measured("5.00 V", "metre")
    assert "(there: meter)" in str(said.value)
    assert "readings.csv row r-1, V" in str(said.value)


def test_readings_of_unlike_dimension_are_named_by_their_row():
    with pytest.raises(UnitError, match=r"readings.csv row r-2, V: 'mA' cannot be"):
        measured("5.00(1) V; 5.00(1) mA", "")


# Readings taken together ------------------------------------------------------------


def together(**texts):
    return {n: evaluate(n, readings(t, "", name=n), {}) for n, t in texts.items()}


def test_the_scatter_of_readings_taken_together_is_correlated():
    group, joint = joint_repeatability(
        together(A="1.0 2.0 4.0 V", B="2.0 4.0 8.0 mA", C="4.0 3.0 1.0 V")
    )
    assert joint.names == tuple(f"{n} · repeatability" for n in "ABC")
    matrix = joint.correlation
    assert [matrix[0][0], matrix[0][1], matrix[0][2]] == pytest.approx([1, 1, -1])
    assert matrix[1][2] == matrix[2][1]
    assert joint.degrees_of_freedom == 2
    assert "read together with A, B, C" in group["A"].flags


def test_one_set_or_one_measurand_has_nothing_to_correlate():
    for texts in ({"A": "1.0(1) V", "B": "2.0(1) V"}, {"A": "1.0 2.0 V"}):
        group = together(**texts)
        assert joint_repeatability(group) == (group, None)


def test_sets_that_no_longer_match_are_refused():
    with pytest.raises(InputError, match="Strike the same set of each"):
        joint_repeatability(together(A="1.0 2.0 4.0 V", B="2.0 4.0 V"))

"""Instruments as declared, and which range a reading belongs to."""

import datetime as dt

import pytest

from benchproof.measuring.instruments import instrument_from, range_for
from benchproof.values.errors import InputError

VOLTS = {
    "unit": "V",
    "accuracy": "±(0.5 % + 3 digits)",
    "ranges": ["60.00 V", "600.0 mV", "6.000 V"],
}


def meter(**more):
    return instrument_from("meter", {"DC V": VOLTS, **more}, "instruments.toml, meter")


def volts():
    return meter().functions[0]


def refusal(table):
    with pytest.raises(InputError) as caught:
        instrument_from("meter", table, "instruments.toml, meter")
    return str(caught.value)


def test_ranges_are_sorted_and_written_in_the_unit_of_the_function():
    ranges = volts().ranges
    assert [r.label for r in ranges] == ["600 mV", "6 V", "60 V"]
    assert [r.top for r in ranges] == pytest.approx([0.6, 6.0, 60.0])


def test_the_last_digit_is_taken_from_how_a_range_is_written():
    assert [r.digit for r in volts().ranges] == pytest.approx([1e-4, 1e-3, 1e-2])


def test_a_range_may_have_its_own_accuracy():
    table = {**VOLTS, "ranges": ["6.000 V", {"range": "60.00 V", "accuracy": "2 %"}]}
    low, high = meter(**{"DC V": table}).functions[0].ranges
    assert (low.accuracy.of_reading, high.accuracy.of_reading) == (0.005, 0.02)


@pytest.mark.parametrize(
    ("reading", "label"),
    [(0.0, "600 mV"), (0.6, "600 mV"), (0.6001, "6 V"), (6.0, "6 V"), (59.9, "60 V")],
)
def test_the_smallest_range_that_holds_the_reading_is_chosen(reading, label):
    assert range_for(volts(), reading, "", "here").label == label


@pytest.mark.parametrize("named", ["60 V", "60.00 V", "60000 mV", "0.06 kV"])
def test_a_range_may_be_named_in_any_unit(named):
    assert range_for(volts(), 0.5, named, "here").label == "60 V"


def test_a_range_it_does_not_have_is_named_with_those_it_has():
    with pytest.raises(InputError, match="no range '7 V'. It has: 600 mV, 6 V, 60 V"):
        range_for(volts(), 0.5, "7 V", "here")


def test_a_reading_above_every_range_is_refused():
    with pytest.raises(InputError, match="61 V is above every range of DC V") as caught:
        range_for(volts(), 61.0, "", "here")
    assert "record 'OL V'" in str(caught.value)


def test_the_only_function_that_measures_a_unit_is_found_by_it():
    ohms = {**VOLTS, "unit": "ohm", "ranges": ["6.000 kohm"]}
    both = meter(Ω=ohms)
    assert both.function_for("mV", "", "here").name == "DC V"
    assert both.function_for("Mohm", "", "here").name == "Ω"
    with pytest.raises(InputError, match=r"nothing fits. It has: DC V \[V\], Ω"):
        both.function_for("A", "", "here")


def test_two_functions_of_one_unit_must_be_told_apart_by_name():
    both = meter(**{"AC V": VOLTS})
    assert both.function_for("V", "AC V", "here").name == "AC V"
    with pytest.raises(InputError, match="several functions measure V"):
        both.function_for("V", "", "here")
    with pytest.raises(InputError, match="nothing fits"):
        both.function_for("V", "Hz", "here")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unit": None}, "unit is missing"),
        ({"accuracy": None}, "accuracy is missing"),
        ({"ranges": None}, "ranges is missing"),
        ({"ranges": []}, "ranges must be a list"),
        ({"ranges": "6 V"}, "ranges must be a list"),
        ({"ranges": ["6"]}, "has no unit"),
        ({"unit": "blip"}, "'blip' is not known"),
        ({"accuracy": "good"}, "accuracy 'good'"),
        ({"accuracy": "±0.1 A"}, "cannot be converted"),
        ({"offset_shared": "yes"}, "offset_shared must be true or false"),
    ],
)
def test_a_mistake_in_a_function_is_named(change, said):
    table = {k: v for k, v in {**VOLTS, **change}.items() if v is not None}
    assert said in refusal({"DC V": table})


@pytest.mark.parametrize(
    "written",
    [
        "6.000 A",
        "? V",
        "OL V",
        "0 V",
        "",
        "six V",
    ],
)
def test_a_range_that_is_no_number_of_the_unit_is_refused(written):
    assert "range" in refusal({"DC V": {**VOLTS, "ranges": [written]}})


@pytest.mark.parametrize("named", ["6 A", "? V"])
def test_a_named_range_of_another_unit_is_refused(named):
    with pytest.raises(InputError):
        range_for(volts(), 0.5, named, "here")


def test_an_instrument_without_function_shows_how_to_add_one():
    assert "Add a table such as" in refusal({"interval_months": 12})


def test_an_instrument_that_only_captures_are_taken_with_needs_no_function():
    scope = instrument_from(
        "scope",
        {"description": "invented, 8 bits", "calibrated": dt.date(2026, 1, 31)},
        "instruments.toml, scope",
    )
    assert scope.functions == ()
    assert "calibrated 2026-01-31" in scope.calibration_state(dt.date(2026, 6, 1))
    with pytest.raises(InputError, match=r'scope has no function.*\[scope."DC V"\]'):
        scope.function_for("V", "", "V")


@pytest.mark.parametrize("key", ["lead_resistance", "zero_drift", "accuracy"])
def test_what_belongs_to_a_function_is_not_overheard_beside_it(key):
    said = refusal({"DC V": VOLTS, key: "0.2 ± 0.1 ohm"})
    assert f"{key} belongs to a function" in said


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"calibrated": "soon"}, "must be a date such as 2026-01-31"),
        ({"interval_months": 0}, "whole number above 0"),
        ({"interval_months": 1.5}, "whole number above 0"),
    ],
)
def test_a_mistake_about_calibration_is_named(fields, said):
    assert said in refusal({"DC V": VOLTS, **fields})


@pytest.mark.parametrize(
    ("fields", "today", "said"),
    [
        ({}, dt.date(2026, 1, 1), "calibration not stated"),
        ({"calibrated": dt.date(2025, 1, 31)}, dt.date(2026, 1, 1), "interval not st"),
        (
            {"calibrated": dt.date(2025, 1, 31), "interval_months": 12},
            dt.date(2026, 1, 30),
            "within interval (12 months)",
        ),
        (
            {"calibrated": dt.date(2025, 1, 31), "interval_months": 12},
            dt.date(2026, 1, 31),
            "interval exceeded (12 months)",
        ),
        (
            {"calibrated": dt.date(2025, 12, 31), "interval_months": 1},
            dt.date(2026, 1, 30),
            "within interval",
        ),
    ],
)
def test_the_state_of_the_calibration_follows_from_the_day(fields, today, said):
    assert said in meter(**fields).calibration_state(today)


def test_other_fields_are_kept_for_display():
    kept = meter(input_resistance="10 MΩ", description="mine")
    assert kept.description == "mine"
    assert kept.details == (("input_resistance", "10 MΩ"),)


def test_a_range_is_told_by_the_last_digit_that_was_written():
    # "0.000 V" was not read on 600.0 mV, which would have shown 0.0 mV.
    volts = meter_function("600.0 mV", "6.000 V", "60.00 V")
    assert range_for(volts, 0.0, "", "here", step=0.001).label == "6 V"
    assert range_for(volts, 0.0, "", "here", step=0.0001).label == "600 mV"
    assert range_for(volts, 0.0, "", "here", step=0.01).label == "60 V"
    # A zero left out, or a digit no range shows: the smallest that holds it.
    assert range_for(volts, 5.0, "", "here", step=1.0).label == "6 V"


def meter_function(*ranges):
    table = {"unit": "V", "accuracy": "±(0.5 % + 3 digits)", "ranges": list(ranges)}
    return instrument_from("meter", {"DC V": table}, "here").functions[0]

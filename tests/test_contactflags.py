"""Flags about readings at contacts: each appears when it should, and not otherwise."""

from dataclasses import replace

import pytest

from benchproof.measuring.contactflags import (
    Observed,
    limits_of,
    reads_zero,
    survey_flags,
)
from benchproof.measuring.contacts import (
    Contact,
    ForbiddenPair,
    SurveyPlan,
    resistance_name,
    voltage_name,
)
from benchproof.measuring.instruments import instrument_from
from benchproof.measuring.measurands import evaluate
from benchproof.measuring.readings import Reading
from benchproof.values.quantities import read_values

# An invented meter of 10 MΩ.
METER = instrument_from(
    "meter",
    {
        "DC V": {"unit": "V", "accuracy": "±(0.5 % + 3 digits)", "ranges": ["6.000 V"]},
        "Ω": {
            "unit": "ohm",
            "accuracy": "±(0.8 % + 5 digits)",
            "ranges": ["600.0 ohm", "600.0 kohm", "6.000 Mohm", "60.00 Mohm"],
        },
    },
    "instruments.toml",
)
PLAN = SurveyPlan(
    tuple(Contact(n) for n in ("P1", "P2", "P3")),
    ("asleep", "awake"),
    ("pack out",),
    "P2",
    (ForbiddenPair("P1", "P3", "fuse"),),
)


def measured(name, text, at):
    readings = [
        Reading("r-0001", 1, name, value, "meter", at=at) for value in read_values(text)
    ]
    return evaluate(name, readings, {"meter": METER})


def seen(volts, ohms=None, input_ohm=10e6, at=""):
    """Observe e.g. ``{("P1", "asleep"): "0.000 V"}``."""
    voltages = {k: measured(voltage_name(*k), v, at) for k, v in volts.items()}
    resistances = {
        k: measured(resistance_name(*k), v, at) for k, v in (ohms or {}).items()
    }
    texts = {m.name: m.name for m in (*voltages.values(), *resistances.values())}
    known = {"meter": input_ohm} if input_ohm else {}
    return Observed(PLAN, voltages, resistances, texts, known)


def kinds(observed):
    return [flag.kind for flag in survey_flags(observed)]


def flag_of(observed, kind):
    (flag,) = [flag for flag in survey_flags(observed) if flag.kind == kind]
    return flag


BOTH = {("P1", "asleep"): "0.000 V", ("P1", "awake"): "3.299 V"}
LOW = {("P1", "P2", "pack out"): "98.0 kohm"}


def test_a_zero_is_flagged_while_nothing_is_known_of_the_path_to_the_reference():
    flag = flag_of(seen(BOTH), "floating")
    assert flag.about == ("V_P1_asleep",)
    assert "P1, asleep" in flag.sentence
    assert "to P2 is not measured" in flag.sentence
    assert "10 MΩ" in flag.sentence
    assert "Read the ohms unpowered" in flag.sentence


def test_a_zero_is_not_flagged_where_a_low_path_holds_it():
    assert "floating" not in kinds(seen(BOTH, LOW))


@pytest.mark.parametrize("text", ["OL Mohm", "4.900 Mohm", ">30 ohm"])
def test_a_zero_is_flagged_where_the_meter_may_be_the_lowest_path(text):
    ohms = {("P1", "P2", "pack out"): text}
    assert "floating" in kinds(seen(BOTH, ohms))


@pytest.mark.parametrize(("text", "flagged"), [("990 kohm", False), ("1.1 Mohm", True)])
def test_a_zero_is_flagged_from_a_tenth_of_the_input_resistance_on(text, flagged):
    ohms = {("P1", "P2", "pack out"): text}
    assert ("floating" in kinds(seen(BOTH, ohms))) is flagged


def test_the_polarity_with_the_red_lead_on_the_contact_is_preferred():
    ohms = {("P2", "P1", "pack out"): "98.0 kohm"}
    assert "floating" not in kinds(seen(BOTH, ohms))
    ohms[("P1", "P2", "pack out")] = "OL Mohm"
    assert "floating" in kinds(seen(BOTH, ohms))


def test_ohms_of_a_powered_state_settle_no_floating_contact():
    ohms = {("P1", "P2", "awake"): "98.0 kohm"}
    assert "floating" in kinds(seen(BOTH, ohms))


def test_a_zero_is_flagged_while_the_input_resistance_is_not_declared():
    assert "not declared" in flag_of(seen(BOTH, LOW, None), "floating").sentence


@pytest.mark.parametrize(
    ("text", "zero"),
    [
        ("0.000 V", True),
        # ±(0.5 % + 3 mV) rectangular: u = 1.7 mV.
        ("0.003 V", True),
        ("-0.003 V", True),
        ("0.005 V", False),
        ("0.021 V", False),
        ("<0.5 mV", True),
        (">1 V", False),
    ],
)
def test_a_reading_is_zero_within_twice_its_standard_uncertainty(text, zero):
    assert reads_zero(measured("V_P1_asleep", text, "")) is zero


def test_a_loaded_contact_is_flagged_when_the_shift_exceeds_the_uncertainty():
    volts = {("P1", "asleep"): "3.284 V", ("P1", "awake"): "3.28 V"}
    flag = flag_of(seen(volts, LOW), "loaded")
    # 98 kΩ of 10.098 MΩ is 0.97 %, 32 mV; u is 10 mV.
    assert "0.97 %" in flag.sentence
    assert "unloaded_voltage" in flag.sentence
    assert flag.about == ("V_P1_asleep", "V_P1_awake")


def test_a_negative_voltage_is_loaded_as_much():
    volts = {("P1", "asleep"): "-3.284 V", ("P1", "awake"): "-3.28 V"}
    assert flag_of(seen(volts, LOW), "loaded").about == ("V_P1_asleep", "V_P1_awake")


def test_a_contact_of_low_resistance_is_not_called_loaded():
    ohms = {("P1", "P2", "pack out"): "10.0 kohm"}
    assert "loaded" not in kinds(seen(BOTH, ohms))


def test_a_path_beyond_the_meter_is_called_a_large_part_not_a_number():
    ohms = {("P1", "P2", "pack out"): "OL Mohm"}
    assert "a large part" in flag_of(seen(BOTH, ohms), "loaded").sentence


def test_a_path_near_that_of_the_meter_loads_however_small_the_voltage():
    # 1.5 MΩ of 10 MΩ move 7 mV by 1 mV, less than u of its three digits, 1.7 mV.
    volts = {("P1", "asleep"): "0.007 V", ("P1", "awake"): "0.007 V"}
    ohms = {("P1", "P2", "pack out"): "1.500 Mohm"}
    assert "loaded" in kinds(seen(volts, ohms))


def test_that_it_did_not_beep_does_not_make_a_contact_loaded():
    ohms = {("P1", "P2", "pack out"): ">30 ohm"}
    assert "loaded" not in kinds(seen(BOTH, ohms))


def test_a_single_state_is_flagged_with_those_that_are_missing():
    flag = flag_of(seen({("P1", "awake"): "3.299 V"}), "one state")
    assert "P1: voltage read awake only; asleep not measured" in flag.sentence
    assert "one state" not in kinds(seen(BOTH))


def test_a_voltage_without_power_is_no_second_state():
    volts = {("P1", "awake"): "3.299 V", ("P1", "pack out"): "0.000 V"}
    assert kinds(seen(volts)) == ["one state"]


def test_a_device_with_one_state_is_not_asked_for_another():
    one = replace(PLAN, powered=("awake",))
    observed = replace(seen({("P1", "awake"): "3.299 V"}), plan=one)
    assert "one state" not in kinds(observed)


def test_contacts_equal_to_the_last_digit_are_flagged():
    volts = {("P1", "awake"): "3.284 V", ("P3", "awake"): "3.284 V"}
    flag = flag_of(seen(volts), "equal")
    assert flag.sentence.startswith("P1 and P3, awake: equal to the last digit")
    assert flag.about == ("V_P1_awake", "V_P3_awake")


def test_readings_of_two_resolutions_are_equal_to_the_coarser_digit():
    volts = {("P1", "awake"): "3.281 3.28 V", ("P3", "awake"): "3.28 V"}
    assert "equal" in kinds(seen(volts))


@pytest.mark.parametrize(
    ("first", "second"),
    [("3.284 V", "3.285 V"), ("0.000 V", "0.000 V"), ("3.28 V", "3.280 V")],
)
def test_other_digits_zeros_and_other_resolutions_are_not_equal(first, second):
    volts = {("P1", "awake"): first, ("P3", "awake"): second}
    assert "equal" not in kinds(seen(volts))


def test_equal_values_in_different_states_are_not_compared():
    volts = {("P1", "awake"): "3.284 V", ("P3", "asleep"): "3.284 V"}
    assert "equal" not in kinds(seen(volts))


def test_ohms_between_two_contacts_settle_their_equality():
    volts = {("P1", "awake"): "3.284 V", ("P3", "awake"): "3.284 V"}
    ohms = {("P3", "P1", "pack out"): "190.0 kohm"}
    assert "equal" not in kinds(seen(volts, ohms))
    powered = {("P3", "P1", "awake"): "190.0 kohm"}
    assert "equal" in kinds(seen(volts, powered))


def test_ohms_in_a_powered_state_are_flagged():
    flag = flag_of(seen({}, {("P1", "P2", "awake"): "12.0 ohm"}), "powered")
    assert "P1 to P2, awake" in flag.sentence
    assert "(pack out)" in flag.sentence
    assert "powered" not in kinds(seen({}, {("P1", "P2", "pack out"): "12.0 ohm"}))


@pytest.mark.parametrize(
    ("text", "flagged"),
    [
        ("1.900 Mohm", True),
        ("310 kohm", True),
        ("290 kohm", False),
        ("10.2 Mohm", False),
        ("OL Mohm", False),
    ],
)
def test_what_a_body_can_read_is_flagged_unless_it_was_clipped(text, flagged):
    ohms = {("P3", "P2", "pack out"): text}
    assert ("body" in kinds(seen({}, ohms, at="P3 to P2, pack out"))) is flagged
    assert "body" not in kinds(seen({}, ohms, at="P3 to P2, pack out, Clipped"))


@pytest.mark.parametrize("at", ["unclipped", "not clipped", "clip fell off"])
def test_other_words_about_clips_do_not_count_as_clipped(at):
    assert "body" in kinds(seen({}, {("P3", "P2", "pack out"): "1.9 Mohm"}, at=at))


def test_a_forbidden_pair_is_flagged_once_with_its_reason():
    ohms = {("P1", "P3", "pack out"): "1.0 ohm", ("P3", "P1", "pack out"): "1.0 ohm"}
    flag = flag_of(seen({}, ohms), "forbidden")
    assert "declared forbidden (fuse)" in flag.sentence
    assert len(flag.about) == 2
    assert "forbidden" not in kinds(seen({}, LOW))


def test_what_concerns_safety_comes_first():
    ohms = {("P1", "P3", "awake"): "1.000 Mohm"}
    assert kinds(seen(BOTH, ohms))[:3] == ["forbidden", "powered", "body"]


def test_limits_follow_the_direction_of_a_bound():
    assert limits_of(measured("R", ">30 ohm", "")) == (30.0, float("inf"))
    assert limits_of(measured("R", "<30 ohm", "")) == (0.0, 30.0)
    assert limits_of(measured("R", "12.0 ohm", "")) == (12.0, 12.0)

"""Two instruments at one place: slips are named, nothing is rescaled."""

import math

import pytest

from benchproof.measuring.crosschecks import crosschecks, slip_of
from benchproof.measuring.instruments import instrument_from
from benchproof.measuring.measurands import evaluate
from benchproof.measuring.readings import Reading
from benchproof.values.quantities import read_values

LINE = "±(0.5 % + 3 digits)"
INSTRUMENTS = {
    name: instrument_from(name, table, "here")
    for name, table in {
        "handheld": {
            "DC V": {"unit": "V", "accuracy": LINE, "ranges": ["6.000 V", "60.00 V"]},
            "DC mA": {"unit": "mA", "accuracy": LINE, "ranges": ["60.00 mA"]},
            "Ω": {"unit": "ohm", "accuracy": LINE, "ranges": ["6.000 kohm"]},
            "°C": {"unit": "°C", "accuracy": "±1 °C", "ranges": ["600.0 °C"]},
        },
        "scope": {
            "DC V": {"unit": "V", "accuracy": "±(3 % of range)", "ranges": ["16.00 V"]},
            "AC V": {"unit": "V", "accuracy": "±3 %", "ranges": ["16.00 V"]},
        },
        "clamp": {
            "DC A": {"unit": "A", "accuracy": "±(2 % + 2 mA)", "ranges": ["60.00 A"]},
        },
        "bridge": {
            "Ω": {"unit": "ohm", "accuracy": "±1 %", "ranges": ["600.0 kohm"]},
        },
        "contact thermometer": {
            "°C": {"unit": "°C", "accuracy": "±1 °C", "ranges": ["600.0 °C"]},
        },
    }.items()
}


def said(*readings):
    """Give the warnings on readings (measurand, text, instrument, place, function)."""
    measured = {}
    for name, text, instrument, at, *function in readings:
        rows = [
            Reading("", 1, name, value, instrument, *function, at=at)
            for value in read_values(text)
        ]
        measured[name] = evaluate(name, rows, INSTRUMENTS)
    return crosschecks(measured, INSTRUMENTS)


def test_a_probe_ratio_set_wrong_is_named_on_both_measurands():
    found = said(
        ("V_meter", "14.86 V", "handheld", "strip"),
        ("V_scope", "1.49 V", "scope", "strip", "DC V"),
    )
    assert set(found) == {"V_meter", "V_scope"}
    assert found["V_meter"] == found["V_scope"]
    (warning,) = found["V_meter"]
    assert "V_scope 1.49" in warning
    assert "a factor of 10 (9.97) apart" in warning
    assert "probe ratio" in warning
    assert "Nothing was rescaled" in warning


@pytest.mark.parametrize(
    ("clamp", "factor", "cause"),
    [
        ("2.65 A", "100", "scale of a clamp"),
        ("26.5 A", "1000", "prefix"),
        ("0.53 A", "20", "scale of a clamp"),
    ],
)
def test_the_probable_slip_depends_on_factor_and_quantity(clamp, factor, cause):
    found = said(
        ("I_clamp", clamp, "clamp", "lead"), ("I_meter", "26.5 mA", "handheld", "lead")
    )
    assert f"a factor of {factor} (" in found["I_clamp"][0]
    # 0.5 % of 26.5 mA, three digits of 0.01 mA: √(0.1325² + 0.03²)/√3.
    assert "I_meter 26.500(78) mA (handheld)" in found["I_clamp"][0]
    assert cause in found["I_clamp"][0]


def test_a_slipped_decimal_of_ohms_is_not_called_a_probe_ratio():
    found = said(
        ("R_1", "1.500 kohm", "handheld", "coil"),
        ("R_2", "15.00 kohm", "bridge", "coil"),
    )
    assert "wrong range or a slipped decimal" in found["R_1"][0]


@pytest.mark.parametrize(
    ("ratio", "flagged"),
    [(9.51, True), (9.49, False), (10.49, True), (10.51, False), (1.04, False),
     (0.1049, True), (0.1062, False), (19.5, True), (52.0, True), (30.0, False)],
)  # fmt: skip
def test_a_ratio_counts_within_five_per_cent_of_an_exact_factor(ratio, flagged):
    assert bool(slip_of(1.0, ratio, "V")) is flagged
    assert bool(slip_of(ratio, 1.0, "V")) is flagged


@pytest.mark.parametrize(
    ("first", "second", "unit"),
    [(0.0, 1.0, "V"), (-1.0, 10.0, "V"), (29.3, 293.0, "°C")],
)
def test_no_slip_is_named_for_zero_opposite_signs_or_temperatures(first, second, unit):
    assert slip_of(first, second, unit) == ""


def test_a_plain_disagreement_is_said_in_u_of_the_difference():
    found = said(
        ("V_1", "5.000 V", "handheld", "rail"),
        ("V_2", "7.00 V", "scope", "rail", "DC V"),
    )
    offsets = math.hypot(0.025, 0.003, 0.48) / math.sqrt(3)
    assert f"{2 / offsets:.2g} u of their difference apart" in found["V_1"][0]


def test_what_agrees_within_its_uncertainty_is_left_in_peace():
    # The scope's 3 % of 16 V: 0.05 V and 0.5 V are a factor of ten and tell nothing.
    assert (
        said(
            ("V_1", "0.500 V", "handheld", "rail"),
            ("V_2", "0.05 V", "scope", "rail", "DC V"),
        )
        == {}
    )


@pytest.mark.parametrize(
    "other",
    [
        ("V_2", "1.200 V", "scope", "socket", "DC V"),
        ("V_2", "1.200 V", "handheld", "rail"),
        ("V_2", "1.200 V", "scope", "rail", "AC V"),
        ("I_2", "1.200 A", "clamp", "rail"),
        ("V_2", "OL V", "scope", "rail", "DC V"),
        ("V_2", "1.200(1) V", "", "rail"),
    ],
    ids=["elsewhere", "one meter", "AC", "another quantity", "over-range", "no meter"],
)
def test_only_values_of_one_place_and_quantity_by_two_meters_are_compared(other):
    assert said(("V_1", "12.00 V", "handheld", "rail"), other) == {}


@pytest.mark.parametrize(
    "ways",
    [
        [("scope", "rail"), ("scope", "socket")],
        [("scope", "rail"), ("handheld", "rail")],
        [("scope", " "), ("scope", " ")],
    ],
    ids=["two places", "two meters", "a blank place"],
)
def test_a_mean_over_places_or_meters_is_compared_with_nothing(ways):
    one = Reading("", 1, "V_1", *read_values("12.00 V"), "handheld", at=ways[0][1])
    others = [
        Reading("", 1, "V_2", *read_values("1.20 V"), meter, "DC V", at=at)
        for meter, at in ways
    ]
    measured = {
        "V_1": evaluate("V_1", [one], INSTRUMENTS),
        "V_2": evaluate("V_2", others, INSTRUMENTS),
    }
    assert crosschecks(measured, INSTRUMENTS) == {}


def test_readings_without_a_place_are_not_compared():
    assert (
        said(
            ("V_1", "12.00 V", "handheld", ""), ("V_2", "1.200 V", "scope", "", "DC V")
        )
        == {}
    )


def test_the_place_is_compared_whatever_its_spacing_and_capitals():
    found = said(
        ("V_1", "12.00 V", "handheld", "Rail,  idle"),
        ("V_2", "1.200 V", "scope", "rail, idle", "DC V"),
    )
    assert set(found) == {"V_1", "V_2"}


def test_temperatures_that_disagree_are_said_in_kelvin_apart():
    found = said(
        ("T_1", "20.0 °C", "handheld", "case"),
        ("T_2", "60.0 °C", "contact thermometer", "case"),
    )
    u = math.sqrt(2 / 3)
    assert f"{40 / u:.2g} u of their difference" in found["T_1"][0]


def test_a_place_named_too_broadly_does_not_flood_the_reader():
    others = [(f"V_{i}", f"{20 + i}.00 V", "handheld", "bench") for i in range(5)]
    found = said(("V_s", "4.000 V", "scope", "bench", "DC V"), *others)
    assert len(found["V_s"]) == 4
    assert found["V_s"][-1].startswith("2 more readings of this place")
    assert len(found["V_4"]) == 1


# In a case --------------------------------------------------------------------------


def test_a_slip_warns_every_result_and_goes_when_it_is_corrected(case):
    case.record("V_1", "12.00 V", using="handheld", at="rail")
    case.record("V_2", "1.200 V", using="twin", at="rail")

    @case.derive(unit="V")
    def doubled(V_1):
        return 2 * V_1

    assert "a factor of 10" in str(case.budget("doubled"))
    assert case["V_2"].value.magnitude.nominal_value == pytest.approx(1.2)
    assert "Nothing was rescaled" in str(case.report("quantities"))
    case.record("V_2", "12.00 V", using="twin", at="rail", because="probe on 10×")
    assert "a factor of 10" not in str(case.budget("doubled"))


def test_an_earlier_round_keeps_the_slip_it_had(case):
    case.record("V_1", "12.00 V", using="handheld", at="rail")
    case.record("V_2", "1.200 V", using="twin", at="rail")
    case.new_round(because="probe switched")
    case.record("V_2", "12.00 V", using="twin", at="rail")
    assert case.state().warnings("V_1") == []
    assert "a factor of 10" in case.at_round(1).state().warnings("V_1")[0]

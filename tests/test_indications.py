import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.measuring.indications import indication_of, indications_of
from benchproof.measuring.instruments import instrument_from
from benchproof.measuring.measurands import evaluate
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values

VOLTS = {"unit": "V", "accuracy": "±(0.5 % + 3 digits)", "ranges": ["6.000 V"]}


def meter(**more):
    table = {"DC V": VOLTS | more.pop("function", {}), **more}
    return {"meter": instrument_from("meter", table, "instruments.toml")}


def measured(text, instruments, name="V", time=""):
    rows = [
        Reading(f"r-{i}", 1, name, value, "meter", time=time)
        for i, value in enumerate(read_values(text))
    ]
    return evaluate(name, rows, instruments)


def contributions(result):
    return {s.name: abs(c) * s.standard_uncertainty for s, c in result.estimate.parts}


def test_an_influence_is_one_source_shared_by_the_function():
    declared = meter(function={"zero_drift": "2 mV", "probe_ratio": "1 %"})
    one = contributions(measured("5.000 V", declared, "a"))
    two = contributions(measured("2.000 V", declared, "b"))
    assert one["meter · DC V · zero drift"] == pytest.approx(2e-3 / math.sqrt(3))
    assert one["meter · DC V · probe ratio"] == pytest.approx(0.05 / math.sqrt(3))
    assert two["meter · DC V · probe ratio"] == pytest.approx(0.02 / math.sqrt(3))
    assert one.keys() & two.keys() >= {
        "meter · DC V · zero drift",
        "meter · DC V · probe ratio",
    }


def test_repeats_do_not_average_an_influence_away():
    declared = meter(function={"zero_drift": "2 mV"})
    many = contributions(measured("5.000 5.001 5.002 5.001 V", declared))
    assert many["meter · DC V · zero drift"] == pytest.approx(2e-3 / math.sqrt(3))


def test_outside_the_reference_band_the_accuracy_line_widens():
    # 3 K beyond the band at 0.1 of the line per kelvin: 30 % of 28 mV more.
    warm = meter(
        temperature_coefficient="0.1 × accuracy / K",
        reference_band="18 °C to 28 °C",
        ambient="31 °C",
    )
    found = contributions(measured("5.000 V", warm))
    assert found["meter · DC V · 6 V · temperature"] == pytest.approx(
        0.3 * 0.028 / math.sqrt(3)
    )


def test_the_line_widens_alike_in_a_function_of_another_prefix():
    millivolts = meter(
        function={"unit": "mV", "ranges": ["6000 mV"]},
        temperature_coefficient="0.1 × accuracy / K",
        reference_band="18 °C to 28 °C",
        ambient="31 °C",
    )
    found = contributions(measured("5000 mV", millivolts))
    (u,) = [u for name, u in found.items() if name.endswith("temperature")]
    assert u == pytest.approx(0.3 * 0.028 / math.sqrt(3))
    (gain,) = [u for name, u in found.items() if name.endswith("gain")]
    assert gain == pytest.approx(0.025 / math.sqrt(3))


def test_within_the_band_nothing_is_added():
    mild = meter(
        temperature_coefficient="0.1 × accuracy / K",
        reference_band="18 °C to 28 °C",
        ambient="23 °C",
    )
    within = measured("5.000 V", mild)
    assert "temperature" not in str(list(contributions(within)))
    assert within.warnings == ()


def test_a_coefficient_without_an_ambient_warns_instead():
    unknown = meter(
        temperature_coefficient="0.1 × accuracy / K", reference_band="18 °C to 28 °C"
    )
    assert "ambient" in " ".join(measured("5.000 V", unknown).warnings)


def test_an_exceeded_calibration_warns_by_the_day_of_the_reading():
    old = meter(calibrated=dt.date(2025, 1, 31), interval_months=12)
    late = measured("5.000 V", old, time="2026-01-31T10:00:00Z")
    early = measured("5.000 V", old, time="2026-01-30T10:00:00Z")
    assert "calibration interval exceeded when read" in " ".join(late.warnings)
    assert early.warnings == ()


def test_an_offset_knows_the_pool_it_would_share():
    parts = dict(measured("5.000 V", meter()).estimate.parts)
    (offset,) = [s for s in parts if s.pool]
    assert offset.name == f"V · {offset.pool}"
    assert offset.pool == "meter · DC V · 6 V · offset"


@settings(max_examples=200)
@given(st.lists(st.sampled_from(["0.30", "0.300", "-5.1", "12", "61.0"]), min_size=1))
def test_readings_put_together_are_on_the_range_each_is_on_alone(numbers):
    ranges = ["600.0 mV", "6.000 V", "60.00 V", "600.0 V"]
    meters = meter(function={"ranges": ranges})
    values = [read_values(f"{number} V")[0] for number in numbers]
    rows = [Reading(f"r-{i}", 1, "V", v, "meter") for i, v in enumerate(values)]
    found = {
        reading.row: (shown.range.label, value)
        for shown in indications_of(rows, meters)
        for reading, value in zip(shown.readings, shown.values, strict=True)
    }
    alone = {r.row: indication_of(r, meters) for r in rows}
    assert found == {row: (i.range.label, i.values[0]) for row, i in alone.items()}


def test_readings_of_one_digit_are_told_apart_by_the_ranges_that_hold_them():
    meters = meter(function={"ranges": ["6.0 V", "60.0 V"]})
    rows = [
        Reading(f"r-{i}", 1, "V", read_values(f"{n} V")[0], "meter")
        for i, n in enumerate(["5.1", "12.0", "-0.3", "59.9"])
    ]
    found = indications_of(rows, meters)
    assert [(i.range.label, i.values) for i in found] == [
        ("6 V", (5.1, -0.3)),
        ("60 V", (12.0, 59.9)),
    ]


@pytest.mark.parametrize(
    ("text", "declared", "told"),
    [
        ("5.00 V", "", True),
        ("5.00 50.00 V", "", True),
        ("6.00 V", "", True),
        ("6.01 V", "", False),
        ("50.00 V", "", False),
        ("5.000 V", "", False),
        ("5.00 V", "60 V", False),
    ],
)
def test_a_range_is_told_by_its_digit_where_a_smaller_one_holds_the_reading(
    text, declared, told
):
    meters = meter(function={"ranges": ["6.000 V", "60.00 V"]})
    rows = [
        Reading("r", 1, "V", value, "meter", range=declared)
        for value in read_values(text)
    ]
    (found,) = indications_of(rows, meters)
    assert found.told_by_digit is told


def test_an_instrument_that_is_not_declared_is_named_with_those_that_are():
    with pytest.raises(InputError, match=r"'meter' is not .* \(there: none\)"):
        measured("5.000 V", {})
    others = {"other": meter()["meter"]}
    with pytest.raises(InputError, match=r"\(there: other\)"):
        measured("5.000 V", others)


def test_only_a_shared_offset_leaves_the_rounding_to_each_reading():
    own = contributions(measured("5.000 V", meter()))
    assert own == pytest.approx(
        {
            "meter · DC V · 6 V · gain": 0.025 / math.sqrt(3),
            "V · meter · DC V · 6 V · offset": 0.003 / math.sqrt(3),
        }
    )
    shared = contributions(measured("5.000 V", meter(function={"offset_shared": True})))
    assert shared == pytest.approx(
        {
            "meter · DC V · 6 V · gain": 0.025 / math.sqrt(3),
            "meter · DC V · 6 V · offset": 0.003 / math.sqrt(3),
            "V · meter · DC V · 6 V · resolution": 0.0005 / math.sqrt(3),
        }
    )


def test_a_mean_over_two_ranges_has_the_offset_of_each_by_its_share():
    ranges = meter(function={"ranges": ["6.000 V", "60.00 V"]})
    found = contributions(measured("5.000 5.000 5.00 V", ranges))
    offsets = {name: u for name, u in found.items() if name.endswith("offset")}
    assert offsets == pytest.approx(
        {
            "V · meter · DC V · 6 V · offset": 2 / 3 * 0.003 / math.sqrt(3),
            "V · meter · DC V · 60 V · offset": 1 / 3 * 0.03 / math.sqrt(3),
        }
    )


def test_a_mean_over_two_ranges_has_the_gain_of_each_by_its_share():
    found = measured("5.000 5.00 V", meter(function={"ranges": ["6.000 V", "60.00 V"]}))
    gains = {s.name: c for s, c in found.estimate.parts if s.name.endswith("gain")}
    assert gains == {
        "meter · DC V · 6 V · gain": 2.5,
        "meter · DC V · 60 V · gain": 2.5,
    }


def test_an_unknown_key_of_a_function_is_refused_with_those_known():
    with pytest.raises(InputError, match="'zero_drfit' is not one of unit"):
        meter(function={"zero_drfit": "2 mV"})


@pytest.mark.parametrize("text", ["5.000 5.000 5.000 V", "0.000 0.000 V"])
def test_identical_readings_still_have_an_uncertainty(text):
    exact = meter(function={"accuracy": "±(0 %)"})
    result = measured(text, exact)
    u = math.hypot(*contributions(result).values())
    assert u == pytest.approx(0.001 / math.sqrt(12))  # JCGM 100:2008, F.2.2.1

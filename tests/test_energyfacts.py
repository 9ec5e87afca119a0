"""What follows from a declared energy source, against the formula sheet."""

import math

import pytest

from benchproof.reasoning.energies import energy_from
from benchproof.reasoning.energyfacts import facts_of, grounds_of


def source(kind, **more):
    return energy_from({"name": "x", "kind": kind} | more, "case.toml")


def facts(kind, **more):
    return {fact.key: fact for fact in facts_of(source(kind, **more))}


def test_stored_energy_and_bleed_time_are_those_of_the_formula_sheet():
    # ½CV² of 1000 µF at 19 V is 0.1805 J; 1 kΩ takes it to 1 V in RC ln 19 = 2.944 s.
    found = facts(
        "stored charge", capacitance="1000 uF", voltage="19 V",
        bleed="1 kohm", bleed_to="1 V",
    )  # fmt: skip
    number, unit = found["energy"].value.split()
    assert (float(number), unit) == (pytest.approx(0.1805, abs=0.00051), "J")
    assert found["target_time"].value == "2.94 s"
    assert found["target_time"].what == "bleed time to 1 V"


def test_bleeding_to_the_touch_limit_starts_at_the_voltage_stated():
    found = facts(
        "stored charge", capacitance="100 uF", voltage="400 V", bleed="10 kohm"
    )
    assert found["limit_time"].value == f"{math.log(400 / 60):.2f} s"
    assert "takes 16.0 W at first" in found["bleed"].means


def test_where_bleeding_may_end_is_shown_once():
    full = {"capacitance": "1 mF", "voltage": "12 V", "bleed": "1 kohm"}
    found = facts("stored charge", bleed_to="0.1 V", **full)
    assert "bleed_to" not in found
    assert found["target_time"].what == "bleed time to 0.1 V"
    assert facts("stored charge", bleed_to="0.1 V")["bleed_to"].value == "0.1 V"


def test_a_capacitor_that_starts_below_the_limit_is_not_called_safe():
    found = facts(
        "stored charge", capacitance="2200 uF", voltage="12.1 V", bleed="100 ohm"
    )
    assert found["limit_time"].value == "0 s"
    assert "does not say that it is safe" in found["limit_time"].means
    assert "does not say that it is safe" in found["voltage"].means
    assert not any(fact.above for fact in found.values())


def test_above_the_touch_limit_the_charge_is_compared_too():
    found = facts("stored charge", capacitance="100 nF", voltage="400 V")
    assert (found["charge"].value, found["charge"].above) == ("40.0 µC", False)
    more = facts("stored charge", capacitance="220 nF", voltage="400 V")
    assert (more["charge"].value, more["charge"].above) == ("88.0 µC", True)
    assert "charge" not in facts("stored charge", capacitance="1 F", voltage="12 V")


def test_a_capacitor_across_the_mains_may_keep_the_peak():
    found = facts("mains", capacitance="100 nF", voltage="230 V")
    assert found["energy"].value == "0.00529 J"  # C V² of an rms voltage
    assert "at the peak of 325 V (a sine taken)" in found["energy"].means
    assert found["voltage"].value == "230 V, taken as AC rms"


def test_a_supply_of_unstated_waveform_counts_as_the_worst():
    found = facts("supply", voltage="20 V", capacitance="1 mF")
    assert found["voltage"].above
    assert "waveform not stated" in found["voltage"].means
    assert found["energy"].value == "0.400 J"
    stated = facts("supply", voltage="20 V", capacitance="1 mF", waveform="dc")
    assert not stated["voltage"].above
    assert stated["energy"].value == "0.200 J"


def test_source_power_is_voltage_times_current_limit():
    found = facts("supply", voltage="12 V", waveform="dc", current_limit="3 A")
    assert found["power"].value == "36.0 W"
    assert "no limit is kept for it" in found["power"].means


def test_the_energy_of_a_cell_is_its_capacity_times_its_voltage():
    found = facts("lithium cells", voltage="3.7 V", capacity="2000 mAh")
    assert found["cell"].value == "26.6 kJ"  # 26 640 J, three figures
    small = facts("lithium cells", voltage="3.7 V", capacity="100 mAh")
    assert small["cell"].value == "1.33 kJ"
    tiny = facts("lithium cells", voltage="3.7 V", capacity="50 mAh")
    assert tiny["cell"].value == "666 J"


def test_of_an_uncertain_value_the_worse_end_counts():
    found = facts(
        "stored charge", capacitance="100 ± 20 uF (limits)", voltage="100 V",
        bleed="1.0 ± 0.1 kohm (limits)",
    )  # fmt: skip
    assert found["energy"].value == "0.600 J"
    # 1.1 kΩ × 120 µF × ln(100/60)
    assert found["limit_time"].value == "0.0674 s"
    assert "takes 11.1 W" in found["bleed"].means


@pytest.mark.parametrize(
    ("kind", "keys"),
    [
        ("stored charge", ["voltage", "capacitance", "bleed"]),
        ("lithium cells", ["voltage", "capacity", "current_limit"]),
        ("mains", ["voltage", "current_limit"]),
        ("supply", ["voltage", "current_limit"]),
        ("heat", ["temperature", "duration"]),
        ("lasers", []),
        ("moving parts", []),
    ],
)
def test_what_is_asked_of_a_kind_is_shown_as_not_stated(kind, keys):
    found = facts(kind)
    assert list(found) == keys
    assert all(fact.value == "not stated" for fact in found.values())


def test_a_missing_value_says_what_it_leaves_open():
    found = facts("stored charge", capacitance="1 mF", bleed="1 kohm")
    assert found["voltage"].means == (
        "not computed: comparison with the touch limits, stored energy, bleed time"
    )
    charged = facts("stored charge", capacitance="1 mF", voltage="5 V")
    assert charged["bleed"].means == "not computed: bleed time"
    assert facts("supply", voltage="5 V")["current_limit"].means == (
        "not computed: source power"
    )
    assert "lowest" in facts("heat", temperature="45 degC")["duration"].means


def test_a_hot_surface_is_compared_for_the_stated_contact():
    hot = {"temperature": "49 degC"}
    assert not facts("heat", duration="60 s", **hot)["temperature"].above
    assert facts("heat", duration="5 min", **hot)["temperature"].above
    assert facts("heat", **hot)["temperature"].above


def test_grounds_name_only_the_limits_that_were_compared_with():
    assert grounds_of((source("moving parts"), source("heat"))) == ()
    (burn, check) = grounds_of((source("heat", temperature="40 degC"),))
    assert "ISO 13732-1; from memory, not read" in burn
    assert check.startswith("Look a limit up")
    volts = grounds_of((source("supply", voltage="12 ± 1 V"),))
    assert "IEC 62368-1, editions 2 and 3; partly read" in volts[0]
    assert volts[-1] == "Of a value with ± the worse end counts."

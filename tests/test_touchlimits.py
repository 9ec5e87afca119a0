"""Touch limits: what is above, what is not, and that neither is called safe."""

import pytest

from benchproof.reasoning.touchlimits import (
    BURN_BASIS,
    CHARGE_BASIS,
    DRY,
    NOT_SAFE,
    VOLTAGE_BASIS,
    WET,
    compared_charge,
    compared_temperature,
    compared_voltage,
)

ZERO_CELSIUS = 273.15


def test_the_dry_limits_are_es1_of_iec_62368_1():
    # Editions 2 and 3; partly read, the rest from memory.
    assert (DRY.dc, DRY.ac_rms, DRY.ac_peak) == (60.0, 30.0, 42.4)


def test_the_wet_limits_are_those_recalled_from_iec_61010_1():
    # IEC 61010-1:2010, 6.3.1; from memory, not read.
    assert (WET.dc, WET.ac_rms, WET.ac_peak) == (35.0, 16.0, 22.6)


@pytest.mark.parametrize("basis", [VOLTAGE_BASIS, CHARGE_BASIS, BURN_BASIS])
def test_what_was_not_read_says_so_beside_its_numbers(basis):
    assert "from memory" in basis


@pytest.mark.parametrize(
    ("volts", "waveform", "above"),
    [
        (35.0, "dc", False),
        (35.1, "dc", True),
        (60.0, "dc", True),
        (16.0, "ac rms", False),
        (16.1, "ac rms", True),
        (22.6, "ac peak", False),
        (22.7, "ac peak", True),
    ],
)
def test_a_voltage_at_the_limit_is_not_above_it(volts, waveform, above):
    assert compared_voltage(volts, waveform).above is above


@pytest.mark.parametrize(
    ("volts", "waveform"), [(60.0, "dc"), (30.0, "ac rms"), (42.4, "ac peak")]
)
def test_between_wet_and_dry_both_limits_are_said(volts, waveform):
    found = compared_voltage(volts, waveform)
    assert found.text.startswith("above the touch limit of")
    assert f"not above that of {volts:g} V" in found.text
    assert compared_voltage(volts + 0.1, waveform).text.endswith("licensed practice")


def test_without_a_waveform_the_lowest_limits_are_taken():
    found = compared_voltage(16.1, "")
    assert found.above
    assert "waveform not stated, so the lowest are taken" in found.text
    assert not compared_voltage(16.0, "").above


def test_a_charge_is_compared_below_fifteen_kilovolts_and_an_energy_above():
    # IEC 61010-1:2010, 6.3.1; from memory, not read.
    assert not compared_charge(45e-6, 9.0, 15e3).above
    assert compared_charge(45.1e-6, 0.1, 15e3).above
    assert not compared_charge(90e-6, 0.35, 15.1e3).above
    assert compared_charge(1e-6, 0.36, 15.1e3).above
    assert "350 mJ" in compared_charge(1e-6, 0.36, 15.1e3).text


@pytest.mark.parametrize(
    ("seconds", "threshold"),
    [(1.0, 51), (60.0, 51), (61.0, 48), (600.0, 48), (601.0, 43), (28800.0, 43)],
)
def test_the_burn_threshold_falls_with_the_contact_time(seconds, threshold):
    # ISO 13732-1; numbers from memory, not read.
    found = compared_temperature(ZERO_CELSIUS + threshold, seconds)
    assert not found.above
    assert f"{threshold} °C" in found.text
    assert compared_temperature(ZERO_CELSIUS + threshold + 0.1, seconds).above


def test_without_a_contact_time_the_lowest_burn_threshold_is_taken():
    found = compared_temperature(ZERO_CELSIUS + 44, None)
    assert found.above
    assert "43 °C" in found.text
    assert "contact time not stated" in found.text


@pytest.mark.parametrize(
    "found",
    [
        compared_voltage(1.0, "dc"),
        compared_voltage(50.0, "dc"),
        compared_voltage(1.0, ""),
        compared_charge(1e-9, 1e-9, 100.0),
        compared_temperature(ZERO_CELSIUS + 20, 60.0),
    ],
)
def test_what_is_not_above_a_limit_is_not_called_safe(found):
    assert found.text.endswith(NOT_SAFE)
    assert found.text.count("safe") == 1

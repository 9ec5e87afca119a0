"""Levels and times given as text with a unit, or as a number in SI."""

import numpy as np
import pytest
from captures.invented import PLAIN, record

from benchproof import captures
from benchproof.measuring.captures.stated import in_si
from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import unit_of

DIPPED = np.full(5000, 12.0)
DIPPED[2000:3000] = 8.5
RAIL = record(DIPPED, name="rail", start=-0.02)


def same(one, two):
    return (one.value, one.standard_uncertainty) == (
        two.value,
        two.standard_uncertainty,
    )


def test_a_number_is_in_si_and_a_text_has_its_unit():
    volt = unit_of("V")
    assert in_si("250 mV", volt, "x") == in_si(0.25, volt, "x") == 0.25
    assert in_si(np.float32(0.25), volt, "x") == in_si("2.5e-1V", volt, "x") == 0.25


def test_a_temperature_is_absolute_and_a_difference_is_not():
    celsius = unit_of("degC")
    assert in_si("25 degC", celsius, "x") == pytest.approx(298.15)
    assert in_si("25 degC", celsius, "x", difference=True) == 25


@pytest.mark.parametrize("wrong", [True, "V", "4,5 V", "OL", None, np.nan, "nan V"])
def test_what_is_no_finite_number_is_refused_by_name(wrong):
    with pytest.raises(InputError, match="threshold"):
        in_si(wrong, unit_of("V"), "threshold")


def test_a_text_without_a_unit_is_refused_where_one_is_needed():
    with pytest.raises(
        InputError, match=r"threshold: '4.5' has no unit.* mV or a multiple"
    ):
        in_si("4.5", unit_of("mV"), "threshold")
    assert in_si("10", unit_of(""), "scale") == 10


def test_dips_by_text_are_those_by_numbers():
    text = {"threshold": "8.80 V", "hysteresis": "200 mV", "reference": "12 V"}
    one = captures.dips_of(RAIL, **text, shortest="1.5 ms")
    two = captures.dips_of(RAIL, 8.8, 0.2, 12.0, 1.5e-3)
    assert (one.threshold, one.back) == (two.threshold, two.back)
    assert same(one.dips[0].depth, two.dips[0].depth)


ARGUMENTS = {
    "threshold": lambda: captures.dips_of(RAIL, "8.8 A", 0.2),
    "hysteresis": lambda: captures.swells_of(RAIL, 13, "2 ms"),
    "reference": lambda: captures.dips_of(RAIL, 8.8, 0.2, "12 A"),
    "shortest": lambda: captures.dips_of(RAIL, 8.8, 0.2, shortest="12 V"),
    "off": lambda: captures.bursts_of(RAIL, "2 s", "5 V"),
    "on": lambda: captures.bursts_of(RAIL, "2 V", "5 s"),
    "low": lambda: captures.given_levels(RAIL, "0 A", "5 V"),
    "high": lambda: captures.given_levels(RAIL, "0 V", "5 A"),
    "final": lambda: captures.decay_of(RAIL, final="0 A"),
    "skew": lambda: captures.delay_between(RAIL, RAIL, skew="1 V"),
    "near": lambda: captures.tone_of(record(np.sin(np.arange(999.0))), near="1 s"),
    "first": lambda: captures.noise_of(RAIL, "1 V"),
    "last": lambda: captures.noise_of(RAIL, 0, "1 V"),
    "quiet": lambda: captures.surge_of(
        record(DIPPED, settings=captures.Settings("clamp", "CH2", unit="A")),
        quiet=("0 s", "1 V"),
    ),
}


@pytest.mark.parametrize("name", ARGUMENTS)
def test_a_text_of_another_dimension_is_refused_by_the_name_of_its_argument(name):
    with pytest.raises(UnitError, match=f", {name}: "):
        ARGUMENTS[name]()


def test_a_time_is_that_of_the_record_s_axis():
    assert RAIL.stretch("-20 ms", "0 ms") == (0, 2000)
    assert RAIL.place("0.0045 ms", "first") == 2001
    assert RAIL.stretch(10, None) == (10, 5000)


def test_a_stretch_by_times_is_that_by_sample_numbers():
    one, two = (
        captures.noise_of(RAIL, "0 ms", "10 ms"),
        captures.noise_of(RAIL, 2000, 3000),
    )
    assert one == two


def test_a_time_outside_the_record_is_refused_with_its_ends():
    with pytest.raises(InputError, match=r"first: 1 s lies outside.*-20 ms to 30 ms"):
        captures.noise_of(RAIL, "1 s")


def test_a_bare_fraction_is_no_sample_number():
    with pytest.raises(InputError, match=r"first: 0.012; give a sample number, or"):
        captures.decay_of(RAIL, 0.012)


def test_settings_take_text_and_keep_si():
    said = captures.Settings(
        "clamp", "CH2", unit="mA", bandwidth="20 kHz", full_screen="800 mA",
        accuracy="3 % of full screen", time_base="50 ppm",
    )  # fmt: skip
    assert said.unit.symbol == "mA"
    assert (said.bandwidth, said.full_screen) == (20e3, 0.8)
    assert said.time_base == pytest.approx(50e-6)


def test_settings_of_another_dimension_are_refused_by_name():
    with pytest.raises(UnitError, match="scope · CH1, bandwidth: 's'"):
        captures.Settings("scope", "CH1", bandwidth="1 s")


def test_a_part_of_full_screen_is_that_of_the_screen_in_a_smaller_unit():
    settings = captures.Settings(
        "scope", "CH1", unit="mV", full_screen="800 mV", accuracy="3 % of full screen"
    )
    found = captures.amplitudes_of(
        record(np.tile([0.1, 0.102], 500), settings=settings)
    )
    assert found["mean"].standard_uncertainty == pytest.approx(0.024 / 3**0.5, rel=0.01)


def discharge(t, V, tau):
    return V * np.exp(-t / tau)


FALLING = record(
    12 * np.exp(-np.arange(2000) * 1e-4 / 0.05)
    + 0.01 * np.random.default_rng(3).standard_normal(2000),
    interval=1e-4,
    settings=PLAIN,
)


def test_a_fit_begins_at_text_and_shows_its_parameters_in_those_units():
    one = captures.fit_model(FALLING, discharge, {"V": "5 V", "tau": "100 ms"})
    two = captures.fit_model(
        FALLING, discharge, {"V": 5, "tau": 0.1}, {"V": "V", "tau": "ms"}
    )
    for name in ("V", "tau"):
        assert same(one.parameters[name], two.parameters[name])
        assert one.parameters[name].unit == two.parameters[name].unit


def test_a_start_without_a_unit_or_of_another_than_asked_is_refused():
    with pytest.raises(InputError, match="parameter 'V' has no unit"):
        captures.fit_model(FALLING, discharge, {"V": 5, "tau": "100 ms"})
    with pytest.raises(UnitError, match="parameter 'V': 'A' cannot be converted"):
        captures.fit_model(
            FALLING, discharge, {"V": "5 A", "tau": "1 s"}, {"V": "V", "tau": "s"}
        )


def test_a_parameter_that_starts_at_zero_is_refused():
    with pytest.raises(InputError, match="parameter 'V' starts at 0"):
        captures.fit_model(FALLING, discharge, {"V": "0 V", "tau": "100 ms"})

from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, covers, errors_in_u, record

from benchproof.measuring.captures.surges import pulse_of, surge_of
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

CLAMP = replace(PLAIN, unit=unit_of("A"), bandwidth=1e6)
PEAK, TAU = 36.9, 697e-6
"""F34: 11.7 V through 0.317 Ω into 2200 µF."""


def inrush(rng, sigma=0.2, offset=0.15, interval=1e-6, begin=2000):
    since = (np.arange(14_000) - begin) * interval - rng.random() * interval
    i = np.where(since >= 0, 11.7 / 0.317 * np.exp(-since / (0.317 * 2200e-6)), 0.0)
    noise = sigma * rng.standard_normal(i.size)
    return record(i + offset + noise, interval, CLAMP)


# F34, stiff source: 36.9 A, 0.475 A²s; the charge is CV = 25.7 mC.
@pytest.mark.parametrize(
    ("name", "truth"),
    [("charge", 2200e-6 * 11.7), ("I²t", 0.5 * 2200e-6 * 11.7**2 / 0.317)],
)
def test_u_of_an_inrush_covers_charge_and_melting_integral(name, truth):
    assert truth == pytest.approx({"charge": 25.74e-3, "I²t": 0.475}[name], rel=2e-3)
    errors = errors_in_u(
        lambda rng: surge_of(inrush(rng), (0, 1900), 1990, 13_000)[name], truth
    )
    assert covers(errors)


def test_u_of_a_peak_covers_it():
    def peak(rng):
        since = np.arange(5000) - 2500 - rng.random()
        i = 30 * np.exp(-((since / 400) ** 2)) + 0.15 + 0.2 * rng.standard_normal(5000)
        return surge_of(record(i, 1e-6, CLAMP), (0, 900))["peak"]

    assert covers(errors_in_u(peak, 30.0))


def test_an_offset_left_in_would_change_the_melting_integral():
    trace = inrush(np.random.default_rng(1), sigma=0.05, offset=1.0)
    removed = surge_of(trace, (0, 1900), 1990)["I²t"].value
    left_in = np.square(trace.values(1990)).sum() * 1e-6
    assert removed == pytest.approx(0.475, rel=0.01)
    assert left_in > 1.1 * 0.475


# Noise adds its power to a square: 0.2 A over a long record.
def test_the_power_of_the_noise_is_taken_off_a_melting_integral():
    rng = np.random.default_rng(2)
    quiet = record(0.5 * rng.standard_normal(200_000), 1e-5, CLAMP)
    found = surge_of(quiet, (0, 20_000), 20_000)["I²t"]
    assert abs(found.value) < 2 * found.standard_uncertainty
    assert np.square(quiet.values(20_000)).sum() * 1e-5 > 0.4


def test_gain_counts_twice_in_a_square():
    settings = replace(SCOPE, unit=unit_of("A"))
    trace = replace(inrush(np.random.default_rng(3)), settings=settings)
    found = surge_of(trace, (0, 1900), 1990)
    for name, times in (("charge", 1), ("I²t", 2)):
        (c,) = (c for s, c in found[name].parts if s.name.endswith("· gain"))
        assert c == pytest.approx(times * found[name].value, rel=1e-9)


def test_energy_is_that_of_the_capacitor_and_its_resistance():
    i = np.r_[np.zeros(1000), 30 * np.exp(-np.arange(9000) / 700)]
    current = record(i, 1e-6, CLAMP, name="current")
    voltage = record(np.full(i.size, 12.0), 1e-6, name="voltage")
    found = surge_of(current, (0, 900), voltage=voltage)["energy"]
    assert found.value == pytest.approx(12 * i.sum() * 1e-6)
    assert found.unit.symbol == "J"


def test_u_of_an_energy_covers_it():
    voltage = record(np.full(14_000, 11.7), 1e-6, name="voltage")
    truth = 2200e-6 * 11.7**2
    errors = errors_in_u(
        lambda rng: surge_of(inrush(rng), (0, 1900), 1990, 13_000, voltage)["energy"],
        truth,
    )
    assert covers(errors)


def test_a_voltage_of_other_times_is_refused():
    current = record(np.r_[np.zeros(50), np.ones(50)], 1e-6, CLAMP)
    voltage = record(np.ones(99), 1e-6)
    with pytest.raises(InputError, match="not samples of the same times"):
        surge_of(current, (0, 40), voltage=voltage)


def test_a_pulse_that_has_not_ended_is_noted():
    trace = inrush(np.random.default_rng(4))
    found = surge_of(trace, (0, 1900), 1990, 2600)
    assert "still flow" in found["charge"].notes[0]
    assert not any("still" in note for note in found["peak"].notes)


def test_a_peak_narrower_than_the_bandwidth_is_noted():
    i = np.zeros(2000)
    i[1000:1003] = 10.0
    slow = replace(CLAMP, bandwidth=1e5)
    found = surge_of(record(i, 1e-6, slow), (0, 900))["peak"]
    assert "lowers such a peak" in found.notes[0]


def test_a_clipped_inrush_tells_nothing():
    codes = np.r_[np.zeros(500), np.full(30, 127), np.zeros(500)].astype(np.int8)
    trace = record(codes, 1e-6, CLAMP, step=0.1, rails=(-12.8, 12.7))
    found = surge_of(trace, (0, 400))
    assert all("clipped at the high end" in f.cannot_tell for f in found.values())


def test_the_quiet_samples_give_offset_and_noise():
    pulse = pulse_of(inrush(np.random.default_rng(5)), (0, 1900), 1990)
    assert pulse.offset == pytest.approx(0.15, abs=4 * 0.2 / 1900**0.5)
    assert pulse.noise.standard_deviation == pytest.approx(0.2, rel=0.1)


def test_a_record_in_volts_is_no_current():
    with pytest.raises(InputError, match="is in V; a surge is of a current"):
        surge_of(record(np.zeros(500)), quiet=(0, 50))


def test_a_quiet_stretch_that_holds_the_pulse_is_said():
    i = np.r_[np.zeros(200), 30 * np.exp(-np.arange(800) / 90)]
    i += 0.05 * np.random.default_rng(2).standard_normal(i.size)
    wrong = surge_of(record(i, settings=CLAMP), quiet=(150, 250))
    right = surge_of(record(i, settings=CLAMP), quiet=(0, 190))
    assert any("are they before the pulse?" in n for n in wrong["charge"].notes)
    assert not any("are they before the pulse?" in n for n in right["charge"].notes)

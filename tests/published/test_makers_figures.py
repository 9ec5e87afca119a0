"""Makers' and textbooks' worked figures, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.
"""

import math

import pytest
from published.printed import half_a_digit

from benchproof import accuracy_line, circuits


# An open textbook's chapter on DC metering: 24 V across two 250 MΩ, read by a 10 MΩ
# meter. Read and recomputed. The voltage divider is exact; printed to 4 decimals.
def test_voltmeter_loading_is_undone_as_in_the_textbook():
    loaded = 24 * (1 / (1 / 250e6 + 1 / 10e6)) / (250e6 + 1 / (1 / 250e6 + 1 / 10e6))
    assert loaded == pytest.approx(0.8889, abs=half_a_digit(4))
    unloaded_voltage = circuits.unloaded_voltage
    assert unloaded_voltage(loaded, 125e6, 10e6) == pytest.approx(12, abs=1e-9)
    # From the printed 0.8889 V the last digit grows by 1 + 125/10.
    assert unloaded_voltage(0.8889, 125e6, 10e6) == pytest.approx(12, abs=13.5 * 5e-5)


# A multimeter's user guide: 5 V on the 10 V range, 90 days. Read and recomputed;
# exact but for the last bit. It is a limit of error, so u is that over √3.
def test_a_bench_meters_guide_gives_150_microvolt():
    line = accuracy_line("0.0020 % of reading + 0.0005 % of range")
    assert line.half_width(5, range_top=10) == pytest.approx(150e-6, rel=1e-12)
    assert line.half_width(5, 10) / 5 == pytest.approx(30e-6, rel=1e-12)
    assert line.standard_uncertainty(5, 10) == pytest.approx(86.6e-6, abs=0.05e-6)


# Makers' own examples of accuracy in per cent and digits. Read and recomputed;
# exact but for the last bit.
@pytest.mark.parametrize(
    ("text", "reading", "digit", "limit"),
    [
        ("±(0.5 % + 1 digit)", 1.755, 0.001, 0.009775),
        ("±(1 % + 2 digits)", 100.0, 0.1, 1.2),
        ("±(0.08 % + 2)", 2.000, 0.001, 0.0036),
    ],
)
def test_per_cent_and_digits_agree_with_makers_examples(text, reading, digit, limit):
    found = accuracy_line(text).half_width(reading, digit=digit)
    assert found == pytest.approx(limit, abs=1e-9)


# JCGM 100:2008, 4.3.7, on an invented meter; evaluated numerically, recomputed by
# hand here. Half of the last digit written.
def test_a_6000_count_meter_at_5_volt_is_good_to_28_millivolt():
    line = accuracy_line("±(0.5 % + 3 digits)")
    assert line.half_width(5.034, 6, 0.001) == pytest.approx(28.17e-3, abs=5e-6)
    assert line.standard_uncertainty(5.034, 6, 0.001) == pytest.approx(
        16.26e-3, abs=5e-6
    )


# JCGM 100:2008, 5.2.2, on the same invented meter: the difference of two readings on
# one range. Evaluated numerically; (0.005 · 0.71 V)²/3 + (1 + 1 - 2ρ)(30 mV)²/3.
def voltage_drop(case, first, second):
    case.record("V_idle", "12.10 V", using=first)
    case.record("V_slew", "11.39 V", using=second)

    @case.derive(unit="V")
    def drop(V_idle, V_slew):
        return V_idle - V_slew

    return case["drop"].standard_uncertainty


def test_a_drop_shares_the_gain_but_not_the_offset(case):
    assert voltage_drop(case, "handheld", "handheld") == pytest.approx(
        24.6e-3, abs=0.05e-3
    )


def test_a_drop_shares_the_offset_too_where_the_book_says_so(case):
    # The formula's 2.05 mV, and what it leaves out: each reading is rounded on its own
    # to 10 mV (JCGM 100:2008, F.2.2.1).
    u = voltage_drop(case, "steady", "steady")
    rounding = 10e-3 / math.sqrt(12)
    assert u == pytest.approx(math.hypot(2.05e-3, rounding, rounding), abs=0.005e-3)
    offsets_shared = case.sharing("drop").offsets_shared.standard_uncertainty
    assert offsets_shared == pytest.approx(u)


def test_a_drop_between_two_meters_shares_nothing(case):
    # The wrong answer for one meter, and the right one for two.
    assert voltage_drop(case, "handheld", "twin") == pytest.approx(53.9e-3, abs=0.05e-3)

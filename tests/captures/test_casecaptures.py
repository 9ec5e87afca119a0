"""Captures of a case: opened, kept as measurands, round by round."""

import math

import numpy as np
import pytest

from benchproof import open_case
from benchproof.measuring.captures.finding import Finding, unknown
from benchproof.values.errors import InputError
from benchproof.values.sources import half_width_source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
GAIN = half_width_source("scope · CH1 · 16 V · gain", 0.03, unit_of("%"))


def finding(value):
    return Finding("residual", VOLT, value, ((GAIN, value),), "lowest of the dip")


@pytest.fixture
def rail(case):
    """Write an invented record: 12 V with a dip to 9 V for a millisecond."""
    folder = case.folder / "captures"
    folder.mkdir()
    time = np.arange(1000) * 1e-5
    volts = np.where((time > 4e-3) & (time < 5e-3), 9.0, 12.0)
    lines = [f"{t:.6f},{v:.3f}" for t, v in zip(time, volts, strict=True)]
    text = "time (s),CH1 (V)\n" + "\n".join(lines) + "\n"
    (folder / "rail.csv").write_text(text, encoding="utf-8")
    return case


def test_a_finding_is_a_measurand_like_any_other(case):
    case.captures.keep("V_min", finding(9.0))
    case.captures.keep("V_idle", finding(12.0))

    @case.derive(unit="V")
    def drop(V_idle, V_min):
        return V_idle - V_min

    # One gain for both: it is a fraction of the difference.
    assert drop.standard_uncertainty == pytest.approx(3.0 * 0.03 / math.sqrt(3))
    rival = case.hypothesis("H1", "It dips below the reset threshold")
    rival.predicts("it dips", case["V_min"].below("10 V"))
    assert case.verdicts().verdicts[0].judged[0].outcome == "met"
    assert "lowest of the dip" in str(case.report("captures"))


def test_what_cannot_be_told_has_no_value_and_says_why(case):
    case.captures.keep("V_min", unknown("residual", VOLT, "the record is AC-coupled."))
    assert "AC-coupled" in str(case["V_min"])
    assert not case["V_min"].is_measured


def test_a_capture_of_a_later_round_does_not_change_the_first_unasked(case):
    case.captures.keep("V_min", finding(9.0))
    case.new_round(because="another supply")
    case.captures.keep("V_min", finding(9.0))  # the cell, run again
    with pytest.raises(InputError, match=r"V_min is 9.00\(.*in_round=2"):
        case.captures.keep("V_min", finding(11.0))
    assert case.at_round(1)["V_min"].estimate.value == 9.0
    case.captures.keep("V_min", finding(8.9), in_round=1)  # read wrongly before
    assert case["V_min"].estimate.value == 8.9


def test_what_a_finding_took_from_readings_taken_again_is_another_source(case):
    case.record("V_idle", "24.0 24.5 23.6 24.2 V", using="handheld")
    first = case["V_idle"].estimate
    case.captures.keep("V_dip", Finding("dip", VOLT, first.value, first.parts))

    @case.derive(unit="V")
    def drop(V_idle, V_dip):
        return V_idle - V_dip

    # In one round they are the same readings, and nothing of them is left.
    assert drop.standard_uncertainty == pytest.approx(0.0, abs=1e-12)
    case.new_round(because="another supply")
    case.record("V_idle", "24.8 24.9 24.7 24.8 24.8 V", using="handheld")
    again = case["V_idle"].estimate
    expected = math.hypot(
        *(s.standard_uncertainty * c for e in (first, again) for s, c in e.parts
          if s.name.startswith("V_idle"))
    )  # fmt: skip
    gain = next(s for s, _ in first.parts if s.name.endswith("gain"))
    left = (again.value - first.value) * gain.standard_uncertainty
    assert drop.standard_uncertainty == pytest.approx(math.hypot(expected, left))
    kept = [x.source.name for x in case.budget("drop").lines]
    assert "V_idle · repeatability · as kept in round 1" in kept
    assert case.at_round(1)["drop"].standard_uncertainty == pytest.approx(0, abs=1e-12)


def test_a_capture_of_an_earlier_round_does_not_take_a_later_reading(case):
    def keep(view):
        meter = view["V_idle"].estimate
        found = Finding("dip", VOLT, meter.value, meter.parts)
        case.captures.keep("V_dip", found, in_round=1)

    case.record("V_idle", "24.0 24.5 23.6 24.2 V", using="handheld")
    keep(case)
    case.new_round(because="another supply")
    case.record("V_idle", "24.8 24.9 24.7 24.8 24.8 V", using="handheld")
    with pytest.raises(InputError, match=r"Take that of its round: case.at_round\(1\)"):
        keep(case)
    keep(case.at_round(1))
    assert case["V_dip"].estimate.value == pytest.approx(24.075)


def test_a_capture_may_rest_on_a_reading_that_only_a_later_round_has(case):
    case.new_round(because="the meter came back")
    case.record("V_idle", "24.8 24.9 24.7 V", using="handheld")
    meter = case["V_idle"].estimate
    case.captures.keep("V_dip", Finding("dip", VOLT, 9.0, meter.parts))
    assert case["V_dip"].estimate.value == 9.0


def test_a_round_knows_a_later_capture_by_name_and_has_no_value_of_it(case):
    case.new_round(because="another socket")
    case.captures.keep("V_min_40", finding(8.8), in_round=2)
    assert str(case.at_round(1)["V_min_40"]) == "(not measured yet)"
    assert case["V_min_40"].is_measured


def test_a_round_sees_the_captures_taken_until_then(case):
    case.new_round(because="another socket")
    case.captures.keep("V_min", finding(9.0))
    case.captures.keep("V_min", finding(8.0), in_round=2)
    assert str(case["V_min"]).startswith("8.0")
    assert str(case.at_round(1)["V_min"]).startswith("9.0")
    with pytest.raises(InputError, match="there are 2 rounds"):
        case.captures.keep("V_min", finding(7.0), in_round=3)


def test_a_name_that_is_taken_is_refused(case):
    case.constant("V_min", "9 V")
    with pytest.raises(InputError, match="already a constant"):
        case.captures.keep("V_min", finding(9.0))


def test_capture_defaults_of_the_case_hold_for_every_capture(rail):
    path = rail.folder / "case.toml"
    said = """
[capture_defaults]
instrument = "scope"
coupling = "DC"

[[capture]]
name = "at start"
file = "rail.csv"
coupling = "AC"
"""
    path.write_text(path.read_text(encoding="utf-8") + said, encoding="utf-8")
    case = open_case(rail.folder)
    declared = case.captures.open("at start").settings
    assert (declared.instrument, declared.coupling) == ("scope", "AC")
    folder = rail.folder / "captures"
    (folder / "other.csv").write_bytes((folder / "rail.csv").read_bytes())
    assert case.captures.open("other.csv").settings.coupling == "DC"


def test_an_opened_file_is_hashed_into_the_results(rail):
    trace = rail.captures.open("rail.csv", "CH1")
    assert len(trace) == 1000
    assert trace.values().min() == pytest.approx(9.0)
    ((name, digest),) = rail.captures.hashes().items()
    assert name == "rail.csv"
    assert len(digest) == 64


def test_a_prediction_written_after_a_capture_was_read_says_so(case):
    rival = case.hypothesis("H1", "It dips below the reset threshold")
    rival.predicts("it dips", case["V_min"].below("10 V"))
    case.captures.keep("V_min", finding(9.0))
    rival.predicts("it dips far", case["V_min"].below("9.5 V"))
    early, late = case.verdicts().verdicts[0].judged
    assert early.written.startswith("before the data")
    assert late.written.startswith("after the data")
    assert "(V_min) stood there already" in late.written

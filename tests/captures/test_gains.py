from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, in_codes, record

from benchproof.measuring.accuracy import accuracy_line
from benchproof.measuring.captures.amplitudes import amplitudes_of
from benchproof.measuring.captures.channel import difference_parts, level_parts
from benchproof.measuring.captures.dips import dips_of
from benchproof.measuring.captures.finding import Finding, derived, unknown
from benchproof.measuring.captures.gains import ratio_slip, transferred
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, half_width_source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
METER = half_width_source("handheld · DC V · 60 V · gain", 0.005, unit_of("%"))


def through_scope(volts, gain=1.02, offset=0.05, settings=SCOPE):
    """A scope that is wrong by a straight line."""
    rng = np.random.default_rng(6)
    shown = np.asarray(volts) * gain + offset
    return in_codes(shown + 0.05 * rng.standard_normal(shown.size), settings=settings)


def test_a_measurand_in_place_of_its_estimate_is_refused_with_the_way_out():
    trace = through_scope(np.full(5000, 7.0))
    steady = amplitudes_of(trace)["mean"]
    with pytest.raises(InputError, match=r"give its estimate, such as case\.at_round"):
        transferred(trace, steady, steady, "7.00 V")


# F17 and an accuracy of 3 % of 16 V: ±0.48 V, useless beside a margin of 0.02 V.
def test_a_residual_takes_over_the_gain_of_the_meter():
    settings = replace(SCOPE, accuracy=accuracy_line("±(3 % of full screen)"))
    v = np.full(20_000, 7.0)
    v[8000:12_000] = 5.0
    trace = through_scope(v, settings=settings)
    zero = amplitudes_of(through_scope(np.zeros(5000), settings=settings))["mean"]
    steady = amplitudes_of(through_scope(np.full(5000, 7.0), settings=settings))["mean"]
    (dip,) = dips_of(trace, threshold=6.0, hysteresis=0.6).dips
    assert dip.residual.standard_uncertainty == pytest.approx(0.277, abs=0.005)
    meter = Estimate(7.0, ((METER, 7.0),))
    found = transferred(trace, dip.residual, steady, meter, zero)
    assert found.value == pytest.approx(5.0, abs=0.03)
    assert found.standard_uncertainty < 0.03
    assert abs(found.value - 5.0) < 2 * found.standard_uncertainty


def test_the_meters_gain_comes_in_with_the_share_of_the_value():
    trace = record([0.0], settings=SCOPE)
    v, vs = Finding("v", VOLT, 8.98), Finding("vs", VOLT, 12.31)
    found = transferred(trace, v, vs, Estimate(12.06, ((METER, 12.06),)))
    # F17: 12.06/12.31 · 8.98.
    assert found.value == pytest.approx(8.798, abs=5e-4)
    (c,) = (c for s, c in found.parts if s == METER)
    assert c == pytest.approx(found.value)


def test_without_a_zero_record_the_offset_stays_in():
    quiet = np.full(4000, 5.0)
    trace = through_scope(quiet)
    level = amplitudes_of(trace)["mean"]
    steady = replace(level, name="steady", value=7.0)
    found = transferred(trace, level, steady, Estimate(7.0))
    offset = [s for s, _ in found.parts if s.pool]
    assert len(offset) == 1
    assert "the offset of the channel stays in" in found.notes[0]
    assert not any(s.name.endswith("· gain") for s, _ in found.parts)


def test_a_transferred_result_says_so_and_carries_the_sources_of_the_meter():
    trace = record([0.0], settings=SCOPE)
    v, vs = Finding("v", VOLT, 8.98), Finding("vs", VOLT, 12.31)
    found = transferred(trace, v, vs, Estimate(12.06, ((METER, 12.06),)))
    note = "gain taken over from the meter, which read 12.06 V where the scope shows"
    assert found.notes[0].startswith(note)
    ratio = derived("ratio", unit_of(""), 2.0, [(found, 2 / found.value)])
    assert found.notes[0] in ratio.notes
    assert METER in [source for source, _ in ratio.parts]


# 7 V and 5 V on a scope that shows 2 % and 50 mV too much: 2.04 V apart.
@pytest.mark.parametrize("with_zero", [True, False])
def test_a_depth_takes_over_the_gain_but_no_zero(with_zero):
    trace = record([0.0], settings=SCOPE)
    depth = Finding("depth", VOLT, 2.04, tuple(difference_parts(trace, 2.04)))
    levels = [
        Finding(name, VOLT, value, tuple(level_parts(trace, value, name)))
        for name, value in (("steady", 7.19), ("zero", 0.05))
    ]
    zero = levels[1] if with_zero else None
    found = transferred(trace, depth, levels[0], Estimate(7.0), zero, difference=True)
    assert found.value == pytest.approx(2.0, abs=1e-9 if with_zero else 0.02)
    offsets = [c * s.standard_uncertainty for s, c in found.parts if s.pool]
    # Full screen's 2 % of 16 V, as a share of 7.19 V, of the depth.
    expected = [] if with_zero else [-0.32 / 3**0.5 * found.value / 7.19]
    assert offsets == pytest.approx(expected)


def test_a_transferred_finding_keeps_the_notes_and_the_name_of_its_record():
    trace = record([0.0], settings=SCOPE)
    v = Finding("v", VOLT, 8.0).noted("one dip is cut off", "drifts")
    steady = Finding("steady", VOLT, 12.0).noted("drifts")
    found = transferred(trace, v, steady, Estimate(12.0))
    assert found.notes[1:] == ("one dip is cut off", "drifts")
    assert f"v of {trace.name}, gain by steady" in found.text


def test_a_finding_that_cannot_be_told_is_not_transferred():
    lost = unknown("residual", VOLT, "clipped.")
    steady = Finding("steady", VOLT, 7.0)
    found = transferred(record([0.0]), lost, steady, Estimate(7.0))
    assert found.cannot_tell == "clipped."


def test_a_steady_level_at_zero_has_no_gain_to_give():
    v, zero = Finding("v", VOLT, 3.0), Finding("steady", VOLT, 0.0)
    found = transferred(record([0.0]), v, zero, Estimate(0.0))
    assert "steady and zero are not told apart" in found.cannot_tell


# F18: a 10× probe on a 1× menu is off by ten exactly; the trace stays as it is.
def test_a_probe_ratio_slip_is_flagged_and_nothing_is_rescaled():
    trace = record(np.full(2000, 1.49), settings=PLAIN)
    level = amplitudes_of(trace)["mean"]
    slip = ratio_slip(level, Estimate(14.86, ((METER, 14.86),)))
    assert slip.factor == 10
    assert "Nothing was rescaled" in slip.text
    found = transferred(trace, level, level, Estimate(14.86))
    assert slip.text[:40] in found.notes[1]


@pytest.mark.parametrize(
    ("scope", "meter", "factor"),
    [(14.9, 14.86, 1.0), (149.0, 14.86, 0.1), (7.0, 14.86, None), (-1.5, 15.0, None)],
)
def test_only_powers_of_ten_are_taken_for_the_probe(scope, meter, factor):
    slip = ratio_slip(Finding("mean", VOLT, scope), Estimate(meter))
    assert slip.factor == factor
    assert bool(slip.text) == (factor != 1.0)

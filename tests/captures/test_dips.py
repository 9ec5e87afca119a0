from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, SCOPE, covers, errors_in_u, in_codes, record

from benchproof.measuring.captures.dips import dips_of, swells_of
from benchproof.values.errors import InputError


def rail(rng, shape, sigma=0.03, count=20_000, length=4000, floor=8.5):
    """A 12 V rail with one dip of known shape; 10 µs a sample."""
    at = np.arange(count) - 6000 - rng.random()
    inside = (at > 0) & (at < length)
    x = np.clip(at / length, 0, 1)
    fall = {
        "flat": np.minimum(1, 40 * np.minimum(x, 1 - x)),
        "round": np.sin(np.pi * x),
        "pointed": 1 - np.abs(2 * x - 1),
    }[shape]
    v = np.where(inside, 12 - (12 - floor) * fall, 12.0)
    return record(v + sigma * rng.standard_normal(count))


def only_dip(trace, **more):
    (dip,) = dips_of(trace, threshold=10.0, hysteresis=0.2, **more).dips
    return dip


# F27's trap: the least sample of a flat dip lies some 3.5 standard deviations low.
@pytest.mark.parametrize("shape", ["flat", "round", "pointed"])
@pytest.mark.parametrize("sigma", [0.003, 0.01, 0.03])
def test_u_of_a_residual_covers_it_whatever_the_shape(shape, sigma):
    def residual(rng):
        return only_dip(rail(rng, shape, sigma)).residual

    assert covers(errors_in_u(residual, 8.5, 60), smallest=0.1)


# A motor's start: down at once, then slowly up for as long as it runs. The dip is
# long and its bottom is narrow, so most of the record lies far above the bottom.
@pytest.mark.parametrize("sigma", [0.003, 0.01, 0.03])
def test_u_of_a_residual_covers_a_narrow_bottom_of_a_long_dip(sigma):
    at = np.arange(20_000) - 4000
    inside = (at >= 0) & (at < 14_000)
    surge = np.exp(-at / 3500) - np.exp(-at / 60)
    v = np.where(inside, 11.0 - 2.0 * surge / surge[at >= 0].max(), 12.0)

    def residual(rng):
        noisy = record(v + sigma * rng.standard_normal(v.size))
        (dip,) = dips_of(noisy, threshold=11.5, hysteresis=0.3).dips
        return dip.residual

    assert covers(errors_in_u(residual, 9.0, 40), smallest=0.1)


def test_a_residual_is_not_the_least_noisy_sample():
    trace = rail(np.random.default_rng(1), "flat")
    dip = only_dip(trace)
    assert trace.values().min() < 8.5 - 0.09
    assert dip.residual.value == pytest.approx(8.5, abs=0.015)
    assert dip.depth.value == pytest.approx(3.5, abs=0.02)


@pytest.mark.parametrize("shape", ["flat", "round", "pointed"])
def test_u_of_a_duration_covers_it(shape):
    edge = {"flat": 1 / 40, "round": None, "pointed": 0.5}[shape]

    def span(rng):
        return only_dip(rail(rng, shape)).duration

    # Down through 10.0 V, up through 10.2 V, of 3.5 V.
    if edge:
        begin, end = 2.0 / 3.5 * edge, 1.8 / 3.5 * edge
    else:
        begin, end = (np.arcsin(d / 3.5) / np.pi for d in (2.0, 1.8))
    truth = (1 - begin - end) * 4000 * 1e-5
    assert covers(errors_in_u(span, truth, 100), smallest=0.1)


# F27: 20 ms at 8.85 V, 30 mV of noise, 10 µs: about a hundred false dips below 8.80 V.
def test_without_hysteresis_noise_makes_a_hundred_dips_and_with_it_none():
    v = 8.85 + 0.03 * np.random.default_rng(2).standard_normal(2000)
    bare = dips_of(record(v), threshold=8.80, hysteresis=1e-9)
    assert 60 < bare.count.value < 140
    assert any("noise alone makes dips" in note for note in bare.count.notes)
    guarded = dips_of(record(v), threshold=8.66, hysteresis=0.20)
    assert guarded.count.value == 0
    assert not any("noise alone" in note for note in guarded.count.notes)


def test_hysteresis_counts_one_noisy_dip_once():
    trace = rail(np.random.default_rng(3), "pointed")
    below = trace.values() < 10.0
    assert (below[1:] & ~below[:-1]).sum() > 3
    assert dips_of(trace, threshold=10.0, hysteresis=0.2).count.value == 1


# Mistake 16 of the trade: too coarse to contain the event, yet "no dip seen".
def test_no_dip_seen_by_samples_too_far_apart_cannot_be_told():
    trace = record(np.full(1000, 12.0), interval=1e-3)
    found = dips_of(trace, 8.8, 0.2, shortest=1.5e-3).count
    assert "no dip was seen, but samples every 1 ms" in found.cannot_tell
    longer = dips_of(trace, 8.8, 0.2, shortest=0.05).count
    assert longer.value == 0
    assert not longer.notes


def test_no_dip_seen_speaks_only_of_dips_that_would_show():
    found = dips_of(record(np.full(1000, 12.0)), 8.8, 0.2).count
    assert found.notes == ("shorter ones than 100 µs may be missed",)


def test_a_dip_that_reaches_beyond_the_record_is_counted_and_has_no_duration():
    v = np.r_[np.full(50, 8.0), np.full(100, 12.0), np.full(30, 8.0)]
    found = dips_of(record(v), 8.8, 0.2)
    assert found.count.value == 2
    assert found.dips == ()
    assert "2 of them reach beyond the record" in found.count.notes
    assert "reaches beyond the record" in found.total.cannot_tell


def test_a_record_that_is_all_dip_is_one():
    found = dips_of(record(np.full(500, 5.0)), 8.8, 0.2)
    assert found.count.value == 1


def test_a_clipped_dip_has_a_duration_and_no_residual():
    v = np.full(1000, 3.0)
    v[300:400] = -20.0
    (dip,) = dips_of(in_codes(v), threshold=1.0, hysteresis=0.4).dips
    assert dip.duration.value == pytest.approx(1e-3, rel=0.02)
    assert "clipped at the low end" in dip.residual.cannot_tell
    assert "clipped" in dip.depth.cannot_tell


def test_total_time_adds_up_with_what_durations_share():
    v = np.full(30_000, 12.0)
    v[5000:9000] = v[20_000:22_000] = 8.0
    found = dips_of(record(v, settings=SCOPE), 8.8, 0.2)
    assert found.total.value == pytest.approx(0.06, rel=1e-3)
    (base,) = (c for s, c in found.total.parts if s.name.endswith("time base"))
    assert base == pytest.approx(found.total.value)


def test_a_shallow_edge_turns_the_accuracy_of_the_threshold_into_time():
    steep, shallow = (
        in_codes(np.interp(np.arange(9000), [2000, at, 6000, 8000], [7, 1, 1, 7]))
        for at in (2100, 4000)
    )
    u = [
        dips_of(trace, 4.0, 0.5).dips[0].start.standard_uncertainty
        for trace in (steep, shallow)
    ]
    # 0.33 V (1 % and full screen) over 0.003 V a sample of 10 µs.
    expected = np.hypot(0.04, 0.32) / 3**0.5 / 0.003 * 1e-5
    assert u[1] == pytest.approx(expected, rel=0.15)
    assert u[0] < 0.1 * u[1]


def test_swells_are_dips_the_other_way_up():
    v = np.full(4000, 12.0)
    v[1000:1500] = 14.6
    found = swells_of(record(v), threshold=14.0, hysteresis=0.3)
    (swell,) = found.dips
    assert swell.residual.value == pytest.approx(14.6)
    assert swell.depth.value == pytest.approx(2.6)
    assert swell.duration.value == pytest.approx(5e-3, rel=0.01)


def test_thousands_of_dips_are_counted_and_added_up_but_not_listed():
    v = np.tile(np.repeat([12.0, 8.0], 4), 2500)
    found = dips_of(record(np.r_[v, 12.0]), 8.8, 0.2)
    assert (found.count.value, len(found.dips)) == (2500, 1000)
    assert "only the first 1000 are listed" in found.count.notes
    each = found.dips[0].duration.value
    assert found.total.value == pytest.approx(2500 * each, rel=1e-6)


@pytest.mark.parametrize("sigma", [0.01, 0.03])
def test_u_of_a_swell_below_zero_covers_its_residual(sigma):
    def residual(rng):
        trace = rail(rng, "round", sigma)
        turned = record(-trace.values())
        (swell,) = swells_of(turned, threshold=-10.0, hysteresis=0.2).dips
        return swell.residual

    assert covers(errors_in_u(residual, -8.5, 60))


def test_hysteresis_of_zero_is_refused():
    with pytest.raises(InputError, match="hysteresis 0; give one > 0"):
        dips_of(record(np.full(50, 12.0)), 8.8, 0.0)


def test_gaps_leave_nothing_to_count():
    found = dips_of(record([12.0, np.nan, 12.0]), 8.8, 0.2)
    assert "has gaps" in found.count.cannot_tell


def test_an_ac_coupled_record_has_no_level_to_count_dips_below():
    v = np.full(1000, 12.0)
    v[300:400] = 8.0
    lost = record(v, settings=replace(PLAIN, coupling="AC"))
    found = dips_of(lost, 8.8, 0.2)
    assert "AC-coupled: it has no absolute level" in found.count.cannot_tell
    assert "Record it DC-coupled" in found.total.cannot_tell
    assert found.dips == ()


def test_a_coupling_not_stated_is_said_beside_the_count():
    unknown = record(np.full(1000, 12.0), settings=replace(PLAIN, coupling=""))
    found = dips_of(unknown, 8.8, 0.2)
    assert found.count.value == 0
    assert any("the coupling is not stated" in note for note in found.count.notes)


# A declared 7 V was not read by the scope: its offset does not cancel.
def test_depth_from_a_declared_reference_is_as_uncertain_as_the_residual():
    v = np.full(4000, 7.0)
    v[1000:2000] = 3.0
    trace = in_codes(v)
    (own,) = dips_of(trace, 4.0, 0.4).dips
    (given,) = dips_of(trace, 4.0, 0.4, reference=7.0).dips
    assert given.depth.standard_uncertainty == pytest.approx(
        given.residual.standard_uncertainty
    )
    assert own.depth.standard_uncertainty < own.residual.standard_uncertainty
    assert "from 7 V" in given.depth.text
    assert "median, from 7 V" in own.depth.text


def test_the_median_as_a_reference_brings_its_rounding_to_codes():
    v = np.full(4000, 7.0)
    v[1000:2000] = 3.0
    (dip,) = dips_of(in_codes(v), 4.0, 0.4).dips
    names = [source.name for source, _ in dip.depth.parts]
    assert "record · reference · quantisation" in names


def test_a_bottom_of_few_samples_in_a_long_dip_is_said_to_lie_open():
    at = np.arange(4000)
    v = 12 - 3 * np.exp(-np.abs(at - 2000.3) / 40) - (np.abs(at - 2000) < 300)
    (dip,) = dips_of(record(v), 11.5, 0.2).dips
    assert any("a few samples wide" in note for note in dip.residual.notes)


def test_a_record_that_is_mostly_dip_has_no_reference_of_its_own():
    v = np.tile(np.repeat([12.0, 8.0], [300, 700]), 3)
    found = dips_of(record(np.r_[v, 12.0]), 9.0, 0.5)
    assert "the record is mostly dip. Give the reference" in (
        found.dips[0].depth.cannot_tell
    )
    given = dips_of(record(np.r_[v, 12.0]), 9.0, 0.5, reference=12.0)
    assert given.dips[0].depth.value == pytest.approx(4.0)

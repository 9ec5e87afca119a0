"""A trace: codes in SI, and what its summary answers without the samples."""

from dataclasses import replace

import numpy as np
import pytest

from benchproof.measuring.captures.trace import Settings, Trace, require_same_interval
from benchproof.values.errors import InputError


def trace(codes, **said):
    return Trace("demo", np.asarray(codes), 1e-6, Settings("scope", "CH1"), **said)


def test_moments_are_those_of_the_values():
    codes = np.random.default_rng(8).integers(0, 255, 5000).astype(np.uint8)
    one = trace(codes, step=0.04, zero=-5.0)
    found, values = one.moments(), one.values()
    assert found.mean == pytest.approx(values.mean(), rel=1e-12)
    assert found.rms == pytest.approx(np.sqrt((values**2).mean()), rel=1e-12)
    assert (found.least, found.greatest) == (values.min(), values.max())


def test_a_threshold_on_a_code_is_that_code_in_spite_of_rounding():
    assert trace([0], step=0.04).code(1.2) == 30.0
    assert trace([0], step=0.04).code(1.21) == pytest.approx(30.25)


def test_a_sample_at_the_threshold_has_reached_it():
    one = trace(np.array([0, 30, 0], dtype=np.int16), step=0.04)
    assert one.changes(0.0, 1.2).index.tolist() == [1, 2]


def test_values_are_counted_at_the_rails_of_a_record_of_floats():
    one = trace([0.0, 1.0, 4.0, 4.2, -1.0], rails=(-1.0, 4.0))
    assert one.clipped() == (1, 2)


def test_without_rails_nothing_is_known_of_clipping():
    assert trace([0, 1, 1]).clipped() is None


def test_the_rails_of_an_inverted_channel_keep_their_sides():
    one = trace([5, 5, 0, -5], step=-1.0, rails=(-5.0, 5.0))
    assert one.clipped() == (2, 1)


def test_the_histogram_s_levels_are_in_si():
    levels, counts = trace([1, 1, 3], step=0.5, zero=1.0).levels()
    assert levels.tolist() == [1.5, 2.0, 2.5]
    assert counts.tolist() == [2, 0, 1]


@pytest.mark.parametrize("call", [(0,), (10, 3, 3), (10, 5)])
def test_an_envelope_of_nothing_is_refused(call):
    with pytest.raises(InputError, match="demo: samples"):
        trace([1, 2, 3]).envelope(*call)


def test_a_record_shows_its_settings_and_notes_but_no_samples():
    rail = trace(np.arange(4000), notes=("a last line was left out",))
    shown = dict(rail.table().rows)
    assert "4000 samples" in shown["Settings"]
    assert shown["From, to"] == "0 s, 0.004 s"
    assert shown["Note"] == "a last line was left out"
    assert "array" not in repr(rail)


def test_thresholds_in_the_wrong_order_are_refused_in_volt():
    with pytest.raises(InputError, match="thresholds 2 and 1"):
        trace([1, 2, 3], step=-0.5).changes(2.0, 1.0)


@pytest.mark.parametrize("hole", [np.nan, np.inf])
@pytest.mark.parametrize("ask", ["envelope", "moments", "levels", "changes"])
def test_a_record_with_a_hole_is_refused_by_name(hole, ask):
    holed = trace([1.0, hole, 3.0])
    arguments = {"envelope": (2,), "changes": (1.5, 2.5)}.get(ask, ())
    with pytest.raises(InputError, match="demo has samples without a value"):
        getattr(holed, ask)(*arguments)


def test_records_of_different_intervals_are_refused_by_name():
    one, two = trace([1, 2]), replace(trace([1, 2]), name="other", interval=2e-6)
    assert require_same_interval(one, one) == 1e-6
    with pytest.raises(InputError, match=r"demo has a sample each 1e-06 s, other each"):
        require_same_interval(one, one, two)

from dataclasses import replace

import numpy as np
import pytest
from captures.invented import SCOPE, covers, errors_in_u, record

from benchproof.measuring.captures.delays import (
    delay_between,
    first_edge,
    stagger_of,
)
from benchproof.values.errors import InputError

TWO = replace(SCOPE, channel="CH2")


def channel(rng, at, name, settings=SCOPE, width=8.0, sigma=0.03):
    v = 5 / (1 + np.exp(-np.clip((np.arange(6000) - at) / width, -50, 50)))
    return record(v + sigma * rng.standard_normal(6000), 1e-6, settings, name)


@pytest.mark.parametrize("width", [0.05, 8.0])
def test_u_of_a_delay_covers_it(width):
    def delay(rng):
        begin = 2000 + rng.random()
        pair = (
            channel(rng, begin, "A", width=width),
            channel(rng, begin + 27.34, "B", TWO, width),
        )
        return delay_between(*pair)

    assert covers(errors_in_u(delay, 27.34e-6))


def test_records_of_different_intervals_are_refused_by_name():
    rng = np.random.default_rng(1)
    a, b, c = (channel(rng, 2000, name) for name in "ABC")
    b = replace(b, interval=2e-6)
    with pytest.raises(InputError, match="A has a sample each 1e-06 s, B each 2e-06"):
        delay_between(a, b)
    with pytest.raises(InputError, match="not of one record"):
        stagger_of([a, c, b])


def test_a_stagger_is_from_the_earliest_to_the_latest():
    rng = np.random.default_rng(1)
    traces = [channel(rng, at, f"axis {at}") for at in (2500, 2000, 2300)]
    found = stagger_of(traces)
    assert found.value == pytest.approx(500e-6, abs=1e-6)
    assert "axis 2000 first, axis 2500 last" in found.text


def test_the_time_base_acts_on_the_delay_and_not_on_the_instants():
    rng = np.random.default_rng(2)
    one, two = channel(rng, 1000, "A"), channel(rng, 5000, "B", TWO)
    (c,) = (c for s, c in delay_between(one, two).parts if s.name.endswith("time base"))
    assert c == pytest.approx(4000e-6, rel=1e-3)
    assert not any("time base" in s.name for s, _ in first_edge(one).parts)


def test_two_instruments_have_no_common_time():
    rng = np.random.default_rng(3)
    other = replace(SCOPE, instrument="another")
    pair = channel(rng, 1000, "A"), channel(rng, 1100, "B", other)
    found = delay_between(*pair)
    assert "of two instruments, whose records have no common time" in found.cannot_tell


def test_a_skew_that_is_not_declared_is_said_to_be_taken_as_zero():
    rng = np.random.default_rng(4)
    pair = channel(rng, 1000, "A"), channel(rng, 1100, "B", TWO)
    assert delay_between(*pair).notes == (
        "the skew between the channels is taken as 0",
    )
    declared = delay_between(*pair, skew=5e-6)
    assert not declared.notes
    assert declared.standard_uncertainty == pytest.approx(5e-6 / 3**0.5, rel=0.05)


def test_an_edge_of_the_wanted_kind_is_taken():
    v = np.repeat([5.0, 0.0, 5.0], 200)
    trace = record(v, 1e-3)
    assert first_edge(trace, rising=True).value == pytest.approx(0.3995)
    assert first_edge(trace, rising=False).value == pytest.approx(0.1995)


def test_a_channel_without_an_edge_has_no_delay():
    rng = np.random.default_rng(5)
    flat = record(np.full(6000, 2.0), 1e-6, TWO, "flat")
    found = delay_between(channel(rng, 1000, "A"), flat)
    assert "no two states" in found.cannot_tell


def test_one_channel_has_no_stagger():
    with pytest.raises(InputError, match="at least two channels"):
        stagger_of([record(np.zeros(9))])

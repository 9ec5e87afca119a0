"""Equal steps of time: gaps, faults, and what rounding may do."""

import numpy as np
import pytest

from benchproof.measuring.captures.clock import Clock


def test_times_in_blocks_are_followed_as_one_record():
    times = np.arange(1000) * 1e-6
    times[500:] += 3e-4
    whole, cut = Clock(), Clock()
    assert whole.follow(times) is None
    for block in np.split(times, [1, 2, 499, 500, 501]):
        assert cut.follow(block) is None
    assert whole.begins == cut.begins
    assert whole.begins[1] == (500, pytest.approx(8e-4))
    assert cut.interval == pytest.approx(1e-6)


def test_a_step_back_at_the_border_of_blocks_is_found():
    clock = Clock()
    assert clock.follow(np.array([0.0, 1.0, 2.0])) is None
    fault = clock.follow(np.array([1.5, 3.0]))
    assert fault.row == 3
    assert "runs backwards by 0.5 s where 1 s is usual" in fault.text


def test_rounded_times_are_no_faults():
    times = (np.arange(2000) * 0.00037).round(4)  # steps of 0.3 and 0.4 ms
    clock = Clock(1e-4)
    assert clock.follow(times) is None
    assert clock.drift() is None
    assert clock.begins == [(0, 0.0)]
    assert clock.interval == pytest.approx(0.00037, rel=1e-3)


def test_an_infinite_or_missing_time_is_a_fault():
    for bad in (np.nan, np.inf):
        assert Clock().follow(np.array([0.0, bad, 2.0])).row == 1


def test_a_single_time_has_no_interval():
    clock = Clock()
    clock.follow(np.array([4.0]))
    assert clock.interval == 0.0
    assert clock.drift() is None

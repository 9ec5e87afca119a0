"""The garbage collector stands still while many rows are made, and only then."""

import gc

import pytest

from benchproof.keeping.logs.collecting import collecting_paused


def test_the_collector_runs_again_after_a_failure():
    with pytest.raises(ValueError, match="a bad row"), collecting_paused():
        raise ValueError("a bad row")
    assert gc.isenabled()


def test_a_collector_that_was_off_stays_off():
    gc.disable()
    try:
        with collecting_paused():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_a_pause_within_a_pause_does_not_end_the_outer_one():
    with collecting_paused():
        with collecting_paused():
            pass
        assert not gc.isenabled()
    assert gc.isenabled()

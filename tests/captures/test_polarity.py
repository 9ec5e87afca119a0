from dataclasses import replace

import numpy as np
import pytest
from captures.invented import PLAIN, record

from benchproof.measuring.captures.polarity import polarity_of

RECTIFIED = np.abs(np.sin(2 * np.pi * np.arange(20_000) / 2000))


def test_a_pulsating_supply_that_stays_positive_does_not_reverse():
    found = polarity_of(record(8.4 + 9.2 * RECTIFIED))
    assert found.reverses is False
    assert str(found).startswith("polarity does not reverse: minimum = 8.4")


@pytest.mark.parametrize("sign", [1, -1])
def test_an_alternating_supply_reverses(sign):
    v = sign * (2 + 12 * np.sin(np.arange(20_000) / 300))
    assert polarity_of(record(v)).reverses is True


def test_a_negative_supply_is_judged_by_its_maximum():
    found = polarity_of(record(-8.4 - 9.2 * RECTIFIED))
    assert found.reverses is False
    assert found.extreme.name == "maximum"


@pytest.mark.parametrize("coupling", ["AC", ""])
def test_a_record_that_is_not_known_to_be_dc_coupled_has_no_verdict(coupling):
    trace = record(2 + RECTIFIED, settings=replace(PLAIN, coupling=coupling))
    found = polarity_of(trace)
    assert found.reverses is None
    assert "coupl" in found.text


def test_a_minimum_within_noise_of_zero_has_no_verdict():
    noise = 0.05 * np.random.default_rng(2).standard_normal(RECTIFIED.size)
    found = polarity_of(record(5 * RECTIFIED + noise))
    assert found.reverses is None
    assert "reach across 0" in found.text

"""Codes on disk: whole numbers where they hold every digit, doubles where not."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.keeping.captures.codefile import CodeWriter

DIGITS = st.integers(0, 7)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("codes") / "0.npy"


def kept(path, blocks, decimals=0):
    writer = CodeWriter(path, decimals)
    for block in blocks:
        writer.append(np.array(block, dtype=float))
    written = writer.close()
    return np.load(path), written


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.lists(st.tuples(st.integers(-(10**6), 10**6), DIGITS), max_size=5),
        max_size=5,
    ),
    DIGITS,
)
def test_decimal_numbers_come_back_to_the_last_digit(path, blocks, decimals):
    texts = [[str(Decimal(n).scaleb(-d)) for n, d in block] for block in blocks]
    expected = [float(t) for block in texts for t in block]
    codes, written = kept(path, [[float(t) for t in b] for b in texts], decimals)
    assert codes.shape == (written.count,) == (len(expected),)
    assert codes * written.step == pytest.approx(expected, rel=4e-16, abs=0)


def test_the_step_of_a_converter_is_found(path):
    codes, written = kept(path, [[0.0, 0.08, -0.12], [5.2]], 2)
    assert (codes.dtype, written.step) == (np.int16, 0.04)
    assert codes.tolist() == [0, 2, -3, 130]


def test_a_finer_step_later_refines_what_was_written(path):
    codes, written = kept(path, [[5.0, 5.0], [0.0], [7.5], [7.75]])
    assert written.step == 0.25
    assert codes.tolist() == [20, 20, 0, 30, 31]


def test_wider_codes_later_widen_what_was_written(path):
    codes, written = kept(path, [[1.0, 2.0], [1e6]])
    assert (codes.dtype, written.step) == (np.int32, 1.0)
    assert codes.tolist() == [1, 2, 1_000_000]


@pytest.mark.parametrize("last", [np.pi * 1e-9, 1e10 + 0.5, 1e300])
def test_what_needs_more_than_32_bits_is_kept_in_double_precision(path, last):
    codes, written = kept(path, [[0.1, 0.7], [last]], 1)
    assert (codes.dtype, written.step) == (np.float64, 1.0)
    assert codes.tolist() == [0.1, 0.7, last]


def test_missing_stretches_join_across_blocks(path):
    nan = float("nan")
    _, written = kept(path, [[nan, 1.0, nan], [nan, nan], [2.0, nan]])
    assert written.missing == ((0, 1), (2, 5), (6, 7))


def test_a_channel_of_zeros_has_a_step(path):
    codes, written = kept(path, [[0.0, 0.0]], 2)
    assert codes.tolist() == [0, 0]
    assert written.step > 0

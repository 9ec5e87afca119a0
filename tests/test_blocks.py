"""Definite length blocks: what is complete, and what is not one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loopback import block

from benchproof.measuring.blocks import block_payload, block_size
from benchproof.values.errors import ConnectionFailedError


@given(st.binary(min_size=1, max_size=300), st.sampled_from([b"", b"\n", b"\r\n"]))
def test_any_bytes_come_back_from_a_block_with_any_line_end(data, line_end):
    assert block_payload(block(data) + line_end) == data


@given(st.binary(min_size=1, max_size=300), st.data())
def test_a_block_cut_anywhere_is_refused_or_asks_for_more(data, choice):
    whole = block(data)
    cut = whole[: choice.draw(st.integers(0, len(whole) - 1))]
    size = block_size(cut)
    assert size is None or size == len(whole)
    with pytest.raises(ConnectionFailedError, match=r"came|inside the header"):
        block_payload(cut)


def test_newlines_inside_the_data_and_at_its_end_are_data():
    assert block_payload(b"#14a\n\nb") == b"a\n\nb"
    assert block_payload(b"#13ab\n\n") == b"ab\n"


def test_the_size_counts_the_header():
    assert block_size(b"#41000") == 6 + 1000


def test_a_long_length_is_read_to_its_last_digit():
    assert block_size(b"#9000000012") == 11 + 12
    assert block_size(b"#900000001") is None


@pytest.mark.parametrize("start", [b"", b"#", b"#3", b"#310"])
def test_an_incomplete_header_asks_for_more(start):
    assert block_size(start) is None


@pytest.mark.parametrize(
    ("start", "said"),
    [
        (b"CURVE #15hello", "leave out the header"),
        (b"1.0,2.0\n", "leave out the header"),
        (b"#0abc\n", "states no length"),
        (b"#x5hello", "cannot be read"),
        (b"#2 5hello", "cannot be read"),
        (b"#3-05hello", "cannot be read"),
        (b"#31_0hello", "cannot be read"),
    ],
)
def test_what_begins_no_block_is_refused_with_the_remedy(start, said):
    with pytest.raises(ConnectionFailedError, match=said):
        block_size(start)


def test_a_header_that_states_too_little_is_refused():
    with pytest.raises(
        ConnectionFailedError, match="states 2 bytes, and more came: b'llo'"
    ):
        block_payload(block(b"hello", stated=2))


def test_a_header_that_states_too_much_is_refused():
    with pytest.raises(ConnectionFailedError, match="states 9 bytes, 5 came"):
        block_payload(block(b"hello", stated=9))


def test_an_empty_block_is_refused():
    with pytest.raises(ConnectionFailedError, match="block is empty"):
        block_payload(b"#10\n")

"""A conversation with an instrument on the loopback: what can go wrong in it."""

import time

import pytest
from loopback import HANG_UP, Loopback, block

from benchproof.keeping.live.dialogue import conversation
from benchproof.keeping.live.transport import connect
from benchproof.measuring.connections import Connection
from benchproof.values.errors import ConnectionFailedError

IDENTITY = b"INVENTED INSTRUMENTS,BM-1,0001,fw 1.2\n"


def asked(answers, ask, *, timeout_s=0.3, **options):
    """Ask a loopback instrument once; it must see us leave, whatever happens."""
    with Loopback({"*IDN?": IDENTITY, **answers}) as instrument:
        connection = Connection(instrument.resource, timeout_s=timeout_s, **options)
        try:
            with conversation("bench_meter", connection, connect, time.monotonic) as (
                dialogue,
                identity,
            ):
                return ask(dialogue, identity)
        finally:
            until = time.monotonic() + 2
            while instrument.left < 1 and time.monotonic() < until:
                time.sleep(0.005)
            assert instrument.left == instrument.opened == 1


def line(answer, **options):
    return asked({"Q?": answer}, lambda d, _: d.ask("Q?"), **options)


def data(answer, **options):
    return asked({"CURV?": answer}, lambda d, _: d.ask_block("CURV?"), **options)


def test_an_answer_is_one_line_without_its_end():
    assert line(b"+1.2098E+01\r\n") == "+1.2098E+01"


def test_an_answer_in_pieces_is_put_together():
    assert line((b"+1.20", b"98E", b"+01\n")) == "+1.2098E+01"


def test_a_carriage_return_can_end_a_line():
    answers = {"*IDN?": b"INVENTED\r", "Q?": b"12\r"}
    got = asked(answers, lambda d, _: d.ask("Q?"), line_end="\r")
    assert got == "12"


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (b"", r"did not answer in full within 0.3 s; 0 bytes came"),
        (b"12.0", r"did not answer in full within 0.3 s; 4 bytes came"),
        (HANG_UP, r"hung up after 0 bytes"),
        ((b"12.", HANG_UP), r"hung up after 3 bytes"),
        (b"\n", r"sent an empty answer"),
        (b"  \r\n", r"sent an empty answer"),
        (b"\xff\xfe\x00\n", r"no text: b'\\xff"),
        (b"\x1b[2J12.0\n", r"no text"),
        (b"12.0\n12.1\n", r"more than one line"),
        (b"x" * 70000, r"without a line end"),
    ],
)
def test_what_is_no_answer_is_refused_and_says_what_to_do(answer, said):
    with pytest.raises(ConnectionFailedError, match=said) as caught:
        line(answer if isinstance(answer, tuple) else (answer,))
    assert str(caught.value).startswith("bench_meter, 'Q?': ")
    assert "run the cell again" in str(caught.value)


def test_an_instrument_that_drips_bytes_is_not_waited_for_longer():
    drips = tuple(b"1" for _ in range(200))
    start = time.monotonic()
    with pytest.raises(ConnectionFailedError, match="did not answer in full"):
        line(drips, timeout_s=0.2)
    assert time.monotonic() - start < 1.5  # all drips would take 2 s


def test_a_block_with_newlines_inside_comes_whole():
    content = b"\n\r\n#15hello\n" * 20
    assert data(block(content) + b"\n") == content


def test_a_block_without_a_line_end_comes_whole():
    assert data(block(b"\x00\xff\n")) == b"\x00\xff\n"


def test_a_block_in_pieces_comes_whole():
    whole = block(bytes(range(256)))
    assert data((whole[:1], whole[1:4], whole[4:100], whole[100:], b"\n")) == bytes(
        range(256)
    )


def test_a_large_block_comes_whole():
    content = bytes(range(256)) * 8192
    assert data(block(content) + b"\n") == content


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ((block(b"hello")[:5], HANG_UP), "hung up after 5 bytes"),
        ((b"#", HANG_UP), "hung up after 1 bytes"),
        ((block(b"hello", stated=9),), "did not answer in full.*8 bytes came"),
        ((block(b"hello", stated=2),), "states 2 bytes, and more came: b'l"),
        ((block(b"ab\ncd", stated=2), b"\n"), "states 2 bytes, and more came: b'c"),
        ((b"12.0\n",), "a block begins with b'#'"),
        ((b"#0abc\n",), "states no length"),
        ((b"#10\n",), "block is empty"),
    ],
)
def test_a_block_that_is_not_whole_is_refused(answer, said):
    with pytest.raises(ConnectionFailedError, match=said) as caught:
        data(answer)
    assert str(caught.value).startswith("bench_meter, 'CURV?': ")


def test_the_query_after_a_block_gets_its_own_answer():
    answers = {"CURV?": block(b"a\nb") + b"\n", "Q?": b"12\n"}
    got = asked(answers, lambda d, _: (d.ask_block("CURV?"), d.ask("Q?")))
    assert got == (b"a\nb", "12")


@pytest.mark.parametrize(
    "declared", ["", "INVENTED INSTRUMENTS", "INVENTED INSTRUMENTS, BM-1,0001"]
)
def test_an_identity_is_compared_field_by_field(declared):
    got = asked({}, lambda d, identity: identity, identity=declared)
    assert got == IDENTITY.decode().strip()


@pytest.mark.parametrize("declared", ["INVENTED INSTRUMENTS,BM-1,0002", "INVENTED"])
def test_another_instrument_than_the_declared_is_refused(declared):
    with pytest.raises(ConnectionFailedError, match="errors of its own"):
        asked({}, lambda d, identity: identity, identity=declared)


def test_an_instrument_without_an_identity_is_not_asked_for_it():
    got = asked({"*IDN?": b""}, lambda d, identity: identity, identity_query="")
    assert got == ""


def test_nobody_at_the_address_is_said_with_what_to_look_at():
    connection = Connection("TCPIP::127.0.0.1::1::SOCKET", timeout_s=0.3)
    with (
        pytest.raises(ConnectionFailedError, match="cannot be opened .* is on, conn"),
        conversation("bench_meter", connection, connect, time.monotonic),
    ):
        raise AssertionError("there is nobody")

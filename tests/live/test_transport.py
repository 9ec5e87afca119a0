"""Sockets and VISA resources as transports."""

import sys
import time

import pytest
from loopback import Loopback, block

from benchproof.keeping.live.dialogue import conversation
from benchproof.keeping.live.transport import SocketTransport, connect
from benchproof.measuring.connections import Connection
from benchproof.values.errors import ConnectionFailedError

SIMULATED = """\
spec: "1.1"
devices:
  bench meter:
    eom:
      ASRL INSTR: {q: "\\n", r: "\\n"}
      GPIB INSTR: {q: "\\n", r: "\\n"}
      TCPIP INSTR: {q: "\\n", r: "\\n"}
      USB INSTR: {q: "\\n", r: "\\n"}
    error: ERROR
    dialogues:
      - {q: "*IDN?", r: "INVENTED INSTRUMENTS,BM-1,0001"}
      - {q: "MEAS:VOLT:DC?", r: "+1.2098E+01"}
      - {q: "CURV?", r: "#15hello"}
resources:
  ASRL1::INSTR: {device: bench meter}
  GPIB0::8::INSTR: {device: bench meter}
  TCPIP0::192.0.2.1::inst0::INSTR: {device: bench meter}
  USB0::0x1234::0x5678::A0001::0::INSTR: {device: bench meter}
"""


def test_a_socket_sends_and_receives_bytes_and_hears_when_it_ends():
    with Loopback({"Q?": (b"a\nb", "hang up")}) as instrument:
        port = int(instrument.resource.split("::")[2])
        transport = SocketTransport("127.0.0.1", port, 1.0)
        try:
            with pytest.raises(TimeoutError):
                transport.read(10, 0.05)
            transport.write(b"Q?\n")
            assert transport.read(10, 1.0) == b"a\nb"
            assert transport.read(10, 1.0) == b""
        finally:
            transport.close()


@pytest.mark.parametrize(
    "spelling", ["tcpip0::{}::{}::socket", "TCPIP::{}::{}::SOCKET"]
)
def test_a_socket_needs_nothing_installed_however_it_is_spelt(spelling):
    with Loopback({}) as instrument:
        _, host, port, _ = instrument.resource.split("::")
        transport = connect(Connection(spelling.format(host, port)))
        transport.close()
        assert isinstance(transport, SocketTransport)


@pytest.fixture
def visa_library(tmp_path):
    pytest.importorskip("pyvisa_sim", reason="needs pyvisa and pyvisa-sim")
    path = tmp_path / "bench.yaml"
    path.write_text(SIMULATED, encoding="utf-8")
    return f"{path}@sim"


@pytest.mark.parametrize(
    "resource",
    [
        "ASRL1::INSTR",
        "GPIB0::8::INSTR",
        "TCPIP0::192.0.2.1::inst0::INSTR",
        "USB0::0x1234::0x5678::A0001::0::INSTR",
    ],
)
def test_a_visa_resource_is_asked_like_a_socket(visa_library, resource):
    connection = Connection(resource, visa_library=visa_library, timeout_s=0.5)
    with conversation("meter", connection, connect, time.monotonic) as (said, who):
        assert who == "INVENTED INSTRUMENTS,BM-1,0001"
        assert said.ask("MEAS:VOLT:DC?") == "+1.2098E+01"
        assert said.ask_block("CURV?") == b"hello"
        assert said.ask("MEAS:VOLT:DC?") == "+1.2098E+01"


@pytest.mark.parametrize("resource", ["GPIB0::9::INSTR", "NOWHERE::9::INSTR"])
def test_a_visa_resource_that_is_not_there_is_named(visa_library, resource):
    connection = Connection(resource, visa_library=visa_library, timeout_s=0.2)
    with (
        pytest.raises(ConnectionFailedError, match=rf"{resource} cannot|meter, '.IDN"),
        conversation("meter", connection, connect, time.monotonic),
    ):
        raise AssertionError("there is nobody")


def test_a_socket_by_way_of_visa_gives_the_same_answers():
    pytest.importorskip("pyvisa_py", reason="needs pyvisa and pyvisa-py")
    content = b"\n\r\n#15hello\n" * 20
    answers = {"*IDN?": b"INVENTED\n", "CURV?": block(content) + b"\n", "Q?": b"12\n"}
    with Loopback(answers) as instrument:
        connection = Connection(instrument.resource, visa_library="@py", timeout_s=0.5)
        with conversation("meter", connection, connect, time.monotonic) as (said, who):
            assert who == "INVENTED"
            assert said.ask_block("CURV?") == content
            assert said.ask("Q?") == "12"


def test_a_silent_visa_resource_is_not_waited_for_longer(visa_library):
    connection = Connection(
        "GPIB0::8::INSTR",
        visa_library=visa_library,
        identity_query="",
        timeout_s=0.2,
    )
    with conversation("meter", connection, connect, time.monotonic) as (said, _):
        assert said.ask("*IDN?").startswith("INVENTED")
        transport = said._transport
        with pytest.raises(TimeoutError):
            transport.read(10, 0.1)


def test_without_visa_the_message_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "pyvisa", None)
    with pytest.raises(ConnectionFailedError, match=r"benchproof\[instruments\]"):
        connect(Connection("GPIB0::8::INSTR"))

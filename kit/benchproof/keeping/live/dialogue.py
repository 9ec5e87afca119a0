"""Asking one instrument: a query, one complete answer, or a clear failure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import NoReturn

from benchproof.keeping.live.transport import Connect, Transport
from benchproof.measuring.blocks import block_payload, block_size
from benchproof.measuring.connections import Connection
from benchproof.values.errors import ConnectionFailedError

_LONGEST_TEXT = 65536
_PIECE = 65536
_AFTER_BLOCK_S = 0.2
"""How long the line end behind a block may take; many instruments send none."""

Stopwatch = Callable[[], float]
"""Seconds from some beginning, e.g. `time.monotonic`."""


class Dialogue:
    """One connection, on which each query is followed by its answer.

    Parameters
    ----------
    transport : Transport
        Open; whoever opened it closes it.
    connection : Connection
        Says how long to wait and what ends a line.
    name : str
        Of the instrument, for messages.
    stopwatch : callable
    """

    def __init__(
        self,
        transport: Transport,
        connection: Connection,
        name: str,
        stopwatch: Stopwatch,
    ) -> None:
        self._transport = transport
        self._connection = connection
        self._name = name
        self._stopwatch = stopwatch
        self._came = bytearray()
        self._line_end = connection.line_end.encode()

    def ask(self, query: str) -> str:
        """Return the answer to a query, a line of plain text.

        Raises
        ------
        ConnectionFailedError
            If none came in time, or it is empty, broken off or no text.
        """
        self._send(query)
        until = self._stopwatch() + self._connection.timeout_s
        last = self._line_end[-1:]
        while last not in self._came:
            if len(self._came) > _LONGEST_TEXT:
                self._fail(query, f"sent {len(self._came)} bytes without a line end")
            self._receive(query, _PIECE, until - self._stopwatch())
        line, _, rest = bytes(self._came).partition(last)
        if rest.strip(b"\r\n"):
            self._fail(query, f"sent more than one line: {bytes(self._came[:60])!r}")
        self._came.clear()
        return self._text(query, line)

    def _text(self, query: str, line: bytes) -> str:
        try:
            text = line.decode("ascii").strip()
        except UnicodeDecodeError:
            text = "\0"
        if not text.isprintable():
            self._fail(query, f"sent what is no text: {line[:60]!r}")
        if not text:
            self._fail(query, "sent an empty answer")
        return text

    def ask_block(self, query: str) -> bytes:
        """Return the data of the block that answers a query.

        Raises
        ------
        ConnectionFailedError
            If it is not one complete block.
        """
        self._send(query)
        size = None
        while size is None or len(self._came) < size:
            due = 1 if size is None else size - len(self._came)
            self._receive(query, due, self._connection.timeout_s)
            with self._naming(query):
                size = block_size(bytes(self._came[:16]))
        self._receive_line_end(size)
        answer = bytes(self._came)
        self._came.clear()
        with self._naming(query):
            return block_payload(answer)

    @contextmanager
    def _naming(self, query: str) -> Iterator[None]:
        """Say in front of a failure whom it concerns."""
        try:
            yield
        except ConnectionFailedError as problem:
            raise ConnectionFailedError(f"{self._name}, {query!r}: {problem}") from None

    def _receive_line_end(self, size: int) -> None:
        """Take in what follows a block, which is complete already: one line end."""
        with suppress(OSError):
            while not self._came[size:].strip(b"\r"):
                self._came += self._transport.read(1, _AFTER_BLOCK_S) or b"\n"

    def _send(self, query: str) -> None:
        try:
            self._transport.write(query.encode("ascii") + self._line_end)
        except OSError as problem:
            self._fail(query, f"took nothing ({problem})")

    def _receive(self, query: str, due: int, seconds: float) -> None:
        """Add what comes next; a failure says how much had come."""
        came = len(self._came)
        try:
            piece = self._transport.read(min(due, _PIECE), max(seconds, 0.001))
        except TimeoutError:
            waited = f"within {self._connection.timeout_s:g} s"
            self._fail(query, f"did not answer in full {waited}; {came} bytes came")
        except OSError as problem:
            self._fail(query, f"broke off after {came} bytes ({problem})")
        if not piece:
            self._fail(query, f"hung up after {came} bytes")
        self._came += piece

    def _fail(self, query: str, what: str) -> NoReturn:
        raise ConnectionFailedError(
            f"{self._name}, {query!r}: {what}. See that the instrument is not busy or "
            "in local mode, that it knows this query, and that timeout in "
            "instruments.toml is long enough; then run the cell again."
        )


@contextmanager
def conversation(
    name: str, connection: Connection, connect: Connect, stopwatch: Stopwatch
) -> Iterator[tuple[Dialogue, str]]:
    """Open an instrument, check which one it is, and give it back at the end.

    Parameters
    ----------
    name : str
        As declared.
    connection : Connection
    connect : callable
        Opens the transport.
    stopwatch : callable

    Yields
    ------
    Dialogue, str
        The instrument's answer to the identity query; "" if it was not asked.

    Raises
    ------
    ConnectionFailedError
        If it cannot be opened, or is another instrument than the declared one.
    """
    transport = connect(connection)
    try:
        dialogue = Dialogue(transport, connection, name, stopwatch)
        identity = ""
        if connection.identity_query:
            identity = dialogue.ask(connection.identity_query)
        _require_identity(name, connection.identity, identity)
        yield dialogue, identity
    finally:
        transport.close()


def _require_identity(name: str, declared: str, answered: str) -> None:
    wanted, found = _fields(declared), _fields(answered)
    if declared and found[: len(wanted)] != wanted:
        raise ConnectionFailedError(
            f"{name}: declared as {declared!r}, and {answered!r} answers. Nothing was "
            "read. Connect the declared instrument, or declare this one under a name "
            "of its own: another instrument has errors of its own."
        )


def _fields(identity: str) -> list[str]:
    """Split maker, model, serial number, firmware; the last may be left out."""
    return [field.strip() for field in identity.split(",")]

"""Bytes to an instrument and back: over a plain socket, or whatever VISA reaches."""

from __future__ import annotations

import re
import socket
from collections.abc import Callable
from typing import Any, Protocol

from benchproof.measuring.connections import Connection
from benchproof.values.errors import ConnectionFailedError

_SOCKET = re.compile(
    r"TCPIP\d*::(?P<host>\[[^\]]+\]|[^:]+)::(?P<port>\d+)::SOCKET", re.I
)

_MESSAGE = 1 << 20


class Transport(Protocol):
    """What a conversation needs of a connection."""

    def write(self, data: bytes) -> None:
        """Send all of it; OSError if it cannot be sent."""

    def read(self, size: int, seconds: float) -> bytes:
        """Return some bytes, more than are due if more are there.

        So many as `size` are due, unless a line ends before.
        Empty when the other side has hung up; TimeoutError if nothing came in time.
        """

    def close(self) -> None:
        """Give the instrument back."""


Connect = Callable[[Connection], Transport]


class SocketTransport:
    """A plain TCP connection, for which nothing needs to be installed."""

    def __init__(self, host: str, port: int, seconds: float) -> None:
        self._socket = socket.create_connection((host, port), timeout=seconds)
        self._seconds = seconds

    def write(self, data: bytes) -> None:
        """Send all of it."""
        self._socket.settimeout(self._seconds)
        self._socket.sendall(data)

    def read(self, size: int, seconds: float) -> bytes:
        """Return what has come, after waiting for it."""
        self._socket.settimeout(seconds)
        return self._socket.recv(_MESSAGE)

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()


class VisaTransport:
    """Any resource of a VISA library, by way of the optional `pyvisa`."""

    def __init__(self, connection: Connection) -> None:
        import pyvisa

        self._failed = pyvisa.errors.Error
        self._status: Any = pyvisa.constants.StatusCode
        # One manager serves all of a library's resources; closing it ends them all.
        manager = pyvisa.ResourceManager(connection.visa_library)
        self._resource: Any = manager.open_resource(connection.resource)
        if not isinstance(self._resource, pyvisa.resources.MessageBasedResource):
            self._resource.close()
            raise ValueError("no resource of this kind can be asked")
        self._line_end = connection.line_end.encode()
        self._seconds = connection.timeout_s
        # Where bytes only flow, VISA waits for all it is asked for, or a line end.
        self._flows = connection.resource.upper().startswith("ASRL")
        self._flows |= connection.resource.upper().endswith("::SOCKET")
        if self._flows:
            self._resource.read_termination = connection.line_end[-1]
        if connection.baud_rate:
            self._resource.baud_rate = connection.baud_rate

    def write(self, data: bytes) -> None:
        """Send all of it."""
        self._resource.timeout = 1000 * self._seconds
        try:
            self._resource.write_raw(data)
        except self._failed as problem:
            raise self._translated(problem) from None

    def read(self, size: int, seconds: float) -> bytes:
        """Return one piece of the answer, after waiting for it."""
        self._resource.timeout = max(1, 1000 * seconds)
        library, session = self._resource.visalib, self._resource.session
        try:
            # Less than there is, because it was asked for, is nothing to warn of.
            with library.ignore_warning(session, self._status.success_max_count_read):
                due = size if self._flows else _MESSAGE
                data, status = library.read(session, due)
        except self._failed as problem:
            raise self._translated(problem) from None
        # A bus that marks the end of a message often sends no line end with it, and
        # takes it ill to be asked for more; one line end too many does no harm.
        ended = not self._flows and status == self._status.success
        return bytes(data) + (self._line_end if ended else b"")

    def close(self) -> None:
        """Close the resource."""
        self._resource.close()

    def _translated(self, problem: Exception) -> OSError:
        if getattr(problem, "error_code", None) == self._status.error_timeout:
            return TimeoutError(str(problem))
        return OSError(str(problem))


def connect(connection: Connection) -> Transport:
    """Open the connection to an instrument.

    Parameters
    ----------
    connection : Connection
        ``TCPIP::host::port::SOCKET`` is opened as a plain socket, unless it names a
        ``visa_library``; everything else needs `pyvisa`.

    Raises
    ------
    ConnectionFailedError
        If it cannot be opened.

    Examples
    --------
    >>> try:
    ...     connect(Connection("TCPIP::127.0.0.1::1::SOCKET"))
    ... except ConnectionFailedError as problem:
    ...     str(problem)[:44]
    'TCPIP::127.0.0.1::1::SOCKET cannot be opened'
    """
    plain = _SOCKET.fullmatch(connection.resource)
    try:
        if plain and not connection.visa_library:
            host = plain["host"].strip("[]")
            return SocketTransport(host, int(plain["port"]), connection.timeout_s)
        return VisaTransport(connection)
    except ModuleNotFoundError:
        raise ConnectionFailedError(
            f"{connection.resource}: VISA is not installed. Install it with: pip "
            "install 'benchproof[instruments]'; or use the instrument's plain socket, "
            "TCPIP::address::port::SOCKET."
        ) from None
    except Exception as problem:  # VISA libraries raise every kind
        raise ConnectionFailedError(
            f"{connection.resource} cannot be opened ({problem}). See that the "
            "instrument is on, connected and in use by no other program, and that "
            "resource in instruments.toml is its address."
        ) from None

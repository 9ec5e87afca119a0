"""A small instrument on this machine's loopback: it answers what it was told to."""

import socket
import threading
from contextlib import suppress

HANG_UP = "hang up"


class Loopback:
    """Answers SCPI queries on a socket, one connection after the other.

    `answers` maps a query to bytes, or to a list of which each query takes the next.
    Within it, a tuple is sent in pieces, and HANG_UP closes the connection there.
    A query without an answer is met with silence.
    """

    def __init__(self, answers):
        self.answers = answers
        self.heard = []
        self.opened = 0
        self.left = 0
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(0.02)
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._serve)

    @property
    def resource(self):
        return f"TCPIP::127.0.0.1::{self._server.getsockname()[1]}::SOCKET"

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *said):
        self._stopped.set()
        self._thread.join(5)
        self._server.close()

    def _serve(self):
        while not self._stopped.is_set():
            try:
                connection, _ = self._server.accept()
            except TimeoutError:
                continue
            self.opened += 1
            # Whoever was tired of waiting is gone when the rest is sent.
            with connection, suppress(ConnectionError):
                connection.settimeout(0.02)
                self._converse(connection)
            self.left += 1

    def _converse(self, connection):
        came = b""
        while not self._stopped.is_set():
            try:
                piece = connection.recv(4096)
            except TimeoutError:
                continue
            if not piece:
                return
            came += piece
            came = came.replace(b"\r", b"\n").replace(b"\n\n", b"\n")
            while b"\n" in came:
                line, _, came = came.partition(b"\n")
                query = line.decode("ascii").strip()
                self.heard.append(query)
                if not self._answer(connection, query):
                    return

    def _answer(self, connection, query):
        answer = self.answers.get(query, b"")
        if isinstance(answer, list):
            answer = answer.pop(0) if answer else b""
        for part in answer if isinstance(answer, tuple) else (answer,):
            if part == HANG_UP:
                return False
            connection.sendall(part)
            self._stopped.wait(0.01)
        return True


def block(data, *, stated=None):
    """Return `data` as a definite length block, with a true or another length."""
    length = str(len(data) if stated is None else stated).encode()
    return b"#" + str(len(length)).encode() + length + data

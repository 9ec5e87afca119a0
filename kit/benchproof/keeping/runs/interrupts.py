"""Ctrl+C while a notebook runs: once stops the cell, twice ends the kernel."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from dataclasses import dataclass, field
from typing import Any


@dataclass(slots=True)
class Interrupt:
    """Whether somebody asked a run to stop, and the way to stop it.

    Attributes
    ----------
    client : NotebookClient or None
        Whose kernel is stopped.
    asked : bool
    """

    client: Any = None
    asked: bool = False
    _stopping: list[Any] = field(default_factory=list)

    def listen(self, client: Any) -> None:
        """Take signals instead of the client, which would only see a dead kernel.

        To be called in its event loop, when the kernel is ready.
        """
        self.client = client
        # Not in the main thread (a run within a notebook), or not on this system: then
        # Python raises KeyboardInterrupt as usual.
        with contextlib.suppress(RuntimeError):
            loop = asyncio.get_running_loop()
            loop.add_signal_handler(signal.SIGINT, self.ask)
            loop.add_signal_handler(signal.SIGTERM, self.ask, True)

    def ask(self, at_once: bool = False) -> None:
        """Interrupt the cell; if it was asked before, end the kernel."""
        manager = self.client.km
        if at_once or self.asked:
            stopping = manager.shutdown_kernel(now=True)
        else:
            stopping = manager.interrupt_kernel()
        self.asked = True
        # A task that nobody holds may be collected before it ran.
        self._stopping.append(asyncio.ensure_future(stopping))

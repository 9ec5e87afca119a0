"""What the panel asks and is told: plain words, both ways."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a request.

    Attributes
    ----------
    ok : bool
        Whether it was done; if not, what was typed stays in its field.
    text : str
        One sentence or a few.
    flags : tuple of str
        What to look at while the leads are still on: drift, a slip, a warning.
    offers : tuple of str
        Ways on after a refusal: ``correction``, ``round``.
    """

    ok: bool
    text: str
    flags: tuple[str, ...] = ()
    offers: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """Return it as the panel's script reads it."""
        return {k: list(v) if k in ("flags", "offers") else v for k, v in
                asdict(self).items()}  # fmt: skip


Said = Mapping[str, str]
Way = Callable[[Said], Answer]
"""One thing that can be asked for."""


def said_of(message: Mapping[str, Any]) -> dict[str, str]:
    """Take the texts of a message; anything else in it is left out."""
    return {
        str(key): " ".join(value.split())
        for key, value in message.items()
        if isinstance(value, str)
    }

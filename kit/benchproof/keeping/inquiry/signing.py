"""Free sentences, signed against the values and verdicts they rest on."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING

from benchproof.keeping.live.instrument import RERUN
from benchproof.values.errors import InputError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

STALE = "STALE: "
"""Begins a sentence whose values or verdicts are others now."""


def signed_text(case: Case, sentence: str, against: Mapping[str, str]) -> str:
    """Return a sentence, marked where what it was signed against has changed.

    Parameters
    ----------
    against : mapping
        Name of a quantity, rate or rival, to what was shown for it.

    Raises
    ------
    InputError
        If nothing is named, or a name is not known.
    """
    if not against:
        raise InputError(
            f"signed: {sentence[:40]!r} names nothing it rests on. Give names and what "
            'is shown for them: {"V_min": "8.819(60) V", "H2": "contradicted"}.'
        )
    now = {name: case.shown(name) for name in against}
    moved = [
        f"{name} was {was or 'not given'}, is {now[name]}"
        for name, was in against.items()
        if was != now[name]
    ]
    return f"{STALE}{sentence.strip()} ({'; '.join(moved)})" if moved else sentence


def sign(case: Case, sentence: str, against: Mapping[str, str]) -> str:
    """Return a signed sentence; a stale one stops the cell, but not a headless run.

    There it is marked, so that a run after new readings reaches its end.

    Raises
    ------
    InputError
        If it is stale, with what to sign it against.
    """
    text = signed_text(case, sentence, against)
    if text.startswith(STALE) and os.environ.get(RERUN) != "1":
        now = {name: case.shown(name) for name in against}
        raise InputError(
            f"{text.removeprefix(STALE)}: the sentence was signed against something "
            f"else. Rewrite it, or, if it still holds, sign it against {now}."
        )
    return text

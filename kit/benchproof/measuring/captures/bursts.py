"""Hiccup: how long a supply is on and off, and the share it is on."""

from __future__ import annotations

from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.extremes import extremes_of, gaps
from benchproof.measuring.captures.finding import Finding, unknown
from benchproof.measuring.captures.noise import Noise, noise_within
from benchproof.measuring.captures.pulses import between_edges
from benchproof.measuring.captures.trace import Trace
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

NAMES = ("on time", "off time", "repetition", "on share")
"""What `bursts_of` finds."""

_ALIAS = {
    "on time": "high time",
    "off time": "low time",
    "repetition": "period",
    "on share": "duty",
}


def bursts_of(
    trace: Trace, off: float, on: float, noise: Noise | None = None
) -> dict[str, Finding]:
    """Mean on time, off time, repetition and share of the time on.

    Declare the two thresholds before looking at the record.

    Parameters
    ----------
    off, on : float
        In SI: off once it falls to `off`, on once it rises to `on`; what happens
        between them changes nothing.
    noise : Noise, optional
        Else from the differences of its samples.

    Returns
    -------
    dict of str to Finding
        In the order of `NAMES`; whole times only, none cut by the record's ends.

    Raises
    ------
    InputError
        If `off` is not below `on`.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.tile(np.repeat([0.0, 9.0], [18250, 250]), 3)
    >>> found = bursts_of(Trace("rail", v, 1e-4, Settings("s", "CH1")), 2.0, 5.0)
    >>> round(found["on share"].value, 4)
    0.0135
    """
    if not off < on:
        raise InputError(
            f"{trace.name}: off at {off:g} and on at {on:g} leave no hysteresis. Give "
            "an off threshold below the on threshold."
        )
    units = {name: unit_of("%" if name == "on share" else "s") for name in NAMES}
    reason = gaps(trace, extremes_of(trace))
    text = f"off at {off:g}, on at {on:g} (SI); {settings_line(trace)}"
    if reason:
        return {name: unknown(name, units[name], reason, text) for name in NAMES}
    changes = trace.changes(off, on)
    times = changes.reached * trace.interval
    noise = noise or noise_within(trace)
    found = between_edges(trace, changes, times, on - off, noise)
    return {name: _renamed(found[_ALIAS[name]], name, text) for name in NAMES}


def _renamed(found: Finding, name: str, text: str) -> Finding:
    """Give a finding its name on this page; its sources keep theirs."""
    reason = found.cannot_tell.replace(_ALIAS[name], name)
    said = f"{found.text.partition(';')[0]}; {text}" if not reason else text
    return Finding(
        name, found.unit, found.value, found.parts, said, reason,
        tuple(note.replace(_ALIAS[name], name) for note in found.notes),
    )  # fmt: skip

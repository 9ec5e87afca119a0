"""Hiccup: how long a supply is on and off, and the share it is on."""

from __future__ import annotations

from benchproof.measuring.captures.channel import (
    coupling_doubt,
    no_level,
    settings_line,
)
from benchproof.measuring.captures.extremes import extremes_of, gaps
from benchproof.measuring.captures.finding import Finding, Found, unknown
from benchproof.measuring.captures.instants import settled
from benchproof.measuring.captures.noise import Noise, noise_within
from benchproof.measuring.captures.pulses import between_edges
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told
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
    trace: Trace, off: Stated, on: Stated, noise: Noise | None = None
) -> Found:
    """Mean on time, off time, repetition and share of the time on.

    Declare the two thresholds before looking at the record.

    Parameters
    ----------
    off, on : str or float
        ``"2.0 V"``, or in SI: off once it falls to `off`, on once it rises to `on`;
        what happens between them changes nothing.
    noise : Noise, optional
        Else from the differences of its samples.

    Returns
    -------
    Found
        In the order of `NAMES`; whole times only, none cut by the record's ends.

    Raises
    ------
    InputError
        If `off` is not below `on`, or one is of another dimension.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.tile(np.repeat([0.0, 9.0], [18250, 250]), 3)
    >>> found = bursts_of(Trace("rail", v, 1e-4, Settings("s", "CH1")), 2.0, 5.0)
    >>> round(found["on share"].value, 4)
    0.0135
    """
    unit = trace.settings.unit
    off, on = (
        in_si(level, unit, f"{trace.name}, {name}")
        for name, level in (("off", off), ("on", on))
    )
    if not off < on:
        raise InputError(
            f"{trace.name}: off at {off:g} and on at {on:g} leave no hysteresis. Give "
            "an off threshold below the on threshold."
        )
    units = {name: unit_of("%" if name == "on share" else "s") for name in NAMES}
    reason = no_level(trace) or gaps(trace, extremes_of(trace))
    said = f"off at {told(off, unit)}, on at {told(on, unit)}"
    text = f"{said}; {settings_line(trace)}"
    if reason:
        return Found({n: unknown(n, units[n], reason, text) for n in NAMES})
    changes = trace.changes(off, on)
    times = settled(trace, changes) * trace.interval
    noise = noise or noise_within(trace)
    found = between_edges(trace, changes, times, on - off, noise)
    doubt = coupling_doubt(trace)
    return Found({n: _renamed(found[_ALIAS[n]], n, text).noted(doubt) for n in NAMES})


def _renamed(found: Finding, name: str, text: str) -> Finding:
    """Give a finding its name on this page; its sources keep theirs."""
    reason = _reworded(found.cannot_tell)
    said = f"{found.text.partition(';')[0]}; {text}" if not reason else text
    return Finding(
        name, found.unit, found.value, found.parts, said, reason,
        tuple(map(_reworded, found.notes)),
    )  # fmt: skip


def _reworded(said: str) -> str:
    for name, word in _ALIAS.items():
        said = said.replace(word, name)
    return said

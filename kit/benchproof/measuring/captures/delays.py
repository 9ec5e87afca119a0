"""Delay between channels, and how far several of them are staggered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchproof.measuring.captures.channel import (
    duration_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.finding import (
    Finding,
    Part,
    derived,
    merged,
    unknown,
)
from benchproof.measuring.captures.instants import instant_parts, instants, only
from benchproof.measuring.captures.levels import Levels, levels_of
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Floats, Trace, require_same_interval
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

_BAND = (0.3, 0.7)
"""Shares of the amplitude that an edge must pass, against noise."""


def first_edge(
    trace: Trace,
    levels: Levels | None = None,
    rising: bool | None = None,
    band: tuple[float, float] = _BAND,
) -> Finding:
    """Time of the first edge at half the amplitude, on the record's time axis.

    Parameters
    ----------
    levels : Levels, optional
        Else from the record's histogram.
    rising : bool, optional
        Either kind if None.
    band : tuple of two floats
        Shares of the amplitude that an edge must pass, around half.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.repeat([0.0, 1.0], [500, 500])
    >>> record = Trace("r", v, 1e-3, Settings("scope", "CH1"), start=-0.4)
    >>> print(first_edge(record))
    r · edge = 99.50(29) ms
    """
    name, second = f"{trace.name} · edge", unit_of("s")
    levels, text = levels or levels_of(trace), settings_line(trace)
    if levels.cannot_tell:
        return unknown(name, second, levels.cannot_tell, text)
    low, high = levels.at(band[0]), levels.at(band[1])
    edges = _first(trace.changes(low, high), rising)
    if not len(edges):
        return unknown(name, second, f"{trace.name} holds no such edge.", text)
    place = float(instants(trace, edges, levels.at(0.5))[0])
    parts = instant_parts(trace, edges, "edge", high - low, levels.noise)
    return Finding(name, second, trace.time(place), merged(parts), text)


def _first(changes: Changes, rising: bool | None) -> Changes:
    kept = np.zeros(len(changes), bool)
    kind = np.flatnonzero((changes.rising == rising) | (rising is None))
    kept[kind[:1]] = True
    return only(changes, kept)


def delay_between(
    one: Trace,
    two: Trace,
    edges: tuple[Finding, Finding] | None = None,
    skew: Stated = 0.0,
) -> Finding:
    """Time from the first edge of one channel to the first edge of another.

    Parameters
    ----------
    one, two : Trace
        Channels of one record.
    edges : tuple of two Findings, optional
        Of `first_edge`, where levels or kinds had to be given.
    skew : str or float
        Limit of the delay between the channels themselves, probes included:
        ``"2 ns"``, or in s.

    Returns
    -------
    Finding
        Negative if `two` comes first. Without a value for channels of two
        instruments: their records have no common time.

    Raises
    ------
    InputError
        If the skew is negative, or the sampling intervals differ.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> a, b = (np.repeat([0.0, 5.0], [n, 4000 - n]) for n in (1000, 1027))
    >>> one = Trace("A", a, 1e-3, Settings("scope", "CH1"))
    >>> two = Trace("B", b, 1e-3, Settings("scope", "CH2"))
    >>> print(delay_between(one, two))
    A to B = 27.00(41) ms
    """
    name, second = f"{one.name} to {two.name}", unit_of("s")
    skew = in_si(skew, second, f"{name}, skew")
    if not skew >= 0:
        raise InputError(f"{name}: skew {skew:g}; give a limit in s, >= 0.")
    require_same_interval(one, two)
    if one.settings.instrument != two.settings.instrument:
        reason = (
            f"{one.name} and {two.name} are of two instruments, whose records have no "
            "common time. Record both on one."
        )
        return unknown(name, second, reason)
    begin, end = edges or (first_edge(one), first_edge(two))
    found = derived(name, second, end.value - begin.value, [(end, 1), (begin, -1)])
    if found.cannot_tell:
        return found
    parts: list[Part] = [*found.parts, *duration_parts(one, found.value)]
    parts += own_part(
        one, f"{two.name} · channel skew", skew / 3**0.5, second, "rectangular"
    )
    text = f"{begin.text}; {end.text}"
    said = "" if skew else "the skew between the channels is taken as 0"
    return Finding(name, second, found.value, merged(parts), text).noted(said)


def stagger_of(
    traces: Sequence[Trace], edges: Sequence[Finding] = (), skew: float = 0.0
) -> Finding:
    """Time from the earliest to the latest first edge of several channels.

    Parameters
    ----------
    traces : sequence of Trace
        At least two channels of one record.
    edges : sequence of Finding, optional
        Of `first_edge`, one for each trace.
    skew : str or float
        As for `delay_between`.

    Raises
    ------
    InputError
        If there are fewer than two traces, or their sampling intervals differ.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> steps = [np.repeat([0.0, 5.0], [n, 400 - n]) for n in (120, 100, 127)]
    >>> axes = [Trace(f"A{i}", v, 1e-3, Settings("s", "")) for i, v in enumerate(steps)]
    >>> round(stagger_of(axes).value, 6)
    0.027
    """
    if len(traces) < 2:
        raise InputError("stagger: give at least two channels of one record.")
    require_same_interval(*traces)
    found = list(edges) or [first_edge(trace) for trace in traces]
    for edge in found:
        if edge.cannot_tell:
            return unknown("stagger", unit_of("s"), edge.cannot_tell, edge.text)
    times: Floats = np.array([edge.value for edge in found])
    first, last = int(times.argmin()), int(times.argmax())
    pair = found[first], found[last]
    delay = delay_between(traces[first], traces[last], pair, skew)
    text = f"{traces[first].name} first, {traces[last].name} last; {delay.text}"
    return Finding(
        "stagger", delay.unit, delay.value, delay.parts, text, delay.cannot_tell,
        delay.notes,
    )  # fmt: skip

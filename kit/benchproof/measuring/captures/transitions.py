"""Edges between two states: durations, overshoot, settling, and the device's share."""

from __future__ import annotations

import numpy as np

from benchproof.measuring.captures.bottoms import bottom_of, bottom_parts
from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
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
    scaled,
    unknown,
)
from benchproof.measuring.captures.instants import (
    instants,
    only,
    sample,
    sampling_half_width,
)
from benchproof.measuring.captures.levels import Levels
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told
from benchproof.measuring.circuits.risetimes import (
    device_rise_time,
    rise_time_of_bandwidth,
)
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

GUARD = (0.05, 0.95)
"""Shares of the amplitude an edge must pass, outside of 10 % and 90 %."""


def edges_between(trace: Trace, levels: Levels, rising: bool = True) -> Changes:
    """Return the edges from one state to the other, rising or falling."""
    changes = trace.changes(levels.at(GUARD[0]), levels.at(GUARD[1]))
    return only(changes, changes.rising == rising)


def transition_duration(trace: Trace, levels: Levels, rising: bool = True) -> Finding:
    """Mean time from 10 % to 90 % of the amplitude, of rising or of falling edges.

    Parameters
    ----------
    levels : Levels
        State levels of the record.
    rising : bool

    References
    ----------
    IEEE 181-2011, transition duration; cited second-hand, not read.

    Examples
    --------
    >>> from benchproof.measuring.captures.levels import levels_of
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.concatenate([np.zeros(500), 1 - np.exp(-np.arange(9000) / 1000)])
    >>> record = Trace("r", v, 1e-6, Settings("scope", "CH1"))
    >>> found = transition_duration(record, levels_of(record))
    >>> round(found.value / 1000e-6, 1)  # ln(9) time constants
    2.2
    """
    name = f"{'rise' if rising else 'fall'} time"
    second, text = unit_of("s"), settings_line(trace)
    reason = levels.cannot_tell or _too_noisy(trace, levels)
    if reason:
        return unknown(name, second, reason, text)
    edges = edges_between(trace, levels, rising)
    if not len(edges):
        reason = f"{trace.name} holds no whole {name[:4]}ing edge. Record one."
        return unknown(name, second, reason, text)
    shares = (0.1, 0.5, 0.9) if rising else (0.9, 0.5, 0.1)
    marks = np.array([instants(trace, edges, levels.at(s)) for s in shares])
    spans = (marks[2] - marks[0]) * trace.interval
    value = float(spans.mean())
    inside = value / trace.interval
    if inside < 2:
        reason = (
            f"the {name} is within {inside:.1f} sample intervals of "
            f"{told(trace.interval, 's')}: the record only says that it is shorter. "
            "Sample faster."
        )
        return unknown(name, second, reason, text)
    parts = _duration_parts(trace, levels, edges, marks, name)
    parts += duration_parts(trace, value)
    text = f"transition duration, 10 % to 90 %, mean of {len(edges)}; {text}"
    found = Finding(name, second, value, merged(parts), text)
    few = f"only {inside:.1f} samples on the edge, {LEAST_SAMPLES} are usual"
    return found.noted(few if inside < LEAST_SAMPLES else "", levels.rounded)


def _too_noisy(trace: Trace, levels: Levels) -> str:
    if levels.amplitude.value >= 60 * levels.noise.standard_deviation:
        return ""
    return (
        f"the noise of {trace.name} is more than 1/60 of the amplitude, so that 10 % "
        "and 90 % are not told from the states. Average records, or limit the "
        "bandwidth and say so."
    )


def _duration_parts(
    trace: Trace, levels: Levels, edges: Changes, marks: Floats, name: str
) -> list[Part]:
    dt, second = trace.interval, unit_of("s")
    half = sampling_half_width(trace, edges) * dt
    slopes = _slopes(marks * dt, levels.amplitude.value)
    sigma = levels.noise.standard_deviation
    parts: list[Part] = []
    for end, slope in zip(("begin", "end"), slopes, strict=True):
        stem = f"{name} · {end}"
        own = own_part(
            trace, f"{stem} · sampling interval", half / 3**0.5, second, "rectangular"
        )
        own += own_part(trace, f"{stem} · noise", sigma * slope, second)
        parts += scaled(own, 1 / len(edges) ** 0.5)
    shift = levels.own_uncertainty * (0.1 * min(slopes) + 0.9 * max(slopes))
    return parts + own_part(trace, f"{name} · state levels", shift, second)


def _slopes(times: Floats, amplitude: float) -> tuple[float, float]:
    """Return seconds per unit at both ends, by a parabola through three instants."""
    first, second = (
        float(np.abs(np.median(step))) / (0.4 * amplitude)
        for step in np.diff(times, axis=0)
    )
    bend = (second - first) / 2
    least = 0.25 * min(first, second)
    return max(first - bend, least), max(second + bend, least)


def device_rise(
    trace: Trace, measured: Finding, *system: Stated, limit: float = 0.2
) -> Finding:
    """Rise time of the device behind the bandwidth of the instrument.

    Parameters
    ----------
    measured : Finding
        From `transition_duration`.
    *system : str or float
        Rise times of probe or clamp, ``"1.2 ns"`` or in s; that of the scope follows
        from the bandwidth in the settings.
    limit : float
        Relative limit of these rise times: a bandwidth is stated as a minimum.

    Returns
    -------
    Finding
        Without a value where the record's rise is below 1.5 times the instruments'
        own, or no bandwidth is stated.

    References
    ----------
    ``√(tm² - ts² - tp²)``, Gaussian-like responses only; common practice.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.zeros(9), 1e-7, Settings("s", "CH1", bandwidth=1e5))
    >>> measured = Finding("rise time", unit_of("s"), 13.99e-6)
    >>> print(f"{device_rise(record, measured).value * 1e6:.2f} µs")
    13.55 µs
    """
    name, second, text = f"device · {measured.name}", unit_of("s"), settings_line(trace)
    if measured.cannot_tell:
        return unknown(name, second, measured.cannot_tell, text)
    bandwidth = trace.settings.bandwidth
    own = [float(rise_time_of_bandwidth(bandwidth))] if bandwidth else []
    own += [in_si(rise, second, f"{name}, system") for rise in system]
    if not own:
        reason = f"{trace.name}: its bandwidth is not stated. State it in the settings."
        return unknown(name, second, reason, text)
    try:
        value = float(device_rise_time(measured.value, *own))
    except InputError:
        total = float(np.hypot.reduce(own))
        reason = (
            f"the {measured.name} of {told(measured.value, second, 3)} is below 1.5 "
            f"times the instruments' own {told(total, second, 3)}: it is theirs, not "
            "the device's. Use a faster scope or probe."
        )
        return unknown(name, second, reason, text)
    scope = Finding("scope", second, 0.0)
    less = " and ".join(told(rise, second, 3) for rise in own)
    inputs = [(measured, measured.value / value)]
    found = derived(
        name,
        second,
        value,
        inputs,
        f"less {less} (each ±{limit:.0%}) in squares; {text}",
    )
    for i, rise in enumerate(own):
        part = own_part(
            trace, f"{name} · instrument {i + 1}", limit * rise / 3**0.5, second,
            "rectangular",
        )  # fmt: skip
        scope = Finding("scope", second, 0.0, scope.parts + scaled(part, rise / value))
    return derived(name, second, value, [(found, 1.0), (scope, 1.0)], found.text)


def overshoot(trace: Trace, levels: Levels, rising: bool = True) -> Finding:
    """How far the first edge goes beyond its state, as a share of the amplitude.

    The peak is looked for up to the next edge or the end; it is that on which the noise
    lies, see `bottom_of`.

    Examples
    --------
    >>> from benchproof.measuring.captures.levels import levels_of
    >>> from benchproof.measuring.captures.trace import Settings
    >>> t = np.arange(4000)
    >>> ringing = 1 - np.exp(-t / 150) * np.cos(t / 30)
    >>> record = Trace("r", np.r_[np.zeros(900), ringing], 1e-6, Settings("s", "CH1"))
    >>> round(overshoot(record, levels_of(record)).value, 2)
    0.54
    """
    name, percent, text = "overshoot", unit_of("%"), settings_line(trace)
    window = _after_edge(trace, levels, rising)
    if isinstance(window, str):
        return unknown(name, percent, window, text)
    first, last = window
    sign = -1.0 if rising else 1.0
    peak = bottom_of(sign * trace.values(first, last), levels.noise)
    state = levels.high.value if rising else levels.low.value
    size = levels.amplitude.value
    value = (sign * state - peak.value) / size
    own = levels.own_uncertainty / size
    parts = list(scaled(bottom_parts(trace, name, peak, levels.noise), 1 / size))
    parts += own_part(
        trace, f"{name} · state levels", own * (1 + abs(value)), unit_of("")
    )
    found = Finding(name, percent, value, merged(parts), f"{text}; {levels.noise.text}")
    told = value > 2 * found.standard_uncertainty
    return found.noted("" if told else "not told apart from none")


def settling_time(
    trace: Trace, levels: Levels, band: float = 0.01, rising: bool = True
) -> Finding:
    """Time from the 50 % instant of the first edge until it stays within a band.

    Parameters
    ----------
    band : float
        Half-width about the final state, as a share of the amplitude.

    Returns
    -------
    Finding
        Without a value where the band is within 4 standard deviations of noise or
        the record (or the state) ends before it has stayed as long again.

    Examples
    --------
    >>> from benchproof.measuring.captures.levels import levels_of
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.concatenate([np.zeros(2000), 1 - np.exp(-np.arange(4000) / 100)])
    >>> record = Trace("r", v, 1e-6, Settings("scope", "CH1"))
    >>> found = settling_time(record, levels_of(record))
    >>> round(found.value / 100e-6, 1)  # ln(100) - ln(2) time constants
    3.9
    """
    name, second, text = "settling time", unit_of("s"), settings_line(trace)
    window = _after_edge(trace, levels, rising)
    if isinstance(window, str):
        return unknown(name, second, window, text)
    width = band * levels.amplitude.value
    if width <= 4 * levels.noise.standard_deviation:
        reason = (
            f"a band of {band:.2g} of the amplitude is within 4 standard deviations of "
            "the noise. Take a wider band, or average records."
        )
        return unknown(name, second, reason, text)
    first, last = window
    state = levels.high.value if rising else levels.low.value
    v = trace.values(first, last)
    outside = np.flatnonzero(np.abs(v - state) > width)
    start = _half_instant(trace, levels, rising)
    end = float(first + outside[-1]) if outside.size else start
    if last - 1 - end < end - start or (outside.size and outside[-1] == v.size - 1):
        reason = (
            f"{trace.name} ends, or leaves the state, before it has stayed within the "
            "band as long as it took to come there. Record longer."
        )
        return unknown(name, second, reason, text)
    value, parts = _settled(trace, levels, start, end, state, width)
    text = f"into ±{band:.2g} of the amplitude, and stays; {text}"
    return Finding(name, second, value, merged(parts), text)


def _settled(
    trace: Trace,
    levels: Levels,
    start: float,
    end: float,
    state: float,
    width: float,
) -> tuple[float, list[Part]]:
    """Interpolate the entry into the band; the slope there turns noise into time."""
    dt, second, name = trace.interval, unit_of("s"), "settling time"
    place = int(end)
    outer, inner = np.abs(sample(trace, np.array([place, place + 1])) - state)
    into = float(outer - width) / (outer - inner) if outer > width else 0.0
    value = float(end + into - start) * dt
    parts = duration_parts(trace, value)
    parts += own_part(trace, f"{name} · sampling interval", dt / 12**0.5, second,
                      "rectangular")  # fmt: skip
    # Within noise the entry is late, at the last of several: slope over a longer run.
    back = max(int((end - start) / 10), 1)
    earlier = float(abs(sample(trace, np.array([max(place - back, 0)]))[0] - state))
    slope = max(earlier - width, 1e-3 * width) / (back * dt)
    reach = levels.noise.standard_deviation + levels.own_uncertainty
    parts += own_part(trace, f"{name} · noise", 2 * reach / slope, second)
    return value, parts


def _half_instant(trace: Trace, levels: Levels, rising: bool) -> float:
    edges = edges_between(trace, levels, rising)
    return float(instants(trace, edges, levels.at(0.5))[0])


def _after_edge(trace: Trace, levels: Levels, rising: bool) -> tuple[int, int] | str:
    """Return the samples between the first edge and the next, or why there are none."""
    if levels.cannot_tell:
        return levels.cannot_tell
    every = trace.changes(levels.at(GUARD[0]), levels.at(GUARD[1]))
    kind = np.flatnonzero(every.rising == rising)
    if not kind.size:
        return f"{trace.name} holds no whole {'rising' if rising else 'falling'} edge."
    first = int(every.index[kind[0]])
    last = len(trace)
    if kind[0] + 1 < len(every):
        last = int(np.floor(every.left[kind[0] + 1]))
    if last - first < LEAST_SAMPLES:
        return f"{trace.name}: {last - first} samples after the edge are too few."
    return first, last

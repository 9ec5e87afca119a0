"""Period, frequency, pulse width and duty of a two-level record."""

from __future__ import annotations

import math

import numpy as np

from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    duration_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.finding import (
    Finding,
    Found,
    Part,
    derived,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.instants import (
    instant_parts,
    instants,
    only,
)
from benchproof.measuring.captures.levels import Levels, levels_of
from benchproof.measuring.captures.noise import Noise
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told
from benchproof.measuring.repeats import summarise
from benchproof.values.units import Unit, unit_of

NAMES = ("period", "frequency", "high time", "low time", "duty")
"""What `pulses_of` finds."""


def pulses_of(
    trace: Trace,
    levels: Levels | None = None,
    noise: Noise | None = None,
    band: tuple[float, float] = (0.3, 0.7),
) -> Found:
    """Mean period, frequency, high and low time, and duty, at half the amplitude.

    Parameters
    ----------
    levels : Levels, optional
        Else from the record's histogram.
    noise : Noise, optional
        Else from the differences of its samples.
    band : tuple of two floats
        Shares of the amplitude that an edge must pass, against noise.

    Returns
    -------
    Found
        In the order of `NAMES`. The duty is the share of the high time. These times
        cannot be told where rounded states leave their levels open; period and
        frequency can.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.tile(np.repeat([5.0, 0.0], [300, 700]), 5)
    >>> found = pulses_of(Trace("r", v, 1e-6, Settings("scope", "CH1")))
    >>> round(found["duty"].value, 4), round(found["frequency"].value, 3)
    (0.3, 1000.0)
    """
    levels = levels or levels_of(trace, noise)
    if levels.cannot_tell:
        text = settings_line(trace)
        reason = levels.cannot_tell
        return Found({n: unknown(n, _unit(n), reason, text) for n in NAMES})
    low, high = levels.at(band[0]), levels.at(band[1])
    changes = trace.changes(low, high)
    times = instants(trace, changes, levels.at(0.5)) * trace.interval
    own = levels.own_uncertainty / 2
    found = between_edges(trace, changes, times, high - low, levels.noise, own)
    if not levels.rounded:
        return Found(found)
    reason = f"{levels.rounded}, and these times with them. Give the levels yourself"
    for name in ("high time", "low time", "duty"):
        found[name] = unknown(name, _unit(name), reason, found[name].text)
    return Found(found)


def _unit(name: str) -> Unit:
    return unit_of({"frequency": "Hz", "duty": "%"}.get(name, "s"))


def between_edges(
    trace: Trace,
    changes: Changes,
    times: Floats,
    band: float,
    noise: Noise,
    level_u: float = 0.0,
) -> dict[str, Finding]:
    """Return the findings of `NAMES` from edges and their times.

    Parameters
    ----------
    times : array, shape (n,)
        Of the edges, in s.
    band : float
        Between the thresholds of the edges, in SI.
    level_u : float
        Standard uncertainty of the level at which the times are taken, in SI.
    """
    found = {}
    taken = float(np.median(changes.reached - changes.left)) if len(changes) else 0.0
    # A level too low makes the high time longer and the low time as much shorter.
    shift = 2 * level_u * taken * trace.interval / band
    level = own_part(trace, "level of the edges", shift, unit_of("s"))
    in_step = _in_step(trace, _spans(changes, times, None, 2)[0])
    for name, rising, step in (
        ("period", None, 2),
        ("high time", True, 1),
        ("low time", False, 1),
    ):
        spans, used = _spans(changes, times, rising, step)
        sign = 0.0 if rising is None else 1.0 if rising else -1.0
        more = scaled(level, sign)
        found[name] = _mean_span(trace, name, spans, used, band, noise, more, in_step)
    period, up, down = found["period"], found["high time"], found["low time"]
    found["frequency"] = _inverse(period)
    found["duty"] = _share(up, down)
    return {name: found[name] for name in NAMES}


def _in_step(trace: Trace, periods: Floats) -> bool:
    """Tell whether all periods are sampled alike, so that more of them say no more."""
    if periods.size < 2:
        return False
    samples = periods / trace.interval
    drift = abs(float(samples.sum()) - periods.size * round(float(samples.mean())))
    return drift < 0.5 and float(samples.std()) < 0.2


def _spans(
    changes: Changes, times: Floats, rising: bool | None, step: int
) -> tuple[Floats, Changes]:
    """Return times between edges of a kind and the next (or the next but one)."""
    spans = times[step:] - times[:-step] if times.size > step else np.zeros(0)
    kind = changes.rising[: spans.size]
    if rising is None and spans.size:
        rising = bool(changes.rising[0])
    kept = kind == rising
    every = np.zeros(len(changes), bool)
    every[: spans.size] = kept
    return spans[kept], only(changes, every)


def _mean_span(
    trace: Trace,
    name: str,
    spans: Floats,
    used: Changes,
    band: float,
    noise: Noise,
    more: tuple[Part, ...],
    in_step: bool,
) -> Finding:
    second, text = unit_of("s"), settings_line(trace)
    if not spans.size:
        reason = (
            f"{trace.name} does not hold one whole {name}. Record longer, or look at "
            "the levels that the edges must pass."
        )
        return unknown(name, second, reason, text)
    value, count = float(spans.mean()), spans.size
    parts = _span_parts(trace, name, spans, used, band, noise, in_step)
    parts += [*more, *duration_parts(trace, value)]
    ends = f"from {told(spans.min(), second)} to {told(spans.max(), second)}"
    text = f"mean of {count}, {ends}; {text}"
    found = Finding(name, second, value, merged(parts), text)
    few = value / trace.interval
    said = (
        f"{few:.1f} samples in one {name}: fewer than {LEAST_SAMPLES} may hide shorter"
    )
    return found.noted(said + " ones" if few < LEAST_SAMPLES else "")


def _span_parts(
    trace: Trace,
    name: str,
    spans: Floats,
    used: Changes,
    band: float,
    noise: Noise,
    in_step: bool,
) -> list[Part]:
    """Scatter of the spans, and sampling; for few of them noise at the edges."""
    count = spans.size
    # Periods follow each other: only the first and the last edge count.
    worth = count if name == "period" else 1.0 if in_step else math.sqrt(count)
    parts: list[Part] = []
    for end in ("begin", "end"):
        own = instant_parts(trace, used, f"{name} · {end}", band, noise)
        kept = own if count < 4 else own[:1]
        parts += scaled(kept, 1 / worth)
    if count >= 4:
        repeats = summarise(spans.tolist())
        u = repeats.standard_uncertainty
        if name == "period" and count >= 10 and repeats.lag_1 < -0.3:
            # Edges scatter about an even clock: a long period is followed by a short.
            u /= math.sqrt(count)
        parts += own_part(
            trace, f"{name} · scatter", u, unit_of("s"),
            degrees_of_freedom=repeats.degrees_of_freedom,
        )  # fmt: skip
    return parts


def _inverse(period: Finding) -> Finding:
    hertz = unit_of("Hz")
    if period.cannot_tell:
        return unknown("frequency", hertz, period.cannot_tell, period.text)
    value = 1 / period.value
    return derived("frequency", hertz, value, [(period, -(value**2))], period.text)


def _share(up: Finding, down: Finding) -> Finding:
    percent = unit_of("%")
    if up.cannot_tell or down.cannot_tell:
        reason = up.cannot_tell or down.cannot_tell
        return unknown("duty", percent, reason, up.text)
    period = up.value + down.value
    inputs = [(up, down.value / period**2), (down, -up.value / period**2)]
    return derived("duty", percent, up.value / period, inputs, up.text)

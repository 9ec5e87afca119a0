"""When an edge passed a level, between samples, and how well that is known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.channel import own_part
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.finding import Part, scaled
from benchproof.measuring.captures.noise import Noise
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.values.units import unit_of

Places = NDArray[np.int64]


def sample(trace: Trace, places: Places) -> Floats:
    """Return the values at sample numbers, in SI."""
    codes = trace.codes[places].astype(np.float64)
    return np.asarray(trace.zero + trace.step * codes)


def only(changes: Changes, kept: NDArray[np.bool_] | slice) -> Changes:
    """Return some of the edges."""
    return Changes(
        changes.index[kept], changes.rising[kept], changes.left[kept],
        changes.reached[kept], changes.starts_high,
    )  # fmt: skip


def crossings_of(trace: Trace, level: float) -> Floats:
    """Return the fractional sample numbers of every crossing of a level.

    Noise near the level makes many; `instants` picks those that belong to an edge.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.array([0.0, 1.0, 1.0, 0.0])
    >>> crossings_of(Trace("r", v, 1e-3, Settings("scope", "CH1")), 0.25).tolist()
    [0.25, 2.75]
    """
    found = [np.zeros(0)]
    last: Floats = np.zeros(0)
    for first, block in trace.blocks():
        v = np.concatenate([last, block])
        start = first - last.size
        above = v >= level
        at = np.flatnonzero(above[1:] != above[:-1])
        found.append(start + at + (level - v[at]) / (v[at + 1] - v[at]))
        last = v[-1:]
    return np.concatenate(found)


def instants(trace: Trace, changes: Changes, level: float) -> Floats:
    """Return the fractional sample numbers at which edges pass a level, shape (n,).

    An edge with noise crosses it several times; the middle of its first and last
    crossing is taken, which noise does not shift one way.

    Parameters
    ----------
    level : float
        Between the thresholds of the edges, in SI.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.linspace(0, 1, 11), 1e-3, Settings("scope", "CH1"))
    >>> instants(record, record.changes(0.1, 0.9), 0.55).tolist()
    [5.5]
    """
    if not len(changes):
        return np.zeros(0)
    crossings = crossings_of(trace, level)
    first = np.searchsorted(crossings, changes.left - 1e-9)
    last = np.searchsorted(crossings, changes.reached + 1e-9) - 1
    return np.asarray((crossings[first] + crossings[last]) / 2)


def instant_parts(
    trace: Trace,
    changes: Changes,
    result: str,
    band: float,
    noise: Noise,
    sensitivity: float = 1.0,
) -> list[Part]:
    """Return sampling and noise of one edge's instant, in s.

    Parameters
    ----------
    changes : Changes
        One edge, or several alike, of which the median is taken.
    result : str
        Names the sources, e.g. ``dip 1 · start``.
    band : float
        Between the thresholds of the edges, in SI; with the time it took to pass
        gives the slope that turns noise into time.

    Notes
    -----
    Half a sample interval, rectangular, where the edge lies between two samples (two
    such edges leave ``Δt/√6``); less where its samples follow a line.
    """
    dt = trace.interval
    half = sampling_half_width(trace, changes) * dt
    second = unit_of("s")
    parts = own_part(
        trace, f"{result} · sampling interval", half / 3**0.5, second, "rectangular"
    )
    if band > 0 and len(changes):
        taken = float(np.median(changes.reached - changes.left)) * dt
        u = noise.standard_deviation * max(taken, 0.0) / band
        parts += own_part(trace, f"{result} · noise", u, second)
    return list(scaled(parts, sensitivity))


def sampling_half_width(trace: Trace, changes: Changes) -> float:
    """Half-width, in samples, of what interpolating an edge's instant leaves open.

    Half a sample where the edge lies between two samples; less where the samples
    next to it follow a line: half the second difference over the first.
    """
    n = len(trace)
    if not len(changes) or n < 4:
        return 0.5
    middle = (changes.left + changes.reached) / 2
    right = np.clip(np.floor(middle).astype(np.int64) + 1, 2, n - 2)
    a, b, c, d = (sample(trace, right + k) for k in (-2, -1, 0, 1))
    step = np.abs(c - b)
    bend = np.maximum(np.abs(a - 2 * b + c), np.abs(b - 2 * c + d))
    share = np.ones_like(step)
    np.divide(bend, step, out=share, where=step > 0)
    return min(float(np.median(share)), 1.0) / 2

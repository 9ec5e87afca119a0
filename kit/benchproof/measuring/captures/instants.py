"""When an edge passed a level, between samples, and how well that is known."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    shares = _unresolved(trace, changes)
    return float(np.median(shares)) / 2 if shares.size else 0.5


def settled(trace: Trace, changes: Changes) -> Floats:
    """Return the fractional sample numbers at which edges reach their threshold.

    An edge between two samples lies anywhere between them, and so half-way on average;
    a line would draw it to where the threshold is.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.repeat([0.0, 5.0, 0.0], 4)
    >>> record = Trace("r", v, 1e-3, Settings("scope", "CH1"))
    >>> edges = record.changes(1.0, 4.0)
    >>> edges.reached.tolist(), settled(record, edges).tolist()
    ([3.8, 7.8], [3.5, 7.5])
    """
    between = np.ceil(changes.reached) - 0.5
    share = _unresolved(trace, changes)
    return np.asarray(changes.reached + share * (between - changes.reached))


def _unresolved(trace: Trace, changes: Changes) -> Floats:
    """Say of each edge how little its samples follow a line: 0 to 1."""
    n, share = len(trace), np.ones(len(changes))
    if not len(changes) or n < 4:
        return share
    middle = (changes.left + changes.reached) / 2
    right = np.clip(np.floor(middle).astype(np.int64) + 1, 2, n - 2)
    a, b, c, d = (sample(trace, right + k) for k in (-2, -1, 0, 1))
    step = np.abs(c - b)
    bend = np.maximum(np.abs(a - 2 * b + c), np.abs(b - 2 * c + d))
    np.divide(bend, step, out=share, where=step > 0)
    return np.minimum(share, 1.0)


@dataclass(frozen=True, slots=True)
class Passage:
    """Where one edge passes a level.

    Attributes
    ----------
    place : float
        Fractional sample number.
    noise : float
        Standard uncertainty of it by the noise, in samples.
    doubt : float
        Half-width of what is open where the signal lingers at the level, in samples.
    slope : float
        SI a sample; negative where it falls.
    """

    place: float
    noise: float
    doubt: float
    slope: float


_MOVED = 10.0
"""Standard deviations of noise that the signal moves along a curve laid through it."""

_UNLIKE = 3.0
"""Standard deviations of chi squared beyond which samples do not follow it."""

_FARTHEST = 1 << 12


def passage_of(
    trace: Trace,
    first: float,
    level: float,
    noise: Noise,
    slowest: float,
    reach: int = _FARTHEST,
    level_u: float = 0.0,
) -> Passage:
    """Find where an edge passes a level, from its first passage.

    Parameters
    ----------
    first : float
        Fractional sample number of the first passage.
    level : float
        In SI.
    slowest : float
        Slope, in SI a sample, that is taken where no curve can be laid.
    reach : int
        Samples on either side that belong to this edge, at most.
    level_u : float
        Standard uncertainty of the level, in SI: over so much the slope is taken.

    Notes
    -----
    The first of many noisy samples beyond the level comes early, the more the slower
    the signal moves. A parabola through the samples around does not: through as many
    as it takes for the signal to move by 10 standard deviations of noise. Where none
    can be laid, as on a ripple that nearly passes several times, all the time counts
    in which the average is within noise of the level.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> noise = 0.1 * np.random.default_rng(1).standard_normal(2000)
    >>> record = Trace("r", np.arange(2000) / 100 + noise, 1, Settings("s", "CH1"))
    >>> first = float(record.changes(5.0, 8.0).reached[0])
    >>> found = passage_of(record, first, 8.0, Noise(0.1), 0.01)
    >>> round(first, 1), round(found.place, 1), round(found.noise, 1)
    (788.7, 802.4, 1.2)
    """
    left, sigma = max(int(np.ceil(first)) - 1, 0), noise.standard_deviation
    step = float(np.diff(trace.values(left, left + 2))[0])
    rises, moved, half, fitted = np.sign(step), abs(step), 1, True
    gentle = moved
    if moved < _MOVED * sigma:
        gentle, fitted = min(moved, slowest), False
    best = Passage(first, sigma / gentle, 0.0, rises * gentle)
    while moved < _MOVED * sigma and 2 * half <= reach:
        line = _curve(trace, best.place, 2 * half, level, noise, 1)
        if line is None:
            break
        half *= 2
        moved = abs(line.slope) * 2 * half
        if line.slope * rises <= 0 or abs(line.place - first) > half:
            continue
        best, fitted = line, moved >= _MOVED * sigma
        bent = _curve(trace, line.place, half, level, noise, 2) if half >= 4 else None
        if bent and bent.slope * rises > 0 and abs(bent.place - first) <= half:
            best = bent
    around = _Around(trace, best, half, level, reach)
    slope = around.slope(level_u)
    if not fitted:
        best = around.lingering(2 * noise.of_mean(half))
    return replace(best, slope=slope)


class _Around:
    """Averages of `width` samples around a passage, that rise from below to above 0."""

    def __init__(
        self, trace: Trace, found: Passage, width: int, level: float, reach: int
    ) -> None:
        place, reach = round(found.place), min(reach, _FARTHEST)
        begin, end = max(place - reach, 0), min(place + reach + width, len(trace))
        v = np.sign(found.slope) * (trace.values(begin, end) - level)
        sums = np.concatenate([[0.0], np.cumsum(v)])
        self.found = found
        self.means = (sums[width:] - sums[:-width]) / width
        self.centre = begin + (width - 1) / 2

    def between(self, clear: float) -> tuple[float, float]:
        """Return when they first came within `clear` of 0, and when they left it."""
        after = np.flatnonzero(self.means >= clear)
        after = after[after > self.found.place - self.centre]
        last = int(after[0]) if after.size else self.means.size - 1
        before = np.flatnonzero(self.means[: last + 1] >= -clear)
        first = int(before[0]) if before.size else last
        return self.centre + first, self.centre + last

    def slope(self, clear: float) -> float:
        """Return the slope over a range of levels; not more than at the passage."""
        first, last = self.between(clear)
        found = self.found.slope
        least = 2 * clear / max(last - first, 1.0) if clear else abs(found)
        return float(np.sign(found)) * min(abs(found), least)

    def lingering(self, clear: float) -> Passage:
        """Return a passage anywhere in the time they are within `clear` of 0."""
        first, last = self.between(clear)
        half = (last - first) / 2
        if half <= 1:
            return self.found
        return replace(self.found, place=(first + last) / 2, doubt=half)


def _curve(
    trace: Trace, place: float, half: int, level: float, noise: Noise, degree: int
) -> Passage | None:
    """Lay a line or parabola through samples; None if they do not follow it."""
    middle = int(np.floor(place)) + 1
    begin, end = max(middle - half, 0), min(middle + half, len(trace))
    v = trace.values(begin, end)
    x = (np.arange(begin, end) - place) / half
    powers = np.arange(degree + 1)
    if v.size <= powers.size:
        return None
    matrix = x[:, None] ** powers
    inverse = np.linalg.inv(matrix.T @ matrix)
    found = inverse @ (matrix.T @ v)
    left = v - matrix @ found
    worth = max(v.size / noise.alike, powers.size + 1.0)
    # A first passage picks a sample that stands out: the farthest is left out.
    chi = float(np.dot(left, left) - np.square(left).max())
    chi /= noise.standard_deviation**2 * noise.alike
    if chi > worth - powers.size + _UNLIKE * (2 * worth) ** 0.5:
        return None
    at, slope = 0.0, float(found[1])
    for _ in range(3):
        if slope == 0:
            return None
        at += (level - float(found @ at**powers)) / slope
        slope = float(found[1:] @ (powers[1:] * at ** powers[:-1]))
    row = at**powers
    u = noise.of_mean(1) * float(row @ inverse @ row * noise.alike) ** 0.5
    return Passage(place + half * at, half * u / abs(slope), 0.0, slope / half)

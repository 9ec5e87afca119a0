"""Dips and swells below or above a declared threshold."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    difference_parts,
    duration_parts,
    level_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.extremes import extremes_of, gaps, unsound
from benchproof.measuring.captures.finding import (
    Finding,
    Part,
    derived,
    merged,
    unknown,
)
from benchproof.measuring.captures.instants import instant_parts, only
from benchproof.measuring.captures.noise import Noise, expected_extreme, noise_within
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

LEAST_HYSTERESIS = 6.0
"""Standard deviations of noise below which noise alone makes dips."""

MOST = 1000
"""Dips that are looked at one by one; more are only counted and added up."""

_BIAS_TAKEN, _BIAS_DOUBT = 0.65, 0.35
"""Of the bias: all of it on a flat bottom, about a third on a pointed one."""

_BIAS_SHARE = 0.01
"""Of the depth, that noise may add to a residual before samples are averaged."""


@dataclass(frozen=True, slots=True)
class Dip:
    """One dip, or one swell.

    Attributes
    ----------
    start, residual, depth, duration : Finding
        When it began; the least value (of a swell the greatest); how far that is from
        the reference; from the threshold down to the threshold plus hysteresis up.
    first, last : int
        Sample numbers: the first beyond the threshold and the first after its end.
    """

    start: Finding
    residual: Finding
    depth: Finding
    duration: Finding
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Dips:
    """All dips of a record.

    Attributes
    ----------
    count : Finding
        Without a value if the sampling cannot contain the event.
    total : Finding
        Time beyond the threshold, all together.
    dips : tuple of Dip
        The first 1000 that begin and end within the record.
    """

    count: Finding
    total: Finding
    dips: tuple[Dip, ...]


def dips_of(
    trace: Trace,
    threshold: float,
    hysteresis: float,
    reference: float | None = None,
    shortest: float | None = None,
    noise: Noise | None = None,
) -> Dips:
    """Find the stretches below a threshold; they end above threshold + hysteresis.

    Declare threshold and hysteresis before looking at the record.

    Parameters
    ----------
    threshold : float
        In SI.
    hysteresis : float
        In SI, > 0; a warning is noted below 6 standard deviations of noise.
    reference : float, optional
        What depth counts from, in SI; else the median of the record.
    shortest : float, optional
        The shortest dip that matters, in s. Without it "no dip" only speaks of dips
        longer than ten samples.
    noise : Noise, optional
        Else from the differences of its samples.

    Raises
    ------
    InputError
        If the hysteresis is not > 0.

    Notes
    -----
    A residual is the least mean of as many samples as bring the bias of the noise
    below 1 % of the depth, at most a tenth of the dip. What is left of the bias is
    that of the extreme of as many averages as lie near the least; it is taken off, and
    so is what averaging lifts a pointed dip, each with an uncertainty of its own.

    References
    ----------
    IEC 61000-4-30 for the words threshold, hysteresis, residual and depth; cited
    second-hand, not read.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.full(5000, 12.0)
    >>> v[2000:3000] = 8.5
    >>> record = Trace("rail", v, 1e-5, Settings("scope", "CH1"))
    >>> (dip,) = dips_of(record, threshold=8.8, hysteresis=0.2).dips
    >>> round(dip.duration.value * 1e3, 1), round(dip.residual.value, 3)
    (10.0, 8.5)
    """
    return _events(trace, threshold, hysteresis, reference, shortest, noise, -1)


def swells_of(
    trace: Trace,
    threshold: float,
    hysteresis: float,
    reference: float | None = None,
    shortest: float | None = None,
    noise: Noise | None = None,
) -> Dips:
    """Find the stretches above a threshold; they end below threshold - hysteresis.

    Parameters, and what is returned, are those of `dips_of`.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.full(5000, 12.0)
    >>> v[2000:3000] = 14.5
    >>> record = Trace("rail", v, 1e-5, Settings("scope", "CH1"))
    >>> len(swells_of(record, threshold=14.0, hysteresis=0.2).dips)
    1
    """
    return _events(trace, threshold, hysteresis, reference, shortest, noise, 1)


def _events(
    trace: Trace,
    threshold: float,
    hysteresis: float,
    reference: float | None,
    shortest: float | None,
    noise: Noise | None,
    sign: int,
) -> Dips:
    if not hysteresis > 0:
        raise InputError(
            f"{trace.name}: hysteresis {hysteresis:g}; give one > 0, some "
            f"{LEAST_HYSTERESIS:g} standard deviations of the noise."
        )
    what = "dip" if sign < 0 else "swell"
    text = f"threshold {threshold:g}, hysteresis {hysteresis:g} (SI)"
    ends = extremes_of(trace)
    missing = gaps(trace, ends)
    if missing:
        text = f"{text}; {settings_line(trace)}"
        number = unknown(f"{what}s", unit_of(""), missing, text)
        return Dips(
            number, unknown(f"time in {what}s", unit_of("s"), missing, text), ()
        )
    noise = noise or noise_within(trace)
    text = f"{text}, {noise.text}; {settings_line(trace)}"
    trace = trace.summarised()
    back = threshold - sign * hysteresis
    changes = trace.changes(min(threshold, back), max(threshold, back))
    level = _median(trace) if reference is None else reference
    away = changes.rising == (sign > 0)
    task = _Task(trace, sign, threshold, hysteresis, level, noise, what, text)
    dips = [
        _dip(task, changes, int(k), i + 1)
        for i, k in enumerate(np.flatnonzero(away[:-1])[:MOST])
    ]
    if len(changes):
        begun = (changes.starts_high is (sign > 0)) + int(away.sum())
    else:
        begun = int(changes.starts_high is (sign > 0))
    whole = int(away[:-1].sum())
    number = _count(task, begun, whole, shortest)
    return Dips(number, _total(task, changes, dips, begun - whole), tuple(dips))


@dataclass(frozen=True, slots=True)
class _Task:
    """What is looked for, and where."""

    trace: Trace
    sign: int
    threshold: float
    hysteresis: float
    reference: float
    noise: Noise
    what: str
    text: str


def _median(trace: Trace) -> float:
    values, counts = trace.levels()
    return float(values[np.searchsorted(np.cumsum(counts), counts.sum() / 2)])


def _count(task: _Task, begun: int, whole: int, shortest: float | None) -> Finding:
    trace, unit, name = task.trace, unit_of(""), f"{task.what}s"
    dt = trace.interval
    if begun == 0 and shortest is not None and shortest < LEAST_SAMPLES * dt:
        reason = (
            f"no {task.what} was seen, but samples every {dt:g} s put only "
            f"{shortest / dt:.1f} on one of {shortest:g} s, {LEAST_SAMPLES} are usual. "
            "Sample faster."
        )
        return unknown(name, unit, reason, task.text)
    found = Finding(name, unit, float(begun), text=task.text)
    cut = begun - whole
    return found.noted(
        f"{cut} of them reach beyond the record" if cut else "",
        f"only the first {MOST} are listed" if whole > MOST else "",
        ""
        if shortest is not None and shortest >= LEAST_SAMPLES * dt
        else f"shorter ones than {LEAST_SAMPLES * dt:g} s may be missed",
        _noise_note(task),
    )


def _noise_note(task: _Task) -> str:
    sigma = task.noise.standard_deviation
    if task.hysteresis >= LEAST_HYSTERESIS * sigma:
        return ""
    return (
        f"the hysteresis is {task.hysteresis / sigma:.1f} standard deviations of the "
        f"noise: noise alone makes {task.what}s while the signal is near the threshold"
    )


def _total(task: _Task, changes: Changes, dips: list[Dip], cut: int) -> Finding:
    name, second = f"time in {task.what}s", unit_of("s")
    if cut:
        reason = (
            f"a {task.what} reaches beyond the record. Record longer, with the trigger "
            "further inside."
        )
        return unknown(name, second, reason, task.text)
    begins = np.flatnonzero(changes.rising[:-1] == (task.sign > 0))
    spans = changes.reached[begins + 1] - changes.reached[begins]
    total = float(spans.sum()) * task.trace.interval
    listed = sum(d.duration.value for d in dips)
    # Those not listed are taken to be as uncertain as those that are.
    share = total / listed if listed else 1.0
    inputs = [(d.duration, share) for d in dips]
    return derived(name, second, total, inputs, task.text)


def _dip(task: _Task, changes: Changes, k: int, number: int) -> Dip:
    trace, second = task.trace, unit_of("s")
    name = f"{task.what} {number}"
    start = trace.time(float(changes.reached[k]))
    duration = float(changes.reached[k + 1] - changes.reached[k]) * trace.interval
    first, last = int(changes.index[k]), int(changes.index[k + 1])
    begin = _edge_parts(task, changes, k, f"{name} · begin")
    end = _edge_parts(task, changes, k + 1, f"{name} · end")
    parts = merged([*duration_parts(trace, duration), *begin, *end])
    inside = duration / trace.interval
    few = f"only {inside:.1f} samples long: depth and duration are coarse"
    note = few if inside < LEAST_SAMPLES else ""
    lasted = Finding(f"{name} · duration", second, duration, parts, task.text)
    began = Finding(f"{name} · start", second, start, merged(begin), task.text)
    residual, depth = _residual(task, name, first, last)
    return Dip(
        began, residual.noted(note), depth.noted(note), lasted.noted(note), first, last
    )


def _edge_parts(task: _Task, changes: Changes, k: int, name: str) -> list[Part]:
    """Return what makes one crossing uncertain: also the level at which it is read."""
    edge, trace = only(changes, slice(k, k + 1)), task.trace
    parts = instant_parts(trace, edge, name, task.hysteresis, task.noise)
    taken = float(changes.reached[k] - changes.left[k]) * trace.interval
    seconds = max(taken, 0.0) / task.hysteresis
    rising = 1.0 if changes.rising[k] else -1.0
    shared = level_parts(trace, task.threshold, "threshold")
    return parts + [(s, -rising * c * seconds) for s, c in shared]


def _residual(task: _Task, name: str, first: int, last: int) -> tuple[Finding, Finding]:
    trace, unit = task.trace, task.trace.settings.unit
    ends = extremes_of(trace, first, max(last, first + 2))
    reason = unsound(trace, ends, "low" if task.sign < 0 else "high")
    if reason:
        return (
            unknown(f"{name} · residual", unit, reason, task.text),
            unknown(f"{name} · depth", unit, reason, task.text),
        )
    v = -task.sign * trace.values(first, last)
    value, parts = _lowest(task, v, f"{name} · residual")
    value *= -task.sign
    away = abs(task.reference - value)
    residual = Finding(
        f"{name} · residual", unit, value,
        merged([*level_parts(trace, value, f"{name} · residual"), *parts]), task.text,
    )  # fmt: skip
    depth = Finding(
        f"{name} · depth", unit, away,
        merged([*difference_parts(trace, away), *parts]),
        f"from {task.reference:g} (SI); {task.text}",
    )  # fmt: skip
    return residual, depth


def _lowest(task: _Task, v: Floats, name: str) -> tuple[float, list[Part]]:
    """Return the least value of a dip of positive sign, the bias of noise taken off."""
    trace, noise = task.trace, task.noise
    depth = max(abs(-task.sign * task.reference - float(np.median(v))), task.hysteresis)
    width = _window(v, noise, _BIAS_SHARE * depth)
    value, near, rise = _smoothed_least(v, width, 5 * noise.of_mean(width))
    bias = _bias(near, width, noise)
    # Averaging lifts a pointed dip by a third of the rise beside it, a round one less.
    sharp = width > 1 or rise > 6 * noise.standard_deviation
    lift = rise / 3 if sharp else 0.0
    taken = lift / 2 if rise > 1.5 * bias else 0.0
    # The extreme of many scatters less than one of them.
    alone = 1 / math.sqrt(1 + math.log(max(near / width / 4, 1.0)))
    parts = own_part(trace, f"{name} · noise", alone * noise.of_mean(width))
    # A bottom is more often flat or pointed than half-way between.
    doubt = _BIAS_DOUBT * bias / 2**0.5
    parts += own_part(
        trace, f"{name} · extreme of the noise", doubt, distribution="arcsine"
    )
    parts += own_part(
        trace, f"{name} · smoothing", lift / 2 / 3**0.5, distribution="rectangular"
    )
    return value + _BIAS_TAKEN * bias - taken, parts


def _window(v: Floats, noise: Noise, limit: float) -> int:
    """Return how many samples to average: as few as the limit of bias allows.

    It stops where averaging would lift the dip by more than the noise's bias: a long
    dip that has a narrow bottom.
    """
    most = max(v.size // 10, 1)
    width = 1
    while width < most and _bias(v.size, width, noise) > limit:
        wider = min(2 * width, most)
        _, _, rise = _smoothed_least(v, wider, 0.0)
        if rise / 3 > _bias(v.size, wider, noise):
            break
        width = wider
    return width


def _bias(count: float, width: int, noise: Noise) -> float:
    """Say by how much the least average of `count` samples, all alike, lies too low.

    Averages that overlap compete more than those that do not: about as many times as
    the square of how far the least stands out (Pickands' limit, from memory; the
    tests try it).
    """
    worth = max(count / max(width, noise.alike), 1.0)
    overlapping = min(expected_extreme(worth) ** 2, width)
    return noise.of_mean(width) * expected_extreme(worth * max(overlapping, 1.0))


def _smoothed_least(v: Floats, width: int, reach: float) -> tuple[float, int, float]:
    """Return the least average, how many samples are near it, and the rise beside."""
    sums = np.concatenate([[0.0], np.cumsum(v - v[0])])
    means = (sums[width:] - sums[:-width]) / width
    at = int(means.argmin())
    least = float(means[at])
    near = int((means <= least + reach).sum())
    sides = means[max(at - width, 0)], means[min(at + width, means.size - 1)]
    return least + float(v[0]), near, max(float(np.mean(sides)) - least, 0.0)

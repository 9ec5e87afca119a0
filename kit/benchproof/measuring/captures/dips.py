"""Dips and swells below or above a declared threshold."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    coupling_doubt,
    duration_parts,
    level_parts,
    no_level,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.crossings import Changes
from benchproof.measuring.captures.extremes import extremes_of, gaps
from benchproof.measuring.captures.finding import (
    Finding,
    Findings,
    Part,
    derived,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.instants import (
    only,
    passage_of,
    sampling_half_width,
    settled,
)
from benchproof.measuring.captures.noise import Noise, noise_within
from benchproof.measuring.captures.residuals import Search, residual_of
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told, told_difference
from benchproof.values.errors import InputError
from benchproof.values.sources import Distribution
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import unit_of

LEAST_HYSTERESIS = 6.0
"""Standard deviations of noise below which noise alone makes dips."""

MOST, SHOWN = 1000, 20
"""Dips that are looked at one by one, more are only counted and added up; and those
that a table shows."""


@dataclass(frozen=True, slots=True, repr=False)
class Dip(Findings):
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

    @property
    def name(self) -> str:
        """Its number in the record, ``dip 1``."""
        return self.start.name.partition(" · ")[0]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Start, residual, depth and duration."""
        return self.start, self.residual, self.depth, self.duration


@dataclass(frozen=True, slots=True, repr=False)
class Dips(Tabular):
    """All dips of a record.

    Attributes
    ----------
    count : Finding
        Without a value if the sampling cannot contain the event.
    total : Finding
        Time beyond the threshold, all together.
    dips : tuple of Dip
        The first 1000 that begin and end within the record.
    record : str
        Name of the trace.
    threshold, back : float
        In SI: where a dip begins, and where it ends.
    """

    count: Finding
    total: Finding
    dips: tuple[Dip, ...]
    record: str
    threshold: float
    back: float

    def table(self) -> Table:
        """Return a row for each of the first dips, and below it what they all are."""
        shown = self.dips[:SHOWN]
        rows = [
            (
                d.name,
                *("cannot tell" if f.cannot_tell else f.result for f in d.findings),
            )
            for d in shown
        ]
        more = len(self.dips) - len(shown)
        said = [
            f"and {more} more, in .dips" if more else "",
            *(_reason(f) for d in shown for f in d.findings),
            *(
                f"{d.name}: {note}"
                for d in shown
                for f in d.findings
                for note in f.notes
            ),
            *map(str, (self.count, self.total)),
            *self.count.notes,
            self.count.text,
        ]
        heads = columns("", "Start>", "Residual>", "Depth>", "Duration>")
        return Table("", heads, tuple(rows), tuple(filter(None, dict.fromkeys(said))))


def _reason(found: Finding) -> str:
    return found.cannot_tell and f"cannot tell: {found.cannot_tell}"


def dips_of(
    trace: Trace,
    threshold: Stated,
    hysteresis: Stated,
    reference: Stated | None = None,
    shortest: Stated | None = None,
    noise: Noise | None = None,
) -> Dips:
    """Find the stretches below a threshold; they end above threshold + hysteresis.

    Declare threshold and hysteresis before looking at the record.

    Parameters
    ----------
    threshold : str or float
        ``"8.80 V"``, or in SI.
    hysteresis : str or float
        > 0, as text or in SI; a warning is noted below 6 standard deviations of noise.
    reference : str or float, optional
        What depth counts from, as text or in SI; else the median of the record.
    shortest : str or float, optional
        The shortest dip that matters, as text or in s. Without it "no dip" only speaks
        of dips longer than ten samples.
    noise : Noise, optional
        Else from the differences of its samples.

    Raises
    ------
    InputError
        If the hysteresis is not > 0, or a text is of another dimension.

    Notes
    -----
    A residual is the least value that the noise lies on, see `bottom_of`: not the least
    sample. Without a value where the record is AC-coupled, as are number and times:
    such a record has no absolute level.

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
    >>> (dip,) = dips_of(record, threshold="8.80 V", hysteresis="0.20 V").dips
    >>> round(dip.duration.value * 1e3, 1), round(dip.residual.value, 3)
    (10.0, 8.5)
    """
    stated = _stated(trace, threshold, hysteresis, reference, shortest)
    return _events(trace, *stated, noise, -1)


def swells_of(
    trace: Trace,
    threshold: Stated,
    hysteresis: Stated,
    reference: Stated | None = None,
    shortest: Stated | None = None,
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
    stated = _stated(trace, threshold, hysteresis, reference, shortest)
    return _events(trace, *stated, noise, 1)


def _stated(
    trace: Trace,
    threshold: Stated,
    hysteresis: Stated,
    reference: Stated | None,
    shortest: Stated | None,
) -> tuple[float, float, float | None, float | None]:
    """Return the four in SI."""
    name, unit, second = trace.name, trace.settings.unit, unit_of("s")
    return (
        in_si(threshold, unit, f"{name}, threshold"),
        in_si(hysteresis, unit.difference(), f"{name}, hysteresis", difference=True),
        None if reference is None else in_si(reference, unit, f"{name}, reference"),
        None if shortest is None else in_si(shortest, second, f"{name}, shortest"),
    )


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
    what, unit = "dip" if sign < 0 else "swell", trace.settings.unit
    back = threshold - sign * hysteresis
    declared = trace.name, threshold, back
    text = (
        f"threshold {told(threshold, unit)}, hysteresis "
        f"{told_difference(hysteresis, unit, 6)}"
    )
    if reason := no_level(trace) or gaps(trace, extremes_of(trace)):
        text = f"{text}; {settings_line(trace)}"
        number = unknown(f"{what}s", unit_of(""), reason, text)
        total = unknown(f"time in {what}s", unit_of("s"), reason, text)
        return Dips(number, total, (), *declared)
    noise = noise or noise_within(trace)
    text = f"{text}, {noise.text}; {settings_line(trace)}"
    trace = trace.summarised()
    changes = trace.changes(min(threshold, back), max(threshold, back))
    level = _median(trace) if reference is None else reference
    search = Search(
        trace, sign, threshold, hysteresis, level, reference is not None, noise, what,
        text,
    )  # fmt: skip
    away = changes.rising == (sign > 0)
    begins = np.flatnonzero(away[:-1])
    dips = [_dip(search, changes, int(k), i + 1) for i, k in enumerate(begins[:MOST])]
    begun = int(changes.starts_high is (sign > 0)) + int(away.sum())
    number = _count(search, begun, begins.size, shortest)
    total = _total(search, changes, dips, begun - begins.size)
    return Dips(number, total, tuple(dips), *declared)


def _median(trace: Trace) -> float:
    values, counts = trace.levels()
    return float(values[np.searchsorted(np.cumsum(counts), counts.sum() / 2)])


def _count(search: Search, begun: int, whole: int, shortest: float | None) -> Finding:
    trace, unit, name = search.trace, unit_of(""), f"{search.what}s"
    dt = trace.interval
    if begun == 0 and shortest is not None and shortest < LEAST_SAMPLES * dt:
        reason = (
            f"no {search.what} was seen, but samples every {told(dt, 's')} put only "
            f"{shortest / dt:.1f} on one of {told(shortest, 's')}, {LEAST_SAMPLES} are "
            "usual. Sample faster."
        )
        return unknown(name, unit, reason, search.text)
    found = Finding(name, unit, float(begun), text=search.text)
    cut = begun - whole
    return found.noted(
        f"{cut} of them reach{'es' * (cut == 1)} beyond the record" if cut else "",
        f"only the first {MOST} are listed" if whole > MOST else "",
        ""
        if shortest is not None and shortest >= LEAST_SAMPLES * dt
        else f"shorter ones than {told(LEAST_SAMPLES * dt, 's')} may be missed",
        _noise_note(search),
        coupling_doubt(trace),
    )


def _noise_note(search: Search) -> str:
    sigma = search.noise.standard_deviation
    if search.hysteresis >= LEAST_HYSTERESIS * sigma:
        return ""
    return (
        f"the hysteresis is {search.hysteresis / sigma:.1f} standard deviations of "
        f"the noise: noise alone makes {search.what}s while the signal is near the "
        "threshold"
    )


def _total(search: Search, changes: Changes, dips: list[Dip], cut: int) -> Finding:
    name, second = f"time in {search.what}s", unit_of("s")
    if cut:
        reason = (
            f"a {search.what} reaches beyond the record. Record longer, with the "
            "trigger further inside."
        )
        return unknown(name, second, reason, search.text)
    begins = np.flatnonzero(changes.rising[:-1] == (search.sign > 0))
    spans = changes.reached[begins + 1] - changes.reached[begins]
    # Those not listed are taken to be as uncertain as those that are.
    share = float(spans.sum() / spans[: len(dips)].sum()) if dips else 1.0
    total = share * sum(d.duration.value for d in dips)
    inputs = [(d.duration, share) for d in dips]
    return derived(name, second, total, inputs, search.text)


def _dip(search: Search, changes: Changes, k: int, number: int) -> Dip:
    trace, second = search.trace, unit_of("s")
    name = f"{search.what} {number}"
    first, last = int(changes.index[k]), int(changes.index[k + 1])
    start, begin = _passage(search, changes, k, f"{name} · begin")
    end, ending = _passage(search, changes, k + 1, f"{name} · end")
    duration = end - start
    parts = merged([*duration_parts(trace, duration), *scaled(begin, -1), *ending])
    inside = duration / trace.interval
    few = f"only {inside:.1f} samples long: depth and duration are coarse"
    note = few if inside < LEAST_SAMPLES else ""
    lasted = Finding(f"{name} · duration", second, duration, parts, search.text)
    began = Finding(f"{name} · start", second, start, merged(begin), search.text)
    residual, depth = residual_of(search, name, first, last)
    return Dip(
        began, residual.noted(note), depth.noted(note), lasted.noted(note), first, last
    )


def _passage(
    search: Search, changes: Changes, k: int, name: str
) -> tuple[float, list[Part]]:
    """Return when an edge passes its level, and what makes that uncertain."""
    trace, dt, second = search.trace, search.trace.interval, unit_of("s")
    edge = only(changes, slice(k, k + 1))
    begins = bool(changes.rising[k]) is (search.sign > 0)
    level = search.threshold - (0 if begins else search.sign * search.hysteresis)
    taken = max(float(changes.reached[k] - changes.left[k]), 1e-9)
    beside = np.diff(changes.reached[max(k - 1, 0) : k + 2]) / 2
    shared, first = level_parts(trace, level, "threshold"), float(changes.reached[k])
    found = passage_of(
        trace, first, level, search.noise, search.hysteresis / taken,
        max(int(beside.min()), 1),
        math.hypot(*(c * source.standard_uncertainty for source, c in shared)),
    )  # fmt: skip
    half = sampling_half_width(trace, edge)
    place = found.place if found.place != first else float(settled(trace, edge)[0])
    causes: list[tuple[str, float, Distribution]] = [
        ("sampling interval", half / 3**0.5, "rectangular"),
        ("noise", found.noise, "normal"),
        ("lingering", found.doubt / 2**0.5, "arcsine"),
    ]
    parts = [
        part
        for cause, u, kind in causes
        for part in own_part(trace, f"{name} · {cause}", u * dt, second, kind)
    ]
    # A level that is read too low makes the signal pass it early or late.
    parts += [(source, -c * dt / found.slope) for source, c in shared]
    return trace.time(place), parts

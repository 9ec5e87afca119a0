"""How far a dip goes down, or a swell up: residual and depth with their sources."""

from __future__ import annotations

from dataclasses import dataclass

from benchproof.measuring.captures.bottoms import bottom_of, bottom_parts
from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    difference_parts,
    level_parts,
    own_part,
)
from benchproof.measuring.captures.extremes import extremes_of, unsound
from benchproof.measuring.captures.finding import (
    Finding,
    Part,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.noise import Noise, quantisation_of_mean
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told

_AROUND = 1 << 19
"""Samples on each side of the lowest one among which the level is looked for."""

_MEDIAN = 1.2533
"""Standard uncertainty of a median over that of a mean: √(π/2)."""


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for, and where.

    Attributes
    ----------
    trace : Trace
    sign : {-1, 1}
        Of dips and swells.
    threshold, hysteresis, reference : float
        In SI.
    declared : bool
        Whether the reference was declared, not read from the record.
    noise : Noise
    what : {"dip", "swell"}
    text : str
        How it was looked for.
    """

    trace: Trace
    sign: int
    threshold: float
    hysteresis: float
    reference: float
    declared: bool
    noise: Noise
    what: str
    text: str


def residual_of(
    search: Search, name: str, first: int, last: int
) -> tuple[Finding, Finding]:
    r"""Return the least value of a dip (of a swell the greatest), and its depth.

    Parameters
    ----------
    name : str
        Of the dip.
    first, last : int
        Sample numbers of the dip.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.repeat([12.0, 8.0], 50), 1e-3, Settings("scope", "CH1"))
    >>> search = Search(record, -1, 9.0, 0.5, 12.0, True, Noise(0.0), "dip", "declared")
    >>> residual, depth = residual_of(search, "dip 1", 50, 100)
    >>> print(residual, depth, sep="\n")
    dip 1 · residual = 8 V
    dip 1 · depth = 4 V
    """
    trace, unit = search.trace, search.trace.settings.unit
    ends = extremes_of(trace, first, max(last, first + 2))
    reason = unsound(trace, ends, "low" if search.sign < 0 else "high")
    if reason:
        return (
            unknown(f"{name} · residual", unit, reason, search.text),
            unknown(f"{name} · depth", unit, reason, search.text),
        )
    lowest = ends.low_at if search.sign < 0 else ends.high_at
    near = slice(max(first, lowest - _AROUND), min(last, lowest + _AROUND))
    found = bottom_of(-search.sign * trace.values(near.start, near.stop), search.noise)
    value = -search.sign * found.value
    parts = bottom_parts(trace, f"{name} · residual", found, search.noise)
    levels = level_parts(trace, value, f"{name} · residual")
    note = ""
    if found.averaged == 1 and last - first >= LEAST_SAMPLES:
        note = "its lowest part is a few samples wide: what lies between them is open"
    residual = Finding(
        f"{name} · residual", unit, value, merged([*levels, *parts]), search.text
    )
    return residual.noted(note), _depth(search, name, residual, parts).noted(note)


def _depth(search: Search, name: str, residual: Finding, own: list[Part]) -> Finding:
    """Return how far a residual is from the reference.

    One read from the record has the same offset, a declared one does not.
    """
    trace, unit = search.trace, search.trace.settings.unit
    if (search.reference - search.threshold) * search.sign >= 0:
        reason = (
            f"the median of {trace.name} is itself beyond the threshold: the record is "
            f"mostly {search.what}. Give the reference."
        )
        return unknown(f"{name} · depth", unit.difference(), reason, search.text)
    away = abs(search.reference - residual.value)
    sign = 1.0 if residual.value > search.reference else -1.0
    name, count = f"{name} · depth", len(trace)
    text = f"from {told(search.reference, unit)}; {search.text}"
    if search.declared:
        parts = merged(scaled(residual.parts, sign))
        return Finding(name, unit.difference(), away, parts, text)
    rounding = quantisation_of_mean(trace, search.noise, count)
    level = own_part(trace, "reference · noise", _MEDIAN * search.noise.of_mean(count))
    level += own_part(
        trace, "reference · quantisation", rounding / 3**0.5, distribution="rectangular"
    )
    parts = merged(
        [*difference_parts(trace, away), *scaled(own, sign), *scaled(level, -sign)]
    )
    return Finding(name, unit.difference(), away, parts, f"median, {text}")

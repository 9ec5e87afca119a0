"""Readings of one place by several instruments, and whether they tell the same."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from benchproof.measuring.indications import function_of
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import Measured
from benchproof.values.quantities import shorthand
from benchproof.values.units import unit_of

NEAR = 0.05
"""How far from an exact factor a ratio may be, relatively (common practice)."""

DISAGREES_ABOVE = 3.0
"""Of the standard uncertainty of the difference (common practice)."""

MOST_SHOWN = 3
"""Warnings about one measurand."""

PROBE_RATIOS = (20.0, 50.0)
"""Usual ratios of probes and shunts beside the powers of ten."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """One measurand as far as the comparison needs it; in SI."""

    measured: Measured
    value: float
    u: float
    instrument: str
    kinds: frozenset[str]


def crosschecks(
    measured: Mapping[str, Measured], instruments: Mapping[str, Instrument]
) -> dict[str, tuple[str, ...]]:
    """Compare what different instruments read at one place, and say what does not fit.

    Only values are compared, of one dimension and with the same, non-empty `at`, each
    read with one named instrument; AC and DC functions are kept apart by their names.
    Nothing is rescaled: a slip is for a person to see and to correct.

    Parameters
    ----------
    measured : mapping
        By name; those without a value are left out.
    instruments : mapping
        By name.

    Returns
    -------
    dict
        Name to warnings, the same one with both measurands of a pair: that they
        differ by more than 3 u of their difference, and the probable slip if their
        ratio is within 5 % of a power of ten or a usual probe ratio.

    Notes
    -----
    Instruments share no source, so u of the difference is the root sum of squares. A
    ratio alone is no sign: two readings that are zero within their uncertainty can
    have any.

    References
    ----------
    Common practice, the limits too: a wrong probe ratio or prefix is off by an exact
    factor.

    Examples
    --------
    >>> crosschecks({}, {})
    {}
    """
    said: dict[str, list[str]] = {}
    for group in _groups(measured, instruments):
        for one, other in itertools.combinations(group, 2):
            if warning := _warning(one, other):
                for seen in (one, other):
                    said.setdefault(seen.measured.name, []).append(warning)
    return {name: _shortened(warnings) for name, warnings in said.items()}


def _shortened(warnings: list[str]) -> tuple[str, ...]:
    """Keep the first few: at a place named too broadly, everything disagrees."""
    more = len(warnings) - MOST_SHOWN
    if more <= 0:
        return tuple(warnings)
    return (
        *warnings[:MOST_SHOWN],
        f"{more} more readings of this place do not fit: name the places more narrowly "
        "with at='…'",
    )


def _groups(
    measured: Mapping[str, Measured], instruments: Mapping[str, Instrument]
) -> Iterator[list[_Seen]]:
    """Give the measurands of one place and dimension that more than one meter read."""
    places: dict[tuple[object, ...], list[Measured]] = {}
    for found in measured.values():
        first = found.readings[0] if found.estimate and found.readings else None
        if first is None or not first.at or not first.instrument:
            continue
        at = {_place(at) for at in {r.at for r in found.readings}}
        names = {r.instrument for r in found.readings}
        if len(at) == len(names) == 1 and "" not in at:
            places.setdefault((at.pop(), found.unit.dimension), []).append(found)
    for group in places.values():
        if len({m.readings[0].instrument for m in group}) > 1:
            yield [_seen(m, instruments) for m in group]


def _place(at: str) -> str:
    return " ".join(at.split()).casefold()


def _seen(found: Measured, instruments: Mapping[str, Instrument]) -> _Seen:
    parts = found.estimate.parts if found.estimate else ()
    u = math.hypot(*(s.standard_uncertainty * slope for s, slope in parts))
    value = found.estimate.value if found.estimate else math.nan
    reading = found.readings[0]
    _, function = function_of(reading, instruments)
    kinds = frozenset(re.findall(r"\b(?:AC|DC)\b", function.name.upper()))
    return _Seen(found, value, u, reading.instrument, kinds)


def _warning(one: _Seen, other: _Seen) -> str:
    kept_apart = one.kinds and other.kinds and one.kinds != other.kinds
    u = math.hypot(one.u, other.u)
    difference = abs(one.value - other.value)
    if one.instrument == other.instrument or kept_apart:
        return ""
    if difference <= DISAGREES_ABOVE * u or not u:
        return ""
    both = f"{_text(one)} and {_text(other)}, both at {one.measured.readings[0].at!r}"
    if slip := slip_of(one.value, other.value, one.measured.unit.symbol):
        return (
            f"{both}: {slip}. Nothing was rescaled: find out which is wrong and "
            "correct it with because='…'"
        )
    return (
        f"{both}: {difference / u:.2g} u of their difference apart. If they should be "
        "one quantity in one state, one is wrong; else write different at='…'"
    )


def slip_of(first: float, second: float, unit: str) -> str:
    """Name the slip that a ratio of two readings of one place points to.

    Parameters
    ----------
    first, second : float
        In SI, of one sign; else, or where one is zero, no slip is named.
    unit : str
        In which they were read.

    Returns
    -------
    str
        "" where the ratio is near no exact factor.

    Examples
    --------
    >>> slip_of(1.49, 14.86, "V")
    'a factor of 10 (9.97) apart, as a wrong probe ratio or a slipped decimal makes it'
    >>> slip_of(3.284, 3.3, "V")
    ''
    """
    known = unit_of(unit)
    if not first * second > 0 or known.offset:
        return ""
    ratio = max(first / second, second / first)
    factor = 10.0 ** round(math.log10(ratio))
    near = [f for f in (factor, *PROBE_RATIOS) if abs(ratio / f - 1) <= NEAR]
    if not near or near[0] == 1:
        return ""
    return f"a factor of {near[0]:g} ({ratio:.3g}) apart, as {_cause(near[0], unit)}"


def _cause(factor: float, unit: str) -> str:
    if factor in (1e3, 1e6, 1e9, 1e12):
        return "a wrong unit prefix makes it (mV for V, µA for mA)"
    volts, amperes = unit_of("V").dimension, unit_of("A").dimension
    scale = {volts: "probe ratio", amperes: "scale of a clamp or shunt"}
    named = scale.get(unit_of(unit).dimension, "range")
    if factor in PROBE_RATIOS:
        return f"a wrong {named} makes it"
    return f"a wrong {named} or a slipped decimal makes it"


def _text(seen: _Seen) -> str:
    unit = seen.measured.unit
    value, u = unit.from_si(seen.value), seen.u / unit.difference().factor
    shown = shorthand(value, u, unit.symbol)
    return f"{seen.measured.name} {shown} ({seen.instrument})"

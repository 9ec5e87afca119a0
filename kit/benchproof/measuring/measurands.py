"""From the readings that count to an estimate with its error sources."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchproof.measuring.indications import (
    Indications,
    Part,
    function_of,
    indications_of,
    parts_of,
    place,
    warnings_of,
)
from benchproof.measuring.instruments import Instrument, range_for
from benchproof.measuring.readings import Reading
from benchproof.measuring.repeats import Repeats, correlation, summarise
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, Joint, Source, half_width_source
from benchproof.values.statements import Statement, unsaid
from benchproof.values.units import Unit, require_same_dimension, unit_of

Status = Literal["measured", "pending", "censored", "count", "invalid"]


@dataclass(frozen=True, slots=True)
class Measured:
    """What the readings of one measurand amount to.

    Attributes
    ----------
    status : {"measured", "pending", "censored", "count", "invalid"}
        ``invalid``: it was read, but a condition it needs does not hold.
    estimate : Estimate or None
        In SI, for ``measured`` only.
    bound : (str, float) or None
        ``(">", si)`` or ``("<", si)`` for ``censored``.
    count : (int, int) or None
        Occurrences and attempts for ``count``.
    readings : tuple of Reading
        Those that count.
    flags : tuple of str
        What a careful reader should know about the value.
    warnings : tuple of str
        What concerns every result that depends on it as well.
    reason : str
        Of ``invalid``.
    """

    name: str
    unit: Unit
    status: Status
    estimate: Estimate | None = None
    bound: tuple[str, float] | None = None
    count: tuple[int, int] | None = None
    readings: tuple[Reading, ...] = ()
    repeats: Repeats | None = None
    flags: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    reason: str = ""


def pending(name: str, unit: Unit | None = None) -> Measured:
    """Return a measurand that was declared but not measured."""
    return Measured(name, unit or unit_of(""), "pending")


def evaluate(
    name: str, readings: Sequence[Reading], instruments: Mapping[str, Instrument]
) -> Measured:
    """Evaluate the readings of one measurand that count.

    Parameters
    ----------
    readings : sequence of Reading
        In time order; empty means pending.
    instruments : mapping
        By name.

    Returns
    -------
    Measured
        Repeatability (Type A), the accuracy line's gain and fixed part, stated
        uncertainty and resolution, each as a named source.

    Raises
    ------
    InputError
        If readings do not fit each other or their instrument.
    """
    if not readings:
        return pending(name)
    unit = unit_of(readings[0].value.unit)
    rows = tuple(readings)
    for text, reading in {r.value.unit: r for r in reversed(rows)}.items():
        require_same_dimension(unit_of(text), unit, place(reading))
    if any(r.value.of for r in rows):
        return _count(name, unit, rows)
    if any(r.value.bound for r in rows):
        return _censored(name, unit, rows, instruments)
    return _measured(name, unit, rows, instruments)


def _count(name: str, unit: Unit, rows: tuple[Reading, ...]) -> Measured:
    if not all(r.value.of for r in rows):
        raise InputError(f"{name}: counts and readings with a unit cannot be mixed.")
    k = sum(int(r.value.value) for r in rows)
    n = sum(r.value.of or 0 for r in rows)
    return Measured(name, unit, "count", count=(k, n), readings=rows)


def _censored(
    name: str,
    unit: Unit,
    rows: tuple[Reading, ...],
    instruments: Mapping[str, Instrument],
) -> Measured:
    bounds = [_bound(r, instruments) for r in rows if r.value.bound]
    signs = {sign for sign, _ in bounds}
    flags = []
    if len(bounds) < len(rows):
        flags.append(
            f"{len(rows) - len(bounds)} readings with a number beside censored ones: "
            "no mean is formed"
        )
    if len(signs) > 1:
        raise InputError(f"{name}: bounds from both sides; record them apart.")
    sign = signs.pop()
    # The weakest bound is the one that every censored reading supports.
    limit = (min if sign == ">" else max)(si for _, si in bounds)
    return Measured(
        name, unit, "censored", bound=(sign, limit), readings=rows, flags=tuple(flags)
    )


def _bound(
    reading: Reading, instruments: Mapping[str, Instrument]
) -> tuple[str, float]:
    unit = unit_of(reading.value.unit)
    where = place(reading)
    if reading.value.bound in ("<", ">"):
        return reading.value.bound, unit.to_si(reading.value.value)
    if not reading.instrument:
        raise InputError(
            f"{where}: OL says nothing without an instrument. Name it with using='…', "
            "or write the bound, e.g. '>60 MΩ'."
        )
    _, function = function_of(reading, instruments)
    top = function.ranges[-1]
    if reading.range:
        top = range_for(function, 0.0, reading.range, where)
    limit = top.top - top.accuracy.half_width(top.top, top.top, top.digit)
    return ">", unit_of(function.unit).to_si(limit)


def _measured(
    name: str,
    unit: Unit,
    rows: tuple[Reading, ...],
    instruments: Mapping[str, Instrument],
) -> Measured:
    difference = unit.difference()
    numbers = _in_unit(rows, unit)
    repeats = summarise(numbers, _last_digit(rows) / unit.factor)
    parts: list[Part] = []
    if repeats.count > 1 and repeats.standard_uncertainty > 0:
        parts.append((repeatability(name, repeats, difference), 1.0))
    shown = indications_of(filter(_by_its_line, rows), instruments)
    for alike in shown:
        parts += parts_of(alike, name, len(rows))
    parts += _stated_part(name, rows, difference)
    covered = all(i.range.accuracy.covers_resolution() for i in shown)
    if not parts or not covered:
        parts.append((_resolution(name, rows, difference), 1.0))
    estimate = Estimate(unit.to_si(repeats.mean), _merged(parts))
    drift = [repeats.drift] if repeats.drift else []
    warnings = dict.fromkeys([*drift, *(w for i in shown for w in warnings_of(i))])
    flags = _flags(rows, repeats, shown)
    return Measured(
        name,
        unit,
        "measured",
        estimate,
        None,
        None,
        rows,
        repeats,
        flags,
        tuple(warnings),
    )


def _by_its_line(reading: Reading) -> bool:
    """Tell whether the accuracy line counts: a stated uncertainty replaces it."""
    return bool(reading.instrument) and reading.value.stated is None


def _in_unit(rows: Iterable[Reading], unit: Unit) -> list[float]:
    """Return the numbers; those typed in the unit itself stay as they are."""
    others = {r.value.unit: unit_of(r.value.unit) for r in rows}
    others = {text: typed for text, typed in others.items() if text and typed != unit}
    if not others:
        return [r.value.value for r in rows]
    return [
        unit.from_si(others[r.value.unit].to_si(r.value.value))
        if r.value.unit in others
        else r.value.value
        for r in rows
    ]


def repeatability(name: str, repeats: Repeats, unit: Unit) -> Source:
    """Return the Type A source of a mean (JCGM 100:2008, 4.2.3; t by 101, 6.4.9)."""
    return Source(
        f"{name} · repeatability",
        "A",
        "t",
        repeats.standard_uncertainty * unit.factor,
        unit,
        repeats.degrees_of_freedom,
    )


def _stated_part(name: str, rows: tuple[Reading, ...], unit: Unit) -> list[Part]:
    stated = [r for r in rows if r.value.stated]
    if not stated:
        return []
    # One person stated them all: taken as one common error, not averaged away.
    total = sum((r.value.standard_uncertainty or 0.0) * _step(r) for r in stated)
    shapes = {
        replace(r.value.stated, standard_uncertainty=0.0)
        for r in stated
        if r.value.stated
    }
    shape = shapes.pop() if len(shapes) == 1 else Statement(0.0)
    common = replace(shape, standard_uncertainty=total / len(rows) / unit.factor)
    return [(common.source(f"{name} · stated", unit), 1.0)]


def _step(reading: Reading) -> float:
    return unit_of(reading.value.unit).difference().factor


def _resolution(name: str, rows: tuple[Reading, ...], unit: Unit) -> Source:
    """One written digit, rectangular (JCGM 100:2008, F.2.2.1)."""
    return half_width_source(f"{name} · resolution", _last_digit(rows) / 2, unit)


def _last_digit(rows: tuple[Reading, ...]) -> float:
    """Return the coarsest written digit, in SI."""
    steps = {(r.value.step, r.value.unit) for r in rows}
    return max(step * unit_of(unit).factor for step, unit in steps)


def _merged(parts: Sequence[Part]) -> tuple[Part, ...]:
    """Add up the sensitivities of parts that come from the same source."""
    totals: dict[str, tuple[Source, float]] = {}
    for source, sensitivity in parts:
        before = totals.get(source.name, (source, 0.0))[1]
        totals[source.name] = (source, before + sensitivity)
    return tuple(totals.values())


def _flags(
    rows: tuple[Reading, ...], repeats: Repeats, shown: Sequence[Indications]
) -> tuple[str, ...]:
    flags = []
    if repeats.count == 1 and rows[0].value.standard_uncertainty is None:
        flags.append("one reading: repeatability unknown")
    if not any(r.instrument or r.value.standard_uncertainty for r in rows):
        flags.append("no instrument named: only the scatter of the readings counts")
    flags += dict.fromkeys(
        filter(None, (unsaid(r.value.text) for r in rows if r.value.stated))
    )
    flags += [flag for flag in repeats.flags if flag != repeats.drift]
    told = dict.fromkeys(i.range.label for i in shown if i.told_by_digit)
    flags += [f"taken as read on {label}, by its last digit" for label in told]
    if len({i.stem for i in shown}) > 1:
        flags.append("readings from several ranges: each keeps its own accuracy")
    return tuple(flags)


def joint_repeatability(
    group: Mapping[str, Measured],
) -> tuple[dict[str, Measured], Joint | None]:
    """Correlate the repeatability of measurands that were read together.

    Parameters
    ----------
    group : mapping
        Measurands that share one ``together`` mark, by name, each with the same
        number of readings.

    Returns
    -------
    dict, Joint or None
        The measurands (flagged where sets were dropped), and the correlation of
        their repeatability; None if there is nothing to correlate.

    Notes
    -----
    Every margin keeps its own t with n - 1 degrees of freedom, as it would alone.

    References
    ----------
    JCGM 100:2008, 5.2.3 and H.2.
    """
    usable = {name: m for name, m in group.items() if m.repeats and m.repeats.count > 1}
    sizes = Counter(m.repeats.count for m in usable.values() if m.repeats)
    if len(usable) < 2:
        return dict(group), None
    if len(sizes) > 1:
        raise InputError(
            f"{', '.join(usable)} were read together, but have "
            f"{', '.join(str(m.repeats.count) for m in usable.values() if m.repeats)} "
            "readings. Strike the same set of each, or record them apart."
        )
    columns = {n: _in_unit(m.readings, m.unit) for n, m in usable.items()}
    matrix = tuple(
        tuple(1.0 if a == b else correlation(columns[a], columns[b]) for b in columns)
        for a in columns
    )
    names = tuple(f"{n} · repeatability" for n in columns)
    flag = f"read together with {', '.join(columns)}"
    flagged = {n: replace(m, flags=(*m.flags, flag)) for n, m in usable.items()}
    return {**group, **flagged}, Joint(names, matrix, sizes.most_common(1)[0][0] - 1)

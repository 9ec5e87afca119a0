"""Zero checks: how far an instrument's zero had moved, as a source of its readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from benchproof.measuring.corrections import plain_name
from benchproof.measuring.influences import Influence
from benchproof.measuring.instruments import Function, Instrument
from benchproof.measuring.readings import Record, standing
from benchproof.values.sources import half_width_divisor
from benchproof.values.statements import Statement
from benchproof.values.units import unit_of

Key = tuple[str, str]
"""An instrument's name and the name of one of its functions."""

WHEN = ("before", "after")

_SOURCE = "zero drift"


@dataclass(frozen=True, slots=True)
class ZeroCheck:
    """What one function read of nothing in one round, in the function's unit.

    Attributes
    ----------
    before, after : float or None
        The reading farthest from zero; None if none was taken.
    """

    round: int
    unit: str
    before: float | None = None
    after: float | None = None

    @property
    def size(self) -> float:
        """The larger distance from zero."""
        return max(abs(z) for z in (self.before, self.after, 0.0) if z is not None)

    @property
    def said(self) -> str:
        """The check and its size in words."""
        symbol = unit_of(self.unit).symbol
        return f"zero check of round {self.round}: {self.size:g} {symbol}"


def zero_name(instrument: str, function: str, when: str) -> str:
    """Name the measurand that a zero check is recorded as.

    Examples
    --------
    >>> zero_name("handheld", "DC V", "before")
    'zero_handheld_DC_V_before'
    """
    return plain_name(f"zero_{instrument}_{function}_{when}")


def zero_checks(
    record: Record, instruments: Mapping[str, Instrument], up_to: int | None = None
) -> dict[Key, dict[int, ZeroCheck]]:
    """Return every zero check that counts, by function and round.

    Parameters
    ----------
    up_to : int, optional
        Leave out what was recorded, or struck, in later rounds.
    """
    found: dict[Key, dict[int, ZeroCheck]] = {}
    for instrument in instruments.values():
        for function in instrument.functions:
            before, after = (
                _by_round(
                    record,
                    zero_name(instrument.name, function.name, when),
                    function,
                    up_to,
                )
                for when in WHEN
            )
            rounds = sorted({*before, *after})
            if rounds:
                found[instrument.name, function.name] = {
                    n: ZeroCheck(n, function.unit, before.get(n), after.get(n))
                    for n in rounds
                }
    return found


def _by_round(
    record: Record, name: str, function: Function, up_to: int | None
) -> dict[int, float]:
    """Return the reading farthest from zero of each round that has some."""
    readings = record.of(name, up_to)
    unit = unit_of(function.unit)
    farthest: dict[int, float] = {}
    for number in {r.round for r in readings}:
        of_round = [r for r in readings if r.round == number]
        stands = standing(record, of_round, up_to)
        values = [
            unit.from_si(unit_of(r.value.unit).to_si(r.value.value))
            for r in of_round
            if stands[r.row] == "counts" and r.value.bound in ("", "<")
        ]
        if values:
            farthest[number] = max(values, key=abs)
    return farthest


def instruments_in_round(
    instruments: Mapping[str, Instrument],
    checks: Mapping[Key, Mapping[int, ZeroCheck]],
    number: int,
) -> tuple[dict[str, Instrument], dict[Key, str]]:
    """Return the instruments as the zero checks of a round found them.

    A check that found more than the declared `zero_drift` takes its place; it is a
    limit on either side, so u is its size over √3. One source is shared by all
    readings of the function in the round; another round's check is another source.

    Returns
    -------
    dict of Instrument
        By name.
    dict of str
        For each function that was checked in the round, what was done about it.

    References
    ----------
    JCGM 100:2008, 4.3.7 (limits).
    """
    changed = dict(instruments)
    said: dict[Key, str] = {}
    for (name, function_name), rounds in checks.items():
        functions = []
        for function in changed[name].functions:
            if function.name == function_name:
                function, note = _checked(function, rounds, number)
                said |= {(name, function_name): note} if note else {}
            functions.append(function)
        changed[name] = replace(changed[name], functions=tuple(functions))
    return changed, said


def _checked(
    function: Function, rounds: Mapping[int, ZeroCheck], number: int
) -> tuple[Function, str]:
    """Put a round's zero check in place of the declared drift, if it is larger."""
    declared = next((i for i in function.influences if i.name == _SOURCE), None)
    others = tuple(i for i in function.influences if i is not declared)
    check = rounds.get(number)
    if check is None or not _larger(check, declared):
        kept = _named_apart(declared, rounds, number)
        influences = (*others, kept) if kept else others
        return replace(function, influences=influences), _kept(check, declared)
    limit = Statement(check.size / half_width_divisor("rectangular"), "rectangular")
    name = _SOURCE if number == 1 else f"{_SOURCE}, round {number}"
    instead = " in place of the declared zero_drift" if declared else ""
    if declared and declared.relative:
        # A relative drift has no size at zero, where the check was made: both count.
        others, name, instead = function.influences, f"{name}, checked", ""
    found = replace(function, influences=(*others, Influence(name, limit)))
    return found, f"{check.said}, taken as limits of its zero drift{instead}"


def _named_apart(
    declared: Influence | None, rounds: Mapping[int, ZeroCheck], number: int
) -> Influence | None:
    """Name the declared drift anew where the check of round 1 took its name."""
    first = rounds.get(1)
    taken = number != 1 and first and _larger(first, declared)
    if declared and taken and not declared.relative:
        return replace(declared, name=f"{_SOURCE}, as declared")
    return declared


def _kept(check: ZeroCheck | None, declared: Influence | None) -> str:
    if check is None:
        return ""
    if declared is None:
        return f"{check.said}: no drift was seen"
    return f"{check.said}, no more than the declared zero_drift, which stays"


def _larger(check: ZeroCheck, declared: Influence | None) -> bool:
    u = check.size / half_width_divisor("rectangular")
    if declared is None or declared.relative:
        return u > 0
    return u > declared.statement.standard_uncertainty

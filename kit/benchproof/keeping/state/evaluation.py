"""From the readings that count in a round to what each measurand amounts to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from benchproof.measuring.crosschecks import crosschecks
from benchproof.measuring.indications import function_of
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import (
    Measured,
    evaluate,
    joint_repeatability,
    pending,
)
from benchproof.measuring.readings import (
    Reading,
    Record,
    Strike,
    counting,
    whole_sets,
)
from benchproof.measuring.zeros import (
    WHEN,
    Key,
    instruments_in_round,
    zero_checks,
    zero_name,
)
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from benchproof.measuring.captures.finding import Finding


@dataclass(frozen=True, slots=True)
class Evaluated:
    """What the readings amount to, and what was found out on the way to it.

    Attributes
    ----------
    measured : dict of Measured
        Every measurand, pending ones included.
    joints : list of Joint
        What was read together.
    """

    measured: dict[str, Measured]
    joints: list[Joint]
    _up_to: int | None = None
    _meters: _Meters | None = field(default=None, repr=False)
    _strikes: dict[str, Strike] = field(default_factory=dict, repr=False)
    # Of each measurand: how many readings there were, and those that count.
    _counted: dict[str, tuple[int, list[Reading]]] = field(
        default_factory=dict, repr=False
    )
    # Of each measurand: the readings that were evaluated, and to what.
    _alone: dict[str, tuple[list[Reading], Measured]] = field(
        default_factory=dict, repr=False
    )
    # Of each mark: what was read together, flagged, and its correlation.
    _groups: dict[str, tuple[_Group, tuple[_Group, Joint | None]]] = field(
        default_factory=dict, repr=False
    )


_Group = dict[str, Measured]


def measured_of(
    record: Record,
    instruments: Mapping[str, Instrument],
    declared: Mapping[str, str],
    up_to: int | None = None,
    before: Evaluated | None = None,
) -> Evaluated:
    """Evaluate all readings that count in a round.

    Parameters
    ----------
    declared : mapping
        Unit text of every measurand the notebook mentions.
    up_to : int, optional
        Leave out what was recorded in later rounds.
    before : Evaluated, optional
        The same record's, when it was shorter: measurands whose readings are still
        the same are taken from there.
    """
    if before is None or before._up_to != up_to:
        before = Evaluated({}, [], up_to)
    meters = _Meters(record, instruments, up_to)
    if before._meters and meters.show_as(before._meters):
        meters = before._meters
    else:  # Which readings count does not depend on the instruments.
        before = replace(before, _alone={})
    strikes = dict(record.strikes)
    counted = _counted(record, up_to, before if before._strikes == strikes else None)
    marks: dict[str, list[str]] = {}
    rows = {name: readings for name, (_, readings) in counted.items()}
    for name, readings in rows.items():
        if readings and readings[0].together:
            marks.setdefault(readings[0].together, []).append(name)
    lost = _left_out(record, marks, rows)
    alone = _alone(record, meters, rows, before)
    measured = {name: pending(name, unit_of(unit)) for name, unit in declared.items()}
    measured |= {n: _with_loss(m, lost.get(n, 0)) for n, (_, m) in alone.items()}
    groups = {}
    for mark, names in marks.items():
        group = {n: measured[n] for n in names}
        known_group = before._groups.get(mark)
        if known_group is None or known_group[0] != group:
            known_group = (group, joint_repeatability(group))
        groups[mark] = known_group
        measured |= known_group[1][0]
    joints = [joint for _, (_, joint) in groups.values() if joint]
    return Evaluated(measured, joints, up_to, meters, strikes, counted, alone, groups)


def _counted(
    record: Record, up_to: int | None, before: Evaluated | None
) -> dict[str, tuple[int, list[Reading]]]:
    """Find the readings that count; without a new strike, only among new ones."""
    known = before._counted if before else {}
    found = {}
    for name, readings in record.by_measurand.items():
        was = known.get(name)
        if was is None or was[0] != len(readings):
            was = (len(readings), counting(record, name, up_to))
        found[name] = was
    return found


def _alone(
    record: Record,
    meters: _Meters,
    rows: Mapping[str, list[Reading]],
    before: Evaluated,
) -> dict[str, tuple[list[Reading], Measured]]:
    """Evaluate each measurand by itself, unless its readings are the same."""
    alone: dict[str, tuple[list[Reading], Measured]] = {}
    for name, readings in rows.items():
        known = before._alone.get(name)
        if known is None or known[0] != readings:
            known = (readings, meters.evaluate(record, name, readings))
        alone[name] = known
    return alone


def _left_out(
    record: Record, marks: Mapping[str, list[str]], rows: dict[str, list[Reading]]
) -> dict[str, int]:
    """Keep whole sets of what was read together; return how many others there were."""
    lost: dict[str, int] = {}
    for names in marks.values():
        most = max(len(rows[n]) for n in names)
        whole = whole_sets(record, [rows[n] for n in names])
        rows.update(zip(names, whole, strict=True))
        lost.update(dict.fromkeys(names, most - len(whole[0])))
    return lost


def _with_loss(fresh: Measured, lost: int) -> Measured:
    if not lost:
        return fresh
    flag = f"{lost} sets read together left out: a reading was struck"
    return replace(fresh, flags=(*fresh.flags, flag))


class _Meters:
    """The instruments, with what the zero checks of each round found."""

    def __init__(
        self,
        record: Record,
        instruments: Mapping[str, Instrument],
        up_to: int | None,
    ) -> None:
        self.instruments = dict(instruments)
        self.checks = zero_checks(record, instruments, up_to)
        self.own = {zero_name(*key, when) for key in self.checks for when in WHEN}
        self.rounds: dict[int, tuple[dict[str, Instrument], dict[Key, str]]] = {}

    def show_as(self, other: _Meters) -> bool:
        """Tell whether a reading means the same to these as to others."""
        return self.instruments == other.instruments and self.checks == other.checks

    def evaluate(self, record: Record, name: str, readings: list[Reading]) -> Measured:
        """Evaluate one measurand; all readings that count are of one round."""
        fresh = self._evaluated(name, readings)
        # Without a reading that counts, the unit is that of what was recorded.
        unit = fresh.unit if readings else unit_of(record.of(name)[0].value.unit)
        return replace(fresh, unit=unit)

    def _evaluated(self, name: str, readings: list[Reading]) -> Measured:
        # The check itself is not made uncertain by what it found.
        if not readings or not self.checks or name in self.own:
            return self._flagged(evaluate(name, readings, self.instruments))
        number = readings[0].round
        if number not in self.rounds:
            self.rounds[number] = instruments_in_round(
                self.instruments, self.checks, number
            )
        instruments, said = self.rounds[number]
        return self._flagged(evaluate(name, readings, instruments), said)

    def _flagged(
        self, fresh: Measured, said: Mapping[Key, str] | None = None
    ) -> Measured:
        """Say which zero check counts, and that leads were not subtracted."""
        if fresh.status != "measured":
            return fresh
        flags = list(fresh.flags)
        ways = {
            (r.instrument, r.function, r.value.unit): r
            for r in fresh.readings
            if r.instrument and not r.value.stated
        }
        for reading in ways.values():
            meter, function = function_of(reading, self.instruments)
            note = (said or {}).get((meter.name, function.name), "")
            flags += [f"{meter.name} · {function.name}, {note}"] if note else []
            if function.leads:
                flags.append(f"the leads, {function.leads}, are still in it")
        return replace(fresh, flags=tuple(dict.fromkeys(flags)))


def with_findings(
    measured: Mapping[str, Measured],
    findings: Mapping[str, Mapping[int, Finding]],
    up_to: int | None = None,
) -> dict[str, Measured]:
    """Add what was read from captures: of each quantity, the latest round's."""
    result = dict(measured)
    for name, rounds in findings.items():
        seen = [n for n in rounds if up_to is None or n <= up_to]
        if not seen:  # known, but only from a later round on
            unit = rounds[min(rounds)].shown_unit
            result.setdefault(name, pending(name, unit))
            continue
        found = rounds[max(seen)]
        if found.cannot_tell:
            reason = f"cannot tell: {found.cannot_tell}"
            result[name] = Measured(name, found.shown_unit, "invalid", reason=reason)
        else:
            flags = tuple(filter(None, [found.text, *found.notes]))
            estimate = _as_kept(found.estimate(), measured, max(seen))
            result[name] = Measured(
                name, found.shown_unit, "measured", estimate, flags=flags
            )
    return result


def _as_kept(
    estimate: Estimate, measured: Mapping[str, Measured], number: int
) -> Estimate:
    """Keep apart what a finding took from readings that were taken again since.

    They bring the same names: joined, the scatter of one round would cancel that
    of another.
    """
    by_owner: dict[str, list[Source]] = {}
    for source, _ in estimate.parts:
        by_owner.setdefault(source.name.partition(" · ")[0], []).append(source)
    older = {
        source: replace(source, name=f"{source.name} · as kept in round {number}")
        for owner, sources in by_owner.items()
        if owner in measured and _taken_again(measured[owner], sources, number)
        for source in sources
    }
    parts = tuple((older.get(s, s), c) for s, c in estimate.parts)
    return replace(estimate, parts=parts)


def _taken_again(owner: Measured, sources: Sequence[Source], number: int) -> bool:
    """Tell whether what a finding used are no longer the readings that count."""
    if owner.estimate is None or any(r.round > number for r in owner.readings):
        return True
    return not {*sources} <= {source for source, _ in owner.estimate.parts}


def with_crosschecks(
    measured: Mapping[str, Measured], instruments: Mapping[str, Instrument]
) -> dict[str, Measured]:
    """Add what does not fit between instruments at one place to the warnings."""
    result = dict(measured)
    for name, said in crosschecks(measured, instruments).items():
        found = result[name]
        result[name] = replace(found, warnings=(*found.warnings, *said))
    return result

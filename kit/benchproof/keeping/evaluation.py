"""From the readings that count in a round to what each measurand amounts to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.crosschecks import crosschecks
from benchproof.measuring.indications import function_of
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import (
    Measured,
    evaluate,
    joint_repeatability,
    pending,
)
from benchproof.measuring.readings import Reading, Record, counting, whole_sets
from benchproof.measuring.zeros import (
    WHEN,
    Key,
    instruments_in_round,
    zero_checks,
    zero_name,
)
from benchproof.values.sources import Joint
from benchproof.values.units import unit_of


def measured_of(
    record: Record,
    instruments: Mapping[str, Instrument],
    declared: Mapping[str, str],
    up_to: int | None = None,
) -> tuple[dict[str, Measured], list[Joint]]:
    """Evaluate all readings that count in a round.

    Parameters
    ----------
    declared : mapping
        Unit text of every measurand the notebook mentions.
    up_to : int, optional
        Leave out what was recorded in later rounds.

    Returns
    -------
    dict of Measured, list of Joint
        Every measurand, pending ones included, and what was read together.
    """
    measured = {name: pending(name, unit_of(unit)) for name, unit in declared.items()}
    counted = {name: counting(record, name, up_to) for name in record.names()}
    groups: dict[str, list[str]] = {}
    for name, readings in counted.items():
        if readings and readings[0].together:
            groups.setdefault(readings[0].together, []).append(name)
    lost: dict[str, int] = {}
    for names in groups.values():
        most = max(len(counted[n]) for n in names)
        whole = whole_sets(record, [counted[n] for n in names])
        counted.update(zip(names, whole, strict=True))
        lost.update(dict.fromkeys(names, most - len(whole[0])))
    meters = _Meters(record, instruments, up_to)
    for name, readings in counted.items():
        fresh = meters.evaluate(name, readings)
        if lost.get(name):
            flag = f"{lost[name]} sets read together left out: a reading was struck"
            fresh = replace(fresh, flags=(*fresh.flags, flag))
        # Without a reading that counts, the unit is that of what was recorded.
        unit = fresh.unit if readings else unit_of(record.of(name)[0].value.unit)
        measured[name] = replace(fresh, unit=unit)
    joints: list[Joint] = []
    for names in groups.values():
        flagged, joint = joint_repeatability({n: measured[n] for n in names})
        measured.update(flagged)
        joints += [joint] if joint else []
    return measured, joints


class _Meters:
    """The instruments, with what the zero checks of each round found."""

    def __init__(
        self,
        record: Record,
        instruments: Mapping[str, Instrument],
        up_to: int | None,
    ) -> None:
        self.instruments = instruments
        self.checks = zero_checks(record, instruments, up_to)
        self.own = {zero_name(*key, when) for key in self.checks for when in WHEN}
        self.rounds: dict[int, tuple[dict[str, Instrument], dict[Key, str]]] = {}

    def evaluate(self, name: str, readings: list[Reading]) -> Measured:
        """Evaluate one measurand; all readings that count are of one round."""
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
        for reading in fresh.readings:
            if not reading.instrument or reading.value.stated:
                continue
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
            unit = rounds[min(rounds)].unit
            result.setdefault(name, pending(name, unit))
            continue
        found = rounds[max(seen)]
        if found.cannot_tell:
            reason = f"cannot tell: {found.cannot_tell}"
            result[name] = Measured(name, found.unit, "invalid", reason=reason)
        else:
            flags = tuple(filter(None, [found.text, *found.notes]))
            result[name] = Measured(
                name, found.unit, "measured", found.estimate(), flags=flags
            )
    return result


def with_crosschecks(
    measured: Mapping[str, Measured], instruments: Mapping[str, Instrument]
) -> dict[str, Measured]:
    """Add what does not fit between instruments at one place to the warnings."""
    result = dict(measured)
    for name, said in crosschecks(measured, instruments).items():
        found = result[name]
        result[name] = replace(found, warnings=(*found.warnings, *said))
    return result

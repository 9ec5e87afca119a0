"""What an entry adds to trials.csv: nothing, more attempts, a version, a key.

The rule is one: a cell says what was seen at certain places of the planned order, in
one round. What the ledger says already adds nothing, so running the cell again is
harmless; a longer row appends; anything else is refused, and corrected by a row of its
own. Each function looks at the record under the ledger's lock.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

from benchproof.keeping.trials.planspec import PlanSpec, spec_read
from benchproof.keeping.trials.record import TrialRecord
from benchproof.keeping.trials.rows import Made, PlanRows, Version
from benchproof.reasoning.plans import opens
from benchproof.values.errors import InputError, RecordingRefusedError

Cells = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class Target:
    """Where an entry goes: a version of a plan and a round.

    Attributes
    ----------
    current : int
        The case's round now; new rows go into no other.
    sitting : str
        Of attempts that were made together.
    """

    plan: PlanRows
    version: Version
    round: int
    current: int
    sitting: str = ""

    @property
    def spec(self) -> PlanSpec:
        """The plan as this version has it."""
        return self.version.spec

    def cells(self, kind: str, condition: str, **more: str) -> dict[str, str]:
        """Return the cells every row of an entry has."""
        return {
            "kind": kind,
            "plan": self.plan.name,
            "version": str(self.version.number),
            "condition": condition,
            **more,
        }

    def attempts(self, entry: Sequence[dict[str, str]]) -> Cells:
        """Give new attempts their numbers, once it is sure that they may be added."""
        if entry:
            self.check_open()
        first = len(self.plan.attempts) + 1
        return [
            {**cells, "attempt": str(number), "sitting": self.sitting}
            for number, cells in enumerate(entry, first)
        ]

    def check_open(self) -> None:
        """Refuse what comes too late: for an old version, or a round that ended.

        Raises
        ------
        RecordingRefusedError
            Saying how it is recorded instead.
        """
        latest = self.plan.versions[-1].number
        if self.version.number != latest:
            raise RecordingRefusedError(
                f"{self.plan.name}: version {self.version.number} of the plan was "
                f"superseded by version {latest}. Nothing was recorded. Record with "
                "the plan as it is now."
            )
        if self.round != self.current:
            raise RecordingRefusedError(
                f"{self.plan.name}: this entry speaks of round "
                f"{self.round}, and attempts go to round {self.current} now. Nothing "
                f"was recorded. If it was made in this round, use "
                f"{self.plan.name}.in_round({self.current})."
            )
        if self.spec.blind and not key_of(self.plan, self.version):
            raise RecordingRefusedError(
                f"{self.plan.name}: the plan is blind and no key is sealed yet. Have "
                "a helper run seal(…) first; nothing was recorded."
            )


def key_of(plan: PlanRows, version: Version) -> str:
    """Return the seal of a version's key, "" if there is none."""
    found = [r for r in plan.keys if r["version"] == str(version.number)]
    return found[0]["outcome"] if found else ""


def carried_from(plan: PlanRows, version: Version) -> int:
    """Return the first version whose places are also those of this one.

    An earlier version's attempts count at the same places if all of its planned
    ones were made under the conditions that this version puts there, as when only
    repetitions were added; with a blind plan they do not.
    """
    first, places = version.number, version.spec.places
    while first > 1 and not version.spec.blind:
        label = str(first - 1)
        rows = [r.cells for r in plan.attempts if r.cells[1] == "planned"]
        if not all(
            int(cells[6]) <= len(places) and places[int(cells[6]) - 1] == cells[7]
            for cells in rows
            if cells[4] == label
        ):
            break
        first -= 1
    return first


def places_made(plan: PlanRows, version: Version, round_number: int) -> dict[int, Made]:
    """Return what was made at each place of a version, in one round.

    Those of earlier versions too, as far as `carried_from` allows.
    """
    versions = range(carried_from(plan, version), version.number + 1)
    return {
        m.place: m
        for m in plan.made(kinds=("planned",), in_round=round_number)
        if m.version in versions
    }


def placed(spec: PlanSpec, outcomes: Sequence[str], start: int) -> list[int]:
    """Return the place of each outcome of a row that begins at a place.

    Places whose condition has ended by the stop rule are passed over: no attempt is
    due there.
    """
    seen: Counter[str] = Counter()
    found: list[int] = []
    place = start
    for outcome in outcomes:
        while place <= len(spec.places) and _ended(spec, seen, place):
            place += 1
        found.append(place)
        if outcome == spec.outcomes[0] and place <= len(spec.places):
            seen[spec.places[place - 1]] += 1
        place += 1
    return found


def _ended(spec: PlanSpec, seen: Counter[str], place: int) -> bool:
    return spec.stop_at is not None and seen[spec.places[place - 1]] >= spec.stop_at


def planned_rows(
    target: Target, outcomes: Sequence[str], places: Iterable[int], note: str = ""
) -> Cells:
    """Decide which rows record outcomes at places of the plan.

    Parameters
    ----------
    outcomes : sequence of str
        "" leaves a place open.
    note : str
        Kept with what is new.

    Raises
    ------
    InputError
        If a place lies outside the plan.
    RecordingRefusedError
        If another outcome is recorded at a place, or the entry comes too late.
    """
    spec, made = target.spec, places_made(target.plan, target.version, target.round)
    entry = []
    for place, outcome in zip(places, outcomes, strict=True):
        if not 1 <= place <= len(spec.places):
            raise InputError(
                f"{spec.name}: the plan has {len(spec.places)} places; {place} lies "
                "outside it. Nothing was recorded. An attempt beyond the plan is "
                "recorded with planned=False and because=."
            )
        known = made.get(place)
        if known and outcome not in (known.typed, known.outcome):
            _refuse_other(spec.name, known, outcome)
        if outcome and not known:
            condition = spec.places[place - 1]
            entry.append(
                target.cells(
                    "planned", condition, place=str(place), outcome=outcome, note=note
                )
            )
    return target.attempts(entry)


def _refuse_other(name: str, known: Made, outcome: str) -> None:
    said = f"says {outcome!r}" if outcome else "leaves it open"
    raise RecordingRefusedError(
        f"{name}: place {known.place} ({known.condition}) is recorded as "
        f"{known.typed!r}, attempt {known.number}, and this {said}. Nothing was "
        f"recorded or changed. If the record is wrong: correct({known.number}, "
        f"{outcome or '…'!r}, because='…'). If it was tried again: in_round(…) after "
        "case.new_round(because='…'), or planned=False with because=."
    )


def unplanned_rows(
    target: Target, condition: str, outcomes: Sequence[str], because: str
) -> Cells:
    """Decide which rows record attempts that the plan does not have.

    All attempts with one condition and one reason are one row of outcomes: what is
    recorded must be its beginning.

    Raises
    ------
    InputError
        If no reason is given.
    RecordingRefusedError
        If other outcomes are recorded for it.
    """
    _require(because, f"{target.plan.name}: say why it was tried outside the plan")
    known = [
        m.typed
        for m in target.plan.made(kinds=("unplanned",), in_round=target.round)
        if (m.condition, m.note) == (condition, because)
    ]
    if [*outcomes[: len(known)]] != known:
        raise RecordingRefusedError(
            f"{target.plan.name}: unplanned attempts ({condition}; {because}) are "
            f"recorded as {' '.join(known)}, and these differ. Nothing was recorded. "
            "Give the whole row again with the new ones at its end, or another reason."
        )
    return target.attempts(
        [
            target.cells("unplanned", condition, outcome=outcome, note=because)
            for outcome in outcomes[len(known) :]
        ]
    )


def aborted_rows(target: Target, place: int, condition: str, because: str) -> Cells:
    """Decide the row of an attempt that gave no outcome; its place stays open."""
    _require(because, f"{target.plan.name}: say why the attempt gave no outcome")
    same = [
        m
        for m in target.plan.made(kinds=("aborted",), in_round=target.round)
        if (m.place, m.condition, m.note) == (place, condition, because)
    ]
    if same:
        return []
    at = str(place) if place else ""
    return target.attempts([target.cells("aborted", condition, place=at, note=because)])


def skip_rows(target: Target, place: int, condition: str, because: str) -> Cells:
    """Decide the row that says what will not be done and why."""
    _require(because, f"{target.plan.name}: say why it is not done")
    at = str(place) if place else ""
    cells = target.cells("skip", condition, place=at, note=because)
    keys = ("version", "condition", "place", "note")
    if any(all(row[k] == cells[k] for k in keys) for row in target.plan.skips):
        return []
    target.check_open()
    return [cells]


def corrected_rows(target: Target, number: int, outcome: str, because: str) -> Cells:
    """Decide the row that corrects an attempt's outcome; the old one stays visible."""
    name = target.plan.name
    _require(because, f"{name}: say why the recorded outcome is wrong")
    if not 1 <= number <= len(target.plan.attempts):
        raise InputError(
            f"{name}: there is no attempt {number}; {len(target.plan.attempts)} were "
            "made. See the ledger for their numbers."
        )
    for row in target.plan.corrections.get(number, ()):
        if (row["outcome"], row["note"]) == (outcome, because):
            return []
    was = target.plan.made()[number - 1]
    if was.kind == "aborted":
        raise RecordingRefusedError(
            f"{name}: attempt {number} was aborted and has no outcome to correct. Make "
            "it again at its place."
        )
    cells = target.cells("corrected", was.condition, outcome=outcome, note=because)
    return [{**cells, "attempt": str(number)}]


def plan_rows(record: TrialRecord, spec: PlanSpec, because: str) -> Cells:
    """Decide the row of a plan: none if it stands there, a version if it changed.

    Raises
    ------
    RecordingRefusedError
        If attempts were made and no reason for the change is given.
    """
    plan = record.plans.get(spec.name)
    if plan and any(v.spec == spec for v in plan.versions):
        return []
    if plan and plan.attempts and not because.strip():
        last = plan.versions[-1].spec
        changed = ", ".join(
            f.name
            for f in fields(spec)
            if getattr(spec, f.name) != getattr(last, f.name)
        )
        raise RecordingRefusedError(
            f"{spec.name}: the plan was written before {len(plan.attempts)} attempts "
            f"and now differs ({changed}). Nothing was changed. If it must change, add "
            "because='…': it becomes a new version, and readers see both."
        )
    number = len(plan.versions) + 1 if plan else 1
    spec_read(spec.text(), spec.name)  # a row that cannot be read would close the file
    return [
        {
            "kind": "plan",
            "plan": spec.name,
            "version": str(number),
            "condition": spec.text(),
            "outcome": spec.digest(),
            "note": because,
        }
    ]


def key_rows(target: Target, seal: str) -> Cells:
    """Decide the row that commits to a key; none if it is sealed already.

    Raises
    ------
    RecordingRefusedError
        If another key is sealed for this version, or the plan is not blind.
    """
    name, known = target.plan.name, key_of(target.plan, target.version)
    if known == seal:
        return []
    if known or not target.spec.blind:
        why = "another key is sealed" if known else "it was planned without blind=True"
        raise RecordingRefusedError(
            f"{name}: {why}. Nothing was recorded; change the plan with because= to "
            "begin again with a new key."
        )
    return [target.cells("key", "", outcome=seal)]


def opened_rows(target: Target, key_text: str, salt: str, because: str) -> Cells:
    """Decide the row that opens a key; opening early is recorded, and says so.

    Raises
    ------
    RecordingRefusedError
        If no key is sealed, this is not the one, or places are open and no reason
        is given.
    """
    plan, number = target.plan, str(target.version.number)
    if any(row["version"] == number for row in plan.opened):
        return []
    seal = key_of(plan, target.version)
    if not seal or not opens(seal, key_text, salt):
        why = "this is not the key that was sealed" if seal else "no key is sealed"
        raise RecordingRefusedError(
            f"{plan.name}: {why}. Nothing was recorded. Use the file that seal(…) "
            "wrote, unchanged."
        )
    left = len(target.spec.places) - len(
        places_made(plan, target.version, target.round)
    )
    note = because
    if left:
        _require(
            because,
            f"{plan.name}: {left} runs are not made yet, and opening the key ends the "
            "blinding. Say why it is opened early",
        )
        note = f"opened early, {left} runs not made: {because}"
    return [target.cells("opened", key_text, outcome=salt, note=note)]


def _require(because: str, what: str) -> None:
    if not because.strip():
        raise InputError(f"{what}: because='…'. Nothing was recorded.")

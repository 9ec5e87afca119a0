"""What trials.csv says: plans, attempts, skips and keys, in the order of the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.planspec import PlanSpec, spec_read
from benchproof.reasoning.plans import opens
from benchproof.values.errors import FileError, InputError
from benchproof.values.quantities import whole_number

COLUMNS = (
    "row",
    "kind",
    "round",
    "plan",
    "version",
    "attempt",
    "place",
    "condition",
    "outcome",
    "sitting",
    "note",
    "time",
)
"""Of trials.csv. `attempt` numbers a plan's attempts as they were made, those outside
the plan and aborted ones included; `place` is the place in the planned order. A plan
row has its text in `condition` and its SHA-256 in `outcome`."""

MADE = ("planned", "unplanned", "aborted")
"""Kinds of row that are attempts."""

KINDS = ("plan", *MADE, "corrected", "skip", "key", "opened")


@dataclass(frozen=True, slots=True)
class Made:
    """One attempt that was made.

    Attributes
    ----------
    row : str
    kind : str
        One of `MADE`.
    round, version, number : int
    place : int
        In the planned order of its version; 0 if outside it.
    condition, outcome : str
        The outcome is what counts, after corrections; "" if aborted.
    typed : str
        The outcome as first recorded.
    sitting, note, time : str
    corrections : tuple of Row
        Rows that corrected it, in order.
    """

    row: str
    kind: str
    round: int
    version: int
    number: int
    place: int
    condition: str
    outcome: str
    typed: str
    sitting: str
    note: str
    time: str
    corrections: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Version:
    """A plan as it stood from one moment on."""

    number: int
    spec: PlanSpec
    round: int
    because: str
    time: str
    after: int
    """How many attempts had been made before it was written."""


@dataclass(slots=True)
class PlanRows:
    """All rows of one plan."""

    name: str
    versions: list[Version] = field(default_factory=list)
    attempts: list[Row] = field(default_factory=list)
    corrections: dict[int, list[Row]] = field(default_factory=dict)
    skips: list[Row] = field(default_factory=list)
    keys: list[Row] = field(default_factory=list)
    opened: list[Row] = field(default_factory=list)
    filled: set[tuple[str, ...]] = field(default_factory=set)
    """Round, version and place of each planned attempt."""

    def made(
        self,
        up_to: int | None = None,
        *,
        kinds: Sequence[str] = MADE,
        in_round: int | None = None,
    ) -> list[Made]:
        """Return the attempts in the order they were made.

        Parameters
        ----------
        up_to : int, optional
            Leave out what was recorded in later rounds.
        kinds : sequence of str
            Only these of `MADE`.
        in_round : int, optional
            Only those of one round.
        """
        return [
            _made(row, self._corrections(row, up_to))
            for row in self.attempts
            if row.cells[1] in kinds
            and in_round in (None, int(row.cells[2]))
            and (up_to is None or int(row.cells[2]) <= up_to)
        ]

    def _corrections(self, row: Row, up_to: int | None) -> tuple[Row, ...]:
        found = self.corrections.get(int(row["attempt"]), ())
        return tuple(r for r in found if up_to is None or int(r["round"]) <= up_to)


def _made(row: Row, corrections: tuple[Row, ...]) -> Made:
    (
        label, kind, round_, _, version, number, place, condition, outcome, sitting,
        note, time,
    ) = row.cells  # fmt: skip
    counts = corrections[-1]["outcome"] if corrections else outcome
    return Made(
        label, kind, int(round_), int(version), int(number), int(place or 0),
        condition, counts, outcome, sitting, note, time, corrections,
    )  # fmt: skip


@dataclass(slots=True)
class TrialRecord:
    """Everything the ledger says, by plan; nothing in it is ever taken back."""

    plans: dict[str, PlanRows] = field(default_factory=dict)
    round: int = 1
    taken: int = 0
    """How many rows of the ledger are in it."""

    def extend(self, rows: Sequence[Row]) -> None:
        """Take in new rows of the ledger.

        Raises
        ------
        FileError
            If a row makes no sense, with its line.
        """
        for row in rows:
            kind = row.cells[1]
            self._check_round(row)
            name = row.cells[3]
            plan = self.plans.get(name)
            if kind == "plan":
                plan = self.plans.setdefault(name, PlanRows(name))
                self._add_version(plan, row)
            elif plan is None:
                self._refuse(row, "plan", f"plan {name!r} was not written before it")
            elif kind in MADE:
                self._add_attempt(plan, row)
            else:
                self._add_other(plan, row)
            self.taken += 1

    def _check_round(self, row: Row) -> None:
        text = row.cells[2]
        number = whole_number(text)
        if number is None or number < self.round:
            self._refuse(row, "round", f"{text[:30]!r} after round {self.round}")
        self.round = number

    def _add_version(self, plan: PlanRows, row: Row) -> None:
        spec = spec_read(row["condition"], _where(row))
        if spec.digest() != row["outcome"]:
            self._refuse(row, "outcome", "the plan's text does not have this SHA-256")
        if row["version"] != str(len(plan.versions) + 1):
            self._refuse(row, "version", f"version {row['version']!r} is out of order")
        after = len(plan.attempts)
        number = len(plan.versions) + 1
        version = Version(number, spec, self.round, row["note"], row["time"], after)
        plan.versions.append(version)

    def _add_attempt(self, plan: PlanRows, row: Row) -> None:
        cells = row.cells
        if cells[5] != str(len(plan.attempts) + 1):
            self._refuse(
                row, "attempt",
                f"attempt {cells[5]!r} stands where {len(plan.attempts) + 1} belongs",
            )  # fmt: skip
        version, place, kind = cells[4], cells[6], cells[1]
        number = whole_number(version)
        if not number or number > len(plan.versions):
            self._refuse(row, "version", f"there is no version {version[:30]!r}")
        spec = plan.versions[number - 1].spec
        if (kind == "aborted") != (not cells[8]) or (
            cells[8] and cells[8] not in spec.outcomes
        ):
            self._refuse(row, "outcome", f"{cells[8]!r} is not an outcome of the plan")
        if (kind == "planned" or place) and whole_number(place) is None:
            said = f"{place[:30]!r} is no place in the planned order"
            self._refuse(row, "place", said)
        if kind == "planned":
            filled = (cells[2], version, place)
            if filled in plan.filled:
                self._refuse(row, "place", f"place {place} has an outcome already")
            plan.filled.add(filled)
        plan.attempts.append(row)

    def _add_other(self, plan: PlanRows, row: Row) -> None:
        kind = row["kind"]
        if kind == "corrected":
            number = whole_number(row["attempt"])
            if not number or number > len(plan.attempts):
                said = row["attempt"][:30]
                self._refuse(row, "attempt", f"there is no attempt {said!r}")
            plan.corrections.setdefault(number, []).append(row)
        elif kind == "skip":
            plan.skips.append(row)
        elif kind == "key":
            plan.keys.append(row)
        elif kind == "opened":
            seals = [k["outcome"] for k in plan.keys if k["version"] == row["version"]]
            if not any(_opens(seal, row) for seal in seals):
                self._refuse(row, "condition", "this is not the key that was sealed")
            plan.opened.append(row)
        else:
            listed = ", ".join(KINDS)
            self._refuse(row, "kind", f"{kind!r} is not one of {listed}")

    def _refuse(self, row: Row, column: str, what: str) -> NoReturn:
        raise FileError(
            f"{_where(row)}, column '{column}': {what}. Restore the row from a copy; "
            "rows are appended, not edited. Or was it written by a newer benchproof?"
        )


def _opens(seal: str, row: Row) -> bool:
    try:
        return opens(seal, row["condition"], row["outcome"])
    except InputError:  # no seal, or no salt
        return False


def _where(row: Row) -> str:
    return f"trials.csv line {row.line}"

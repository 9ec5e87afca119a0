"""Everything trials.csv says, row by row or many rows at once; refused if odd."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from numpy import bool_
from numpy.typing import NDArray

from benchproof.keeping.logs.cutting import Cut, LogRows
from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.planspec import spec_read
from benchproof.keeping.trials.rows import KINDS, MADE, PlanRows, Version
from benchproof.keeping.trials.wholecolumns import numbers_of, rows_with, runs_of
from benchproof.reasoning.plans import opens
from benchproof.values.errors import FileError, InputError
from benchproof.values.quantities import whole_number

FEWEST = 8
"""Attempts in a row from which looking at whole columns pays."""


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
        if isinstance(rows, LogRows):
            self._add_cut(rows.cut)
            rows = rows.later
        for row in rows:
            self._add(row)

    def _add_cut(self, cut: Cut) -> None:
        """Take many rows: planned attempts in a row at once, if nothing is odd."""
        if not len(cut):
            return
        attempts, places = numbers_of(cut, "attempt"), numbers_of(cut, "place")
        known: dict[tuple[str, ...], NDArray[bool_]] = {}
        for start, stop in runs_of(cut, "kind", "version"):
            run, row = slice(start, stop), cut.row(start)
            plan, outcomes = (
                self._plan_of(row) if stop - start >= FEWEST else (None, ())
            )
            if outcomes not in known:
                known[outcomes] = rows_with(cut, "outcome", outcomes)
            if (
                plan
                and known[outcomes][run].all()
                and plan.fill(row.cells, attempts[run], places[run])
            ):
                plan.attempts.add_later(cut, start, stop)
                self._check_round(row)
                self.taken += stop - start
            else:
                for i in range(start, stop):
                    self._add(cut.row(i))

    def _plan_of(self, row: Row) -> tuple[PlanRows | None, tuple[str, ...]]:
        """Return the plan of a planned attempt, and its outcomes; None if it is odd."""
        _, kind, round_, name, version, *_ = row.cells
        plan, number = self.plans.get(name), whole_number(version) or 0
        known = plan is not None and 0 < number <= len(plan.versions)
        later = (whole_number(round_) or 0) >= self.round
        if plan is None or not known or not later or kind != "planned":
            return None, ()
        return plan, plan.versions[number - 1].spec.outcomes

    def _add(self, row: Row) -> None:
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
            filled = plan.filled.setdefault((cells[2], version), set())
            if int(place) in filled:
                self._refuse(row, "place", f"place {place} has an outcome already")
            filled.add(int(place))
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

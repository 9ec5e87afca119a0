"""What trials.csv says: plans, attempts, skips and keys, in the order of the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, groupby
from operator import itemgetter
from typing import overload

import numpy as np
from numpy.typing import NDArray

from benchproof.keeping.logs.cutting import Cut
from benchproof.keeping.logs.rowformat import Row
from benchproof.keeping.trials.planspec import PlanSpec

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


class Attempts(Sequence[Row]):
    """The attempts of a plan in order; of a long ledger they are cut when asked for."""

    def __init__(self) -> None:
        self._rows: list[Row] = []
        self._later: list[tuple[Cut, int, int]] = []
        self._count = 0

    def append(self, row: Row) -> None:
        """Add one attempt."""
        self._all().append(row)
        self._count += 1

    def add_later(self, cut: Cut, start: int, stop: int) -> None:
        """Add some rows of a ledger, without cutting them yet."""
        self._later.append((cut, start, stop))
        self._count += stop - start

    def _all(self) -> list[Row]:
        for cut, runs in groupby(self._later, key=itemgetter(0)):
            rows = list(cut)
            self._rows += chain.from_iterable(rows[a:b] for _, a, b in runs)
        self._later.clear()
        return self._rows

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Row]:
        return iter(self._all())

    @overload
    def __getitem__(self, asked: int) -> Row: ...
    @overload
    def __getitem__(self, asked: slice) -> list[Row]: ...
    def __getitem__(self, asked: int | slice) -> Row | list[Row]:
        return self._all()[asked]


@dataclass(slots=True)
class PlanRows:
    """All rows of one plan."""

    name: str
    versions: list[Version] = field(default_factory=list)
    attempts: Attempts = field(default_factory=Attempts)
    corrections: dict[int, list[Row]] = field(default_factory=dict)
    skips: list[Row] = field(default_factory=list)
    keys: list[Row] = field(default_factory=list)
    opened: list[Row] = field(default_factory=list)
    filled: dict[tuple[str, str], set[int]] = field(default_factory=dict)
    """By round and version, the places of planned attempts."""
    _made: tuple[tuple[int, int], list[Made]] = ((0, 0), [])

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
            m if up_to is None or not m.corrections else _as_of(m, up_to)
            for m in self._everything()
            if m.kind in kinds
            and in_round in (None, m.round)
            and (up_to is None or m.round <= up_to)
        ]

    def fill(
        self,
        cells: tuple[str, ...],
        attempts: NDArray[np.int64],
        places: NDArray[np.int64],
    ) -> bool:
        """Note the places of planned attempts that follow those there are.

        Parameters
        ----------
        cells : tuple of str
            Of the first of them.
        attempts, places : array of int, shape (n,)
            -1 where no number stands.

        Returns
        -------
        bool
            False, and nothing is noted, where a number is odd or a place is taken.
        """
        first = len(self.attempts) + 1
        if (attempts != np.arange(first, first + attempts.size)).any():
            return False
        filled = self.filled.setdefault((cells[2], cells[4]), set())
        fresh = set(places.tolist())
        if -1 in fresh or len(fresh) < places.size or not fresh.isdisjoint(filled):
            return False
        filled |= fresh
        return True

    def _everything(self) -> list[Made]:
        """Return all attempts as they count now; made once for each state."""
        state = (len(self.attempts), sum(map(len, self.corrections.values())))
        if self._made[0] != state:
            found = self.corrections
            self._made = (
                state,
                [
                    _made(row, tuple(found.get(number, ())))
                    for number, row in enumerate(self.attempts, 1)
                ],
            )
        return self._made[1]


def _as_of(made: Made, up_to: int) -> Made:
    """Return an attempt as it counted in a round, before later corrections."""
    known = tuple(r for r in made.corrections if int(r["round"]) <= up_to)
    counts = known[-1]["outcome"] if known else made.typed
    return replace(made, outcome=counts, corrections=known)


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

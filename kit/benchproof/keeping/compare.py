"""What moved between two runs, two rounds or two cases."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchproof.keeping.results import read_results
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns


@dataclass(frozen=True, slots=True)
class Move:
    """One quantity before and after; `moved` is in combined u, None if undefined."""

    name: str
    before: str
    after: str
    moved: float | None
    formula_changed: bool = False


@dataclass(frozen=True, slots=True)
class Flip:
    """One rival whose verdict changed."""

    name: str
    before: str
    after: str
    reason: str


@dataclass(frozen=True, slots=True, repr=False)
class Comparison(Tabular):
    """Everything that moved, and every verdict that flipped."""

    before: str
    after: str
    moves: tuple[Move, ...]
    flips: tuple[Flip, ...]
    unchanged: int

    def table(self) -> Table:
        """Return verdict flips first, then the quantities that moved most."""
        rows = [(f.name, f.before, f.after, "verdict", f.reason) for f in self.flips]
        rows += [
            (
                m.name,
                m.before,
                m.after,
                "" if m.moved is None else f"{m.moved:+.1f} u",
                "formula changed" if m.formula_changed else "",
            )
            for m in self.moves
        ]
        heads = columns("Name", f"Before: {self.before}", f"After: {self.after}",
                        "Moved", "Note")  # fmt: skip
        title = "Nothing moved" if not rows else "What moved"
        note = f"{self.unchanged} quantities did not move."
        return Table(title, heads, tuple(rows), (note,))


def compare_results(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    labels: tuple[str, str] = ("before", "after"),
) -> Comparison:
    """Compare two results, or two rounds of one.

    Parameters
    ----------
    before, after : mapping
        As read from results.json, or one entry of its ``rounds``.
    labels : (str, str)
        How to call them.

    Returns
    -------
    Comparison
        `moved` counts combined standard uncertainties, √(u₁² + u₂²); where readings
        are shared by both this is cautious.
    """
    old, new = before["quantities"], after["quantities"]
    moves = [_move(n, old.get(n), new.get(n)) for n in dict.fromkeys([*old, *new])]
    changed = [m for m in moves if m.before != m.after or m.moved or m.formula_changed]
    changed.sort(key=lambda m: -abs(m.moved or 0.0))
    flips = _flips(before["verdicts"], after["verdicts"])
    return Comparison(*labels, tuple(changed), flips, len(moves) - len(changed))


def _move(
    name: str, old: Mapping[str, Any] | None, new: Mapping[str, Any] | None
) -> Move:
    texts = [entry["text"] if entry else "(absent)" for entry in (old, new)]
    if not old or not new:
        return Move(name, texts[0], texts[1], None)
    changed = old.get("formula", "") != new.get("formula", "")
    moved = None
    if "value" in old and "value" in new and old["unit"] == new["unit"]:
        u = math.hypot(old["standard_uncertainty"], new["standard_uncertainty"])
        step = new["value"] - old["value"]
        moved = step / u if u else (math.copysign(math.inf, step) if step else 0.0)
    return Move(name, texts[0], texts[1], moved, changed)


def _flips(
    before: list[Mapping[str, Any]], after: list[Mapping[str, Any]]
) -> tuple[Flip, ...]:
    old = {v["name"]: v["verdict"] for v in before}
    found = [
        Flip(v["name"], old.get(v["name"], "(absent)"), v["verdict"], v["reason"])
        for v in after
        if old.get(v["name"]) != v["verdict"]
    ]
    names = {v["name"] for v in after}
    gone = [Flip(n, word, "(absent)", "") for n, word in old.items() if n not in names]
    return (*found, *gone)


def compare_paths(first: str, second: str) -> Comparison:
    """Compare by name: a case folder, a results file, or ``CASE@2`` for a round.

    Raises
    ------
    InputError
        If a round does not exist.
    FileError
        If a case has no results yet.
    """
    return compare_results(_named(first), _named(second), (first, second))


def _named(name: str) -> Mapping[str, Any]:
    path, at, number = name.rpartition("@")
    if not at or not number.isdigit():
        return read_results(Path(name))
    rounds: list[Mapping[str, Any]] = read_results(Path(path))["rounds"]
    for entry in rounds:
        if entry["number"] == int(number):
            return entry
    there = ", ".join(str(r["number"]) for r in rounds)
    raise InputError(f"{name}: round {number} does not exist; there are {there}.")

"""What moved between two runs, two rounds, two cases or two people."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchproof.keeping.comparisons.differences import ABSENT, detail_tables, renamer
from benchproof.keeping.comparisons.moves import Move, move_of, shared_sources
from benchproof.keeping.comparisons.namedresults import labels_of, named_results
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.values.errors import BenchproofError, FileError, InputError
from benchproof.values.tables import Table, Tabular, columns


@dataclass(frozen=True, slots=True)
class Flip:
    """One rival whose verdict changed."""

    name: str
    before: str
    after: str
    reason: str


@dataclass(frozen=True, slots=True, repr=False)
class Comparison(Tabular):
    """Everything that moved, and every verdict that flipped.

    Attributes
    ----------
    before, after : str
        How the two are called.
    moves : tuple of Move
        Those that moved most first.
    flips : tuple of Flip
    unchanged : int
        Quantities that did not move.
    details : tuple of Table
        Predictions, formulas, instruments, inputs and versions that differ.
    same_instruments : bool
        Whether instruments of one name were taken as the same pieces.
    invented : bool
        Whether one of the two is a worked case with invented data.
    """

    before: str
    after: str
    moves: tuple[Move, ...]
    flips: tuple[Flip, ...]
    unchanged: int
    details: tuple[Table, ...] = ()
    same_instruments: bool = False
    invented: bool = False

    def table(self) -> Table:
        """Return verdict flips first, then the quantities that moved most."""
        rows = [
            (f.name, f.before, f.after, "", "verdict", f.reason) for f in self.flips
        ]
        rows += [
            (
                m.name,
                m.before,
                m.after,
                m.difference,
                "" if m.moved is None else f"{m.moved:+.1f} u",
                m.note,
            )
            for m in self.moves
        ]
        heads = columns("Name", f"Before: {self.before}", f"After: {self.after}",
                        "Difference>", "Moved>", "Note")  # fmt: skip
        title = "Nothing moved" if not rows else "What moved"
        return Table(title, heads, tuple(rows), self._notes())

    def tables(self) -> tuple[Table, ...]:
        """Return `table` and what else differs: predictions, formulas, instruments."""
        return (self.table(), *self.details)

    def _notes(self) -> tuple[str, ...]:
        one = self.unchanged == 1
        stayed = f"{self.unchanged} {'quantity' if one else 'quantities'} did not move."
        if all(m.moved is None for m in self.moves):
            return (stayed,)
        counts = "Moved: the difference over its standard uncertainty, "
        if self.same_instruments:
            counts += (
                "in which the maker's gain of instruments of one name, taken to be "
                "the same pieces, cancels; all else counts as independent."
            )
        else:
            counts += (
                "√(u₁² + u₂²). Where both rest on the same readings or instruments "
                "that is too large, and the move too small."
            )
        return (stayed, counts)

    def __repr__(self) -> str:
        return "\n\n".join(map(str, self.tables()))

    def _repr_html_(self) -> str:
        return "".join(table._repr_html_() for table in self.tables())


Comparable = Mapping[str, Any] | str | os.PathLike[str]


def compare_results(
    before: Comparable,
    after: Comparable,
    labels: tuple[str, str] | None = None,
    *,
    names: Mapping[str, str] | None = None,
    same_instruments: bool = False,
) -> Comparison:
    """Compare two results: of two runs, rounds, cases or people.

    Parameters
    ----------
    before, after : str, path or mapping
        A case folder, a results file, a bundle, or ``CASE@2`` for a round; or what
        was read from one.
    labels : (str, str), optional
        How to call them.
    names : mapping, optional
        Quantities and rivals that `after` calls otherwise: ``{"R_a": "R_b"}``.
    same_instruments : bool
        Take instruments of one name as the same pieces, so that the maker's gain
        cancels. Two people's meters are not, even if both are called ``handheld``.

    Returns
    -------
    Comparison
        `moved` counts the standard uncertainty of the difference, √(u₁² + u₂²) less
        what instruments share; where readings are shared by both this is cautious.

    Raises
    ------
    InputError
        If a round or a name does not exist, or results keep too little to know what
        instruments share.
    FileError
        If a case has no results yet, or a file is none that benchproof writes.

    References
    ----------
    JCGM 100:2008, 5.2.2 (the covariance of the two results).

    Examples
    --------
    >>> R = {"text": "1.00(3) Ω", "unit": "ohm", "value": 1.0,
    ...      "standard_uncertainty": 0.03}
    >>> S = R | {"text": "1.10(4) Ω", "value": 1.1, "standard_uncertainty": 0.04}
    >>> found = compare_results({"quantities": {"R": R}, "verdicts": []},
    ...                         {"quantities": {"S": S}, "verdicts": []},
    ...                         names={"R": "S"})
    >>> found.moves[0].name, round(found.moves[0].moved, 6), found.moves[0].difference
    ('R = S', 2.0, '0.100(50) Ω')
    """
    sides = [
        side if isinstance(side, Mapping) else named_results(side)
        for side in (before, after)
    ]
    if labels is None and not (
        isinstance(before, Mapping) or isinstance(after, Mapping)
    ):
        labels = labels_of(before, after)
    try:
        return _compared(
            sides[0], sides[1], labels or ("before", "after"), names or {},
            same_instruments,
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as odd:
        # The kinds that a file made by hand raises; ours are ValueErrors too.
        if isinstance(odd, BenchproofError):
            raise
        raise FileError(
            f"{' or '.join(labels or ('before', 'after'))}: not what benchproof writes "
            f"({type(odd).__name__}: {str(odd)[:80]}). Run the case again."
        ) from None


def _compared(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    labels: tuple[str, str],
    names: Mapping[str, str],
    same_instruments: bool,
) -> Comparison:
    _check_names(before, after, names)
    renamed, shown = renamer(names), {b: f"{a} = {b}" for a, b in names.items()}
    shared = shared_sources(before, after, labels) if same_instruments else frozenset()
    old = {names.get(n, n): entry for n, entry in before["quantities"].items()}
    new = after["quantities"]
    moves = [
        move_of(shown.get(n, n), old.get(n), new.get(n), renamed, shared)
        for n in dict.fromkeys([*old, *new])
    ]
    changed = [m for m in moves if m.before != m.after or m.moved or m.formula_changed]
    changed.sort(key=lambda m: -abs(m.moved or 0.0))
    flips = _flips(before["verdicts"], after["verdicts"], names, shown)
    details = tuple(detail_tables(before, after, names))
    return Comparison(
        *labels,
        moves=tuple(changed),
        flips=flips,
        unchanged=len(moves) - len(changed),
        details=details,
        same_instruments=same_instruments,
        invented=any(bool(r.get("invented")) for r in (before, after)),
    )


# Names --------------------------------------------------------------------------


def _check_names(
    before: Mapping[str, Any], after: Mapping[str, Any], names: Mapping[str, str]
) -> None:
    old, new = _known(before), _known(after)
    for first, second in names.items():
        for name, known, which in ((first, old, "first"), (second, new, "second")):
            if name not in known:
                hint = did_you_mean(name, known) or "Name a quantity or a rival."
                raise InputError(f"the {which} results know no {name!r}. {hint}")
        if second in old and second not in names:
            raise InputError(
                f"{first}={second}: the first results have a {second!r} of their own. "
                f"Say what it is in the second: {second}=…"
            )


def _known(results: Mapping[str, Any]) -> list[str]:
    return [*results["quantities"], *(v["name"] for v in results["verdicts"])]


# Verdicts -----------------------------------------------------------------------


def _flips(
    before: list[Mapping[str, Any]],
    after: list[Mapping[str, Any]],
    names: Mapping[str, str],
    shown: Mapping[str, str],
) -> tuple[Flip, ...]:
    old = {names.get(v["name"], v["name"]): v["verdict"] for v in before}
    found = [
        Flip(shown.get(v["name"], v["name"]), old.get(v["name"], ABSENT), v["verdict"],
             v["reason"])
        for v in after
        if old.get(v["name"]) != v["verdict"]
    ]  # fmt: skip
    there = {v["name"] for v in after}
    gone = [
        Flip(shown.get(n, n), word, ABSENT, "")
        for n, word in old.items()
        if n not in there
    ]
    return (*found, *gone)

"""Which prediction tells which rivals apart: the matrix, and the pairs left over."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.verdicts import Hypothesis, Prediction
from benchproof.values.tables import Table, Tabular, columns

Standing = Literal["measured", "planned", "not planned"]

MOST_LISTED = 3
"""Quantities named for a pair that only a failing prediction splits."""


@dataclass(frozen=True, slots=True)
class Split:
    """What tells two rivals apart.

    Attributes
    ----------
    first, second : str
    either : tuple of str
        Quantities of which they predict values that exclude each other: whichever
        way it comes out, it speaks against one of them.
    one : tuple of str
        Quantities on which one commits itself and the other says something else or
        nothing: they tell the two apart only if that prediction fails.
    """

    first: str
    second: str
    either: tuple[str, ...]
    one: tuple[str, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Matrix(Tabular):
    """What each rival says of each quantity.

    Attributes
    ----------
    rivals : tuple of Hypothesis
    standing : mapping
        By quantity, whether it is measured, planned or neither.
    """

    rivals: tuple[Hypothesis, ...]
    standing: Mapping[str, Standing]

    def table(self) -> Table:
        """Return one row per quantity, one column per rival; blank: says nothing."""
        rows = []
        for asked in _asked(self.rivals):
            cells = [
                "; ".join(_said(p) for p in _on(rival, asked)) for rival in self.rivals
            ]
            rows.append((asked, *cells, self.standing.get(asked, "not planned")))
        names = [rival.name for rival in self.rivals]
        heads = columns("Asked", *names, "Standing")
        notes = ("No entry: that rival says nothing about it.",) if rows else ()
        return Table("What each rival predicts", heads, tuple(rows), notes)

    def splits(self) -> tuple[Split, ...]:
        """Return every pair of rivals with what tells them apart.

        Only what is measured or planned is counted.
        """
        asked = [
            q
            for q in _asked(self.rivals)
            if self.standing.get(q, "not planned") != "not planned"
        ]
        return tuple(
            _split(a, b, asked) for a, b in itertools.combinations(self.rivals, 2)
        )

    def pairs(self) -> Table:
        """Return one row per pair of rivals; those that nothing splits come first."""
        rows = [
            (
                f"{s.first}, {s.second}",
                "; ".join(s.either) or "nothing",
                _some(s.one),
            )
            for s in sorted(self.splits(), key=lambda s: (bool(s.either), bool(s.one)))
        ]
        heads = columns("Pair", "Split whichever way it comes out", "Split if it fails")
        alike = [f"{s.first} and {s.second}" for s in self.splits() if _alike(s)]
        notes = ("Counted is what is measured or planned.",) if rows else ()
        if alike:
            notes = (f"Nothing splits {'; '.join(alike)}.", *notes)
        return Table("What splits which rivals", heads, tuple(rows), notes)


def _some(names: Sequence[str]) -> str:
    more = len(names) - MOST_LISTED
    listed = "; ".join(names[:MOST_LISTED]) or "nothing"
    return f"{listed}; and {more} more" if more > 0 else listed


def _alike(split: Split) -> bool:
    return not split.either and not split.one


def _asked(rivals: Sequence[Hypothesis]) -> list[str]:
    named = (asked_of(p.criterion) for rival in rivals for p in rival.predictions)
    return list(dict.fromkeys(named))


def asked_of(criterion: Criterion) -> str:
    """Name what a criterion asks: a quantity, or one against another.

    Examples
    --------
    >>> asked_of(Criterion("V_min", 8.8, float("inf"), "V_min above 8.80 V"))
    'V_min'
    """
    if criterion.other:
        return f"{criterion.quantity} against {criterion.other}"
    return criterion.quantity


def _on(rival: Hypothesis, asked: str) -> list[Prediction]:
    return [p for p in rival.predictions if asked_of(p.criterion) == asked]


def _said(prediction: Prediction) -> str:
    text = prediction.criterion.text
    short = text.removeprefix(prediction.criterion.quantity).strip(" ,") or text
    role = prediction.role
    return short if role == "necessary" else f"{short} ({role})"


def excludes(first: Criterion, second: Criterion) -> bool:
    """Tell whether two criteria on one thing cannot both be met.

    Examples
    --------
    >>> low = Criterion("V", float("-inf"), 8.8, "V below 8.80 V")
    >>> high = Criterion("V", 8.8, float("inf"), "V above 8.80 V")
    >>> excludes(low, high), excludes(low, low)
    (True, False)
    """
    if asked_of(first) != asked_of(second):
        return False
    if first.relation == "limits" == second.relation:
        return first.upper <= second.lower or second.upper <= first.lower
    if first.relation == "limits" or second.relation == "limits":
        return False
    same_margin = first.margin == second.margin
    return first.relation != second.relation and same_margin


def _split(first: Hypothesis, second: Hypothesis, asked: Sequence[str]) -> Split:
    either, one = [], []
    for quantity in asked:
        a = [p.criterion for p in _on(first, quantity)]
        b = [p.criterion for p in _on(second, quantity)]
        if any(excludes(x, y) for x in a for y in b):
            either.append(quantity)
        elif {_content(c) for c in a} != {_content(c) for c in b}:
            one.append(quantity)
    return Split(first.name, second.name, tuple(either), tuple(one))


def _content(criterion: Criterion) -> tuple[object, ...]:
    return (criterion.relation, criterion.lower, criterion.upper, criterion.margin)

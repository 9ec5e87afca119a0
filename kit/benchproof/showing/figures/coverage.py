"""The coverage map of the trial plans: what was planned, done, and left undone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchproof.showing.figures.drawing import Plot
from benchproof.showing.figures.sheet import Area, Sheet, Words, lines_of

__all__ = ["plot_of_coverage"]

Data = Mapping[str, Any]

_MANY = 24
"""Rows; of more, the conditions of a plan that were done as planned share one."""
_WIDTH, _LABEL, _BESIDE = 576.0, 232.0, 160.0
_LETTER, _LINE = 5.4, 10.5


def plot_of_coverage(entries: Sequence[Data]) -> Plot:
    """Plot for every condition how much of what was planned is done.

    Parameters
    ----------
    entries : sequence of mapping
        As `benchproof.keeping.trials.asdata.coverage_of` returns them.
    """
    title = "Coverage of the plans: done of planned"
    if not entries:
        return Plot("coverage", title, "No trial is planned.")
    rows = _rows(entries)
    labels = [lines_of(row[0], _LABEL / _LETTER - 2) for row in rows]
    notes = [lines_of(row[3], _BESIDE / _LETTER - 1) for row in rows]
    highs = [
        _LINE * max(len(a), len(b)) + 8 for a, b in zip(labels, notes, strict=True)
    ]
    sheet = Sheet(_WIDTH, sum(highs) + 34)
    sheet.add(
        Area(8, 8, 18, 8, "covered"), Words(31, 15, "done"),
        Area(70, 8, 18, 8, "tone"), Words(93, 15, "planned, not done"),
    )  # fmt: skip
    y = 28.0
    for (_, planned, done, _), label, note, high in zip(
        rows, labels, notes, highs, strict=True
    ):
        _draw_bar(sheet, y + high / 2, planned, done)
        for x, lines, anchor in (
            (_LABEL - 6, label, "end"),
            (_WIDTH - _BESIDE + 6, note, "start"),
        ):
            start = y + high / 2 + 3 - _LINE * (len(lines) - 1) / 2
            for i, text in enumerate(lines):
                sheet.add(Words(x, start + _LINE * i, text, anchor))
        y += high
    return Plot("coverage", title, _alt(rows), sheet)


Shown = tuple[str, int, int, str]
"""Label, planned and done places, what to say beside."""


def _rows(entries: Sequence[Data]) -> list[Shown]:
    rows, together = [], dict[tuple[str, int], int]()
    for entry in entries:
        planned, done = entry["planned"], entry["done"]
        is_plain = planned and planned == done and not entry["control"]
        if len(entries) > _MANY and is_plain:
            key = (entry["plan"], planned)
            together[key] = together.get(key, 0) + 1
            continue
        words = f"{entry['plan']}: {entry['condition']}"
        label = f"{words} (control)" if entry["control"] else words
        beside = f"{done} of {planned}" if planned else "excluded"
        rows.append(
            (label, planned, done, ": ".join(filter(None, [beside, entry["why"]])))
        )
    rows += [
        (
            f"{plan}: {count} conditions",
            planned,
            planned,
            f"{planned} of {planned} each",
        )
        for (plan, planned), count in together.items()
    ]
    return rows


def _draw_bar(sheet: Sheet, middle: float, planned: int, done: int) -> None:
    room = sheet.width - _LABEL - _BESIDE
    if planned:
        sheet.add(Area(_LABEL, middle - 4, room, 8, "tone"))
    if done:
        sheet.add(Area(_LABEL, middle - 4, room * done / planned, 8, "covered"))


def _alt(rows: Sequence[Shown]) -> str:
    said = "; ".join(f"{label}: {beside}" for label, _, _, beside in rows)
    return f"Coverage of the plans, done of planned. {said}."

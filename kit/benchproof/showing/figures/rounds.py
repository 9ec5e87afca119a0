"""The rounds from left to right, with every verdict as it stood at the end of each."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from benchproof.showing.figures.drawing import Plot
from benchproof.showing.figures.sheet import Area, Line, Mark, Sheet, Words
from benchproof.showing.verdictmarks import glyph_of

__all__ = ["plot_of_rounds"]

Data = Mapping[str, Any]

_NAMES = 56.0
"""Points for the names of the rivals."""
_NARROWEST = 105.0
_LETTER, _LINE, _GAP = 5.4, 11.0, 10.0
_HEAD = 18.0
"""Down to the line of time."""


def plot_of_rounds(rounds: Sequence[Data]) -> Plot:
    """Plot the verdicts round by round; one that changed stands in a tinted field.

    Parameters
    ----------
    rounds : sequence of mapping
        As results.json has them: ``number``, ``because``, ``time``, ``quantities``,
        ``verdicts``.

    Returns
    -------
    Plot
        Without a figure before there are two rounds with a verdict.
    """
    title = "Verdicts, round by round"
    names = list(dict.fromkeys(v["name"] for r in rounds for v in r["verdicts"]))
    if len(rounds) < 2 or not names:
        return Plot("rounds", title, "There is one round only.")
    width = max(576.0, _NAMES + _NARROWEST * len(rounds))
    column = (width - _NAMES) / len(rounds)
    letters = int(column / _LETTER) - 2
    heads = [_head(r, before, letters) for before, r in _after_each(rounds)]
    rows = [[_verdict(r, name) for r in rounds] for name in names]
    said = [[textwrap.wrap(word, letters) for word in row] for row in rows]
    tops = [_HEAD + 16 + _LINE * max(map(len, heads)) + _GAP]
    for row in said:
        tops.append(tops[-1] + _LINE * max(map(len, row)) + _GAP)
    sheet = Sheet(width, tops[-1] + 4)
    _draw_time(sheet, [_NAMES + column * i for i in range(len(rounds))], rounds, heads)
    for top, name, words, lines in zip(tops, names, rows, said, strict=False):
        _draw_row(sheet, top, name, words, lines, column)
    return Plot("rounds", title, _alt(rounds, names, rows), sheet)


def _after_each(rounds: Sequence[Data]) -> list[tuple[Data | None, Data]]:
    return list(zip([None, *rounds], rounds, strict=False))


def _head(entry: Data, before: Data | None, letters: int) -> list[str]:
    """Return the reason of a round and how much of the case it changed, in lines."""
    lines = textwrap.wrap(entry["because"] or "first measurement", letters)
    if len(lines) > 4:
        lines = [*lines[:3], f"{lines[3][: letters - 1]}…"]
    if before is not None:
        changed = _changed(before, entry)
        lines += [f"{changed} value{'' if changed == 1 else 's'} changed"]
    return lines


def _changed(before: Data, after: Data) -> int:
    then = before["quantities"]
    return sum(
        name not in then or q["text"] != then[name]["text"]
        for name, q in after["quantities"].items()
        if "value" in q or "counted" in q
    )


def _verdict(entry: Data, name: str) -> str:
    words = (v["verdict"] for v in entry["verdicts"] if v["name"] == name)
    return next(words, "not stated yet")


def _draw_time(
    sheet: Sheet, lefts: list[float], rounds: Sequence[Data], heads: list[list[str]]
) -> None:
    sheet.add(Line(((lefts[0], _HEAD), (sheet.width - 10, _HEAD))))
    sheet.add(Mark(sheet.width - 10, _HEAD, "right", ink=True))
    for left, entry, lines in zip(lefts, rounds, heads, strict=True):
        sheet.add(Mark(left + 3, _HEAD, "circle"))
        when = f", {entry['time'][:10]}" if entry["time"] else ""
        sheet.add(
            Words(left + 10, _HEAD - 6, f"Round {entry['number']}{when}", bold=True)
        )
        for i, text in enumerate(lines):
            sheet.add(Words(left, _HEAD + 16 + _LINE * i, text))


def _draw_row(
    sheet: Sheet,
    top: float,
    name: str,
    words: list[str],
    lines: list[list[str]],
    column: float,
) -> None:
    high = _LINE * max(map(len, lines))
    sheet.add(Line(((8, top - 4), (sheet.width - 8, top - 4)), "grid"))
    sheet.add(Words(8, top + _LINE - 2, textwrap.shorten(name, 9), bold=True))
    for i, (word, text) in enumerate(zip(words, lines, strict=True)):
        x, moved = _NAMES + column * i, i > 0 and word != words[i - 1]
        if moved:
            sheet.add(Area(x - 4, top - 2, column - 4, high + 3))
        sheet.add(Words(x, top + _LINE - 2, glyph_of(word), bold=True))
        for n, line in enumerate(text):
            sheet.add(Words(x + 12, top + _LINE * (n + 1) - 2, line, bold=moved))


def _alt(rounds: Sequence[Data], names: list[str], rows: list[list[str]]) -> str:
    said = []
    for name, words in zip(names, rows, strict=True):
        steps = [f"{words[0]} in round {rounds[0]['number']}"]
        for i in range(1, len(words)):
            if words[i] != words[i - 1]:
                steps.append(f"{words[i]} from round {rounds[i]['number']} on")
        said.append(f"{name}: {', '.join(steps)}")
    return f"Verdicts, round by round, {len(rounds)} rounds. {'; '.join(said)}."

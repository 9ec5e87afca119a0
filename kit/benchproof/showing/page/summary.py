"""The summary: claim, verdicts and limits on one page, to be shown beside a video."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from jinja2 import Environment

from benchproof.showing.figures.drawing import INK, Plot, Size, blank_card, plain
from benchproof.showing.page.ownfiles import packaged
from benchproof.showing.verdictmarks import glyph_of, moment_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Summary", "plot_of_summary", "summary_of", "summary_page"]

ACCENT = "#7a2751"
_LARGEST, _SMALLEST = 15.0, 8.0
_TITLE = 1.7
"""Size of the title's letters, in those of the text."""
_BOLD = "\0"
"""Begins a line in bold letters."""
_RIGHT = 0.5
"""Where the right column begins, as a part of the width."""
_LINE = 1.45
"""Of the height of letters."""


@dataclass(frozen=True)
class Summary:
    """What a summary says, all of it text."""

    title: str
    claim: Mapping[str, str]
    rivals: tuple[dict[str, str], ...]
    limits: tuple[str, ...]
    date: str
    readings_hash: str
    invented: bool


def summary_of(results: Mapping[str, Any]) -> Summary:
    """Return the summary of what a run computed; what is missing stays empty."""

    def text(value: Any) -> str:
        return "" if value is None else str(value).strip()

    said = results.get("claim") or {}
    rivals = tuple(
        {key: text(raw.get(key)) for key in ("name", "statement", "verdict")}
        | {"glyph": glyph_of(text(raw.get("verdict")))}
        for raw in results.get("verdicts") or ()
    )
    return Summary(
        title=text(results.get("title")) or "Untitled case",
        claim={k: text(said.get(k)) for k in ("text", "source", "date", "how_often")},
        rivals=rivals,
        limits=tuple(map(text, results.get("does_not_show") or ())),
        date=moment_of(text(results.get("ran_at")))["shown"],
        readings_hash=text(results.get("readings_hash")),
        invented=bool(results.get("invented")),
    )


def summary_page(summary: Summary) -> str:
    """Return the summary as one HTML page that runs and fetches nothing.

    Examples
    --------
    >>> page = summary_page(summary_of({"title": "Rail dip (invented)"}))
    >>> "<h1>Rail dip (invented)</h1>" in page and "No claim was recorded." in page
    True
    """
    environment = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(packaged("summary.html"))
    return template.render(vars(summary))


def plot_of_summary(summary: Summary, size: Size) -> Plot:
    """Plot the summary as a card: verdicts left, what they do not show right.

    Letters are as large as the words allow; what does not fit at the smallest size is
    counted, and the reader sent to the write-up.

    Parameters
    ----------
    summary : Summary
    size : (float, float)
        In inches.
    """
    figure = blank_card(size)
    letters = _LARGEST
    while letters > _SMALLEST and not _fits(summary, size, letters):
        letters -= 0.5
    _write(figure, summary, size, letters)
    return Plot("summary", "Summary", _alt(summary), figure)


def _columns(summary: Summary, size: Size, letters: float) -> list[list[str]]:
    """Return the lines of title, claim, verdicts and limits, broken to their width."""
    # A letter of this family is six tenths as wide as high, at most on average; bold
    # ones seven.
    whole, left, right = (
        int(72 * width * size[0] / (0.6 * letters)) for width in (0.9, 0.4, 0.42)
    )
    title = textwrap.wrap(summary.title, int(whole * 0.6 / (0.7 * _TITLE)))
    said = summary.claim["text"] or "No claim was recorded."
    verdicts: list[str] = []
    for rival in summary.rivals:
        verdicts += textwrap.wrap(f"{rival['name']}  {rival['statement']}", left)
        verdict = f"{rival['glyph']} {rival['verdict'] or 'no verdict recorded'}"
        verdicts += [f"{_BOLD}{line}" for line in textwrap.wrap(verdict, left)] + [""]
    limits: list[str] = []
    for limit in summary.limits:
        limits += textwrap.wrap(
            limit, right, initial_indent="• ", subsequent_indent="   "
        )
    return [
        title,
        textwrap.wrap(f"“{said}”", whole),
        verdicts or ["No rival explanation was stated."],
        limits or ["Nothing was written here."],
    ]


def _room(size: Size, letters: float, title: int, claim: int) -> int:
    """Return how many lines fit between the head of a card and its foot."""
    head = _TITLE * title + claim + 2.4
    return int(0.86 * 72 * size[1] / (_LINE * letters) - head)


def _fits(summary: Summary, size: Size, letters: float) -> bool:
    title, claim, *columns = _columns(summary, size, letters)
    return max(map(len, columns)) <= _room(size, letters, len(title), len(claim))


def _write(figure: Figure, summary: Summary, size: Size, letters: float) -> None:
    title, claim, verdicts, limits = _columns(summary, size, letters)
    step = _LINE * letters / (72 * size[1])
    room = _room(size, letters, len(title), len(claim))
    y = 0.95

    def line(x: float, at: float, text: str, **style: Any) -> None:
        kept: dict[str, Any] = {"fontsize": letters, "color": INK, "va": "top"}
        figure.text(x, at, plain(text, 500), **(kept | style))

    for text in title:
        line(0.05, y, text, fontsize=_TITLE * letters, weight="bold")
        y -= _TITLE * step
    y -= 0.3 * step
    for text in claim:
        line(0.05, y, text, style="italic")
        y -= step
    y -= 0.6 * step
    line(0.05, y, "What was found, on this sample", weight="bold", color=ACCENT)
    line(_RIGHT, y, "What this does not show", weight="bold", color=ACCENT)
    y -= 1.3 * step
    for x, lines in ((0.05, verdicts), (_RIGHT, limits)):
        for row, text in enumerate(_cut(lines, room)):
            weight = "bold" if text.startswith(_BOLD) else "normal"
            line(x, y - row * step, text.lstrip(_BOLD), weight=weight)
    invented = "Invented data. " if summary.invented else ""
    when = summary.date or "a date that was not recorded"
    foot = f"{invented}Run on {when}. Numbers and uncertainties: see the write-up."
    line(0.05, 0.05, foot, va="bottom", fontsize=0.85 * letters)


def _cut(lines: Sequence[str], room: int) -> list[str]:
    """Return the lines that fit, and how many more there are."""
    if len(lines) <= room:
        return list(lines)
    kept = max(room - 1, 0)
    return [*lines[:kept], f"… {len(lines) - kept} lines more in the write-up"]


def _alt(summary: Summary) -> str:
    rivals = "; ".join(
        f"{r['name']}, {r['statement']}: {r['verdict'] or 'no verdict recorded'}"
        for r in summary.rivals
    )
    limits = " ".join(summary.limits)
    return (
        f"{summary.title}. Claim: {summary.claim['text'] or 'not recorded'}. On this "
        f"unit: {rivals or 'no rival stated'}. What this does not show: {limits}"
    )

"""Figures of the evidence: predictions against what was seen, and counted trials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from benchproof.reasoning.trials import shown_interval
from benchproof.showing.drawing import (
    INK,
    LIMIT,
    MEASURED,
    Plot,
    Size,
    card,
    explain,
    plain,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Data = Mapping[str, Any]

_FAR = 30.0
"""In standard uncertainties; what lies beyond is an arrow at the edge."""
_SIDES = (3.0, 1.3)
"""Inches for the labels of rows and for what was seen."""
_MARKS = {"met": "o", "contradicted": "X", "undetermined": "D"}


_BAR: Any = {"elinewidth": 2, "clip_on": False}


def plot_of_predictions(rivals: Sequence[Data], size: Size | None = None) -> Plot:
    """Plot how far each observed value lies from its limit, in its own u.

    Parameters
    ----------
    rivals : sequence of mapping
        As results.json has them under ``verdicts``.
    size : (float, float), optional
        In inches.

    Returns
    -------
    Plot
        Without a figure where no prediction about a value has an observation.
    """
    title = "Predictions against observations"
    shown = [
        (rival["name"], prediction)
        for rival in rivals
        for prediction in rival["predictions"]
        if {"inside", "censored"} & (prediction.get("seen") or {}).keys()
    ]
    if not shown:
        nothing = "No prediction about a value has been measured yet."
        return Plot("predictions", title, nothing)
    figure, axes = card(0.42 * len(shown) + 1.1, size, _SIDES)
    axes.axvspan(0, 60, color=LIMIT, alpha=0.12, linewidth=0)
    axes.axvline(0, color=LIMIT, linestyle="--")
    for row, (_, prediction) in enumerate(reversed(shown)):
        if prediction["seen"].get("censored"):
            _draw_censored(axes, row, prediction["verdict"])
        else:
            _draw_value(axes, row, prediction)
    labels = [plain(f"{name}: {p['criterion']}", 36) for name, p in shown]
    axes.set_yticks(range(len(shown)), labels[::-1], fontsize=9)
    _write_beside(axes, [plain(_value_of(p), 18) for _, p in shown])
    axes.set_xlim(-_FAR - 3, _FAR + 3)
    axes.set_ylim(-0.6, len(shown) - 0.4)
    axes.set_xlabel("distance from the limit in standard uncertainties (shaded: met)")
    _explain(figure, shown)
    return Plot("predictions", title, _predictions_alt(shown), figure)


def _draw_value(axes: Axes, row: int, prediction: Data) -> None:
    where, half = prediction["seen"]["inside"], prediction["seen"]["half_width"]
    if abs(where) >= _FAR:
        edge = _FAR + 1 if where > 0 else -_FAR - 1
        axes.plot(edge, row, ">" if where > 0 else "<", color=MEASURED)
        return
    mark = _MARKS.get(prediction["verdict"], "o")
    axes.errorbar(where, row, xerr=half, fmt=mark, color=MEASURED, **_BAR)


def _draw_censored(axes: Axes, row: int, verdict: str) -> None:
    """Draw a bound: an arrow to the side it lies on, to both where that is open."""
    ends = {"met": [12.0], "contradicted": [-12.0]}.get(verdict, [-6.0, 6.0])
    for end in ends:
        axes.annotate(
            "", (end, row), (0, row),
            arrowprops={"arrowstyle": "->", "color": INK, "linestyle": ":"},
        )  # fmt: skip
    axes.plot(0, row, "|", color=INK, markersize=9)


def _value_of(prediction: Data) -> str:
    return str(prediction["detail"]).partition(", ")[0]


def _write_beside(axes: Axes, texts: Sequence[str]) -> None:
    """Write what was seen at the right end of each row, from the top."""
    for row, text in enumerate(reversed(texts)):
        axes.annotate(
            text, (1.01, row), xycoords=("axes fraction", "data"), va="center",
            color=INK, fontsize=9, annotation_clip=False,
        )  # fmt: skip


def _explain(figure: Figure, shown: Sequence[tuple[str, Data]]) -> None:
    """Say above the rows what each kind of mark means, of those that occur."""
    from matplotlib.lines import Line2D

    style: dict[str, Any] = {"color": MEASURED, "linestyle": "none"}
    values = [p for _, p in shown if "inside" in p["seen"]]
    near = {p["verdict"] for p in values if abs(p["seen"]["inside"]) < _FAR}
    handles = [
        Line2D([], [], marker=mark, label=word, **style)
        for word, mark in _MARKS.items()
        if word in near
    ]
    if any(abs(p["seen"]["inside"]) >= _FAR for p in values):
        handles.append(Line2D([], [], marker=">", label="beyond the axis", **style))
    if len(values) < len(shown):
        handles.append(
            Line2D([], [], color=INK, linestyle=":", label="censored: only the side")
        )
    explain(figure, handles)


def _predictions_alt(shown: Sequence[tuple[str, Data]]) -> str:
    said = "; ".join(
        f"{name}, {p['criterion']}: {p['verdict']} ({p['detail']})" for name, p in shown
    )
    return f"Predictions against observations. {said}."


def plot_of_counts(
    arms: Sequence[Data], rivals: Sequence[Data], size: Size | None = None
) -> Plot:
    """Plot counted trials as frequencies with their exact intervals.

    Parameters
    ----------
    arms : sequence of mapping
        As `benchproof.keeping.evidence.arms_of` returns them.
    rivals : sequence of mapping
        As results.json has them under ``verdicts``; they say which arms are controls
        and what frequency was predicted.
    size : (float, float), optional
        In inches.
    """
    title = "Trials: how often, with exact 95 % intervals"
    if not arms:
        return Plot("trials", title, "No trial has been counted yet.")
    figure, axes = card(0.42 * len(arms) + 1.1, size, _SIDES)
    used = _used_as(rivals)
    for row, arm in enumerate(reversed(arms)):
        _draw_arm(axes, row, arm, used.get(arm["name"], []))
    labels = [plain(_arm_label(a, used.get(a["name"], [])), 38) for a in arms]
    axes.set_yticks(range(len(arms)), labels[::-1], fontsize=9)
    _write_beside(axes, [f"{a['count']} of {a['attempts']}" for a in arms])
    axes.set_xlim(-2, 102)
    axes.set_ylim(-0.6, len(arms) - 0.4)
    axes.set_xlabel("share of attempts in %, exact two-sided 95 % interval")
    _explain_arms(figure)
    return Plot("trials", title, _counts_alt(arms, used), figure)


def _used_as(rivals: Sequence[Data]) -> dict[str, list[tuple[str, Data]]]:
    """Return, per count, which rivals predict something about it."""
    used: dict[str, list[tuple[str, Data]]] = {}
    for rival in rivals:
        for prediction in rival["predictions"]:
            if "limits" in (prediction.get("seen") or {}):
                name = prediction["quantity"]
                used.setdefault(name, []).append((rival["name"], prediction))
    return used


def _roles(used: Sequence[tuple[str, Data]]) -> dict[str, list[str]]:
    roles: dict[str, list[str]] = {}
    for rival, prediction in used:
        roles.setdefault(prediction["role"], []).append(rival)
    return roles


def _arm_label(arm: Data, used: Sequence[tuple[str, Data]]) -> str:
    roles = [f"{role} {', '.join(who)}" for role, who in _roles(used).items()]
    what = f"{arm['name']}, round {arm['round']}"
    return f"{what} ({'; '.join(roles)})" if roles else what


def _draw_arm(
    axes: Axes, row: int, arm: Data, used: Sequence[tuple[str, Data]]
) -> None:
    share = 100 * arm["count"] / arm["attempts"]
    spread = [[share - 100 * arm["low"]], [100 * arm["high"] - share]]
    is_control = "control" in _roles(used)
    axes.errorbar(
        share, row, xerr=spread, fmt="s" if is_control else "o", color=MEASURED,
        markerfacecolor="white" if is_control else MEASURED, **_BAR,
    )  # fmt: skip
    limits = {x for _, p in used for x in p["seen"]["limits"] if x is not None}
    for limit in limits:
        axes.plot([100 * limit] * 2, [row - 0.35, row + 0.35], color=LIMIT,
                  linestyle="--")  # fmt: skip


def _explain_arms(figure: Figure) -> None:
    from matplotlib.lines import Line2D

    style: dict[str, Any] = {"color": MEASURED, "linestyle": "none"}
    handles = [
        Line2D([], [], marker="o", label="provoked", **style),
        Line2D([], [], marker="s", markerfacecolor="white", label="control", **style),
        Line2D([], [], color=LIMIT, linestyle="--", label="predicted limit"),
    ]
    explain(figure, handles)


def _counts_alt(
    arms: Sequence[Data], used: Mapping[str, list[tuple[str, Data]]]
) -> str:
    said = "; ".join(
        f"{_arm_label(a, used.get(a['name'], []))}"
        + (f", {a['at']}" if a["at"] else "")
        + f": {a['count']} of {a['attempts']}, "
        f"{shown_interval(a['count'], a['attempts'])}"
        for a in arms
    )
    return f"Trials with exact two-sided 95 % intervals. {said}."

"""Figures of the evidence: predictions against what was seen, and counted trials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchproof.showing.figures.drawing import Plot
from benchproof.showing.figures.rowchart import Axis, Key, Row, chart_of, round_steps

Data = Mapping[str, Any]

_FAR = 30.0
"""In standard uncertainties; what lies beyond is an arrow at the edge."""
_MANY = 24
"""Rows; of more arms those that show nothing are drawn together."""
_MARKS = {"met": "circle", "contradicted": "cross", "undetermined": "diamond"}


def plot_of_predictions(rivals: Sequence[Data]) -> Plot:
    """Plot how far each observed value lies from its limit, in its own u.

    Parameters
    ----------
    rivals : sequence of mapping
        As results.json has them under ``verdicts``.

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
    caption = "distance from the limit in standard uncertainties (shaded: met)"
    ticks = [-_FAR, -20, -10, 0, 10, 20, _FAR]
    axis = Axis(-_FAR - 3, _FAR + 3, ticks, caption, (0, _FAR + 3), 0)
    rows = [_prediction_row(*entry) for entry in shown]
    sheet = chart_of(rows, axis, _keys(shown))
    return Plot("predictions", title, _predictions_alt(shown), sheet)


def _prediction_row(rival: str, prediction: Data) -> Row:
    label = f"{rival}: {prediction['criterion']}"
    value = str(prediction["detail"]).partition(", ")[0]
    seen, verdict = prediction["seen"], prediction["verdict"]
    if seen.get("censored"):
        # A bound: to the side it lies on, to both where that is open.
        arrows = {"met": (12,), "contradicted": (-12,)}.get(verdict, (-6, 6))
        return Row(label, value, arrows=arrows)
    where, half = seen["inside"], seen["half_width"]
    if abs(where) >= _FAR:
        edge, shape = (_FAR + 1, "right") if where > 0 else (-_FAR - 1, "left")
        return Row(label, value, edge, shape)
    low, high = (min(max(x, -_FAR - 3), _FAR + 3) for x in (where - half, where + half))
    return Row(label, value, where, _MARKS.get(verdict, "circle"), bar=(low, high))


def _keys(shown: Sequence[tuple[str, Data]]) -> list[Key]:
    """Say what each kind of mark means, of those that occur."""
    values = [p for _, p in shown if not p["seen"].get("censored")]
    near = {p["verdict"] for p in values if abs(p["seen"]["inside"]) < _FAR}
    keys = [Key(word, shape) for word, shape in _MARKS.items() if word in near]
    if any(abs(p["seen"]["inside"]) >= _FAR for p in values):
        keys.append(Key("beyond the axis", "right"))
    if len(values) < len(shown):
        keys.append(Key("censored: only the side", line="open"))
    return keys


def _predictions_alt(shown: Sequence[tuple[str, Data]]) -> str:
    said = "; ".join(
        f"{name}, {p['criterion']}: {p['verdict']} ({p['detail']})" for name, p in shown
    )
    return f"Predictions against observations. {said}."


def plot_of_counts(arms: Sequence[Data], rivals: Sequence[Data]) -> Plot:
    """Plot counted trials as frequencies with their exact intervals.

    Parameters
    ----------
    arms : sequence of mapping
        As `benchproof.keeping.reports.evidence.arms_of` returns them.
    rivals : sequence of mapping
        As results.json has them under ``verdicts``; they say which arms are controls
        and what frequency was predicted.
    """
    title = "Trials: how often, with exact 95 % intervals"
    if not arms:
        return Plot("trials", title, "No trial has been counted yet.")
    used = _used_as(rivals)
    drawn, others = _telling(arms, used)
    rows = [_arm_row(arm, used.get(arm["name"], [])) for arm in drawn] + others
    keys = [
        Key("provoked", "circle"),
        *(
            [Key("control", "square", hollow=True)]
            if any(r.hollow for r in rows)
            else []
        ),
        *(
            [Key("predicted limit", line="limit")]
            if any(r.limits for r in rows)
            else []
        ),
    ]
    caption = "share of attempts in %, exact two-sided 95 % interval"
    sheet = chart_of(rows, Axis(-2, 102, range(0, 101, 20), caption), keys)
    alt = "; ".join(
        [_counts_alt(drawn, used), *(f"{r.label}: {r.beside}" for r in others)]
    )
    return Plot("trials", title, f"{title}. {alt}.", sheet)


def _telling(
    arms: Sequence[Data], used: Mapping[str, Any]
) -> tuple[list[Data], list[Row]]:
    """Return the arms to draw, and a row for each kind of the others.

    Of many, those in which nothing was seen, that are no control and of which nothing
    was predicted, share a row with those of as many attempts.
    """
    if len(arms) <= _MANY:
        return list(arms), []
    dull: dict[tuple[int, float], list[Data]] = {}
    for arm in arms:
        if not (arm["count"] or arm.get("control") or used.get(arm["name"])):
            dull.setdefault((arm["attempts"], arm["high"]), []).append(arm)
    others = [
        Row(
            f"{len(same)} other conditions",
            f"0 of {attempts} each",
            0,
            bar=(0, 100 * high),
        )
        for (attempts, high), same in dull.items()
    ]
    left_out = [arm for same in dull.values() for arm in same]
    return [arm for arm in arms if arm not in left_out], others


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
    if arm.get("control") and "control" not in _roles(used):
        roles.append("control")
    what = f"{arm['name']}, round {arm['round']}"
    return f"{what} ({'; '.join(roles)})" if roles else what


def _arm_row(arm: Data, used: Sequence[tuple[str, Data]]) -> Row:
    is_control = bool(arm.get("control")) or "control" in _roles(used)
    limits = {x for _, p in used for x in p["seen"]["limits"] if x is not None}
    return Row(
        _arm_label(arm, used),
        f"{arm['count']} of {arm['attempts']}",
        100 * arm["count"] / arm["attempts"],
        "square" if is_control else "circle",
        is_control,
        (100 * arm["low"], 100 * arm["high"]),
        sorted(100 * limit for limit in limits),
    )


def _counts_alt(
    arms: Sequence[Data], used: Mapping[str, list[tuple[str, Data]]]
) -> str:
    return "; ".join(
        f"{_arm_label(a, used.get(a['name'], []))}"
        + (f", {a['at']}" if a.get("at") else "")
        + ", ".join(
            filter(None, [f": {a['count']} of {a['attempts']}", a.get("interval")])
        )
        + (f" ({a['note']})" if a.get("note") else "")
        for a in arms
    )


def plot_of_replications(entries: Sequence[Data], quantity: str) -> Plot:
    """Plot what several people found for one quantity, each device by itself.

    Parameters
    ----------
    entries : sequence of mapping
        As `benchproof.keeping.reports.evidence.replicated_of` returns them.
    quantity : str
    """
    title = f"{quantity}, found by others too"
    shown = [e for e in entries if e["quantity"] == quantity]
    if len(shown) < 2:
        return Plot(f"replications-{quantity}", title, "Nobody has replicated it yet.")
    low = min(e["value"] - e["expanded"] for e in shown)
    high = max(e["value"] + e["expanded"] for e in shown)
    edge, unit = 0.05 * (high - low), shown[0]["unit"]
    caption = f"{quantity} in {unit or '1'}, with U as each gave it"
    axis = Axis(low - edge, high + edge, round_steps(low, high), caption)
    rows = [_replication_row(entry) for entry in shown]
    keys = [Key("this case", "circle"), Key("others", "square", hollow=True)]
    said = "; ".join(
        f"{row.label}: {row.beside}, k = {entry['coverage_factor']:.3g}"
        for row, entry in zip(rows, shown, strict=True)
    )
    sheet = chart_of(rows, axis, keys)
    return Plot(f"replications-{quantity}", title, f"{title}. {said}.", sheet)


def _replication_row(entry: Data) -> Row:
    value, expanded = entry["value"], entry["expanded"]
    label = entry["by"] if entry["own"] else f"{entry['by']}, {entry['device']}"
    beside = f"{value:.4g} ± {expanded:.2g} {entry['unit']}".strip()
    shape = "circle" if entry["own"] else "square"
    bar = (value - expanded, value + expanded)
    return Row(label, beside, value, shape, not entry["own"], bar)

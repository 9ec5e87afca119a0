"""Predictions beside what was seen of them, as plain data for results and figures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from benchproof.keeping.inquiry.replications import (
    read_replications,
    replications_of,
)
from benchproof.keeping.trials.asdata import rates_of
from benchproof.reasoning.trials import exact_limits, shown_interval
from benchproof.reasoning.verdicts import Judged, Verdict

if TYPE_CHECKING:
    from benchproof.keeping.case import Case
    from benchproof.keeping.state.state import State

LEVEL = 0.95


def evidence_of(case: Case, *, level: float = LEVEL) -> list[dict[str, Any]]:
    """Return every rival with its verdict, its predictions and what was seen.

    Parameters
    ----------
    level : float
        Of the decision rule.

    Returns
    -------
    list of dict
        Per rival ``name``, ``statement``, ``verdict``, ``reason``, ``predictions``;
        for ``seen`` of a prediction see `seen_of`.
    """
    state = case.state()
    return [_rival(state, v) for v in case.verdicts(level=level).verdicts]


def _rival(state: State, verdict: Verdict) -> dict[str, Any]:
    return {
        "name": verdict.hypothesis.name,
        "statement": verdict.hypothesis.statement,
        "verdict": verdict.word,
        "reason": verdict.reason,
        "mechanism": verdict.hypothesis.mechanism,
        "predictions": [_prediction(state, judged) for judged in verdict.judged],
    }


def _prediction(state: State, judged: Judged) -> dict[str, Any]:
    prediction = judged.prediction
    return {
        "text": prediction.text,
        "role": prediction.role,
        "criterion": prediction.criterion.text,
        "quantity": prediction.criterion.quantity,
        "verdict": judged.outcome,
        "detail": judged.detail,
        "flips": judged.flips,
        "written": judged.written,
        "probability": prediction.probability,
        "seen": seen_of(state, judged),
    }


def seen_of(state: State, judged: Judged) -> dict[str, Any]:
    """Return what a figure needs of an observation.

    Returns
    -------
    dict
        Of a value with u > 0, ``inside``: how far inside its limits it lies, negative
        if outside, and ``half_width`` of its coverage interval, both in its own u.
        Of a censored reading, ``censored``. Of a count, ``limits``: the frequencies
        it was predicted to lie between, None where there is none. Else empty.
    """
    criterion = judged.prediction.criterion
    if judged.count is not None:
        return {"limits": [_finite(criterion.lower), _finite(criterion.upper)]}
    name = criterion.quantity
    if criterion.relation != "limits" or not state.knows(name):
        return {}
    missing = state.missing(name)
    if missing:
        is_bound = all(m.status == "censored" for m in missing)
        return {"censored": True} if is_bound else {}
    budget = state.budget(name)
    u = budget.standard_uncertainty
    if not u:
        return {}
    inside = min(budget.value - criterion.lower, criterion.upper - budget.value)
    return {"inside": inside / u, "half_width": budget.coverage_factor}


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def counted(case: Case, name: str) -> dict[str, Any]:
    """Return a count with its exact limits, and where and when it was counted.

    Returns
    -------
    dict
        ``count``, ``attempts``, ``low`` and ``high`` (two-sided, 95 %), ``interval``
        in words, ``round``, ``at``; empty where nothing was counted under this name.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404.
    """
    measured = case.state().measured.get(name)
    if measured is None or measured.count is None:
        return {}
    low, high = exact_limits(*measured.count, LEVEL)
    first = measured.readings[0]
    count, attempts = measured.count
    return {
        "count": count, "attempts": attempts, "low": low, "high": high,
        "interval": shown_interval(count, attempts, LEVEL),
        "round": first.round, "at": first.at,
    }  # fmt: skip


def arms_of(case: Case) -> list[dict[str, Any]]:
    """Return every count of the case, those of earlier rounds beside later ones.

    Returns
    -------
    list of dict
        As `counted`, with ``name``; by name, then by round. After the counts that
        were recorded as readings, those of the trial plans, as `rates_of` has them.
    """
    rounds = [r.number for r in case.book.record.rounds]
    views = [case.at_round(n) for n in rounds if n <= case.round_number]
    recorded = [
        {"name": name, **arm}
        for name in case.names()
        for view in views
        if (arm := counted(view, name)) and arm["round"] == view.round_number
    ]
    return recorded + rates_of(case)


def replicated_of(case: Case) -> list[dict[str, Any]]:
    """Return what others found for quantities of the case, beside its own value.

    Returns
    -------
    list of dict
        ``quantity``, ``by``, ``device``, ``own``, ``value`` and ``expanded`` (U as
        given, its k beside it), ``coverage_factor``, ``unit``, all in the unit of the
        case.
    """
    found = []
    names = dict.fromkeys(r.quantity for r in read_replications(case.folder))
    for name in names:
        everyone = replications_of(case, name)
        step = everyone.unit.difference().factor
        for one in everyone.values():
            value, u = one.si
            found.append(
                {
                    "quantity": name,
                    "by": one.by,
                    "device": one.device,
                    "own": one is everyone.own,
                    "value": everyone.unit.from_si(value),
                    "expanded": u * one.coverage_factor / step,
                    "coverage_factor": one.coverage_factor,
                    "unit": everyone.unit.symbol,
                }
            )
    return found

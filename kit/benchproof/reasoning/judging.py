"""From a criterion and what was observed to the outcome of a prediction."""

from __future__ import annotations

import math

from benchproof.measuring.measurands import Measured
from benchproof.reasoning.budget import Budget
from benchproof.reasoning.decisions import (
    Criterion,
    Outcome,
    conformance_probability,
    decide,
    decide_censored,
)
from benchproof.reasoning.trials import decide_count, shown_interval
from benchproof.reasoning.verdicts import Judged, Prediction
from benchproof.values.errors import InputError
from benchproof.values.quantities import engineering
from benchproof.values.units import Unit, require_same_dimension


def judge_budget(prediction: Prediction, budget: Budget, level: float) -> Judged:
    """Judge a prediction by a value with its uncertainty (JCGM 106:2012, 7)."""
    criterion = prediction.criterion
    _check_unit(criterion, budget.unit)
    probability = conformance_probability(
        budget.value,
        budget.standard_uncertainty,
        criterion.lower,
        criterion.upper,
        budget.degrees_of_freedom,
    )
    detail = f"{budget.result()}, probability {_shown(probability)}"
    return Judged(prediction, decide(probability, level), detail)


def judge_measured(prediction: Prediction, measured: Measured, level: float) -> Judged:
    """Judge a prediction by a count, a censored reading or a missing one."""
    criterion = prediction.criterion
    if measured.status == "count" and measured.count:
        _check_unit(criterion, measured.unit)
        k, n = measured.count
        outcome: Outcome = decide_count(k, n, criterion.lower, criterion.upper, level)
        interval = shown_interval(k, n, level)
        detail = f"{k} of {n}, {100 * level:g} % interval {interval}"
        return Judged(prediction, outcome, detail, measured.count)
    if measured.status == "censored" and measured.bound:
        _check_unit(criterion, measured.unit)
        outcome = decide_censored(measured.bound, criterion.lower, criterion.upper)
        return Judged(prediction, outcome, censored_text(measured))
    return not_measured(prediction)


def not_measured(prediction: Prediction, why: str = "not measured yet") -> Judged:
    """Judge a prediction that nothing bears on yet."""
    return Judged(prediction, "not measured", why)


def censored_text(measured: Measured) -> str:
    """Write a censored reading, e.g. ``> 58.8 MΩ``."""
    sign, limit = measured.bound or ("", math.nan)
    number = measured.unit.from_si(limit)
    scale, symbol = engineering(number, measured.unit.symbol)
    return f"{sign} {number * scale:.4g} {symbol}"


def _check_unit(criterion: Criterion, unit: Unit) -> None:
    try:
        require_same_dimension(criterion.unit, unit, criterion.text)
    except InputError as problem:
        raise InputError(f"prediction on {criterion.quantity}: {problem}") from None


def _shown(probability: float) -> str:
    """Two decimals, but never a 0 or a 1 that the number is not."""
    if probability < 0.005:
        return "< 0.01"
    return "> 0.99" if probability > 0.995 else f"{probability:.2f}"

"""From a criterion and what was observed to the outcome of a prediction."""

from __future__ import annotations

import math
from typing import Literal

from benchproof.measuring.measurands import Measured
from benchproof.reasoning.budgets.bounds import Bounded, decide_bounded
from benchproof.reasoning.budgets.budget import Budget
from benchproof.reasoning.decisions.agreement import agreement, difference_text
from benchproof.reasoning.decisions.guardbands import distance_to_flip
from benchproof.reasoning.decisions.rule import (
    Criterion,
    Outcome,
    conformance_probability,
    decide,
    decide_censored,
    decide_value,
    probability_text,
)
from benchproof.reasoning.decisions.zones import Flip
from benchproof.reasoning.trials import decide_count, shown_interval
from benchproof.reasoning.verdicts import Judged, Prediction
from benchproof.values.errors import InputError
from benchproof.values.quantities import engineering, rounded
from benchproof.values.units import Unit, require_same_dimension


def judge_budget(
    prediction: Prediction,
    budget: Budget,
    level: float,
    drawn: tuple[float, float, float] | None = None,
) -> Judged:
    """Judge a prediction by a value with its uncertainty.

    Parameters
    ----------
    drawn : (float, float, float), optional
        Fraction of Monte Carlo draws below, within and above the limits, where the
        linear result does not hold; they then decide instead of the budget.

    References
    ----------
    JCGM 106:2012, 7 (conformance probability) and 8 (guard bands).
    """
    criterion = prediction.criterion
    require_unit(criterion, budget.unit)
    value, u, dof = (
        budget.value, budget.standard_uncertainty, budget.degrees_of_freedom,
    )  # fmt: skip
    limits = (criterion.lower, criterion.upper)
    if drawn is not None:
        inside = probability_text(drawn[1])
        detail = f"{budget.result()}, Monte Carlo: probability {inside}"
        return Judged(prediction, decide(*drawn, level), detail)
    probability = conformance_probability(value, u, *limits, dof)
    detail = f"{budget.result()}, probability {probability_text(probability)}"
    flip = distance_to_flip(value, u, *limits, dof, level)
    outcome = decide_value(value, u, *limits, dof, level)
    return Judged(prediction, outcome, detail, flips=_flips(flip, budget))


def judge_difference(prediction: Prediction, budget: Budget, level: float) -> Judged:
    """Judge whether two quantities agree, or differ, by the budget of a difference."""
    relation, margin = prediction.criterion.relation, prediction.criterion.margin
    if margin is not None:
        require_unit(prediction.criterion, budget.unit)
    found = agreement(
        budget.value,
        budget.standard_uncertainty,
        budget.degrees_of_freedom,
        margin=margin,
        level=level,
    )
    asked: Literal["agrees", "differs"] = (
        "agrees" if relation == "agrees" else "differs"
    )
    return Judged(
        prediction,
        found.outcome(asked),
        found.sentence(budget.unit),
        flips=_flips(found.flip(asked), budget),
    )


def _flips(flip: Flip | None, budget: Budget) -> str:
    """Say at which measured value the outcome would change, and how far that is."""
    if flip is None:
        return "at no value"
    if not budget.standard_uncertainty:
        return ""
    unit, step = budget.unit, budget.unit.difference()
    u = budget.standard_uncertainty / step.factor
    scale, symbol = engineering(unit.from_si(flip.at), unit.symbol)
    at = rounded(unit.from_si(flip.at) * scale, u * scale)[0]
    away = difference_text(abs(flip.away), unit)
    return f"{flip.becomes} at {at} {symbol}".rstrip() + f", {away} away"


def judge_measured(prediction: Prediction, measured: Measured, level: float) -> Judged:
    """Judge a prediction by a count, a censored reading or a missing one."""
    criterion = prediction.criterion
    if measured.status == "count" and measured.count:
        require_unit(criterion, measured.unit)
        k, n = measured.count
        outcome: Outcome = decide_count(k, n, criterion.lower, criterion.upper, level)
        interval = shown_interval(k, n, level)
        detail = f"{k} of {n}, {100 * level:g} % interval {interval}"
        return Judged(prediction, outcome, detail, measured.count)
    if measured.status == "censored" and measured.bound:
        require_unit(criterion, measured.unit)
        outcome = decide_censored(measured.bound, criterion.lower, criterion.upper)
        return Judged(prediction, outcome, censored_text(measured))
    return not_measured(prediction)


def judge_bounded(prediction: Prediction, bounded: Bounded) -> Judged:
    """Judge a prediction by a derived quantity of which only a bound is known."""
    criterion = prediction.criterion
    require_unit(criterion, bounded.unit)
    outcome = decide_bounded(bounded, criterion.lower, criterion.upper)
    return Judged(prediction, outcome, f"{bounded.text}, {bounded.note}")


def not_measured(prediction: Prediction, why: str = "not measured yet") -> Judged:
    """Judge a prediction that nothing bears on yet."""
    return Judged(prediction, "not measured", why)


def censored_text(measured: Measured) -> str:
    """Write a censored reading, e.g. ``> 58.8 MΩ``."""
    sign, limit = measured.bound or ("", math.nan)
    number = measured.unit.from_si(limit)
    scale, symbol = engineering(number, measured.unit.symbol)
    return f"{sign} {number * scale:.4g} {symbol}"


def require_unit(criterion: Criterion, unit: Unit) -> None:
    """Raise unless the limits have the dimension of the quantity."""
    try:
        require_same_dimension(criterion.unit, unit, criterion.text)
    except InputError as problem:
        raise InputError(f"prediction on {criterion.quantity}: {problem}") from None

"""Guard bands: which measured values would be met, contradicted or neither."""

from __future__ import annotations

import math
from collections.abc import Iterator

from benchproof.reasoning.decisions.rule import (
    Outcome,
    conformance_probability,
    decide_value,
)
from benchproof.reasoning.decisions.zones import Flip, Zones
from benchproof.values.errors import InputError


def guard_band(
    standard_uncertainty: float,
    level: float = 0.95,
    degrees_of_freedom: float = math.inf,
) -> float:
    """Width of the guard band that a one-sided limit needs.

    Parameters
    ----------
    standard_uncertainty : float
        >= 0; the guard band has its unit.
    level : float
        Conformance probability to be reached, at least 0.5 and below 1.
    degrees_of_freedom : float
        Of u, not truncated: the conformance probability does not either.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    JCGM 106:2012, clause 8 (guard bands).

    Examples
    --------
    >>> round(guard_band(0.06), 4)
    0.0987
    """
    _check(standard_uncertainty, level, degrees_of_freedom)
    return standard_uncertainty * _quantile(level, degrees_of_freedom)


def acceptance_limits(
    lower: float,
    upper: float,
    standard_uncertainty: float,
    degrees_of_freedom: float = math.inf,
    level: float = 0.95,
) -> Zones:
    """Find the measured values at which the decision rule changes its outcome.

    Parameters
    ----------
    lower, upper : float
        Tolerance limits in SI; infinite on an open side.
    standard_uncertainty : float
        Same unit, >= 0.
    degrees_of_freedom : float
        Of u.
    level : float
        Conformance probability of the decision rule, at least 0.5 and below 1.

    Returns
    -------
    Zones
        Between the acceptance and the rejection limits lies the undetermined zone.

    Raises
    ------
    InputError
        If the limits are in the wrong order or an argument is out of range.

    References
    ----------
    JCGM 106:2012, clause 8 (acceptance limits, guard bands); clause 7 for the
    probability that two-sided limits share.

    Examples
    --------
    >>> zones = acceptance_limits(8.8, math.inf, 0.06)
    >>> round(zones.accept_lower, 3), round(zones.reject_lower, 3)
    (8.899, 8.701)
    >>> acceptance_limits(4.9, 5.1, 0.06).can_be_met
    False
    """
    if not lower < upper:
        raise InputError(
            f"acceptance_limits: {lower:g} and {upper:g}; the lower limit must lie "
            "below the upper one."
        )
    u, dof = standard_uncertainty, degrees_of_freedom
    _check(u, level, dof)
    width = (upper - lower) / u if u else math.inf
    inward = _band(level, width, dof) * u if u else 0.0
    outward = guard_band(u, level, dof)
    return Zones(
        lower,
        upper,
        lower + inward,
        upper - inward,
        lower - outward,
        upper + outward,
        u,
    )


def _band(probability: float, width: float, dof: float) -> float:
    """How far inside its limit, in u, a value reaches a conformance probability.

    Negative outside the limit; NaN if no value between the limits reaches it.
    """
    alone = _quantile(probability, dof)
    middle = width / 2
    if math.isinf(width):
        return alone

    def lacking(band: float) -> float:
        return conformance_probability(band, 1.0, 0.0, width, dof) - probability

    if not lacking(middle) >= 0:
        return math.nan
    start = min(alone, middle)
    # One side dominates: the other takes nothing a float could hold.
    if lacking(start) > -1e-15:
        return start
    from scipy.optimize import brentq  # lazily: not needed to open a case

    return float(brentq(lacking, start, middle, xtol=1e-14, rtol=1e-14))


def _quantile(probability: float, dof: float) -> float:
    from scipy.special import ndtri, stdtrit

    infinite = math.isinf(dof)
    return float(ndtri(probability) if infinite else stdtrit(dof, probability))


def distance_to_flip(
    value: float,
    standard_uncertainty: float,
    lower: float = -math.inf,
    upper: float = math.inf,
    degrees_of_freedom: float = math.inf,
    level: float = 0.95,
) -> Flip | None:
    """Find the nearest measured value at which the outcome changes.

    Parameters
    ----------
    value, standard_uncertainty : float
        In SI; u stays what it is.
    lower, upper : float
        Tolerance limits; infinite on an open side.
    degrees_of_freedom : float
        Of u.
    level : float
        Of the decision rule, at least 0.5 and below 1.

    Returns
    -------
    Flip or None
        None if no value would change it, for want of limits.

    Raises
    ------
    InputError
        As `acceptance_limits`, or if the value is not finite.

    References
    ----------
    JCGM 106:2012, clause 8.

    Examples
    --------
    >>> flip = distance_to_flip(8.819, 0.06, lower=8.800)
    >>> flip.becomes, round(flip.away, 3)
    ('met', 0.08)
    """
    if not math.isfinite(value):
        raise InputError(f"distance_to_flip: the value is {value}; give a number.")
    u, dof = standard_uncertainty, degrees_of_freedom
    zones = acceptance_limits(lower, upper, u, dof, level)
    now = decide_value(value, u, lower, upper, dof, level)
    return nearest_flip(value, zones, now)


def nearest_flip(value: float, zones: Zones, now: Outcome) -> Flip | None:
    """Return the nearest edge of the zone that a value lies in; None if it has none.

    Parameters
    ----------
    value : float
        In SI.
    zones : Zones
        Of the limits it is held against.
    now : {"met", "contradicted", "undetermined"}
        Its outcome.
    """
    flips = [Flip(at, at - value, becomes) for at, becomes in _edges(zones, now)]
    return min(flips, key=lambda flip: abs(flip.away), default=None)


def _edges(zones: Zones, now: Outcome) -> Iterator[tuple[float, Outcome]]:
    """Each finite edge of the zone an outcome has, and the outcome beyond it."""
    sides = (
        (zones.accept_lower, zones.reject_lower),
        (zones.accept_upper, zones.reject_upper),
    )
    for accept, reject in sides:
        sharp = accept == reject  # no guard band: nothing is undetermined
        if now != "contradicted" and math.isfinite(accept):
            beyond: Outcome = "contradicted" if sharp else "undetermined"
            yield accept, beyond if now == "met" else "met"
        if now != "met" and math.isfinite(reject):
            beyond = "met" if sharp else "undetermined"
            yield reject, beyond if now == "contradicted" else "contradicted"


def false_acceptance_probability(
    guard_band: float,
    standard_uncertainty: float,
    degrees_of_freedom: float = math.inf,
) -> float:
    """Largest probability that an accepted value lies beyond a one-sided limit.

    It is reached by a value measured exactly at the acceptance limit.

    Parameters
    ----------
    guard_band : float
        Distance of the acceptance limit inside the tolerance limit; 0 for none,
        ``r · U`` where it was agreed as a multiple of U.
    standard_uncertainty : float
        Same unit, above 0.
    degrees_of_freedom : float
        Of u.

    Raises
    ------
    InputError
        If u is not above 0 or the guard band is not a number.

    References
    ----------
    JCGM 106:2012, clauses 7 and 8; ILAC-G8:09/2019 tabulates it for multiples of U.

    Examples
    --------
    >>> round(false_acceptance_probability(2 * 0.06, 0.06), 4)
    0.0228
    """
    if not 0 < standard_uncertainty < math.inf or math.isnan(guard_band):
        raise InputError(
            f"false_acceptance_probability: guard band {guard_band}, standard "
            f"uncertainty {standard_uncertainty}; give numbers, u above 0."
        )
    # The lower tail, asked for directly: 1 - p would lose the small ones.
    return conformance_probability(
        0.0,
        standard_uncertainty,
        upper=-guard_band,
        degrees_of_freedom=degrees_of_freedom,
    )


def _check(standard_uncertainty: float, level: float, dof: float) -> None:
    if not (0 <= standard_uncertainty < math.inf and 0.5 <= level < 1 and dof > 0):
        raise InputError(
            f"guard band: standard uncertainty {standard_uncertainty}, level {level}, "
            f"degrees of freedom {dof}; give u >= 0, a level of at least 0.5 and "
            "below 1, and degrees of freedom above 0."
        )

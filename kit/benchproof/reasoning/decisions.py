"""Is a value below a limit? Answered with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

Outcome = Literal["met", "contradicted", "undetermined", "not measured"]
Relation = Literal["below", "above", "within"]


@dataclass(frozen=True, slots=True)
class Criterion:
    """What a prediction says about one quantity; limits in SI.

    Attributes
    ----------
    lower, upper : float
        The permitted interval; infinite on an open side.
    text : str
        As the person wrote it, e.g. ``V_min below 8.80 V``.
    unit : Unit
        In which the limits were written; a plain number for counts.
    """

    quantity: str
    lower: float
    upper: float
    text: str
    unit: Unit = field(default_factory=lambda: unit_of(""))

    def __post_init__(self) -> None:
        if not self.lower < self.upper:
            raise InputError(
                f"{self.text}: the lower limit must lie below the upper one."
            )


def conformance_probability(
    value: float,
    standard_uncertainty: float,
    lower: float = -math.inf,
    upper: float = math.inf,
    degrees_of_freedom: float = math.inf,
) -> float:
    """Probability that the quantity lies between two limits, given a measured value.

    Parameters
    ----------
    value, standard_uncertainty : float
        Same unit as the limits; u >= 0.
    lower, upper : float
        Tolerance limits; infinite for a one-sided one.
    degrees_of_freedom : float
        Of u; a t distribution is used when finite.

    References
    ----------
    JCGM 106:2012, 7.2-7.3.

    Examples
    --------
    >>> round(conformance_probability(8.819, 0.06, lower=8.800), 2)
    0.62
    """
    if not standard_uncertainty >= 0:
        raise InputError(f"standard uncertainty {standard_uncertainty}; give one >= 0.")
    if standard_uncertainty == 0:
        return float(lower <= value <= upper)
    below = _cumulative((upper - value) / standard_uncertainty, degrees_of_freedom)
    outside = _cumulative((lower - value) / standard_uncertainty, degrees_of_freedom)
    return min(max(below - outside, 0.0), 1.0)


def _cumulative(z: float, dof: float) -> float:
    from scipy.special import ndtr, stdtr

    if math.isinf(z):
        return float(z > 0)
    return float(ndtr(z) if math.isinf(dof) else stdtr(dof, z))


def decide(probability: float, level: float = 0.95) -> Outcome:
    """Apply the decision rule: met at `level`, contradicted at 1 - `level`.

    Between the two lies the undetermined zone; it is never rounded away.

    References
    ----------
    JCGM 106:2012, 8.3 (guard bands on both sides, shared symmetrically).

    Examples
    --------
    >>> decide(0.97), decide(0.62), decide(0.01)
    ('met', 'undetermined', 'contradicted')
    """
    if probability >= level:
        return "met"
    return "contradicted" if probability <= 1 - level else "undetermined"


def decide_censored(bound: tuple[str, float], lower: float, upper: float) -> Outcome:
    """Decide on a censored reading, where its bound alone is enough.

    Examples
    --------
    >>> decide_censored((">", 60e6), 1e6, float("inf"))
    'met'
    """
    sign, limit = bound
    if sign == ">":
        if limit >= upper:
            return "contradicted"
        return "met" if limit >= lower and math.isinf(upper) else "undetermined"
    if limit <= lower:
        return "contradicted"
    return "met" if limit <= upper and math.isinf(lower) else "undetermined"

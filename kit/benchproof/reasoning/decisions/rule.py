"""Is a value below a limit? Answered with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

Outcome = Literal["met", "contradicted", "undetermined", "not measured"]
Relation = Literal["below", "above", "within"]
Comparison = Literal["limits", "agrees", "differs"]


@dataclass(frozen=True, slots=True)
class Criterion:
    """What a prediction says about one quantity, or about two; limits in SI.

    Attributes
    ----------
    lower, upper : float
        The permitted interval; infinite on an open side, and on both sides where
        two quantities are compared.
    text : str
        As the person wrote it, e.g. ``V_min below 8.80 V``.
    unit : Unit
        In which the limits were written; a plain number for counts.
    other : str
        The quantity it is compared with, "" where limits are.
    relation : {"limits", "agrees", "differs"}
        Whether the value lies within limits, or how it stands to `other`.
    margin : float or None
        In SI: agrees to within, or differs by more than; None if not declared.

    Raises
    ------
    InputError
        If the limits are in the wrong order, or `other` and `margin` do not fit
        the relation.

    Examples
    --------
    >>> c = Criterion("V_min", 8.8, math.inf, "V_min above 8.80 V", unit_of("V"))
    >>> c.relation, c.other
    ('limits', '')
    """

    quantity: str
    lower: float
    upper: float
    text: str
    unit: Unit = field(default_factory=lambda: unit_of(""))
    other: str = ""
    relation: Comparison = "limits"
    margin: float | None = None

    def __post_init__(self) -> None:
        if not self.lower < self.upper:
            raise InputError(
                f"{self.text}: the lower limit must lie below the upper one."
            )
        if self.relation == "limits":
            self._check_limits()
        else:
            self._check_comparison()

    def _check_limits(self) -> None:
        if self.other or self.margin is not None:
            raise InputError(
                f"{self.text}: limits are given, and another quantity or a margin "
                "too. Write one criterion for each."
            )

    def _check_comparison(self) -> None:
        if self.relation not in ("agrees", "differs"):
            raise InputError(
                f"{self.text}: the relation {self.relation!r} is not known. "
                "Give 'limits', 'agrees' or 'differs'."
            )
        if not self.other or self.other == self.quantity:
            raise InputError(f"{self.text}: name another quantity to compare with.")
        if math.isfinite(self.lower) or math.isfinite(self.upper):
            raise InputError(
                f"{self.text}: two quantities are compared, so give no limits; "
                "a permitted difference is the margin."
            )
        check_margin(self.margin, self.text)


def check_margin(margin: float | None, where: str) -> None:
    """Refuse a margin that is no permitted difference; None is allowed.

    Parameters
    ----------
    margin : float or None
        In SI.
    where : str
        Named in the message.

    Raises
    ------
    InputError
        If the margin is not above 0 and finite.

    Examples
    --------
    >>> check_margin(0.05, "R_1 agrees with R_2")
    """
    if margin is not None and not 0 < margin < math.inf:
        raise InputError(
            f"{where}: the margin is {margin:g}; give a difference above 0, or none."
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
    return max(below - outside, 0.0)


def _cumulative(z: float, dof: float) -> float:
    from scipy.special import ndtr, stdtr

    if math.isinf(z):
        return float(z > 0)
    return float(ndtr(z) if math.isinf(dof) else stdtr(dof, z))


def probability_text(probability: float) -> str:
    """Write a probability with two decimals, but no 0 or 1 that the number is not.

    Examples
    --------
    >>> probability_text(0.6242), probability_text(0.9999)
    ('0.62', '> 0.99')
    """
    if probability < 0.005:
        return "< 0.01"
    return "> 0.99" if probability > 0.995 else f"{probability:.2f}"


def decide(below: float, inside: float, above: float, level: float = 0.95) -> Outcome:
    """Apply the decision rule to the probabilities of lying below, within and above.

    Met where the limits hold the value with `level`, contradicted where one side
    beyond them does. Between lies the undetermined zone; it is never rounded away,
    and a large uncertainty alone contradicts nothing.

    References
    ----------
    JCGM 106:2012, 8.3 (guard bands on both sides of a limit).

    Examples
    --------
    >>> decide(0.03, 0.97, 0.0), decide(0.38, 0.62, 0.0), decide(0.99, 0.01, 0.0)
    ('met', 'undetermined', 'contradicted')
    >>> decide(0.49, 0.02, 0.49)
    'undetermined'
    """
    if inside >= level:
        return "met"
    return "contradicted" if max(below, above) >= level else "undetermined"


def decide_value(
    value: float,
    standard_uncertainty: float,
    lower: float = -math.inf,
    upper: float = math.inf,
    degrees_of_freedom: float = math.inf,
    level: float = 0.95,
) -> Outcome:
    """Decide whether a measured value lies between two limits.

    Parameters
    ----------
    value, standard_uncertainty, lower, upper, degrees_of_freedom
        As for `conformance_probability`.
    level : float
        Of the decision rule.

    Examples
    --------
    >>> decide_value(8.70, 0.04, lower=8.80)
    'contradicted'
    """
    sides = ((-math.inf, lower), (lower, upper), (upper, math.inf))
    below, inside, above = (
        conformance_probability(value, standard_uncertainty, *side, degrees_of_freedom)
        for side in sides
    )
    return decide(below, inside, above, level)


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

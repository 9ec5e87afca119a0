"""Two results that should agree, or should differ: judged by their difference."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from benchproof.reasoning.decisions.guardbands import (
    acceptance_limits,
    nearest_flip,
)
from benchproof.reasoning.decisions.rule import (
    Outcome,
    check_margin,
    conformance_probability,
    decide_value,
    probability_text,
)
from benchproof.reasoning.decisions.zones import Flip, Zones
from benchproof.values.errors import InputError
from benchproof.values.quantities import engineering, shorthand, two_figures
from benchproof.values.units import Unit

AGREES_BELOW = 2.0
"""Differences of less than this many u agree (common practice)."""

DIFFERS_ABOVE = 3.0
"""Differences of more than this many u do not agree (common practice)."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """The difference of two results beside its uncertainty; in SI.

    Attributes
    ----------
    difference, standard_uncertainty : float
        The covariance of the two results is already in u.
    degrees_of_freedom : float
        Of u.
    level : float
        Conformance probability asked for where a margin is declared.
    margin : float or None
        The permitted difference; None if none was declared.
    """

    difference: float
    standard_uncertainty: float
    degrees_of_freedom: float = math.inf
    level: float = 0.95
    margin: float | None = None

    def __post_init__(self) -> None:
        check_margin(self.margin, "agreement")
        u, dof = self.standard_uncertainty, self.degrees_of_freedom
        fits = 0 <= u < math.inf and dof > 0 and 0.5 <= self.level < 1
        if not (fits and math.isfinite(self.difference)):
            raise InputError(
                f"agreement: difference {self.difference}, standard uncertainty {u}, "
                f"degrees of freedom {dof}, level {self.level}; give a number, "
                "u >= 0, degrees of freedom above 0 and a level from 0.5 to 1."
            )

    @property
    def zeta(self) -> float:
        """Size of the difference over its standard uncertainty (ISO 13528)."""
        return _ratio(self.difference, self.standard_uncertainty)

    @property
    def e_n(self) -> float:
        """Size of the difference over its expanded uncertainty, U = 2u (ISO 13528)."""
        return self.zeta / 2

    @property
    def noticeable(self) -> float:
        """Smallest measured difference that does not count as agreement: 2u."""
        return AGREES_BELOW * self.standard_uncertainty

    @property
    def differs_above(self) -> float:
        """Number of u beyond which the two differ: 3, more for few readings.

        With few degrees of freedom, that t quantile that lets as few equal values
        pass for different ones as 3u does where u is well known (0.27 %).
        """
        if math.isinf(self.degrees_of_freedom):
            return DIFFERS_ABOVE
        from scipy.special import ndtr, stdtrit

        return -float(stdtrit(self.degrees_of_freedom, ndtr(-DIFFERS_ABOVE)))

    @property
    def probability_within(self) -> float | None:
        """Probability that the difference is no larger than the margin."""
        if self.margin is None:
            return None
        return conformance_probability(
            self.difference,
            self.standard_uncertainty,
            -self.margin,
            self.margin,
            self.degrees_of_freedom,
        )

    def outcome(self, relation: Literal["agrees", "differs"]) -> Outcome:
        """Judge that the two agree, or that they differ.

        Parameters
        ----------
        relation : {"agrees", "differs"}
            With a margin: to within it, or by more than it.

        Returns
        -------
        {"met", "contradicted", "undetermined"}
            Without a margin, "differs" is met or undetermined: a difference that
            is not seen is not excluded. Declare a margin for both words.

        Raises
        ------
        InputError
            If the relation is neither.
        """
        _check_relation(relation)
        if self.margin is not None:
            agrees = self._agrees()
            return agrees if relation == "agrees" else _OPPOSITE[agrees]
        if self.zeta > self.differs_above:
            return "contradicted" if relation == "agrees" else "met"
        if relation == "agrees" and self.zeta < AGREES_BELOW:
            return "met"
        return "undetermined"

    def flip(self, relation: Literal["agrees", "differs"]) -> Flip | None:
        """Find the nearest measured difference at which the outcome changes.

        Parameters
        ----------
        relation : {"agrees", "differs"}
            As for `outcome`; u stays what it is.

        Returns
        -------
        Flip or None
            None where no difference would change it.

        Raises
        ------
        InputError
            If the relation is neither.
        """
        _check_relation(relation)
        if self.margin is None:
            return self._flip_without_margin(relation)
        flip = nearest_flip(self.difference, self._zones(self.margin), self._agrees())
        if flip is None or relation == "agrees":
            return flip
        return replace(flip, becomes=_OPPOSITE[flip.becomes])

    def _flip_without_margin(self, relation: Literal["agrees", "differs"]) -> Flip:
        size = abs(self.difference)
        edges = [self.differs_above * self.standard_uncertainty]
        if relation == "agrees":
            edges.append(self.noticeable)
        at = min(edges, key=lambda edge: abs(edge - size))
        # A little beyond it; with u = 0 the least float above 0 is beyond.
        outside = max(at * (1 + 1e-9), math.ulp(0.0))
        beyond = at * (1 - 1e-9) if at < size else outside
        becomes = replace(self, difference=beyond).outcome(relation)
        at = math.copysign(at, self.difference)
        return Flip(at, at - self.difference, becomes)

    def _agrees(self) -> Outcome:
        """Judge agreement to within the margin.

        It is contradicted by a difference to one side only: the probabilities of
        both sides together also grow where u is merely large.
        """
        d, u, dof = self.difference, self.standard_uncertainty, self.degrees_of_freedom
        margin = self.margin or 0.0
        return decide_value(d, u, -margin, margin, dof, self.level)

    def _zones(self, margin: float) -> Zones:
        u, dof, level = self.standard_uncertainty, self.degrees_of_freedom, self.level
        return acceptance_limits(-margin, margin, u, dof, level)

    def sentence(self, unit: Unit) -> str:
        """Say the difference, how it compares with u, and what would show.

        Parameters
        ----------
        unit : Unit
            Of the two results, for display.
        """
        step = unit.difference()
        d, u = self.difference / step.factor, self.standard_uncertainty / step.factor
        parts = [f"difference {shorthand(d, u, step.symbol)}"]
        if not u:
            parts.append("exact")
        elif self.margin is None:
            parts.append(f"{self.zeta:.3g} u (E_n = {self.e_n:.3g})")
        if self.margin is not None:
            parts.append(self._within(step))
        if u and self.zeta < AGREES_BELOW:
            seen = difference_text(self.noticeable, step)
            parts.append(
                f"a measured difference of {seen} (2u) would have been noticed"
            )
        return "; ".join(parts)

    def _within(self, step: Unit) -> str:
        within = self.probability_within or 0.0
        shown = probability_text(within)
        margin = difference_text(self.margin or 0.0, step)
        return f"within {margin} with probability {shown}"


_OPPOSITE: dict[Outcome, Outcome] = {
    "met": "contradicted",
    "contradicted": "met",
    "undetermined": "undetermined",
    "not measured": "not measured",
}


def _check_relation(relation: str) -> None:
    if relation not in ("agrees", "differs"):
        raise InputError(
            f"agreement: {relation!r} is not known. Give 'agrees' or 'differs'."
        )


def difference_text(difference: float, unit: Unit) -> str:
    """Write a difference or an uncertainty with two figures and a fitting prefix.

    Parameters
    ----------
    difference : float
        In SI.
    unit : Unit
        Of the quantity; differences of °C are written in K.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> difference_text(0.00042, unit_of("V")), difference_text(1.5, unit_of("degC"))
    ('420 µV', '1.5 K')
    """
    step = unit.difference()
    number = difference / step.factor
    scale, symbol = engineering(number, step.symbol)
    return f"{two_figures(number * scale)} {symbol}".rstrip()


def _ratio(difference: float, uncertainty: float) -> float:
    if difference == 0:
        return 0.0
    return abs(difference) / uncertainty if uncertainty else math.inf


def agreement(
    difference: float,
    standard_uncertainty: float,
    degrees_of_freedom: float = math.inf,
    *,
    margin: float | None = None,
    level: float = 0.95,
) -> Agreement:
    """Compare two results by their difference and its standard uncertainty.

    Parameters
    ----------
    difference, standard_uncertainty : float
        In SI; u of the difference, so that what the two share has cancelled.
    degrees_of_freedom : float
        Of u.
    margin : float or None
        In SI, above 0: a difference that would not matter, declared beforehand.
    level : float
        Conformance probability asked for with a margin, at least 0.5 and below 1.

    Returns
    -------
    Agreement
        Agrees: met below 2u, contradicted above 3u, undetermined between. Differs:
        met above 3u. With a margin the probability that the difference lies within
        it, or beyond it to one side, is held against `level`.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Zeta and E_n: ISO 13528, ISO/IEC 17043. The limits of 2u and 3u are common
    practice. With a margin: JCGM 106:2012, clause 7.

    Examples
    --------
    >>> compared = agreement(0.020, 0.005)
    >>> compared.zeta, compared.e_n, compared.outcome("agrees")
    (4.0, 2.0, 'contradicted')
    >>> agreement(0.020, 0.005, margin=0.05).outcome("agrees")
    'met'
    """
    return Agreement(
        difference, standard_uncertainty, degrees_of_freedom, level, margin
    )


def e_n(
    first: float,
    first_expanded_uncertainty: float,
    second: float,
    second_expanded_uncertainty: float,
) -> float:
    """E_n of two independent results from their expanded uncertainties.

    Parameters
    ----------
    first, second : float
        The two results, in one unit.
    first_expanded_uncertainty, second_expanded_uncertainty : float
        U of each at k = 2, same unit, >= 0. For results that share a source, take
        `agreement` of their difference instead.

    Returns
    -------
    float
        >= 0; up to 1 the two agree.

    Raises
    ------
    InputError
        If an expanded uncertainty is negative or not a number.

    References
    ----------
    ISO 13528, ISO/IEC 17043.

    Examples
    --------
    >>> round(e_n(411, 9, 431, 15), 2)
    1.14
    """
    both = (first_expanded_uncertainty, second_expanded_uncertainty)
    if not all(0 <= expanded < math.inf for expanded in both):
        raise InputError(
            f"e_n: expanded uncertainties {both[0]} and {both[1]}; give both, >= 0."
        )
    return _ratio(first - second, math.hypot(*both))

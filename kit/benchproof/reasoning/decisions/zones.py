"""The measured values at which an outcome changes: the facts, and their words."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchproof.reasoning.decisions.rule import Outcome
from benchproof.values.quantities import engineering, rounded, two_figures
from benchproof.values.units import Unit


@dataclass(frozen=True, slots=True)
class Zones:
    """Measured values at which the outcome changes, u held fixed; all in SI.

    Attributes
    ----------
    lower, upper : float
        Tolerance limits; infinite on an open side.
    accept_lower, accept_upper : float
        Met from here to here; both NaN where no value is met.
    reject_lower, reject_upper : float
        Contradicted below and above.
    standard_uncertainty : float
        The u these hold for.
    """

    lower: float
    upper: float
    accept_lower: float
    accept_upper: float
    reject_lower: float
    reject_upper: float
    standard_uncertainty: float

    @property
    def can_be_met(self) -> bool:
        """Whether any measured value would be met with this u."""
        return not math.isnan(self.accept_lower)

    def sentence(self, unit: Unit) -> str:
        """Say the three zones in words.

        Parameters
        ----------
        unit : Unit
            For display; of the same dimension as the limits.
        """
        if not self.can_be_met:
            return self._too_uncertain(unit)
        met = _interval(self, unit, self.accept_lower, self.accept_upper)
        beyond = _beyond(self, unit)
        return f"met {met}; contradicted {beyond}" if beyond else f"met {met}"

    def _too_uncertain(self, unit: Unit) -> str:
        step = unit.difference()
        u = self.standard_uncertainty / step.factor
        scale, symbol = engineering(u, step.symbol)
        width = (self.upper - self.lower) / step.factor * scale
        why = (
            f"no value would be met: u = {two_figures(u * scale)} {symbol} ".rstrip()
            + f" is too large for limits {width:.3g} {symbol}".rstrip()
            + " apart"
        )
        return f"{why}; contradicted {_beyond(self, unit)}"


def _interval(zones: Zones, unit: Unit, low: float, high: float) -> str:
    if math.isinf(low) and math.isinf(high):
        return "everywhere"
    if math.isinf(low):
        return f"up to {_at(zones, unit, high)}"
    if math.isinf(high):
        return f"from {_at(zones, unit, low)}"
    return f"from {_at(zones, unit, low)} to {_at(zones, unit, high)}"


def _beyond(zones: Zones, unit: Unit) -> str:
    sides = []
    if math.isfinite(zones.reject_lower):
        sides.append(f"below {_at(zones, unit, zones.reject_lower)}")
    if math.isfinite(zones.reject_upper):
        sides.append(f"above {_at(zones, unit, zones.reject_upper)}")
    return " or ".join(sides)


def _at(zones: Zones, unit: Unit, value: float) -> str:
    # Three figures of u: at two, the rounding itself could cross the limit.
    number = unit.from_si(value)
    scale, symbol = engineering(number, unit.symbol)
    u = zones.standard_uncertainty / unit.factor
    return f"{rounded(number * scale, u * scale, 3)[0]} {symbol}".rstrip()


@dataclass(frozen=True, slots=True)
class Flip:
    """The nearest measured value at which an outcome changes; in SI.

    Attributes
    ----------
    at : float
        That value.
    away : float
        ``at - value``, signed.
    becomes : {"met", "contradicted", "undetermined"}
        The outcome beyond it.
    """

    at: float
    away: float
    becomes: Outcome

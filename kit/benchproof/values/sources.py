"""Error sources: what makes a value uncertain, named so that it can be shared."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

Evaluation = Literal["A", "B"]
Distribution = Literal["normal", "t", "rectangular", "triangular", "arcsine"]

DIVISOR: dict[str, float] = {
    "rectangular": math.sqrt(3),
    "triangular": math.sqrt(6),
    "arcsine": math.sqrt(2),
}
"""Half-width over standard deviation. JCGM 100:2008, 4.3.7, 4.3.9; arcsine H.1.3.4."""


@dataclass(frozen=True, slots=True)
class Source:
    """One independent cause of error, in its own natural unit.

    Two quantities that name the same source share its error, so that it cancels
    in their difference and adds in their sum.

    Attributes
    ----------
    name : str
        Stable across runs, e.g. ``handheld · DC V · 60 V · gain``.
    evaluation : {"A", "B"}
        How u was found: from repeats (A) or otherwise (B). JCGM 100:2008, 2.3.2-3.
    distribution : str
        What Monte Carlo draws from.
    standard_uncertainty : float
        In SI; relative (a plain number) for a gain.
    unit : Unit
        For display.
    degrees_of_freedom : float
        Infinite unless known. JCGM 100:2008, G.4.
    instrument : str
        Where it comes from, "" if from none.
    """

    name: str
    evaluation: Evaluation
    distribution: Distribution
    standard_uncertainty: float
    unit: Unit = field(default_factory=lambda: unit_of(""))
    degrees_of_freedom: float = math.inf
    instrument: str = ""

    def __post_init__(self) -> None:
        u, dof = self.standard_uncertainty, self.degrees_of_freedom
        if not (math.isfinite(u) and u >= 0):
            raise InputError(
                f"{self.name}: standard uncertainty {u}; give a finite value >= 0."
            )
        if not dof >= 1:
            raise InputError(f"{self.name}: {dof} degrees of freedom; at least 1.")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with what makes it uncertain, linear in its sources.

    ``error = Σ sensitivity · error of the source``; everything in SI.
    """

    value: float
    parts: tuple[tuple[Source, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Joint:
    """Sources whose errors were observed together and are correlated.

    Attributes
    ----------
    names : tuple of str
        The sources, in the order of the matrix.
    correlation : tuple of tuple of float
        Symmetric, ones on the diagonal, shape (n, n).
    degrees_of_freedom : float
        Sets minus one, or infinite when declared by a person.
    """

    names: tuple[str, ...]
    correlation: tuple[tuple[float, ...], ...]
    degrees_of_freedom: float = math.inf


def half_width_source(
    name: str,
    half_width: float,
    unit: Unit,
    distribution: Distribution = "rectangular",
    instrument: str = "",
) -> Source:
    """Make a Type B source from the half-width of an interval.

    Parameters
    ----------
    name : str
        Quantities that name the same source share its error.
    half_width : float
        In SI, >= 0.
    unit : Unit
        For display.
    distribution : {"rectangular", "triangular", "arcsine"}
    instrument : str
        Where it comes from.

    References
    ----------
    JCGM 100:2008, 4.3.7 (rectangular) and 4.3.9 (triangular).

    Examples
    --------
    >>> s = half_width_source("offset", 0.03, unit_of("V"))
    >>> round(s.standard_uncertainty, 5)
    0.01732
    """
    if not half_width >= 0:
        raise InputError(f"{name}: half-width {half_width}; give a value >= 0.")
    u = half_width / DIVISOR[distribution]
    return Source(name, "B", distribution, u, unit, instrument=instrument)

"""Error sources: what makes a value uncertain, named so that it can be shared."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

Evaluation = Literal["A", "B"]
Distribution = Literal[
    "normal",
    "t",
    "rectangular",
    "triangular",
    "trapezoidal",
    "curvilinear trapezoid",
    "arcsine",
]


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
    shape : float
        Of a trapezoid: its top over its base, 0 to 1. Of a curvilinear trapezoid:
        by how much each limit is uncertain, over the half-width, 0 to 1.
    pool : str
        The name it would share with others of its range, if its independence is an
        assumption (an offset); else "".
    """

    name: str
    evaluation: Evaluation
    distribution: Distribution
    standard_uncertainty: float
    unit: Unit = field(default_factory=lambda: unit_of(""))
    degrees_of_freedom: float = math.inf
    instrument: str = ""
    shape: float = 0.0
    pool: str = ""

    def __post_init__(self) -> None:
        u, dof = self.standard_uncertainty, self.degrees_of_freedom
        if not (math.isfinite(u) and u >= 0):
            raise InputError(
                f"{self.name}: standard uncertainty {u}; give a finite value >= 0."
            )
        if not dof >= 1:
            raise InputError(f"{self.name}: {dof} degrees of freedom; at least 1.")
        if not 0 <= self.shape <= 1:
            raise InputError(f"{self.name}: shape {self.shape}; give 0 to 1.")


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


def half_width_divisor(distribution: Distribution, shape: float = 0.0) -> float:
    """Half-width of an interval over the standard deviation of its distribution.

    Parameters
    ----------
    distribution : str
        Any that has limits: not ``normal`` or ``t``.
    shape : float
        As for `Source`.

    Raises
    ------
    InputError
        For a distribution without limits, or a shape out of range.

    References
    ----------
    JCGM 100:2008, 4.3.7 (rectangular), 4.3.9 (trapezoidal, triangular);
    JCGM 101:2008, 6.4.3.3 (curvilinear trapezoid) and 6.4.6 (arcsine).

    Examples
    --------
    >>> round(half_width_divisor("trapezoidal", 0.5), 4)
    2.1909
    """
    if not 0 <= shape <= 1:
        raise InputError(f"{distribution} of shape {shape}: give 0 to 1.")
    if distribution == "trapezoidal":
        return math.sqrt(6 / (1 + shape**2))
    if distribution == "curvilinear trapezoid":
        return 1 / math.sqrt(1 / 3 + shape**2 / 9)
    squares = {"rectangular": 3, "triangular": 6, "arcsine": 2}
    if distribution not in squares:
        raise InputError(
            f"a {distribution} distribution has no half-width. Use rectangular, "
            "triangular, trapezoidal, curvilinear trapezoid or arcsine."
        )
    return math.sqrt(squares[distribution])


@lru_cache(maxsize=4096)  # each reading of a range brings the same two
def half_width_source(
    name: str,
    half_width: float,
    unit: Unit,
    distribution: Distribution = "rectangular",
    instrument: str = "",
    shape: float = 0.0,
    pool: str = "",
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
    distribution : str
        Any that has limits, see `half_width_divisor`.
    instrument : str
        Where it comes from.
    shape : float
        As for `Source`.

    References
    ----------
    JCGM 100:2008, 4.3.7 and 4.3.9.

    Examples
    --------
    >>> s = half_width_source("offset", 0.03, unit_of("V"))
    >>> round(s.standard_uncertainty, 5)
    0.01732
    """
    if not 0 <= half_width < math.inf:
        raise InputError(f"{name}: half-width {half_width}; give a value >= 0.")
    u = half_width / half_width_divisor(distribution, shape)
    return Source(
        name, "B", distribution, u, unit,
        instrument=instrument, shape=shape, pool=pool,
    )  # fmt: skip

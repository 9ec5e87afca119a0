"""An uncertainty as people and certificates state it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import get_args

from benchproof.values.errors import InputError
from benchproof.values.sources import Distribution, Source, half_width_divisor
from benchproof.values.units import Unit, require_same_dimension, unit_of

_SHAPES: dict[str, Distribution] = {
    "limits": "rectangular",
    "curvilinear": "curvilinear trapezoid",
}
_SHAPES |= {d: d for d in get_args(Distribution) if d not in ("normal", "t")}
_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_WORD = re.compile(
    rf"""k\s*=\s*(?P<k>{_NUMBER})
    | (?P<level>{_NUMBER})\s*%(?:\s*confidence)?
    | (?P<dof>{_NUMBER})\s*(?:degrees\ of\ freedom|dof)
    | (?P<shape>{"|".join(sorted(_SHAPES, key=len, reverse=True))})
      (?:\s+(?P<ratio>{_NUMBER}))?
    | (?P<normal>normal)""",
    re.VERBOSE,
)
WORDS = re.compile(
    rf"\(\s*((?:k\s*=|{_NUMBER}\s*(?:%|d)|normal|{'|'.join(_SHAPES)})[^()]*)\)"
)
"""Finds the words in brackets behind a stated uncertainty; not ``W/(m*K)``."""
_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
CERTIFICATE = re.compile(
    rf"""^(?P<value>.*?)[,;]\s*(?P<which>[uU])\s*=\s*(?P<number>{_NUMBER})
    \s*(?P<unit>[^,;()]*?)\s*(?:[,;]\s*(?P<words>.*?)\s*)?$""",
    re.VERBOSE,
)
"""Finds ``10.00 ohm, U = 0.05 ohm, k = 2``; empty `value` allowed."""


@dataclass(frozen=True, slots=True)
class Statement:
    """A stated uncertainty, in the unit of the value it belongs to.

    Attributes
    ----------
    standard_uncertainty : float
    distribution, shape, degrees_of_freedom
        As for `Source`.
    """

    standard_uncertainty: float
    distribution: Distribution = "normal"
    shape: float = 0.0
    degrees_of_freedom: float = math.inf

    def source(self, name: str, unit: Unit, instrument: str = "") -> Source:
        """Return the Type B source it amounts to; `unit` is that of the value."""
        step = unit.difference()
        return Source(
            name,
            "B",
            self.distribution,
            self.standard_uncertainty * step.factor,
            step,
            self.degrees_of_freedom,
            instrument,
            self.shape,
        )


def unsaid(text: str) -> str:
    """Say how a ± without ``(k=2)`` or ``(limits)`` behind it was taken, else "".

    Parameters
    ----------
    text : str
        As typed, with or without its unit.

    Examples
    --------
    >>> unsaid("12.1 ± 0.2 V")
    '± without (k=…) or (limits): taken as a standard uncertainty'
    >>> unsaid("12.1 ± 0.2 V (limits)"), unsaid("12.1(2) V")
    ('', '')
    """
    if _PLUS_MINUS.search(text) is None or WORDS.search(text):
        return ""
    return "± without (k=…) or (limits): taken as a standard uncertainty"


def statement_from(number: float, words: str, where: str) -> Statement:
    """Understand a stated number and the words in brackets behind it.

    Parameters
    ----------
    number : float
        As stated, >= 0.
    words : str
        Separated by commas: ``k=2`` or ``95 %`` (of a normal distribution, or of t
        with ``18 dof``) make it an expanded uncertainty; ``limits`` (rectangular),
        ``triangular``, ``trapezoidal 0.5`` (top over base), ``curvilinear 0.1``
        (uncertainty of each limit over the half-width) or ``arcsine`` a half-width.
        Without any it is a standard uncertainty.
    where : str
        Named in error messages.

    Raises
    ------
    InputError
        Saying what was understood and what was not.

    References
    ----------
    JCGM 100:2008, 4.3.3 (a multiple), 4.3.4-4.3.5 (a level), 4.3.7-4.3.9 (limits).

    Examples
    --------
    >>> round(statement_from(129, "99 %", "certificate").standard_uncertainty, 1)
    50.1
    """
    if not 0 <= number < math.inf:
        raise InputError(f"{where}: uncertainty {number:g}; give a value >= 0.")
    said = _understood(words, where)
    dof = float(said.get("dof", math.inf))
    if dof < 1:
        raise InputError(f"{where}: {dof:g} degrees of freedom; at least 1.")
    if "shape" in said:
        shape = _SHAPES[said["shape"]]
        ratio = float(said.get("ratio", 0.0))
        u = number / half_width_divisor(shape, ratio)
        return Statement(u, shape, ratio, dof)
    kind: Distribution = "t" if math.isfinite(dof) else "normal"
    return Statement(number / _factor(said, dof, where), kind, 0.0, dof)


def _understood(words: str, where: str) -> dict[str, str]:
    said: dict[str, str] = {}
    for word in filter(None, (w.strip() for w in words.split(","))):
        match = _WORD.fullmatch(word)
        if match is None:
            got = f"understood {', '.join(said.values())}, but not " if said else "not "
            raise InputError(
                f"{where}: {got}{word!r}. Write e.g. 'k=2', '95 %', 'k=2.1, 18 dof', "
                "'limits', 'triangular', 'trapezoidal 0.5' or 'arcsine'."
            )
        said |= {k: v for k, v in match.groupdict().items() if v is not None}
    if "shape" in said and not said.keys().isdisjoint(("k", "level")):
        raise InputError(
            f"{where}: {words!r} gives limits and a coverage factor; give one of them."
        )
    return said


def _factor(said: dict[str, str], dof: float, where: str) -> float:
    if "k" in said:
        if not float(said["k"]) > 0:
            raise InputError(f"{where}: the coverage factor k must be above 0.")
        return float(said["k"])
    if "level" not in said:
        return 1.0
    level = float(said["level"]) / 100
    if not 0 < level < 1:
        raise InputError(f"{where}: {said['level']} %: give a level between 0 and 100.")
    from scipy.special import ndtri, stdtrit  # lazily: few readings state a level

    upper = 0.5 + level / 2
    return float(stdtrit(dof, upper) if math.isfinite(dof) else ndtri(upper))


def certificate(
    match: re.Match[str], value: float, unit: Unit, where: str
) -> tuple[float, str]:
    """Return number, in `unit`, and words of a `CERTIFICATE` match.

    Parameters
    ----------
    value : float
        What a relative uncertainty (%, ppm) refers to.

    Raises
    ------
    InputError
        If U comes without k or level, or in a unit that does not fit.
    """
    words = match["words"] or ""
    if match["which"] == "U" and not re.search(r"k\s*=|%", words):
        raise InputError(
            f"{where}: an expanded uncertainty needs its k or level: "
            f"'U = {match['number']} {match['unit']}, k = 2' (or ', 95 %')."
        )
    number, stated = float(match["number"]), unit_of(match["unit"] or unit.symbol)
    if match["unit"] and not stated.dimension and unit.dimension:
        return number * stated.factor * abs(value), words
    step, stated = unit.difference(), stated.difference()
    require_same_dimension(stated, step, where)
    return number * stated.factor / step.factor, words

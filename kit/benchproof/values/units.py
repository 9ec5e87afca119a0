"""Units at the edge: text in, one dimension check, SI floats inside."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pint

from benchproof.values.errors import UnitError

# pint drops signs it cannot use; a unit with one was meant otherwise.
_WRITTEN = re.compile(r"[\w\s°%·*/^().+\-⁻⁰¹²³⁴-⁹]*")

# A number to a power, a power of a power or a large one is no unit, and working it out
# could take for ever: 9**9**9.
_HEAVY = re.compile(
    r"(?<![^\W\d])\d[\d.]*\s*(?:\*\*|\^)|(?:\*\*|\^)\s*(?:\(.*\(|\(?[+-]?\d{3,})"
    r"|(?:\*\*|\^)\s*\(?[+-]?[\d.]+[eE]"
    r"|\)\s*(?:\*\*|\^).*\)\s*(?:\*\*|\^)"
    r"|[⁰¹²³⁴-⁹]{3,}|\d_\d"
)
_LONGEST = 100

# How a broken power is shown: V/Hz⁰⋅⁵.
_BROKEN = re.compile("⁻?[⁰¹²³⁴-⁹]+⋅[⁰¹²³⁴-⁹]+")
_ON_THE_LINE = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹⋅", "-0123456789.")

_HINTS = {
    "vdc": "write V, and name the meter function with function='DC V'",
    "vac": "write V, and name the meter function with function='AC V'",
    "vrms": "write V, and name the meter function with function='AC V'",
    "dbm": "convert to W first: level units are not added or averaged",
    "db": "write the ratio itself, as a plain number",
    "dbv": "convert to V first: level units are not added or averaged",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as typed, and what turns a number in it into SI.

    Attributes
    ----------
    symbol : str
        How it is shown, e.g. ``mΩ``; empty for a plain number.
    factor, offset : float
        ``si = factor * number + offset``; offset is non-zero only for °C and °F.
    dimension : tuple of (str, float)
        Exponents of the base dimensions, sorted, e.g. ``(("[length]", 1.0),)``.
    """

    symbol: str
    factor: float
    offset: float
    dimension: tuple[tuple[str, float], ...]

    def to_si(self, number: float) -> float:
        """Convert a number in this unit to SI base units."""
        return self.factor * number + self.offset

    def from_si(self, number: float) -> float:
        """Convert a number in SI base units to this unit."""
        return (number - self.offset) / self.factor

    def difference(self) -> Unit:
        """Return the unit of a difference: °C becomes K, others stay."""
        return unit_of("K") if self.offset else self


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """Return the one pint registry everything shares (pint's application registry)."""
    found = pint.application_registry.get()  # type: ignore[no-untyped-call]
    shared: pint.UnitRegistry[Any] = found
    return shared


@lru_cache(maxsize=1024)
def unit_of(text: str) -> Unit:
    """Parse a unit as people type it.

    In a product or quotient a degree is a difference: ``Ω/°C`` is Ω/K and
    ``°C·W`` is K·W. Only °C and °F alone stand for a temperature, with its offset.

    Parameters
    ----------
    text : str
        ``V``, ``mΩ``, ``uA``, ``kohm``, ``°C``, ``V/s``, ``Ω/°C``; empty for a plain
        number.

    Raises
    ------
    UnitError
        If the unit is unknown; the message offers the usual spelling.

    Examples
    --------
    >>> unit_of("kohm").symbol, unit_of("kohm").factor
    ('kΩ', 1000.0)
    >>> unit_of("uA").symbol
    'µA'
    >>> unit_of("ppm/°C").symbol
    'ppm/K'
    """
    cleaned = text.strip().replace("\N{OHM SIGN}", "Ω").replace("μ", "µ")
    cleaned = _on_the_line(cleaned)
    hint = _HINTS.get(cleaned.lower(), "write it like V, mΩ, µA, kΩ, °C or V/s")
    heavy = len(cleaned) > _LONGEST or _HEAVY.search(cleaned)
    if heavy or not _WRITTEN.fullmatch(cleaned):
        raise UnitError(f"unit {text!r} is not known: {hint}.")
    try:
        parsed = registry().parse_units(cleaned)
        offset = registry().Quantity(0.0, parsed).to_base_units().magnitude
        factor = registry().Quantity(1.0, parsed).to_base_units().magnitude - offset
        double = registry().Quantity(2.0, parsed).to_base_units().magnitude - offset
    except Exception as problem:  # pint raises many kinds, tokenizer errors among them
        raise UnitError(f"unit {text!r} is not known: {hint}.") from problem
    linear = math.isclose(double, 2 * factor, rel_tol=1e-9)
    if not (math.isfinite(factor) and factor > 0 and linear):
        raise UnitError(
            f"unit {text!r} is a level, which does not add or average: {hint}."
        )
    symbol = _symbol(parsed)
    # A power of a per cent, or a tiny one, is written as pint cannot read it back.
    odd = re.search("%[⁰¹²³⁴-⁹]|[⁰¹²³⁴-⁹]e", symbol)
    if odd or _HEAVY.search(_on_the_line(symbol)):
        raise UnitError(f"unit {text!r} is not known: {hint}.")
    dimension = _exponents(parsed.dimensionality)
    return Unit(symbol, float(factor), float(offset), dimension)


def _on_the_line(text: str) -> str:
    return _BROKEN.sub(lambda m: f"**{m[0].translate(_ON_THE_LINE)}", text)


def _symbol(parsed: Any) -> str:
    symbol = f"{parsed:~P}".replace("Δ°C", "K")
    if symbol != "Δ°F":  # in a product it is read back as the difference it is
        symbol = symbol.replace("Δ°F", "°F")
    return {"percent": "%"}.get(symbol, symbol)


def _exponents(dimensionality: Mapping[str, Any]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted((name, float(power)) for name, power in dimensionality.items()))


def require_same_dimension(unit: Unit, wanted: Unit, where: str) -> None:
    """Refuse a unit of another dimension, naming the place it was typed.

    Raises
    ------
    UnitError
        If the two units measure different things.
    """
    if unit.dimension != wanted.dimension:
        raise UnitError(
            f"{where}: {unit.symbol or 'a plain number'!r} cannot be converted to "
            f"{wanted.symbol or 'a plain number'!r}. Give a value in "
            f"{wanted.symbol or 'no unit'} or a multiple of it."
        )


def unit_with_dimension(dimension: Mapping[str, float]) -> str:
    """Name the SI unit of a dimension, for error messages.

    Examples
    --------
    >>> unit_with_dimension({"[length]": 1, "[time]": -1})
    'm/s'
    """
    base = {
        "[length]": "m",
        "[mass]": "kg",
        "[time]": "s",
        "[current]": "A",
        "[temperature]": "K",
        "[substance]": "mol",
        "[luminosity]": "cd",
    }
    units = registry().Unit("")
    for name, power in dimension.items():
        units = units * registry().Unit(base[name]) ** power
    return _named(units) or "a plain number"


def _named(units: Any) -> str:
    """Prefer V over kg·m²/A/s³: the common electrical units are tried first."""
    for name in ("V", "A", "Ω", "W", "F", "C", "J", "S", "H", "Hz", "V/s", "A/s"):
        candidate = registry().Unit(name)
        if candidate.dimensionality == units.dimensionality:
            return f"{candidate:~P}"
    return f"{units:~P}"

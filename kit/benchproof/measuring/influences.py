"""What else than its accuracy line makes an instrument's readings uncertain."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values
from benchproof.values.statements import (
    CERTIFICATE,
    WORDS,
    Statement,
    certificate,
    statement_from,
)
from benchproof.values.units import require_same_dimension, unit_of

NAMES = {
    "zero_drift": "zero drift",
    "lead_resistance": "lead resistance",
    "probe_ratio": "probe ratio",
    "time_base": "time base",
}
"""Keys of a function in instruments.toml, and the source's name."""


@dataclass(frozen=True, slots=True)
class Influence:
    """An error that all readings of one function share, beside the accuracy line.

    Attributes
    ----------
    name : str
        One of `NAMES`.
    statement : Statement
        In the function's unit; a fraction of the reading if `relative`.
    """

    name: str
    statement: Statement
    relative: bool = False


def influence_from(name: str, text: str, unit: str, where: str) -> Influence:
    """Read what a person declares about one influence.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    text : str
        ``0.2 ohm`` or ``2 %`` (limits), ``0.1 ohm (triangular)``, or as a
        certificate states it, ``U = 0.05 ohm, k = 2``.
    unit : str
        Of the function it belongs to.

    Raises
    ------
    InputError
        If it is not understood; UnitError if its unit does not fit.

    Examples
    --------
    >>> found = influence_from("zero drift", "0.3 mV", "V", "meter")
    >>> round(found.statement.standard_uncertainty * 1e3, 4)
    0.1732
    """
    where = f"{where}, {name}"
    match = CERTIFICATE.match(f", {text}" if re.match(r"\s*[uU]\s*=", text) else "")
    if match:
        stated = unit_of(match["unit"])
        relative = not stated.dimension and bool(unit_of(unit).dimension)
        number, words = certificate(
            match, 1.0, unit_of("" if relative else unit), where
        )
        return Influence(name, statement_from(number, words, where), relative)
    words = found[1] if (found := WORDS.search(text)) else "limits"
    values = read_values(WORDS.sub(" ", text), where)
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(
            f"{where}: {text!r}: write one limit such as '0.2 {unit}' or '2 %', or "
            f"'U = 0.05 {unit}, k = 2'."
        )
    stated, wanted = unit_of(values[0].unit), unit_of(unit)
    relative = not stated.dimension and bool(wanted.dimension)
    if not relative:
        require_same_dimension(stated, wanted, where)
    step = 1.0 if relative else wanted.difference().factor
    number = values[0].value * stated.difference().factor / step
    return Influence(name, statement_from(number, words, where), relative)


@dataclass(frozen=True, slots=True)
class Temperature:
    """What working outside the reference band adds to an instrument's limits.

    Attributes
    ----------
    per_kelvin : float
        Fraction of the accuracy line (or of the reading) added per kelvin.
    of_reading : bool
        Whether it is a fraction of the reading instead of the accuracy line.
    outside : float or None
        By how many kelvin the ambient lies outside the band; None if not stated.
    text : str
        As declared.
    """

    per_kelvin: float
    of_reading: bool
    outside: float | None
    text: str


_COEFFICIENT = re.compile(
    r"""\s*(?P<number>\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+)\s*
    (?:(?P<line>(?:x|×|\*)?\s*(?:the\s+)?accuracy) | (?P<percent>%) | (?P<ppm>ppm))
    \s*(?:/|per)\s*(?:K|°C)\s*""",
    re.VERBOSE,
)


def temperature_from(table: Mapping[str, Any], where: str) -> Temperature | None:
    """Read ``temperature_coefficient``, ``reference_band`` and ``ambient``.

    Parameters
    ----------
    table : mapping
        Of one function, with what it inherits from its instrument.
        ``temperature_coefficient`` is ``0.1 × accuracy / K``, ``0.01 % / K`` or
        ``50 ppm / K``; ``reference_band`` is ``18 °C to 28 °C``; ``ambient`` is the
        temperature at the bench.

    Returns
    -------
    Temperature or None
        None if no coefficient is declared.

    Raises
    ------
    InputError
        If a text is not understood or the band is missing.

    Examples
    --------
    >>> declared = {"temperature_coefficient": "0.1 × accuracy / K",
    ...             "reference_band": "18 °C to 28 °C", "ambient": "31 °C"}
    >>> round(temperature_from(declared, "meter").outside, 6)
    3.0
    """
    text = str(table.get("temperature_coefficient", ""))
    if not text:
        return None
    match = _COEFFICIENT.fullmatch(text)
    if match is None:
        raise InputError(
            f"{where}: temperature_coefficient {text!r} is not understood. Write "
            "'0.1 × accuracy / K', '0.01 % / K' or '50 ppm / K'."
        )
    scale = 0.01 if match["percent"] else 1e-6 if match["ppm"] else 1.0
    outside = _outside(table, where)
    return Temperature(float(match["number"]) * scale, not match["line"], outside, text)


def _outside(table: Mapping[str, Any], where: str) -> float | None:
    ends = str(table.get("reference_band", "")).split(" to ")
    if len(ends) != 2:
        raise InputError(
            f"{where}: a temperature coefficient needs its reference_band, "
            "e.g. '18 °C to 28 °C'."
        )
    low, high = (_kelvin(end, f"{where}, reference_band") for end in ends)
    if "ambient" not in table:
        return None
    ambient = _kelvin(str(table["ambient"]), f"{where}, ambient")
    return max(low - ambient, ambient - high, 0.0)


def _kelvin(text: str, where: str) -> float:
    values = read_values(text, where)
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(f"{where}: {text!r}: write one temperature such as '23 °C'.")
    unit = unit_of(values[0].unit)
    require_same_dimension(unit, unit_of("K"), where)
    return unit.to_si(values[0].value)

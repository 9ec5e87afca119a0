"""Numbers in the words of results, with the prefix that people would use."""

from __future__ import annotations

import math

from benchproof.values.units import Unit, unit_of

_POWERS = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_PREFIXED = {"V", "A", "Ω", "W", "F", "H", "C", "J", "S", "Hz", "s"}
_OUR_CHOICE = {"s", "Hz"}
"""Units that no author chose: results of these read 12 ms, not 0.012 s."""


def told(si: float, unit: Unit | str, figures: int = 6) -> str:
    """Write a number in SI with its unit, between 1 and 1000 of what fits.

    Parameters
    ----------
    si : float
        In SI.
    unit : Unit or str
        As typed; ``mV`` and ``kV`` give way to the prefix that fits.
    figures : int
        Significant ones, at most.

    Examples
    --------
    >>> told(1e8, "Hz"), told(4e-9, "s"), told(0.03, "V"), told(296.65, "degC")
    ('100 MHz', '4 ns', '30 mV', '23.5 °C')
    """
    unit = unit_of(unit) if isinstance(unit, str) else unit
    base = _base(unit.symbol)
    if not base or not math.isfinite(si):
        return f"{unit.from_si(si):.{figures}g} {unit.symbol}".rstrip()
    number = float(f"{si:.{figures}g}")
    power = _power(number)
    return f"{number / 10.0**power:.{figures}g} {_POWERS[power]}{base}"


def told_difference(si: float, unit: Unit, figures: int = 3) -> str:
    """Write a width, a deviation or a noise: of °C in K.

    Examples
    --------
    >>> told_difference(0.04, unit_of("degC")), told_difference(0.00312, unit_of("V"))
    ('0.04 K', '3.12 mV')
    """
    return told(si, unit.difference(), figures)


def fitting_unit(si: float, unit: Unit) -> Unit:
    """Return the unit in which a result is shown: for times and frequencies what fits.

    Examples
    --------
    >>> fitting_unit(0.010004, unit_of("s")).symbol
    'ms'
    >>> fitting_unit(0.010004, unit_of("V")).symbol
    'V'
    """
    if unit.symbol not in _OUR_CHOICE or not (math.isfinite(si) and si):
        return unit
    return unit_of(_POWERS[_power(si)] + unit.symbol)


def _power(number: float) -> int:
    """Return the power of a thousand, with a prefix, that leaves 1 to 1000."""
    if number == 0:
        return 0
    power = 3 * math.floor(math.log10(abs(number)) / 3 + 1e-12)
    return min(max(power, -12), 9)


def _base(symbol: str) -> str:
    """Return the unit without its prefix, "" for one that takes none."""
    if symbol in _PREFIXED:
        return symbol
    known = symbol[:1] in filter(None, _POWERS.values())
    return symbol[1:] if known and symbol[1:] in _PREFIXED else ""

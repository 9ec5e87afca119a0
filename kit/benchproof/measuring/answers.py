"""What a meter answers, as a reading: number, unit, range, over-range."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from benchproof.measuring.instruments import Function, Range
from benchproof.values.errors import ConnectionFailedError, UnitError
from benchproof.values.units import unit_of

_ANSWER = re.compile(
    r"(?P<number>[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>[^\d\s,;.].*)?"
)
OVER_RANGE = "OL"
"""How a reading above its range is written in the log."""

_OVER_RANGE_WORDS = {"OL", "+OL", "-OL", "INF", "+INF", "-INF", "NINF"}

_INFINITY = 9.9e37
_NO_NUMBER = 9.91e37
"""By a convention of such instruments, which have no words for them; both are
valid numbers, and both could pass for a reading."""


def answered_value(answer: str, unit: str, where: str) -> float:
    """Read the number a meter answered, in the unit of its function.

    Parameters
    ----------
    answer : str
        ``+1.2098E+01``, ``12.098 V``, ``12098 mV``, ``9.9E37``.
    unit : str
        Of the function; an answer without a unit is in it.
    where : str
        Named in error messages.

    Returns
    -------
    float
        Infinite for an over-range, which instruments answer as ±9.9E37.

    Raises
    ------
    ConnectionFailedError
        If it is not one number, in another unit, or 9.91E37, which stands for "not
        a number": an over-range with some, no measurement at all with others.

    Examples
    --------
    >>> answered_value("+1.2098E+01", "V", "meter"), answered_value("9.9E37", "V", "")
    (12.098, inf)
    """
    text = answer.strip()
    if text.upper() in _OVER_RANGE_WORDS:
        return -math.inf if text.upper()[0] in "-N" else math.inf
    match = _ANSWER.fullmatch(text)
    if not match:
        raise ConnectionFailedError(
            f"{where}: answered {answer!r}, which is not one number. Declare a query "
            "whose answer is one, and record by hand meanwhile."
        )
    number = float(match["number"])
    if math.isclose(abs(number), _NO_NUMBER, rel_tol=2e-4):
        raise ConnectionFailedError(
            f"{where}: answered {answer!r}, which stands for 'not a number'. Look at "
            f"its display; if it shows an over-range, record 'OL {unit}' by hand."
        )
    # A little below, for instruments that count in single precision.
    if abs(number) >= _INFINITY * (1 - 1e-6):
        return math.copysign(math.inf, number)
    return _in_unit(number, match["unit"] or "", unit, f"{where}: answered {answer!r}")


def _in_unit(number: float, given: str, unit: str, where: str) -> float:
    if not given:
        return number
    try:
        written = unit_of(given)
    except UnitError as problem:
        raise ConnectionFailedError(f"{where}: {problem}") from None
    if written.dimension != unit_of(unit).dimension:
        raise ConnectionFailedError(
            f"{where}, the function measures {unit}. Set the instrument to it, or "
            "correct the query or the function's unit in instruments.toml."
        )
    return unit_of(unit).from_si(written.to_si(number))


def answered_range(function: Function, answer: str, where: str) -> Range:
    """Find the declared range an instrument says it is on.

    Parameters
    ----------
    answer : str
        The full scale, e.g. ``1.0E+01``; a declared range that ends up to a quarter
        above is the same one, since 10 V ranges often reach to 12 V.

    Raises
    ------
    ConnectionFailedError
        If no declared range fits.

    Examples
    --------
    >>> from benchproof.measuring.instruments import instrument_from
    >>> table = {"unit": "V", "accuracy": "0.1 % + 2 digits", "ranges": ["12.000 V"]}
    >>> meter = instrument_from("meter", {"DC V": table}, "instruments.toml")
    >>> answered_range(meter.functions[0], "+1.0E+01", "meter").label
    '12 V'
    """
    top = answered_value(answer, function.unit, f"{where}, range")
    for candidate in function.ranges:
        if top * (1 - 1e-6) <= candidate.top <= 1.25 * top:
            return candidate
    labels = ", ".join(r.label for r in function.ranges)
    raise ConnectionFailedError(
        f"{where}: it is on the range {top:g} {function.unit}, and {function.name} "
        f"declares {labels}. Declare that range with its accuracy in instruments.toml."
    )


def written_value(value: float, digit: float) -> str:
    """Write a number with the digits a range shows.

    Parameters
    ----------
    value : float
    digit : float
        One last digit, in the same unit; > 0.

    Examples
    --------
    >>> written_value(12.0998734, 0.01), written_value(12.34e6, 1e4)
    ('12.10', '1.234E+7')
    """
    place = Decimal(1).scaleb(round(math.log10(digit)))
    text = str(Decimal(str(value)).quantize(place))
    # Plain where it can be; "1.234E+7" only where zeros would pass for digits read.
    return f"{Decimal(text):f}" if digit <= 1 else text

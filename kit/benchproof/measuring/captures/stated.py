"""A level, a time or a frequency as a caller states it: text with a unit, or SI."""

from __future__ import annotations

import math
import re
from numbers import Real

from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import Unit, require_same_dimension, unit_of

Stated = float | str
"""``"4.50 V"``, or a bare number in SI."""

_TEXT = re.compile(
    r"\s*(?P<number>[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>.*?)\s*"
)


def in_si(
    said: object, unit: Unit | None, where: str, *, difference: bool = False
) -> float:
    """Return what was stated as a number in SI.

    Parameters
    ----------
    said : float or str
        A bare number is in SI, text has its unit.
    unit : Unit or None
        Whose dimension it must have; None for any.
    where : str
        Names the argument in messages, e.g. ``rail.csv, threshold``.
    difference : bool
        Whether it is a width or a step: ``2 degC`` is 2 K then.

    Raises
    ------
    InputError
        If it is no finite number, or text without a unit where one is needed.
    UnitError
        If its unit is unknown, or of another dimension.

    Examples
    --------
    >>> in_si("250 mV", unit_of("V"), "threshold"), in_si(2e-9, unit_of("s"), "skew")
    (0.25, 2e-09)
    >>> in_si("250 ms", unit_of("V"), "threshold")
    Traceback (most recent call last):
    ...
    benchproof.values.errors.UnitError: threshold: 'ms' cannot be converted to 'V'.
    Give a value in V or a multiple of it.
    """
    number, own = number_and_unit(said, where)
    if own is None:
        return number
    if unit is not None and not own.symbol and unit.dimension:
        raise InputError(
            f"{where}: {said!r} has no unit. Write one behind it, {unit.symbol} or a "
            "multiple; a number without quotes is in SI."
        )
    if unit is not None:
        require_same_dimension(own, unit, where)
    return number * own.factor if difference else own.to_si(number)


def number_and_unit(said: object, where: str) -> tuple[float, Unit | None]:
    """Return a number and the unit of its text; None for a bare number, in SI.

    Raises
    ------
    InputError
        If it is no finite number, or its unit is unknown.

    Examples
    --------
    >>> number, unit = number_and_unit("4.7 kohm", "R")
    >>> number, unit.symbol
    (4.7, 'kΩ')
    """
    match = _TEXT.fullmatch(said) if isinstance(said, str) else None
    if isinstance(said, Real) and not isinstance(said, bool):
        number = float(said)
    elif match is not None:
        number = float(match["number"])
    else:
        raise InputError(f"{where}: {said!r} is no number with a unit, like '4 ns'.")
    if not math.isfinite(number):
        raise InputError(f"{where}: {said!r} is not finite. Give a finite number.")
    try:
        return number, None if match is None else unit_of(match["unit"])
    except UnitError as problem:
        raise UnitError(f"{where}: {problem}") from None

"""Preferred values of resistors and capacitors."""

from __future__ import annotations

import math
from typing import Literal

from benchproof.measuring.circuits.limits import demand_positive
from benchproof.values.errors import InputError

Series = Literal["E6", "E12", "E24"]

_E24 = (
    *(1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0),
    *(3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1),
)
_SERIES: dict[str, tuple[float, ...]] = {
    "E6": _E24[::4],
    "E12": _E24[::2],
    "E24": _E24,
}


def preferred_values(series: Series) -> tuple[float, ...]:
    """Return the values of one decade, from 1.0 up.

    They are a table: some differ from the rounded geometric series.

    Parameters
    ----------
    series : {"E6", "E12", "E24"}

    Raises
    ------
    InputError
        If the series is another.

    References
    ----------
    IEC 60063 (from memory, not read).

    Examples
    --------
    >>> preferred_values("E6")
    (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    """
    if series not in _SERIES:
        raise InputError(f"preferred_values: {series!r} is none of E6, E12, E24.")
    return _SERIES[series]


def nearest_preferred(value: float, series: Series = "E24") -> float:
    """Preferred value nearest by ratio, to read a marking from a measurement.

    Parameters
    ----------
    value : float
        Any unit, > 0.
    series : {"E6", "E12", "E24"}

    Raises
    ------
    InputError
        If the value is not > 0 or the series unknown.

    References
    ----------
    IEC 60063 (from memory, not read).

    Examples
    --------
    >>> nearest_preferred(150.4), nearest_preferred(9.8e3), nearest_preferred(0.0465)
    (150.0, 10000.0, 0.047)
    """
    demand_positive("nearest_preferred: value", value)
    decade = math.floor(math.log10(value))
    # Written as decimal text, so that 4.7 times 0.01 is 0.047 and no neighbour of it.
    nearby = [
        float(f"{step}e{power}")
        for power in (decade, decade + 1)
        for step in preferred_values(series)
    ]
    return min(nearby, key=lambda choice: abs(math.log(choice / value)))

"""Wet films and leaks between contacts.

All arguments are SI: m, S/m, Ω, V. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)

STANDARD_CONDUCTIVITY_S_PER_M = 4.2914
"""Of standard seawater, salinity 35, at 15 °C and one atmosphere."""

_AT_TEMPERATURE = (0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9)
_SALINITY_AT_15 = (0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081)
_SALINITY_PER_K = (0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144)
_DAMPING_PER_K = 0.0162


def critical_leak(
    pull_up: Number,
    supply_voltage: Number,
    threshold: Number,
    series_resistance: Number = 0.0,
) -> Number:
    """Leak that pulls an input down to its threshold: ``Rpu Vth/(V - Vth) - Rs``.

    Parameters
    ----------
    pull_up : number
        Rpu, Ω, > 0.
    supply_voltage : number
        V, above the threshold.
    threshold : number
        Vth, measured, or the guaranteed low level for the worst case, V, > 0.
    series_resistance : number
        Rs between input and contact, Ω, >= 0; carries no current into the input.

    Returns
    -------
    number
        Ω; a leak below it is read as low. Below zero: no leak does it.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Voltage divider.

    Examples
    --------
    >>> f"{critical_leak(47e3, 3.3, 1.42, 1e3) / 1e3:.1f} kΩ"
    '34.5 kΩ'
    """
    demand_positive("critical_leak: pull_up", pull_up)
    demand_positive("critical_leak: threshold", threshold)
    demand_not_negative("critical_leak: series_resistance", series_resistance)
    above = supply_voltage - threshold
    remedy = "give a threshold below the supply"
    demand(np.greater(above, 0), "critical_leak: V - Vth", above, remedy)
    return pull_up * threshold / above - series_resistance


def film_resistance(
    length: Number, width: Number, thickness: Number, conductivity: Number
) -> Number:
    """Resistance of an even film between two contacts: ``R = L/(κ w h)``.

    Parameters
    ----------
    length : number
        L, the gap that the current crosses, m, > 0.
    width : number
        w, along the contacts, m, > 0.
    thickness : number
        h, m, > 0.
    conductivity : number
        κ, S/m, > 0, at the film's temperature: about 2 % a kelvin. Measure with 1 kHz
        or more: direct current polarises the film and reads high.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    Ohm's law for a slab.

    Examples
    --------
    >>> f"{film_resistance(1.2e-3, 4e-3, 50e-6, 3.8) / 1e3:.2f} kΩ"
    '1.58 kΩ'
    """
    demand_positive("film_resistance: length", length)
    demand_positive("film_resistance: width", width)
    demand_positive("film_resistance: thickness", thickness)
    demand_positive("film_resistance: conductivity", conductivity)
    return length / (conductivity * width * thickness)


def film_thickness(
    length: Number, width: Number, resistance: Number, conductivity: Number
) -> Number:
    """Thickness of an even film of a resistance: ``h = L/(κ w R)``.

    Parameters
    ----------
    length, width, conductivity : number
        As in `film_resistance`.
    resistance : number
        Ω, > 0; from `critical_leak`, the film that is just enough.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    Ohm's law for a slab.

    Examples
    --------
    >>> f"{film_thickness(1.2e-3, 4e-3, 4.33e3, 3.8) * 1e6:.0f} µm"
    '18 µm'
    """
    demand_positive("film_thickness: length", length)
    demand_positive("film_thickness: width", width)
    demand_positive("film_thickness: resistance", resistance)
    demand_positive("film_thickness: conductivity", conductivity)
    return length / (conductivity * width * resistance)


def seawater_conductivity(salinity: Number, temperature: Number) -> Number:
    """Conductivity of seawater at one atmosphere, in S/m.

    Parameters
    ----------
    salinity : number
        Practical salinity, 2 to 42 (about grams of salt in a kilogram).
    temperature : number
        K, for -2 °C to 35 °C. The scale of 1968 is meant; today's differs by 0.024 %
        of the °C, less than a hundredth of a kelvin here, and is taken for it.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    The published polynomial gives salinity of conductivity; it is solved here by
    Newton's method. Its coefficients hide units, so a derived quantity refuses this
    function: compute it once and declare the result as a constant. Brine that has
    dried down is saltier than 42 and must be measured.

    References
    ----------
    Practical Salinity Scale 1978: Fofonoff and Millard, UNESCO technical papers in
    marine science 44 (1983).

    Examples
    --------
    >>> f"{seawater_conductivity(35.0, 273.15 + 15):.3f} S/m"
    '4.291 S/m'
    """
    celsius = temperature - 273.15
    salty = np.greater_equal(salinity, 2) & np.less_equal(salinity, 42)
    where = "seawater_conductivity: salinity"
    demand(salty, where, salinity, "give 2 to 42; measure other liquids")
    mild = np.greater_equal(celsius, -2.001) & np.less_equal(celsius, 35.001)
    where = "seawater_conductivity: temperature"
    demand(mild, where, temperature, "give kelvin, for -2 °C to 35 °C")
    warmth = (celsius - 15) / (1 + _DAMPING_PER_K * (celsius - 15))
    terms = [
        a + warmth * b for a, b in zip(_SALINITY_AT_15, _SALINITY_PER_K, strict=True)
    ]
    slopes = [i * term for i, term in enumerate(terms)][1:]
    root = np.sqrt(salinity / 35)
    for _ in range(8):
        root = root - (_polynomial(terms, root) - salinity) / _polynomial(slopes, root)
    ratio = root**2 * _polynomial(_AT_TEMPERATURE, celsius)
    return ratio * STANDARD_CONDUCTIVITY_S_PER_M


def _polynomial(coefficients: Number, x: Number) -> Number:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total

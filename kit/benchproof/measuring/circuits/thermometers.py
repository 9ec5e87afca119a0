"""What thermometers read and what is true: infrared and platinum.

All arguments are SI, temperatures in K. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import Number, demand, demand_positive

PLATINUM_A_PER_K = 3.9083e-3
PLATINUM_B_PER_K2 = -5.775e-7
PLATINUM_C_PER_K4 = -4.183e-12
ICE_POINT_K = 273.15


def infrared_temperature(
    reading: Number,
    set_emissivity: Number,
    surface_emissivity: Number,
    surroundings: Number,
) -> Number:
    """Temperature of a surface whose emissivity is not the one that was set.

    ``T⁴ = (εset/ε) Tr⁴ + (1 - εset/ε) Tamb⁴``, grey and over the whole band; an
    instrument of a narrow band does otherwise. For bare metal this is a warning, not
    a measurement: stick tape on or paint it.

    Parameters
    ----------
    reading : number
        Tr, K.
    set_emissivity, surface_emissivity : number
        εset and ε, above 0 and up to 1.
    surroundings : number
        Tamb, what the surface reflects, K, > 0.

    Raises
    ------
    InputError
        If an argument is out of range, or the surface would have to be below 0 K:
        emissivity and reading do not go together then.

    References
    ----------
    Stefan-Boltzmann law, common practice.

    Examples
    --------
    >>> true = infrared_temperature(273.15 + 60, 0.95, 0.30, 273.15 + 23)
    >>> f"{true - 273.15:.0f} °C"
    '113 °C'
    """
    for name, share in (("set", set_emissivity), ("surface", surface_emissivity)):
        within = np.greater(share, 0) & np.less_equal(share, 1)
        where = f"infrared_temperature: {name}_emissivity"
        demand(within, where, share, "give a value above 0 and up to 1")
    demand_positive("infrared_temperature: reading", reading)
    demand_positive("infrared_temperature: surroundings", surroundings)
    ratio = set_emissivity / surface_emissivity
    fourth = ratio * reading**4 + (1 - ratio) * surroundings**4
    remedy = "no surface does that; check emissivity and surroundings"
    demand(np.greater(fourth, 0), "infrared_temperature: T⁴", fourth, remedy)
    return fourth**0.25


def platinum_resistance(temperature: Number, ice_resistance: Number = 100.0) -> Number:
    """Resistance of a platinum thermometer, in the unit of `ice_resistance`.

    ``R0 (1 + A t + B t² + C (t - 100) t³)``, the last term below 0 °C only.

    Parameters
    ----------
    temperature : number
        K, from -200 °C to 850 °C.
    ice_resistance : number
        R0 at 0 °C, Ω, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    IEC 60751, coefficients A, B, C.

    Examples
    --------
    >>> f"{platinum_resistance(273.15 + 100):.2f} Ω"
    '138.51 Ω'
    """
    demand_positive("platinum_resistance: ice_resistance", ice_resistance)
    celsius = temperature - ICE_POINT_K
    known = np.greater_equal(celsius, -200.001) & np.less_equal(celsius, 850.001)
    remedy = "give kelvin, for -200 °C to 850 °C"
    demand(known, "platinum_resistance: temperature", temperature, remedy)
    return ice_resistance * _ratio(celsius)


def platinum_temperature(resistance: Number, ice_resistance: Number = 100.0) -> Number:
    """Temperature of a platinum thermometer, K.

    Parameters
    ----------
    resistance : number
        Ω, without leads (`nulled_resistance`), for -200 °C to 850 °C.
    ice_resistance : number
        R0 at 0 °C, Ω, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    A, B and C hide units, so a derived quantity refuses this function; take
    ``(R/R0 - 1)/A`` there with A declared as a constant, or record kelvin.

    References
    ----------
    IEC 60751, solved by Newton's method.

    Examples
    --------
    >>> f"{platinum_temperature(138.5055) - 273.15:.2f} °C"
    '100.00 °C'
    """
    demand_positive("platinum_temperature: ice_resistance", ice_resistance)
    ratio = resistance / ice_resistance
    known = np.greater_equal(ratio, 0.185) & np.less_equal(ratio, 3.9049)
    remedy = "give R0 and a resistance of -200 °C to 850 °C"
    demand(known, "platinum_temperature: resistance over R0", ratio, remedy)
    celsius = (ratio - 1) / PLATINUM_A_PER_K
    for _ in range(8):
        celsius = celsius - (_ratio(celsius) - ratio) / _slope(celsius)
    return celsius + ICE_POINT_K


def _ratio(t: Number) -> Number:
    cold = PLATINUM_C_PER_K4 * np.less(t, 0)
    quadratic = 1 + PLATINUM_A_PER_K * t + PLATINUM_B_PER_K2 * t**2
    return quadratic + cold * (t - 100) * t**3


def _slope(t: Number) -> Number:
    cold = PLATINUM_C_PER_K4 * np.less(t, 0)
    straight = PLATINUM_A_PER_K + 2 * PLATINUM_B_PER_K2 * t
    return straight + cold * (4 * t**3 - 300 * t**2)

"""Dissipation, rating and temperature rise.

All arguments are SI: W, Ω, s; temperatures in K, where rises are the same in °C.
A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)

COPPER_INFERRED_ZERO_K = 273.15 - 234.5
"""Where the resistance of copper, drawn on straight, would be zero: -234.5 °C."""


def dissipation(
    resistance: Number, mean_current: Number, form_factor: Number = 1.0
) -> Number:
    """Heat in a resistor: ``P = R (F I)²``, R times the mean of i², not of I.

    Parameters
    ----------
    resistance : number
        R, Ω, >= 0.
    mean_current : number
        I, A, as a slow meter shows it.
    form_factor : number
        F, effective value over mean, >= 1; 1 for pure DC. From a trace:
        `benchproof.measuring.circuits.waveforms.form_factor`.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Joule's law.

    Examples
    --------
    >>> f"{dissipation(150.0, 22.9e-3, 1.763**0.5):.4f} W"
    '0.1387 W'
    >>> f"{dissipation(150.0, 22.9e-3):.4f} W, if the ripple is left out"
    '0.0787 W, if the ripple is left out'
    """
    demand_not_negative("dissipation: resistance", resistance)
    possible = np.greater_equal(form_factor, 1)
    remedy = "no waveform has less than 1; give effective value over mean"
    demand(possible, "dissipation: form_factor", form_factor, remedy)
    return resistance * (form_factor * mean_current) ** 2


def dissipation_across(resistance: Number, rms_voltage: Number) -> Number:
    """Heat in a resistor from the voltage across it: ``P = V²/R``.

    Parameters
    ----------
    resistance : number
        R, Ω, > 0.
    rms_voltage : number
        Effective value with the mean included, V; see `total_rms`.

    Raises
    ------
    InputError
        If the resistance is not > 0.

    References
    ----------
    Joule's law.

    Examples
    --------
    >>> f"{dissipation_across(150.1, 5.38) * 1e3:.0f} mW"
    '193 mW'
    """
    demand_positive("dissipation_across: resistance", resistance)
    return rms_voltage**2 / resistance


def derated_power(
    rated_power: Number,
    temperature: Number,
    knee_temperature: Number,
    zero_temperature: Number,
) -> Number:
    """Power a part may turn into heat at a temperature.

    Full up to the knee, then ``P (Tmax - T)/(Tmax - Tknee)``, nothing from Tmax on.

    Parameters
    ----------
    rated_power : number
        P at and below the knee, W, >= 0.
    temperature : number
        T, K: of the air or of the terminals, whichever the maker's curve means; the
        two verdicts differ, so say which with the result.
    knee_temperature, zero_temperature : number
        Tknee (often 343.15 K, 70 °C) and Tmax, K.

    Raises
    ------
    InputError
        If the rating is < 0 or the knee not below the zero.

    References
    ----------
    IEC 60115-1 (cited second-hand, not read).

    Examples
    --------
    >>> allowed = derated_power(0.25, 273.15 + 96, 273.15 + 70, 273.15 + 155)
    >>> f"{allowed:.4f} W"
    '0.1735 W'
    """
    demand_not_negative("derated_power: rated_power", rated_power)
    span = zero_temperature - knee_temperature
    where = "derated_power: zero_temperature - knee_temperature"
    demand(np.greater(span, 0), where, span, "the knee lies below the zero; swap them")
    share = (zero_temperature - temperature) / span
    return rated_power * np.minimum(np.maximum(share, 0.0), 1.0)


def temperature_rise(thermal_resistance: Number, power: Number) -> Number:
    """Settled rise above the surroundings: ``ΔT = Rth P``.

    Parameters
    ----------
    thermal_resistance : number
        Rth, K/W, >= 0; belongs to one mounting and one draught.
    power : number
        P, W.

    Raises
    ------
    InputError
        If the thermal resistance is < 0.

    References
    ----------
    Definition of thermal resistance.

    Examples
    --------
    >>> f"{temperature_rise(230.0, 0.1962):.1f} K"
    '45.1 K'
    """
    demand_not_negative("temperature_rise: thermal_resistance", thermal_resistance)
    return thermal_resistance * power


def temperature_rise_at(
    time: Number, settled_rise: Number, time_constant: Number
) -> Number:
    """Rise after a time from cold: ``ΔT (1 - e^(-t/τ))``.

    Parameters
    ----------
    time : number
        t since the heat came on, s, >= 0.
    settled_rise : number
        ΔT after long, K.
    time_constant : number
        τ, s, > 0; a part on a board has more than one.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole response.

    Examples
    --------
    >>> f"{temperature_rise_at(10 * 60, 45.1, 7.5 * 60):.1f} K"
    '33.2 K'
    """
    demand_not_negative("temperature_rise_at: time", time)
    demand_positive("temperature_rise_at: time_constant", time_constant)
    return settled_rise * (1 - np.exp(-time / time_constant))


def final_temperature(first: Number, second: Number, third: Number) -> Number:
    """Where a warming goes, from three equally spaced temperatures.

    ``T∞ = (T2² - T1 T3)/(2 T2 - T1 - T3)``, for one time constant and surroundings
    that stay as they are. It magnifies: look at its budget before quoting it.

    Parameters
    ----------
    first, second, third : number
        T1 < T2 < T3 at equal time steps, all K or all °C, with the second step
        smaller than the first.

    Raises
    ------
    InputError
        If the temperatures do not rise in shrinking steps.

    References
    ----------
    Geometric series of the steps.

    Examples
    --------
    >>> f"{final_temperature(46.2, 57.5, 63.3):.1f} °C"
    '69.4 °C'
    """
    _demand_settling("final_temperature", first, second, third)
    # As T3 + what is left: no difference of large squares, so K is as exact as °C.
    early, late = second - first, third - second
    return third + late**2 / (early - late)


def thermal_time_constant(
    first: Number, second: Number, third: Number, step: Number
) -> Number:
    """Time constant of a warming: ``τ = Δt/ln((T2 - T1)/(T3 - T2))``.

    Parameters
    ----------
    first, second, third : number
        As in `final_temperature`.
    step : number
        Δt between them, s, > 0.

    Raises
    ------
    InputError
        If the temperatures do not rise in shrinking steps or Δt is not > 0.

    References
    ----------
    Geometric series of the steps.

    Examples
    --------
    >>> f"{thermal_time_constant(46.2, 57.5, 63.3, 300.0) / 60:.1f} min"
    '7.5 min'
    """
    demand_positive("thermal_time_constant: step", step)
    _demand_settling("thermal_time_constant", first, second, third)
    return step / np.log((second - first) / (third - second))


def winding_rise(
    cold_resistance: Number,
    hot_resistance: Number,
    cold_temperature: Number,
    hot_ambient: Number,
    inferred_zero: Number = COPPER_INFERRED_ZERO_K,
) -> Number:
    """Rise of a winding above the air, from its resistance.

    ``Δt = (R2 - R1)/R1 (T1 - T∗) - (T2 - T1)``; T∗ is -234.5 °C for copper.

    Parameters
    ----------
    cold_resistance, hot_resistance : number
        R1 and R2, Ω, R1 > 0; R2 right after switching off.
    cold_temperature : number
        T1 of winding and air at the cold reading, K.
    hot_ambient : number
        T2 of the air at the hot reading, K.
    inferred_zero : number
        T∗, K. In a derived quantity declare it as a constant and pass it.

    Raises
    ------
    InputError
        If R1 is not > 0 or the cold temperature not above T∗.

    References
    ----------
    IEC 60335-1, winding method (cited second-hand, not read).

    Examples
    --------
    >>> f"{winding_rise(10.8, 12.6, 273.15 + 22, 273.15 + 23):.2f} K"
    '41.75 K'
    """
    demand_positive("winding_rise: cold_resistance", cold_resistance)
    warm = np.greater(cold_temperature, inferred_zero)
    remedy = "it is below the inferred zero; give kelvin"
    demand(warm, "winding_rise: cold_temperature", cold_temperature, remedy)
    growth = (hot_resistance - cold_resistance) / cold_resistance
    return growth * (cold_temperature - inferred_zero) - (
        hot_ambient - cold_temperature
    )


def _demand_settling(where: str, first: Number, second: Number, third: Number) -> None:
    early, late = second - first, third - second
    remedy = "give three that rise in shrinking steps, or wait: it is not settling yet"
    demand(np.greater(late, 0), f"{where}: T3 - T2", late, remedy)
    less = early - late
    demand(np.greater(less, 0), f"{where}: (T2 - T1) - (T3 - T2)", less, remedy)

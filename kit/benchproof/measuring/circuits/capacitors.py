"""Capacitors: stored energy, bleeding, and how long they hold a rail up.

All arguments are SI. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import Number, demand, demand_positive


def stored_energy(capacitance: Number, voltage: Number) -> Number:
    """Energy in a capacitor: ``E = ½ C V²``, in J.

    Parameters
    ----------
    capacitance : number
        C, F, > 0.
    voltage : number
        V.

    Raises
    ------
    InputError
        If the capacitance is not > 0.

    References
    ----------
    Electrostatics.

    Examples
    --------
    >>> f"{stored_energy(1000e-6, 19.0) * 1e3:.1f} mJ"
    '180.5 mJ'
    """
    demand_positive("stored_energy: capacitance", capacitance)
    return capacitance * voltage**2 / 2


def bleed_time(
    resistance: Number, capacitance: Number, start_voltage: Number, safe_voltage: Number
) -> Number:
    """Time a bleeder needs to a safe voltage: ``t = R C ln(V0/Vs)``.

    Measure afterwards all the same: dielectrics recover some charge.

    Parameters
    ----------
    resistance : number
        R, Ω, > 0; it turns V0²/R into heat at first.
    capacitance : number
        C, F, > 0.
    start_voltage, safe_voltage : number
        V0 and Vs, V; V0 >= Vs > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole decay.

    Examples
    --------
    >>> f"{bleed_time(1e3, 1000e-6, 19.0, 1.0):.2f} s"
    '2.94 s'
    """
    demand_positive("bleed_time: resistance", resistance)
    demand_positive("bleed_time: capacitance", capacitance)
    _demand_fall("bleed_time", start_voltage, safe_voltage)
    demand_positive("bleed_time: safe_voltage", safe_voltage)
    return resistance * capacitance * np.log(start_voltage / safe_voltage)


def hold_up_at_constant_current(
    capacitance: Number, start_voltage: Number, end_voltage: Number, current: Number
) -> Number:
    """Time a capacitor feeds a constant current: ``t = C (V0 - V1)/I``.

    Parameters
    ----------
    capacitance : number
        C, F, > 0.
    start_voltage, end_voltage : number
        V0 and V1, V; V0 >= V1.
    current : number
        I, A, > 0: what the load takes beyond the supply.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> f"{hold_up_at_constant_current(2200e-6, 11.0, 8.8, 1.35) * 1e3:.2f} ms"
    '3.59 ms'
    """
    demand_positive("hold_up_at_constant_current: capacitance", capacitance)
    demand_positive("hold_up_at_constant_current: current", current)
    _demand_fall("hold_up_at_constant_current", start_voltage, end_voltage)
    return capacitance * (start_voltage - end_voltage) / current


def hold_up_at_constant_power(
    capacitance: Number, start_voltage: Number, end_voltage: Number, power: Number
) -> Number:
    """Time a capacitor feeds a converter: ``t = C (V0² - V1²)/(2 P)``.

    Parameters
    ----------
    capacitance : number
        C, F, > 0.
    start_voltage, end_voltage : number
        V0 and V1, V; V0 >= V1 >= 0.
    power : number
        P at the converter's input, W, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Energy balance.

    Examples
    --------
    >>> f"{hold_up_at_constant_power(2200e-6, 11.0, 8.8, 15.0) * 1e3:.2f} ms"
    '3.19 ms'
    """
    demand_positive("hold_up_at_constant_power: capacitance", capacitance)
    demand_positive("hold_up_at_constant_power: power", power)
    _demand_fall("hold_up_at_constant_power", start_voltage, end_voltage)
    sound = np.greater_equal(end_voltage, 0)
    where = "hold_up_at_constant_power: end_voltage"
    demand(sound, where, end_voltage, "give a value >= 0")
    return capacitance * (start_voltage**2 - end_voltage**2) / (2 * power)


def _demand_fall(where: str, start_voltage: Number, end_voltage: Number) -> None:
    falls = np.greater_equal(start_voltage, end_voltage)
    remedy = "it is below the voltage at the end; give the higher one first"
    demand(falls, f"{where}: start_voltage", start_voltage, remedy)

"""What a handheld meter does to the circuit, and the way back.

All arguments are SI: V, A, Ω. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)


def unloaded_voltage(
    reading: Number, source_resistance: Number, input_resistance: Number
) -> Number:
    """Voltage of a node before the voltmeter loaded it: ``V = Vm (1 + Rs/Rin)``.

    Parameters
    ----------
    reading : number
        Vm, what the meter shows, V.
    source_resistance : number
        Rs, Thévenin resistance of the node, Ω, >= 0; assumed linear. A node that
        nothing drives has none: its reading belongs to the meter, not to the device.
    input_resistance : number
        Rin, of the meter with its probe, Ω, > 0.

    Raises
    ------
    InputError
        If a resistance is out of range.

    References
    ----------
    Voltage divider; published worked example in the tests.

    Examples
    --------
    >>> f"{unloaded_voltage(3.267, 101e3, 10e6):.4f} V"
    '3.3000 V'
    """
    remedy = "give a source >= 0 and an input resistance > 0"
    sound = np.greater_equal(source_resistance, 0)
    demand(sound, "unloaded_voltage: source_resistance", source_resistance, remedy)
    sound = np.greater(input_resistance, 0)
    demand(sound, "unloaded_voltage: input_resistance", input_resistance, remedy)
    return reading * (1 + source_resistance / input_resistance)


def loaded_reading(
    voltage: Number, source_resistance: Number, input_resistance: Number
) -> Number:
    """Return what a voltmeter will show: ``Vm = V Rin/(Rs + Rin)``.

    Parameters
    ----------
    voltage : number
        Of the node without the meter, V.
    source_resistance, input_resistance : number
        As in `unloaded_voltage`, Ω.

    Raises
    ------
    InputError
        If the source is < 0 or the input resistance not > 0.

    References
    ----------
    Voltage divider.

    Examples
    --------
    >>> f"{loaded_reading(3.3, 101e3, 10e6):.3f} V"
    '3.267 V'
    """
    demand_not_negative("loaded_reading: source_resistance", source_resistance)
    demand_positive("loaded_reading: input_resistance", input_resistance)
    return voltage * input_resistance / (source_resistance + input_resistance)


def burden_voltage(
    current: Number, burden_resistance: Number, supply_voltage: Number = np.inf
) -> Number:
    """Voltage an ammeter takes from the device: ``Vb = I Rb``.

    Parameters
    ----------
    current : number
        A; the largest the device takes, not the mean.
    burden_resistance : number
        Rb, Ω, >= 0: shunt, fuse and leads of that range.
    supply_voltage : number, optional
        V. Given, a burden that would take all of it is refused: no such current
        flowed, and the device was not working as it does without the meter.

    Raises
    ------
    InputError
        If the burden is < 0, or takes the whole supply.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> f"{burden_voltage(38e-3, 1.8, 3.0) * 1e3:.1f} mV"
    '68.4 mV'
    >>> burden_voltage(38e-3, 100.0, 3.0)
    Traceback (most recent call last):
    ...
    benchproof.values.errors.InputError: burden_voltage: the burden is 3.8; it takes
    the whole supply, so the reading is not one of this device. Use a range of lower
    burden, or a shunt or capacitor method.
    """
    demand_not_negative("burden_voltage: burden_resistance", burden_resistance)
    burden = current * burden_resistance
    remedy = (
        "it takes the whole supply, so the reading is not one of this device. "
        "Use a range of lower burden, or a shunt or capacitor method"
    )
    demand(
        np.less(burden, supply_voltage), "burden_voltage: the burden", burden, remedy
    )
    return burden


def unburdened_current(
    reading: Number, burden_resistance: Number, source_resistance: Number
) -> Number:
    """Return the current before the ammeter was put in: ``I0 = Im (1 + Rb/Rs)``.

    Parameters
    ----------
    reading : number
        Im, A.
    burden_resistance : number
        Rb, Ω, >= 0.
    source_resistance : number
        Rs, all other resistance of the loop, Ω, > 0.

    Raises
    ------
    InputError
        If a resistance is out of range.

    Notes
    -----
    Holds only for a linear source and load, and if the device stayed in the same
    state: look at `burden_voltage` first.

    References
    ----------
    Ohm's law for the loop.

    Examples
    --------
    >>> f"{unburdened_current(9.0e-3, 100.0, 900.0) * 1e3:.2f} mA"
    '10.00 mA'
    """
    demand_not_negative("unburdened_current: burden_resistance", burden_resistance)
    demand_positive("unburdened_current: source_resistance", source_resistance)
    return reading * (1 + burden_resistance / source_resistance)


def loop_residual(total: Number, *drops: Number) -> Number:
    """Return what is left of a voltage after its series drops; zero if all is seen.

    Parameters
    ----------
    total, *drops : number
        V, in one state of the device. Its own uncertainty, with the gain shared by
        readings of one range, says whether the residual is telling.

    References
    ----------
    Kirchhoff's voltage law.

    Examples
    --------
    >>> f"{loop_residual(12.10, 11.39, 0.55, 0.15) * 1e3:.0f} mV"
    '10 mV'
    """
    return total - sum(drops)

"""Loads, and where their curve meets the supply's.

All arguments are SI. A float, a complex step or an array of draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)


def led_string_current(
    voltage: Number,
    diodes: Number,
    knee_voltage: Number,
    resistance: Number,
    diode_resistance: Number = 0.0,
) -> Number:
    """Return the current of LEDs and a resistor in series: ``(V - n V0)/(R + n rd)``.

    Parameters
    ----------
    voltage : number
        V, across the string.
    diodes : number
        n.
    knee_voltage : number
        V0 of one LED, V: where its straight line meets no current.
    resistance : number
        R, Ω, >= 0.
    diode_resistance : number
        rd of one LED, Ω, >= 0.

    Returns
    -------
    number
        A; zero where the voltage is below all the knees.

    Raises
    ------
    InputError
        If a resistance is < 0 or all are zero.

    References
    ----------
    Piecewise straight diode, common practice.

    Examples
    --------
    >>> f"{led_string_current(14.855, 3, 2.80, 150.0, 10.0) * 1e3:.2f} mA"
    '35.86 mA'
    """
    demand_not_negative("led_string_current: resistance", resistance)
    demand_not_negative("led_string_current: diode_resistance", diode_resistance)
    total = resistance + diodes * diode_resistance
    demand_positive("led_string_current: resistance of the string", total)
    return np.maximum(voltage - diodes * knee_voltage, 0.0) / total


def led_string_sensitivity(
    voltage: Number, diodes: Number, knee_voltage: Number
) -> Number:
    """Return how many per cent a string's current moves per cent of voltage.

    ``(dI/I)/(dV/V) = V/(V - n V0)``.

    Parameters
    ----------
    voltage, diodes, knee_voltage : number
        As in `led_string_current`; the voltage above all the knees.

    Raises
    ------
    InputError
        If the string does not conduct.

    References
    ----------
    Derivative of `led_string_current`.

    Examples
    --------
    >>> f"{led_string_sensitivity(14.855, 3, 2.80):.2f}"
    '2.30'
    """
    above = voltage - diodes * knee_voltage
    remedy = "the string does not conduct; give a voltage above all its knees"
    demand(np.greater(above, 0), "led_string_sensitivity: V - n V0", above, remedy)
    return voltage / above


def constant_power_limit(no_load_voltage: Number, source_resistance: Number) -> Number:
    """Largest power a source can give: ``V0²/(4 Rs)``, in W.

    Parameters
    ----------
    no_load_voltage : number
        V0, V.
    source_resistance : number
        Rs, Ω, > 0.

    Raises
    ------
    InputError
        If the resistance is not > 0.

    References
    ----------
    Maximum power theorem.

    Examples
    --------
    >>> constant_power_limit(12.0, 0.5)
    72.0
    """
    demand_positive("constant_power_limit: source_resistance", source_resistance)
    return no_load_voltage**2 / (4 * source_resistance)


def constant_power_voltage(
    no_load_voltage: Number, source_resistance: Number, power: Number
) -> Number:
    """Voltage at a converter fed through a resistance: ``(V0 + √(V0² - 4 P Rs))/2``.

    The upper of two solutions; the lower is not stable.

    Parameters
    ----------
    no_load_voltage : number
        V0, V, > 0.
    source_resistance : number
        Rs, Ω, > 0.
    power : number
        P at the converter's input, W, >= 0 and up to `constant_power_limit`.

    Raises
    ------
    InputError
        If the power is beyond the limit: the voltage collapses, there is none.

    References
    ----------
    Quadratic equation of source and load.

    Examples
    --------
    >>> f"{constant_power_voltage(12.0, 0.5, 30.0):.2f} V"
    '10.58 V'
    >>> constant_power_voltage(12.0, 0.5, 73.0)
    Traceback (most recent call last):
    ...
    benchproof.values.errors.InputError: constant_power_voltage: power is 73; the
    source gives V0²/(4 Rs) = 72 W at most, so the voltage collapses. Give less power
    or a lower source resistance.
    """
    demand_positive("constant_power_voltage: no_load_voltage", no_load_voltage)
    demand_not_negative("constant_power_voltage: power", power)
    limit = constant_power_limit(no_load_voltage, source_resistance)
    reached = np.less_equal(power, limit)
    remedy = (
        f"the source gives V0²/(4 Rs) = {np.ravel(limit)[0]:.4g} W at most, so the "
        "voltage collapses. Give less power or a lower source resistance"
    )
    demand(reached, "constant_power_voltage: power", power, remedy)
    inner = no_load_voltage**2 - 4 * power * source_resistance
    return (no_load_voltage + np.sqrt(inner)) / 2


def operating_voltage(
    load_current: Callable[[Number], Number],
    no_load_voltage: Number,
    source_resistance: Number,
) -> Number:
    """Voltage where a straight supply line meets a load: ``V = V0 - Rs I(V)``.

    Parameters
    ----------
    load_current : callable
        I(V) in A of V in V, elementwise, defined from 0 to V0, not negative there
        and falling nowhere: then there is one solution. A converter's constant power
        falls: use `constant_power_voltage`; a bent supply, `operating_points`.
    no_load_voltage : number
        V0, V, > 0.
    source_resistance : number
        Rs, Ω, > 0.

    Raises
    ------
    InputError
        If an argument is out of range, or no solution lies between 0 V and V0.

    References
    ----------
    Load line, common practice.

    Examples
    --------
    >>> def strip(v):
    ...     return led_string_current(v, 3, 2.80, 150.0 / 12, 10.0 / 12)
    >>> f"{operating_voltage(strip, 17.91, 6.78):.2f} V"
    '14.95 V'
    """
    demand_positive("operating_voltage: no_load_voltage", no_load_voltage)
    demand_positive("operating_voltage: source_resistance", source_resistance)

    def surplus(voltage: Number) -> Number:
        return no_load_voltage - source_resistance * load_current(voltage) - voltage

    first, last = surplus(0.0 * no_load_voltage), surplus(no_load_voltage)
    remedy = "the line and the load do not meet between 0 V and V0; check the load"
    met = np.greater_equal(first, 0) & np.less_equal(last, 0)
    demand(met, "operating_voltage: the surplus at 0 V", first, remedy)
    # Halving takes all draws of an array at once, which a solver of one number does
    # not; the share of V0 stays real, so a complex step arrives by the last line.
    share: Number = 0.0
    for halving in range(1, 54):
        middle = share + 0.5**halving
        share = share + 0.5**halving * np.greater(surplus(middle * no_load_voltage), 0)
    voltage = share * no_load_voltage
    small = 1e-6 * no_load_voltage
    slope = (surplus(voltage + small) - surplus(voltage - small)) / (2 * small)
    return voltage - surplus(voltage) / slope


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where supply and load meet; `stable` if a small disturbance dies out.

    Attributes
    ----------
    voltage, current : float
        V and A.
    stable : bool
        Whether the load's current rises faster with voltage than the supply's, so
        that a capacitor across both returns to this point.

    Examples
    --------
    >>> OperatingPoint(11.4, 2.65, stable=True).voltage
    11.4
    """

    voltage: float
    current: float
    stable: bool


def operating_points(
    supply_current: Callable[[float], float],
    load_current: Callable[[float], float],
    highest_voltage: float,
    steps: int = 2000,
) -> tuple[OperatingPoint, ...]:
    """Find every point where the curves of a supply and a load cross.

    A supply that folds back can start into a load and hang at a low voltage although
    it also has a point at the full one: both are stable, with an unstable between.

    Parameters
    ----------
    supply_current, load_current : callable
        Current in A of the voltage in V. Real loads take nothing at 0 V; one that
        is said to take a constant current there hides the point a supply hangs at.
    highest_voltage : float
        End of the search from 0 V, V, > 0: a little above the no-load voltage.
    steps : int
        Crossings nearer to each other than ``highest_voltage/steps`` may be missed.

    Raises
    ------
    InputError
        If the voltage or the steps are not > 0.

    References
    ----------
    Load line, common practice.

    Examples
    --------
    >>> from benchproof.measuring.circuits.supplies import supply_current
    >>> def brick(v):
    ...     return supply_current(v, 12.0, 0.1, 4.0, 1.0)
    >>> def motor(v):
    ...     return 2.5 * v / (v + 1.0)
    >>> for point in operating_points(brick, motor, 12.5):
    ...     print(f"{point.voltage:.2f} V, {point.current:.2f} A, {point.stable}")
    1.00 V, 1.25 A, True
    4.00 V, 2.00 A, False
    11.77 V, 2.30 A, True
    """
    from scipy.optimize import brentq

    demand_positive("operating_points: highest_voltage", highest_voltage)
    demand_positive("operating_points: steps", steps)

    def surplus(voltage: float) -> float:
        return float(supply_current(voltage) - load_current(voltage))

    grid = [highest_voltage * i / steps for i in range(steps + 1)]
    heights = [surplus(voltage) for voltage in grid]
    found = []
    for i in range(steps):
        here, right = heights[i], heights[i + 1]
        if here * right < 0 or here == 0.0:
            on_grid = here == 0.0
            voltage = grid[i] if on_grid else float(brentq(surplus, *grid[i : i + 2]))
            # At 0 V there is nothing to the left: what cannot fall further is held.
            left = (heights[i - 1] if i else 1.0) if on_grid else here
            current = float(load_current(voltage))
            found.append(OperatingPoint(voltage, current, left > 0 > right))
    return tuple(found)

"""Supplies: source resistance, current limit, foldback, hiccup and ripple.

All arguments are SI. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)


def source_resistance(
    voltage_light: Number,
    voltage_heavy: Number,
    current_light: Number,
    current_heavy: Number,
) -> Number:
    """Source resistance from two loads: ``Rs = (V0 - V1)/(I1 - I0)``.

    Parameters
    ----------
    voltage_light, voltage_heavy : number
        V0 and V1, at the lighter and heavier load, V; on one range, so that the
        gain is shared.
    current_light, current_heavy : number
        I0 and I1, A; I1 > I0. An idle current of zero is a current too.

    Raises
    ------
    InputError
        If the currents are not in that order.

    See Also
    --------
    benchproof.line_slope : Three loads or more, inside a derived quantity: Rs is minus
        the slope of voltage on current.
    benchproof.fit_line : The same with residuals. Look at them for curvature before
        trusting either beyond the loads that were measured.

    References
    ----------
    Thévenin's theorem.

    Examples
    --------
    >>> f"{source_resistance(12.10, 11.39, 0.0, 2.65):.3f} Ω"
    '0.268 Ω'
    """
    step = current_heavy - current_light
    where = "source_resistance: current_heavy - current_light"
    demand(np.greater(step, 0), where, step, "give the heavier load second")
    return (voltage_light - voltage_heavy) / step


def open_circuit_voltage(
    voltage: Number, current: Number, resistance: Number
) -> Number:
    """Return the voltage without load: ``V0 = V + I Rs``.

    Parameters
    ----------
    voltage, current : number
        At one load, V and A.
    resistance : number
        Rs, Ω, >= 0; a straight load line is assumed down to no load.

    Raises
    ------
    InputError
        If the resistance is < 0.

    References
    ----------
    Thévenin's theorem.

    Examples
    --------
    >>> f"{open_circuit_voltage(4.0, 4e-3, 250.0):.1f} V"
    '5.0 V'
    """
    demand_not_negative("open_circuit_voltage: resistance", resistance)
    return voltage + current * resistance


def supply_current(
    voltage: Number,
    no_load_voltage: Number,
    resistance: Number,
    current_limit: Number,
    short_circuit_current: Number,
) -> Number:
    """Return what a limited supply gives at a terminal voltage, in A.

    It is the smaller of ``(V0 - V)/Rs`` and the limit, which runs straight from
    `current_limit` at V0 to `short_circuit_current` at 0 V. The two equal: constant
    current. The second smaller: foldback, whose line meets a load up to three times
    (`benchproof.measuring.circuits.loads.operating_points`).

    Parameters
    ----------
    voltage : number
        V, at the terminals.
    no_load_voltage : number
        V0, V, > 0.
    resistance : number
        Rs, Ω, > 0.
    current_limit, short_circuit_current : number
        A, > 0 and >= 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Common practice, no source; makers draw this line in their data sheets.

    Examples
    --------
    >>> f"{supply_current(0.0, 12.0, 0.03, 3.6, 1.2):.1f} A"
    '1.2 A'
    >>> f"{supply_current(6.0, 12.0, 0.03, 3.6, 1.2):.1f} A"
    '2.4 A'
    """
    demand_positive("supply_current: no_load_voltage", no_load_voltage)
    demand_positive("supply_current: resistance", resistance)
    demand_positive("supply_current: current_limit", current_limit)
    where = "supply_current: short_circuit_current"
    demand_not_negative(where, short_circuit_current)
    bend = (current_limit - short_circuit_current) * voltage / no_load_voltage
    stiff = (no_load_voltage - voltage) / resistance
    return np.minimum(stiff, short_circuit_current + bend)


def rate_of_fall(
    load_current: Number, current_limit: Number, capacitance: Number
) -> Number:
    """Rate at which a rail falls past the limit: ``(I - Ilim)/C``, in V/s.

    Parameters
    ----------
    load_current : number
        A, above the limit and constant while the rail falls.
    current_limit : number
        A, of the supply, >= 0.
    capacitance : number
        C on the rail, F, > 0.

    Raises
    ------
    InputError
        If the load does not exceed the limit: then the rail does not fall.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> f"{rate_of_fall(4.95, 3.6, 2200e-6) * 1e-3:.3f} V/ms"
    '0.614 V/ms'
    """
    demand_positive("rate_of_fall: capacitance", capacitance)
    demand_not_negative("rate_of_fall: current_limit", current_limit)
    above = np.greater(load_current, current_limit)
    remedy = "it is within the limit, so the rail does not fall"
    demand(above, "rate_of_fall: load_current", load_current, remedy)
    return (load_current - current_limit) / capacitance


def hiccup_duty(on_time: Number, off_time: Number) -> Number:
    """Share of the time a supply in hiccup tries: ``D = on/(on + off)``.

    Parameters
    ----------
    on_time, off_time : number
        s, > 0 and >= 0.

    Raises
    ------
    InputError
        If a time is out of range.

    References
    ----------
    Definition.

    Examples
    --------
    >>> f"{hiccup_duty(25e-3, 1.8):.3%}"
    '1.370%'
    """
    demand_positive("hiccup_duty: on_time", on_time)
    demand_not_negative("hiccup_duty: off_time", off_time)
    return on_time / (on_time + off_time)


def hiccup_rms_current(peak_current: Number, duty: Number) -> Number:
    """Effective current of rectangular tries: ``Ipk √D``, for heating.

    Parameters
    ----------
    peak_current : number
        A.
    duty : number
        D, 0 < D <= 1.

    Raises
    ------
    InputError
        If the duty is out of range.

    References
    ----------
    Definition of the effective value.

    Examples
    --------
    >>> f"{hiccup_rms_current(3.6, 25 / 1825):.3f} A"
    '0.421 A'
    """
    _demand_duty("hiccup_rms_current: duty", duty)
    return peak_current * np.sqrt(duty)


def hiccup_mean_current(peak_current: Number, duty: Number) -> Number:
    """Mean current of rectangular tries, ``Ipk D``: what a slow meter shows.

    Parameters
    ----------
    peak_current, duty : number
        As in `hiccup_rms_current`.

    Raises
    ------
    InputError
        If the duty is out of range.

    References
    ----------
    Definition of the mean.

    Examples
    --------
    >>> f"{hiccup_mean_current(3.6, 25 / 1825) * 1e3:.1f} mA"
    '49.3 mA'
    """
    _demand_duty("hiccup_mean_current: duty", duty)
    return peak_current * duty


def ripple_bound(
    current: Number, mains_frequency: Number, capacitance: Number
) -> Number:
    """Largest peak-to-peak ripple after a full-wave rectifier: ``I/(2 f C)``.

    An upper bound: it lets the capacitor discharge for the whole half period. Sources
    with resistance conduct longer and ripple less.

    Parameters
    ----------
    current : number
        I, constant, A, >= 0.
    mains_frequency : number
        f before the rectifier, Hz, > 0.
    capacitance : number
        C, F, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> f"{ripple_bound(0.43, 50.0, 1000e-6):.2f} V"
    '4.30 V'
    """
    demand_not_negative("ripple_bound: current", current)
    demand_positive("ripple_bound: mains_frequency", mains_frequency)
    demand_positive("ripple_bound: capacitance", capacitance)
    return current / (2 * mains_frequency * capacitance)


def _demand_duty(where: str, duty: Number) -> None:
    within = np.greater(duty, 0) & np.less_equal(duty, 1)
    demand(within, where, duty, "give a share above 0 and up to 1")

"""Batteries: charge budget, life, sleep current, and the dip of a pulse.

All arguments are SI: A, s, C (1 mAh = 3.6 C), F, Ω, V. A float, a complex step or an
array of draws.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)


def average_current(
    sleep_current: Number, charges: Sequence[Number], periods: Sequence[Number]
) -> Number:
    """Mean current of a device that sleeps and wakes: ``Isleep + Σ Qᵢ/Tᵢ``.

    Parameters
    ----------
    sleep_current : number
        Isleep, A.
    charges : sequence of number
        Qᵢ that one event of a kind takes beyond sleep, C: current times duration.
    periods : sequence of number
        Tᵢ from one such event to the next, s, > 0; one for each charge.

    Raises
    ------
    InputError
        If there are not as many periods as charges or a period is not > 0.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> sensing = 4.5e-3 * 25e-3
    >>> report = 38e-3 * 4.2e-3 + 11e-3 * 18e-3
    >>> f"{average_current(3.1e-6, [sensing, report], [10.0, 60.0]) * 1e6:.2f} µA"
    '20.31 µA'
    """
    same = len(charges) == len(periods)
    remedy = f"give one for each of the {len(charges)} charges"
    demand(same, "average_current: the number of periods", len(periods), remedy)
    total = sleep_current
    for i, (charge, period) in enumerate(zip(charges, periods, strict=True), start=1):
        demand_positive(f"average_current: period {i}", period)
        total = total + charge / period
    return total


def self_discharge_current(
    capacity: Number, fraction: Number, period: Number
) -> Number:
    """Return the current that a cell loses by itself: ``fraction · Q/T``.

    Parameters
    ----------
    capacity : number
        Q, C, > 0.
    fraction : number
        Lost in the period, 0 to 1.
    period : number
        T, s, > 0; a year is 31.558e6 s.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Common practice, no source; it grows with temperature.

    Examples
    --------
    >>> f"{self_discharge_current(0.220 * 3600, 0.01, 31.558e6) * 1e6:.3f} µA"
    '0.251 µA'
    """
    demand_positive("self_discharge_current: capacity", capacity)
    demand_positive("self_discharge_current: period", period)
    within = np.greater_equal(fraction, 0) & np.less_equal(fraction, 1)
    demand(within, "self_discharge_current: fraction", fraction, "give 0 to 1")
    return fraction * capacity / period


def battery_life(
    capacity: Number,
    mean_current: Number,
    self_discharge: Number = 0.0,
    usable_share: Number = 1.0,
) -> Number:
    """Time a battery lasts: ``t = η Q/(I + Isd)``, in s.

    Parameters
    ----------
    capacity : number
        Q, C, > 0, at the device's load, temperature and cut-off voltage.
    mean_current : number
        I, A.
    self_discharge : number
        Isd, A, >= 0.
    usable_share : number
        η, above 0 and up to 1.

    Raises
    ------
    InputError
        If an argument is out of range, or no current flows.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> life = battery_life(0.220 * 3600, 20.31e-6, 0.251e-6, usable_share=0.9)
    >>> f"{life / 3600:.0f} h"
    '9630 h'
    """
    demand_positive("battery_life: capacity", capacity)
    demand_not_negative("battery_life: self_discharge", self_discharge)
    within = np.greater(usable_share, 0) & np.less_equal(usable_share, 1)
    remedy = "give a share above 0 and up to 1"
    demand(within, "battery_life: usable_share", usable_share, remedy)
    drain = mean_current + self_discharge
    demand_positive("battery_life: the current", drain)
    return usable_share * capacity / drain


def droop_current(
    capacitance: Number, droop: Number, duration: Number, leakage: Number
) -> Number:
    """Sleep current from the droop of a capacitor: ``I = C ΔV/Δt - Ileak``.

    Parameters
    ----------
    capacitance : number
        C, that feeds the device alone, F, > 0, measured, not as printed on it.
    droop : number
        ΔV, V, small beside the voltage.
    duration : number
        Δt, s, > 0.
    leakage : number
        Ileak from a control run without the device, A; it has no default, since
        without a control the capacitor's own leak passes for the device's.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> f"{droop_current(1000e-6, 30.6e-3, 9.0, 0.30e-6) * 1e6:.2f} µA"
    '3.10 µA'
    """
    demand_positive("droop_current: capacitance", capacitance)
    demand_positive("droop_current: duration", duration)
    return capacitance * droop / duration - leakage


def burst_dip(charge: Number, capacitance: Number) -> Number:
    """Return what a burst takes off a capacitor: ``Q/C``, an upper bound, in V.

    Parameters
    ----------
    charge : number
        Q of the burst, C.
    capacitance : number
        C across the device, F, > 0.

    Raises
    ------
    InputError
        If the capacitance is not > 0.

    References
    ----------
    Charge balance, without recharge during the burst.

    Examples
    --------
    >>> f"{burst_dip(357.6e-6, 4700e-6) * 1e3:.0f} mV"
    '76 mV'
    """
    demand_positive("burst_dip: capacitance", capacitance)
    return charge / capacitance


def averaging_shunt_current(
    voltage: Number,
    shunt: Number,
    capacitance: Number,
    burst_charge: Number,
    margin: Number,
    duration: Number,
    least_ratio: float = 10.0,
) -> Number:
    """Mean current through a shunt that a capacitor across the device smooths.

    ``I = V/R``; a measurement only while the device does not notice the bursts and
    the record is long beside RC, so both are checked.

    Parameters
    ----------
    voltage : number
        V across the shunt, mean over the record, V.
    shunt : number
        R, Ω, > 0.
    capacitance : number
        C across the device, F, > 0.
    burst_charge : number
        The largest burst, C.
    margin : number
        From supply down to where the device acts otherwise, V.
    duration : number
        Of the record, s.
    least_ratio : float
        By which margin exceeds the dip and duration exceeds RC, at least.

    Raises
    ------
    InputError
        If an argument is out of range, a burst dips too far or the record is short.

    References
    ----------
    Common practice, no source; the ratio of 10 too.

    Examples
    --------
    >>> mean = averaging_shunt_current(20.31e-3, 1e3, 4700e-6, 357.6e-6, 0.9, 600.0)
    >>> f"{mean * 1e6:.2f} µA"
    '20.31 µA'
    >>> averaging_shunt_current(0.41, 1e3, 4700e-6, 20.9e-3, 0.9, 600.0)
    Traceback (most recent call last):
    ...
    benchproof.values.errors.InputError: averaging_shunt_current: margin over burst
    dip is 0.202392; below 10 the device notices the burst. Use a larger capacitor, or
    add up the charge of the pulses.
    """
    demand_positive("averaging_shunt_current: shunt", shunt)
    demand_positive("averaging_shunt_current: burst_charge", burst_charge)
    room = margin / burst_dip(burst_charge, capacitance)
    remedy = (
        f"below {least_ratio:g} the device notices the burst. Use a larger "
        "capacitor, or add up the charge of the pulses"
    )
    where = "averaging_shunt_current: margin over burst dip"
    demand(np.greater_equal(room, least_ratio), where, room, remedy)
    long = duration / (shunt * capacitance)
    remedy = f"below {least_ratio:g} the capacitor's charge counts. Record longer"
    where = "averaging_shunt_current: duration over RC"
    demand(np.greater_equal(long, least_ratio), where, long, remedy)
    return voltage / shunt


def cell_dip(
    current: Number, esr: Number, duration: Number, capacitance: Number
) -> Number:
    """Dip of a cell and its bulk capacitor: ``I · ESR (1 - e^(-t/(ESR C)))``.

    Parameters
    ----------
    current : number
        I of the pulse, A.
    esr : number
        Of the cell at its charge and temperature, Ω, > 0.
    duration : number
        t of the pulse, s, >= 0.
    capacitance : number
        C of the bulk, F, > 0, without resistance of its own.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole response.

    Examples
    --------
    >>> f"{cell_dip(38e-3, 41.0, 4.2e-3, 100e-6):.2f} V"
    '1.00 V'
    """
    demand_positive("cell_dip: esr", esr)
    demand_not_negative("cell_dip: duration", duration)
    demand_positive("cell_dip: capacitance", capacitance)
    return current * esr * (1 - np.exp(-duration / (esr * capacitance)))

"""Plugging in: the current into an empty capacitor, and the ringing after it.

All arguments are SI. A float, a complex step or an array of draws.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_not_negative,
    demand_positive,
)


def charging_capacitance(capacitance: Number, source_capacitance: Number) -> Number:
    """Capacitance that an inrush sees, both in series: ``C1 C2/(C1 + C2)``.

    Parameters
    ----------
    capacitance : number
        C2, of the device, F, > 0.
    source_capacitance : number
        C1, of the supply's output, F, > 0; a stiff supply has no bound: use the
        device's capacitance alone.

    Raises
    ------
    InputError
        If a capacitance is not > 0.

    Notes
    -----
    The supply's own current, up to its limit, flows in addition; its share of I²t is
    about the limit squared times the time until it lets go.

    References
    ----------
    Charge balance.

    Examples
    --------
    >>> f"{charging_capacitance(2200e-6, 1500e-6) * 1e6:.0f} µF"
    '892 µF'
    """
    demand_positive("charging_capacitance: capacitance", capacitance)
    demand_positive("charging_capacitance: source_capacitance", source_capacitance)
    return capacitance * source_capacitance / (capacitance + source_capacitance)


def inrush_peak(voltage: Number, resistance: Number) -> Number:
    """Peak into an empty capacitor without inductance: ``V/R``, an upper bound.

    Parameters
    ----------
    voltage : number
        V, across the gap before contact.
    resistance : number
        R of source, cable, contacts and capacitor, Ω, > 0.

    Raises
    ------
    InputError
        If the resistance is not > 0.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> f"{inrush_peak(11.7, 0.317):.1f} A"
    '36.9 A'
    """
    demand_positive("inrush_peak: resistance", resistance)
    return voltage / resistance


def inrush_i2t(voltage: Number, resistance: Number, capacitance: Number) -> Number:
    """Melting integral of a charging pulse: ``½ C V²/R``, in A²s.

    Inductance that does not make it ring leaves it as it is. Compare with a fuse's
    melting I²t (IEC 60127, cited second-hand, not read), derated for the number of
    pulses it must stand.

    Parameters
    ----------
    voltage : number
        V.
    resistance : number
        R, Ω, > 0.
    capacitance : number
        C, F, > 0, of the device, or from `charging_capacitance` for a supply that
        is a capacitor itself.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Energy balance: the resistance turns ½CV² into heat.

    Examples
    --------
    >>> f"{inrush_i2t(11.7, 0.317, 2200e-6):.3f} A²s"
    '0.475 A²s'
    >>> f"{inrush_i2t(11.7, 0.317, charging_capacitance(2200e-6, 1500e-6)):.3f} A²s"
    '0.193 A²s'
    """
    demand_positive("inrush_i2t: resistance", resistance)
    demand_positive("inrush_i2t: capacitance", capacitance)
    return capacitance * voltage**2 / (2 * resistance)


def i2t_of_trace(
    current: Any, sample_interval: Number, zero: Number | None = None
) -> Number:
    """Melting integral of a recorded pulse: ``Σ (i - i0)² Δt``, in A²s.

    Parameters
    ----------
    current : array
        Samples, A, shape (..., samples), long enough for the pulse to end.
    sample_interval : number
        Δt, s, > 0.
    zero : number, optional
        i0, the clamp's offset, A, from samples before the pulse; squaring does not
        average an offset away. None if it was removed already.

    Raises
    ------
    InputError
        If the interval is not > 0 or the trace is empty.

    References
    ----------
    Definition.

    Examples
    --------
    >>> import numpy as np
    >>> f"{i2t_of_trace(np.array([0.1, 2.1, 2.1, 0.1]), 1e-3, zero=0.1) * 1e3:.1f} mA²s"
    '8.0 mA²s'
    """
    demand_positive("i2t_of_trace: sample_interval", sample_interval)
    samples = np.asarray(current)
    demand(samples.size > 0, "i2t_of_trace: current", 0, "give at least one sample")
    pulse = samples if zero is None else samples - np.expand_dims(zero, -1)
    return np.sum(np.square(pulse), axis=-1) * sample_interval


def damping_ratio(
    resistance: Number, inductance: Number, capacitance: Number
) -> Number:
    """Damping ratio of R, L and C in series: ``ζ = (R/2) √(C/L)``.

    Parameters
    ----------
    resistance : number
        R, Ω, >= 0.
    inductance : number
        L, H, > 0.
    capacitance : number
        C, F, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Second-order step response.

    Examples
    --------
    >>> f"{damping_ratio(0.317, 2.4e-6, 892e-6):.2f}"
    '3.06'
    """
    demand_not_negative("damping_ratio: resistance", resistance)
    demand_positive("damping_ratio: inductance", inductance)
    demand_positive("damping_ratio: capacitance", capacitance)
    return resistance / 2 * np.sqrt(capacitance / inductance)


def overshoot(damping: Number) -> Number:
    """Overshoot of a hot-plugged LC input, ``exp(-πζ/√(1 - ζ²))`` of the step.

    Ceramic capacitors lose capacitance under voltage and overshoot more.

    Parameters
    ----------
    damping : number
        ζ, 0 <= ζ < 1; from 1 on nothing overshoots.

    Raises
    ------
    InputError
        If the damping ratio is out of range.

    References
    ----------
    Second-order step response.

    Examples
    --------
    >>> f"{overshoot(0.2):.1%}"
    '52.7%'
    """
    rings = np.greater_equal(damping, 0) & np.less(damping, 1)
    demand(rings, "overshoot: damping", damping, "give 0 to below 1; from 1 on it is 0")
    return np.exp(-np.pi * damping / np.sqrt(1 - damping**2))


def damped_inrush_time(
    resistance: Number, inductance: Number, capacitance: Number
) -> Number:
    """Time from contact to the peak of an inrush through R and L into C, s.

    ``(1/α) · atanh(√x)/√x`` with ``α = R/2L`` and ``x = 1 - 1/ζ²``; where x < 0 the
    same function continues as ``atan(√-x)/√-x``.

    Parameters
    ----------
    resistance, inductance, capacitance : number
        Ω, H, F, each > 0.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    Second-order step response, derivative of the current zero.

    Examples
    --------
    >>> f"{damped_inrush_time(0.317, 2.4e-6, 892e-6) * 1e6:.1f} µs"
    '28.6 µs'
    """
    demand_positive("damped_inrush_time: resistance", resistance)
    damping = damping_ratio(resistance, inductance, capacitance)
    shape = _atanh_of_root_over_root(1 - 1 / damping**2)
    return 2 * inductance / resistance * shape


def damped_inrush_peak(
    voltage: Number, resistance: Number, inductance: Number, capacitance: Number
) -> Number:
    """Peak of an inrush through R and L into C: ``V √(C/L) e^(-α t)`` at its time.

    Parameters
    ----------
    voltage : number
        V, across the gap before contact.
    resistance, inductance, capacitance : number
        As in `damped_inrush_time`.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    Second-order step response.

    Examples
    --------
    >>> f"{damped_inrush_peak(11.7, 0.317, 2.4e-6, 892e-6):.1f} A"
    '34.2 A'
    """
    time = damped_inrush_time(resistance, inductance, capacitance)
    decay = np.exp(-resistance / (2 * inductance) * time)
    return voltage * np.sqrt(capacitance / inductance) * decay


def _atanh_of_root_over_root(x: Number) -> Number:
    """Continue atanh(√x)/√x through zero; near it, its series."""
    near = np.abs(x) < 1e-4
    over, under = np.greater(x, 0) & ~near, np.less(x, 0) & ~near
    above = np.sqrt(np.where(over, x, 0.5))
    below = np.sqrt(np.where(under, -x, 0.5))
    series = 1 + x / 3 + x**2 / 5 + x**3 / 7
    far = np.where(over, np.arctanh(above) / above, np.arctan(below) / below)
    return np.where(near, series, far)[()]

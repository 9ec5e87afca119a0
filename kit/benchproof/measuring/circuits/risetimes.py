"""Bandwidth, rise times and sampling: what the instrument adds to an edge.

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

RISE_PER_TIME_CONSTANT = float(np.log(9))
"""10 % to 90 % of a one-pole step, in time constants: 2.197."""


def rise_time_of_bandwidth(bandwidth: Number) -> Number:
    """Rise time 10 % to 90 % of a one-pole system: ``t_r = ln 9/(2π B) = 0.35/B``.

    Parameters
    ----------
    bandwidth : number
        B, -3 dB, Hz, > 0.

    Raises
    ------
    InputError
        If the bandwidth is not > 0.

    References
    ----------
    One-pole step response; 10-90 % as in IEEE 181 (cited second-hand, not read).

    Examples
    --------
    >>> f"{rise_time_of_bandwidth(100e6) * 1e9:.2f} ns"
    '3.50 ns'
    """
    demand_positive("rise_time_of_bandwidth: bandwidth", bandwidth)
    return RISE_PER_TIME_CONSTANT / (2 * np.pi * bandwidth)


def bandwidth_of_rise_time(rise_time: Number) -> Number:
    """Bandwidth of a one-pole system from its rise time, ``B = 0.35/t_r``.

    Parameters
    ----------
    rise_time : number
        10 % to 90 %, s, > 0.

    Raises
    ------
    InputError
        If the rise time is not > 0.

    References
    ----------
    As `rise_time_of_bandwidth`.

    Examples
    --------
    >>> f"{bandwidth_of_rise_time(17e-9) / 1e6:.1f} MHz"
    '20.6 MHz'
    """
    demand_positive("bandwidth_of_rise_time: rise_time", rise_time)
    return RISE_PER_TIME_CONSTANT / (2 * np.pi * rise_time)


def device_rise_time(
    measured: Number, *system: Number, least_ratio: float = 1.5
) -> Number:
    """Rise time of the device behind the instruments: ``√(tm² - ts² - tp²)``.

    Parameters
    ----------
    measured : number
        tm, 10 % to 90 %, s.
    *system : number
        Rise times of scope, probe, clamp, s, each >= 0.
    least_ratio : float
        Smallest tm over the system's own rise time that is worked; > 1. Nearer to 1
        the difference says more about the instruments than about the device.

    Raises
    ------
    InputError
        If a rise time is out of range or tm is too near the system's own.

    Notes
    -----
    Rise times add in squares for Gaussian-like responses only.

    References
    ----------
    Common practice, no source; the ratio of 1.5 too.

    Examples
    --------
    >>> f"{device_rise_time(13.99e-6, 3.5e-6) * 1e6:.2f} µs"
    '13.55 µs'
    """
    for i, part in enumerate(system, start=1):
        demand_not_negative(f"device_rise_time: system rise time {i}", part)
    own = sum(part**2 for part in system)
    demand_positive("device_rise_time: measured", measured)
    where = "device_rise_time: least_ratio"
    demand(least_ratio > 1, where, least_ratio, "give a ratio above 1")
    clear = np.greater_equal(measured**2, least_ratio**2 * own)
    remedy = (
        f"it is below {least_ratio:g} times the instruments' own; use a faster scope "
        "or probe"
    )
    demand(clear, "device_rise_time: measured", measured, remedy)
    return np.sqrt(measured**2 - own)


def pole_frequency(source_resistance: Number, capacitance: Number) -> Number:
    """-3 dB frequency that a probe's capacitance leaves a node: ``1/(2π Rs C)``.

    Parameters
    ----------
    source_resistance : number
        Rs of the node, Ω, > 0.
    capacitance : number
        C of probe and node, F, > 0.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    One-pole low-pass.

    Examples
    --------
    >>> f"{pole_frequency(100e3, 12e-12) / 1e3:.1f} kHz"
    '132.6 kHz'
    """
    demand_positive("pole_frequency: source_resistance", source_resistance)
    demand_positive("pole_frequency: capacitance", capacitance)
    return 1 / (2 * np.pi * source_resistance * capacitance)


def pole_rise_time(source_resistance: Number, capacitance: Number) -> Number:
    """Rise time that a probe's capacitance gives a node: ``ln 9 · Rs C = 2.2 Rs C``.

    Parameters
    ----------
    source_resistance, capacitance : number
        As in `pole_frequency`.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    One-pole step response.

    Examples
    --------
    >>> f"{pole_rise_time(100e3, 12e-12) * 1e6:.2f} µs"
    '2.64 µs'
    """
    demand_positive("pole_rise_time: source_resistance", source_resistance)
    demand_positive("pole_rise_time: capacitance", capacitance)
    return RISE_PER_TIME_CONSTANT * source_resistance * capacitance


def ground_lead_resonance(inductance: Number, capacitance: Number) -> Number:
    """Frequency at which a ground lead rings with the probe: ``1/(2π√(LC))``.

    Parameters
    ----------
    inductance : number
        L of the ground lead, H, > 0; about 1 µH a metre.
    capacitance : number
        C of the probe tip, F, > 0.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    Resonance of L and C.

    Examples
    --------
    >>> f"{ground_lead_resonance(100e-9, 12e-12) / 1e6:.0f} MHz"
    '145 MHz'
    """
    demand_positive("ground_lead_resonance: inductance", inductance)
    demand_positive("ground_lead_resonance: capacitance", capacitance)
    return 1 / (2 * np.pi * np.sqrt(inductance * capacitance))


def shunt_time_constant(inductance: Number, resistance: Number) -> Number:
    """Time constant L/R below which a shunt shows its inductance, s.

    Parameters
    ----------
    inductance : number
        L, H, >= 0.
    resistance : number
        R, Ω, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole response of L and R.

    Examples
    --------
    >>> f"{shunt_time_constant(8e-9, 10e-3) * 1e6:.2f} µs"
    '0.80 µs'
    """
    demand_not_negative("shunt_time_constant: inductance", inductance)
    demand_positive("shunt_time_constant: resistance", resistance)
    return inductance / resistance


def settling_time(time_constant: Number, band: Number) -> Number:
    """Time a one-pole step takes to come within a band: ``t = τ ln(1/ε)``.

    Parameters
    ----------
    time_constant : number
        τ, s, > 0.
    band : number
        ε, fraction of the step, 0 < ε < 1.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole step response.

    Examples
    --------
    >>> f"{settling_time(1.0, 0.01):.3f} τ"
    '4.605 τ'
    """
    demand_positive("settling_time: time_constant", time_constant)
    inside = np.greater(band, 0) & np.less(band, 1)
    demand(inside, "settling_time: band", band, "give a fraction between 0 and 1")
    return time_constant * np.log(1 / band)


def interval_uncertainty(sample_interval: Number) -> Number:
    """Return the standard uncertainty of a time between sampled edges, ``u = Δt/√6``.

    Each edge lies anywhere within one sample interval; their difference is
    triangular. Interpolating between samples does better. The timebase comes on top.

    Parameters
    ----------
    sample_interval : number
        Δt, s, > 0.

    Raises
    ------
    InputError
        If the interval is not > 0.

    References
    ----------
    JCGM 100:2008, 4.3.9, triangular distribution of half-width Δt.

    Examples
    --------
    >>> f"{interval_uncertainty(10e-6) * 1e6:.2f} µs"
    '4.08 µs'
    """
    demand_positive("interval_uncertainty: sample_interval", sample_interval)
    return sample_interval / 6**0.5


def least_sample_rate(shortest_feature: Number, samples: float = 10) -> Number:
    """Sample rate that puts enough samples on the shortest feature, Hz.

    Parameters
    ----------
    shortest_feature : number
        Its duration, s, > 0: an event shorter than this may go unseen.
    samples : float
        Wanted on it.

    Raises
    ------
    InputError
        If the duration is not > 0.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{least_sample_rate(1.5e-3) / 1e3:.1f} kHz"
    '6.7 kHz'
    """
    demand_positive("least_sample_rate: shortest_feature", shortest_feature)
    return samples / shortest_feature

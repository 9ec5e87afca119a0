"""Mean, alternating part and polarity of a waveform, and what simple meters show.

All arguments are SI. A float, a complex step or an array of draws; a trace is an
array with time along its last axis.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_nonzero,
    demand_not_negative,
    demand_positive,
)

SINE_FORM_FACTOR = float(np.pi / np.sqrt(8))
"""Effective over rectified mean of a sine, 1.1107: what average meters multiply by."""


def total_rms(mean: Number, alternating: Number) -> Number:
    """Effective value of mean and alternating part together, ``√(mean² + ac²)``.

    Parameters
    ----------
    mean : number
        V or A; of a DC-coupled record. An AC-coupled one has lost it.
    alternating : number
        Effective value of what is left without the mean, same unit.

    References
    ----------
    Parseval; the parts are orthogonal.

    Examples
    --------
    >>> f"{total_rms(12.52, 3.60):.2f} V"
    '13.03 V'
    """
    return np.sqrt(mean**2 + alternating**2)


def ripple_factor(mean: Number, alternating: Number) -> Number:
    """Alternating part as a share of the mean, ``ac/|mean|``.

    Parameters
    ----------
    mean, alternating : number
        As in `total_rms`; the mean is not zero.

    Raises
    ------
    InputError
        If the mean is zero.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{ripple_factor(14.855, 0.842):.2%}"
    '5.67%'
    """
    remedy = "use a DC-coupled record with a mean"
    demand_nonzero("ripple_factor: mean", mean, remedy)
    return alternating / np.sqrt(mean**2)


def form_factor(trace: Any) -> Number:
    """Effective value over the mean, ``√mean(i²)/|mean(i)|``; 1 for pure DC.

    Parameters
    ----------
    trace : array
        A whole number of periods, DC-coupled, shape (..., samples).

    Raises
    ------
    InputError
        If the mean is zero: the form factor of an alternating waveform needs the
        rectified mean, see `average_responding_bias`.

    References
    ----------
    Definition.

    Examples
    --------
    >>> import numpy as np
    >>> f"{form_factor(np.array([0.0, 0.0, 0.0, 1.0])):.1f}"
    '2.0'
    """
    mean = np.mean(trace, axis=-1)
    remedy = "use a DC-coupled record with a mean"
    demand_nonzero("form_factor: mean of the trace", mean, remedy)
    return np.sqrt(np.mean(np.square(trace), axis=-1) / mean**2)


def average_responding_reading(trace: Any) -> Number:
    """Return what an average-responding AC meter shows: ``1.1107 mean|v - v̄|``.

    Parameters
    ----------
    trace : array
        A whole number of periods, shape (..., samples); V or A.

    References
    ----------
    Definition of such a meter; equals the effective value of a sine alone.

    Examples
    --------
    >>> import numpy as np
    >>> f"{average_responding_reading(np.array([1.0, -1.0])):.4f}"
    '1.1107'
    """
    middle = np.mean(trace, axis=-1, keepdims=True)
    return SINE_FORM_FACTOR * np.mean(np.abs(trace - middle), axis=-1)


def average_responding_bias(waveform_form_factor: Number) -> Number:
    """Return by how much an average-responding meter misreads a known shape.

    Parameters
    ----------
    waveform_form_factor : number
        Effective value over rectified mean, >= 1: square 1, sine π/√8, triangle or
        sawtooth 2/√3.

    Returns
    -------
    number
        (reading - effective value)/effective value.

    Raises
    ------
    InputError
        If the form factor is < 1, which no waveform has.

    References
    ----------
    Definition; checked against a published table in the tests.

    Examples
    --------
    >>> f"{average_responding_bias(1.0):+.2%}"
    '+11.07%'
    """
    demand(
        np.greater_equal(waveform_form_factor, 1),
        "average_responding_bias: waveform_form_factor",
        waveform_form_factor,
        "give effective value over rectified mean, 1 or more",
    )
    return SINE_FORM_FACTOR / waveform_form_factor - 1


def half_wave_reading(voltage: Number) -> Number:
    """AC reading of a half-wave meter without blocking capacitor, on pure DC.

    Such a meter shows ``π/√2 V = 2.221 V`` with its leads one way and 0 the other: a
    large "AC" reading that vanishes on swapping the leads is DC.

    Parameters
    ----------
    voltage : number
        Pure DC at the red lead, V.

    References
    ----------
    The mean of a half-wave rectified sine is √2/π of its effective value.

    Examples
    --------
    >>> f"{half_wave_reading(14.86):.1f} V, {half_wave_reading(-14.86):.1f} V"
    '33.0 V, 0.0 V'
    """
    return np.pi / np.sqrt(2) * np.maximum(voltage, 0.0)


def polarity_reverses(
    minimum: Number, standard_uncertainty: Number, noise: Number
) -> Any:
    """Tell whether a waveform of positive mean goes negative beyond doubt's width.

    Parameters
    ----------
    minimum : number
        Least sample of a DC-coupled trace, V. The minimum of many noisy samples is
        biased low, which `noise` is there for.
    standard_uncertainty : number
        Of the trace's zero, V, >= 0.
    noise : number
        How far noise alone takes the least sample, V, >= 0.

    Returns
    -------
    bool or array of bool
        ``minimum < -(u + noise)``.

    Raises
    ------
    InputError
        If uncertainty or noise is < 0.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> polarity_reverses(13.56, 0.06, 0.1)
    False
    """
    where = "polarity_reverses: standard_uncertainty"
    demand_not_negative(where, standard_uncertainty)
    demand_not_negative("polarity_reverses: noise", noise)
    return minimum < -(standard_uncertainty + noise)


def coupling_droop(duration: Number, corner_frequency: Number) -> Number:
    """Share of a step that AC coupling has lost after a time, ``1 - e^(-2πft)``.

    Parameters
    ----------
    duration : number
        t since the step, s, >= 0.
    corner_frequency : number
        f of the coupling's single pole, Hz, > 0.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    One-pole high-pass.

    Examples
    --------
    >>> f"{coupling_droop(1e-3, 10.0):.1%}"
    '6.1%'
    """
    demand_not_negative("coupling_droop: duration", duration)
    demand_positive("coupling_droop: corner_frequency", corner_frequency)
    return 1 - np.exp(-2 * np.pi * corner_frequency * duration)

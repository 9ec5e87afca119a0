"""Resistances as read: leads, fingers, thermal voltages and "OL" taken into account.

All arguments are SI: V, A, Ω. A float, a complex step or an array of draws.
"""

from __future__ import annotations

import numpy as np

from benchproof.measuring.circuits.limits import (
    Number,
    demand,
    demand_nonzero,
    demand_not_negative,
    demand_positive,
)


def nulled_resistance(reading: Number, lead_resistance: Number) -> Number:
    """Resistance without the leads, ``R = Rm - Rl``.

    Parameters
    ----------
    reading : number
        Rm, Ω, on the same range as the lead reading: the gain is then shared.
    lead_resistance : number
        Rl, Ω, >= 0, read with the tips held together.

    Raises
    ------
    InputError
        If the lead resistance is < 0.

    Notes
    -----
    A result at or below zero is returned as it is: it says that the leads moved more
    than the part measures. Take four wires then (`four_wire_resistance`).

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{nulled_resistance(150.7, 0.3):.1f} Ω"
    '150.4 Ω'
    """
    demand_not_negative("nulled_resistance: lead_resistance", lead_resistance)
    return reading - lead_resistance


def four_wire_resistance(voltage: Number, current: Number) -> Number:
    """Resistance from separate current and sense leads, ``R = V/I``.

    Parameters
    ----------
    voltage : number
        V, between the sense points; see `without_thermal_emf` for small ones.
    current : number
        A, not zero. For contacts that must stay dry: at most 20 mV open and 100 mA.

    Raises
    ------
    InputError
        If the current is zero.

    References
    ----------
    IEC 60512-2-1 for the dry-circuit limits (cited second-hand, not read).

    Examples
    --------
    >>> f"{four_wire_resistance(0.6e-3, 0.100) * 1e3:.1f} mΩ"
    '6.0 mΩ'
    """
    demand_nonzero("four_wire_resistance: current", current, "let a current flow")
    return voltage / current


def parallel_resistance(*resistances: Number) -> Number:
    """Resistance of several in parallel, ``1/Σ(1/Rᵢ)``.

    Parameters
    ----------
    *resistances : number
        Ω, each > 0.

    Raises
    ------
    InputError
        If none is given or one is not > 0.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> f"{parallel_resistance(250e6, 10e6) / 1e6:.3f} MΩ"
    '9.615 MΩ'
    """
    demand(bool(resistances), "parallel_resistance: the list", 0, "name one or more")
    for i, resistance in enumerate(resistances, start=1):
        demand_positive(f"parallel_resistance: resistance {i}", resistance)
    return 1 / sum(1 / resistance for resistance in resistances)


def resistance_without_body(reading: Number, body_resistance: Number) -> Number:
    """Resistance read with fingers on the tips: ``R = 1/(1/Rm - 1/Rbody)``.

    Parameters
    ----------
    reading : number
        Rm, Ω, > 0 and below the body's.
    body_resistance : number
        Ω, measured on the same person and grip; it drifts, so its uncertainty is
        wide. Retaking the reading with clips is better than this correction.

    Raises
    ------
    InputError
        If the reading is not between zero and the body's resistance.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> f"{resistance_without_body(1.0e6, 2.4e6) / 1e6:.3f} MΩ"
    '1.714 MΩ'
    """
    demand_positive("resistance_without_body: reading", reading)
    demand(
        np.less(reading, body_resistance),
        "resistance_without_body: reading",
        reading,
        "only one below the body resistance can be corrected. "
        "Retake it with clips instead of fingers",
    )
    return 1 / (1 / reading - 1 / body_resistance)


def over_range_bound(range_limit: Number, relative_limit: Number) -> Number:
    """Resistance that an "OL" shows to be exceeded: ``R >= L (1 - p)``.

    Parameters
    ----------
    range_limit : number
        L, the largest value the range shows, Ω, > 0.
    relative_limit : number
        p, the gain limit of the accuracy line as a fraction, 0 <= p < 1.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{over_range_bound(60e6, 0.02) / 1e6:.1f} MΩ"
    '58.8 MΩ'
    """
    demand_positive("over_range_bound: range_limit", range_limit)
    within = np.greater_equal(relative_limit, 0) & np.less(relative_limit, 1)
    remedy = "give a fraction from 0 to below 1, 0.02 for 2 %"
    demand(within, "over_range_bound: relative_limit", relative_limit, remedy)
    return range_limit * (1 - relative_limit)


def leakage_bound(voltage: Number, resistance_bound: Number) -> Number:
    """Largest leakage that an over-range resistance allows, ``I <= V/R``.

    Parameters
    ----------
    voltage : number
        V, that the leak will see in use; a film need not be linear up to it.
    resistance_bound : number
        Ω, > 0, from `over_range_bound`.

    Raises
    ------
    InputError
        If the bound is not > 0.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> f"{leakage_bound(3.0, 60e6) * 1e9:.0f} nA"
    '50 nA'
    """
    demand_positive("leakage_bound: resistance_bound", resistance_bound)
    return voltage / resistance_bound


def without_thermal_emf(forward: Number, reversed_: Number) -> Number:
    """Voltage freed of thermal voltages by reversing the current: ``(V₊ - V₋)/2``.

    Parameters
    ----------
    forward, reversed_ : number
        V, with the current one way and the other, before temperatures move.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{without_thermal_emf(612e-6, -588e-6) * 1e6:.0f} µV"
    '600 µV'
    """
    return (forward - reversed_) / 2


def thermal_emf(forward: Number, reversed_: Number) -> Number:
    """Return the thermal voltage itself: ``(V₊ + V₋)/2``.

    Parameters
    ----------
    forward, reversed_ : number
        V, as in `without_thermal_emf`.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{thermal_emf(612e-6, -588e-6) * 1e6:.0f} µV"
    '12 µV'
    """
    return (forward + reversed_) / 2

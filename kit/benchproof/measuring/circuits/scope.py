"""What an oscilloscope's screen and probe make of a voltage.

All arguments are SI. A float, a complex step or an array of draws.
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


def quantisation_step(
    volts_per_division: Number, divisions: float = 8, bits: int = 8
) -> Number:
    """Height of one code on the screen: ``q = divisions · S / 2^bits``.

    Parameters
    ----------
    volts_per_division : number
        S, V, > 0.
    divisions : float
        Of the full screen that the converter spans.
    bits : int
        Of the converter.

    Raises
    ------
    InputError
        If the scale is not > 0.

    References
    ----------
    Definition.

    Examples
    --------
    >>> f"{quantisation_step(1.0) * 1e3:.2f} mV"
    '31.25 mV'
    """
    demand_positive("quantisation_step: volts_per_division", volts_per_division)
    return divisions * volts_per_division / 2**bits


def quantisation_uncertainty(step: Number) -> Number:
    """Return the standard uncertainty of a value known to one code, ``u = q/√12``.

    Parameters
    ----------
    step : number
        q, any unit, > 0.

    Raises
    ------
    InputError
        If the step is not > 0.

    References
    ----------
    JCGM 100:2008, F.2.2.1.

    Examples
    --------
    >>> f"{quantisation_uncertainty(31.25e-3) * 1e3:.2f} mV"
    '9.02 mV'
    """
    demand_positive("quantisation_uncertainty: step", step)
    return step / 12**0.5


def ideal_signal_to_noise_db(bits: Number) -> Number:
    """Signal to noise of a full-scale sine with quantisation alone, in dB.

    Parameters
    ----------
    bits : number
        Of the converter, > 0.

    Raises
    ------
    InputError
        If the number of bits is not > 0.

    References
    ----------
    Ratio of the sine's power to q²/12: ``20 log10(2^N √1.5)``, about 6.02 N + 1.76.

    Examples
    --------
    >>> f"{ideal_signal_to_noise_db(8):.1f} dB"
    '49.9 dB'
    """
    demand_positive("ideal_signal_to_noise_db: bits", bits)
    return 20 * np.log10(2.0**bits * np.sqrt(1.5))


def full_screen_limit(
    volts_per_division: Number, relative_limit: Number, divisions: float = 8
) -> Number:
    """Half-width of an accuracy given "of full screen", V.

    It is the same everywhere on the screen: large beside a small margin.

    Parameters
    ----------
    volts_per_division : number
        V, > 0.
    relative_limit : number
        Fraction of full screen, 0.03 for ±3 %, >= 0.
    divisions : float
        Of the full screen.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"±{full_screen_limit(2.0, 0.03):.2f} V"
    '±0.48 V'
    """
    demand_positive("full_screen_limit: volts_per_division", volts_per_division)
    demand_not_negative("full_screen_limit: relative_limit", relative_limit)
    return relative_limit * divisions * volts_per_division


def transferred_voltage(
    scope_voltage: Number,
    scope_level: Number,
    meter_level: Number,
    scope_zero: Number = 0.0,
) -> Number:
    """Scope reading on the gain of a meter: ``(Vm/(vs - v0)) (v - v0)``.

    The gain of the scope drops out and the uncertainty of the meter comes in.

    Parameters
    ----------
    scope_voltage : number
        v, the value wanted, as the scope shows it, V.
    scope_level : number
        vs, a steady level on the same scale and screen position, V.
    meter_level : number
        Vm, the same steady level by the meter, V.
    scope_zero : number
        v0, the trace with the probe on its own ground, V.

    Raises
    ------
    InputError
        If the level and the zero coincide.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> f"{transferred_voltage(8.98, 12.31, 12.06):.3f} V"
    '8.798 V'
    """
    lever = scope_level - scope_zero
    remedy = "take a steady level away from zero"
    demand_nonzero("transferred_voltage: scope_level - scope_zero", lever, remedy)
    return meter_level / lever * (scope_voltage - scope_zero)


def probe_voltage(
    displayed: Number, probe_ratio: Number, menu_ratio: Number = 1.0
) -> Number:
    """Voltage at a probe's tip: what is shown times probe over menu.

    Parameters
    ----------
    displayed : number
        V.
    probe_ratio : number
        1, 10 or 100, as the probe is switched, > 0.
    menu_ratio : number
        As the scope's menu was set, > 0.

    Raises
    ------
    InputError
        If a ratio is not > 0.

    References
    ----------
    Definition.

    Examples
    --------
    >>> f"{probe_voltage(1.49, 10, menu_ratio=1):.1f} V"
    '14.9 V'
    """
    demand_positive("probe_voltage: probe_ratio", probe_ratio)
    demand_positive("probe_voltage: menu_ratio", menu_ratio)
    return displayed * probe_ratio / menu_ratio


def probe_factor(
    scope_level: Number, meter_level: Number, relative_limit: float = 0.1
) -> Any:
    """Power of ten by which a scope's reading must be multiplied to be the meter's.

    Parameters
    ----------
    scope_level, meter_level : number
        V, one steady node by both; not zero and of one sign.
    relative_limit : float
        How far from a power of ten the ratio may be, by both instruments' limits.

    Returns
    -------
    float or array
        1.0 if probe and menu agree, else 0.01, 0.1, 10.0, 100.0 …

    Raises
    ------
    InputError
        If the levels have no common sign, or no power of ten explains them.

    References
    ----------
    A wrong menu is off by a power of ten exactly.

    Examples
    --------
    >>> float(probe_factor(1.49, 14.86))
    10.0
    """
    same_sign = np.greater(scope_level * meter_level, 0)
    remedy = "take both on one steady node away from zero, with the leads alike"
    demand(same_sign, "probe_factor: scope_level", scope_level, remedy)
    ratio = meter_level / scope_level
    factor = 10.0 ** np.rint(np.log10(ratio))
    near = np.abs(ratio / factor - 1) <= relative_limit
    remedy = "no power of ten, so it is not the probe; check node, coupling and range"
    demand(near, "probe_factor: meter over scope", ratio, remedy)
    return factor

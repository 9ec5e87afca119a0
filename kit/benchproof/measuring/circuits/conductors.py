"""Resistance of wire and cable.

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
from benchproof.values.errors import InputError

COPPER_RESISTIVITY_OHM_M = 1 / 58e6
"""Annealed copper at 20 °C, 1.7241e-8 Ω m (IEC 60028; second-hand, not read)."""

COPPER_COEFFICIENT_PER_K = 3.93e-3
"""Change of its resistance at 20 °C per kelvin (IEC 60028; second-hand, not read)."""

ROOM_TEMPERATURE_K = 293.15


def wire_resistance(
    length: Number,
    area: Number,
    temperature: Number = ROOM_TEMPERATURE_K,
    resistivity: Number = COPPER_RESISTIVITY_OHM_M,
    coefficient: Number = COPPER_COEFFICIENT_PER_K,
    reference_temperature: Number = ROOM_TEMPERATURE_K,
) -> Number:
    """Resistance of a wire: ``R = ρ L/A (1 + α (T - T0))``.

    Parameters
    ----------
    length : number
        L, all that the current runs through, m, > 0: out and back is twice the
        cable, see `cable_resistance`.
    area : number
        A, of the metal, m², > 0.
    temperature : number
        T, of the metal, K.
    resistivity : number
        ρ at T0, Ω m, > 0. In a derived quantity declare it, `coefficient` and
        `reference_temperature` as constants and pass them, so that they are seen.
    coefficient : number
        α at T0, 1/K.
    reference_temperature : number
        T0, K.

    Raises
    ------
    InputError
        If length, area, resistivity or the result is not > 0.

    References
    ----------
    IEC 60028 for copper (cited second-hand, not read).

    Examples
    --------
    >>> f"{wire_resistance(6.0, 0.5e-6):.4f} Ω"
    '0.2069 Ω'
    """
    demand_positive("wire_resistance: length", length)
    demand_positive("wire_resistance: area", area)
    demand_positive("wire_resistance: resistivity", resistivity)
    warmth = 1 + coefficient * (temperature - reference_temperature)
    remedy = "the straight law does not reach that far; check the temperature, in K"
    demand(np.greater(warmth, 0), "wire_resistance: 1 + α (T - T0)", warmth, remedy)
    return resistivity * length / area * warmth


def cable_resistance(
    cable_length: Number,
    area: Number,
    joints: Number = 0.0,
    temperature: Number = ROOM_TEMPERATURE_K,
    resistivity: Number = COPPER_RESISTIVITY_OHM_M,
) -> Number:
    """Resistance of a two-core cable, out and back, with its joints.

    Parameters
    ----------
    cable_length : number
        From end to end, m, > 0; counted twice here.
    area : number
        Of one core, m², > 0.
    joints : number
        Resistance of all plugs and joints, Ω, >= 0.
    temperature, resistivity : number
        As in `wire_resistance`.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    As `wire_resistance`.

    Examples
    --------
    >>> f"{cable_resistance(3.0, 0.5e-6, joints=0.03):.3f} Ω"
    '0.237 Ω'
    """
    demand_not_negative("cable_resistance: joints", joints)
    core = wire_resistance(cable_length, area, temperature, resistivity)
    return 2 * core + joints


def gauge_diameter(gauge: Number) -> Number:
    """Diameter of solid wire of an American gauge: ``0.127 mm · 92^((36-n)/39)``.

    Parameters
    ----------
    gauge : number
        n; 0 for 1/0, -1 for 2/0, -3 for 4/0.

    Returns
    -------
    number
        m.

    Raises
    ------
    InputError
        If the gauge is outside -3 to 56.

    References
    ----------
    ASTM B258.

    Examples
    --------
    >>> f"{gauge_diameter(24) * 1e3:.3f} mm"
    '0.511 mm'
    """
    known = np.greater_equal(gauge, -3) & np.less_equal(gauge, 56)
    demand(known, "gauge_diameter: gauge", gauge, "give -3 (4/0) to 56")
    return 0.127e-3 * 92 ** ((36 - gauge) / 39)


def gauge_area(gauge: Number) -> Number:
    """Cross-section of solid wire of an American gauge, m².

    Stranded wire of the same gauge has about the same metal.

    Parameters
    ----------
    gauge : number
        As in `gauge_diameter`.

    Raises
    ------
    InputError
        If the gauge is out of range.

    References
    ----------
    ASTM B258.

    Examples
    --------
    >>> f"{gauge_area(24) * 1e6:.3f} mm²"
    '0.205 mm²'
    """
    return np.pi / 4 * gauge_diameter(gauge) ** 2


_MIL = 25.4e-6
_TRACK = {"outer": 0.048, "inner": 0.024}


def track_current(
    width: Number, thickness: Number, rise: Number, layer: str = "outer"
) -> Number:
    """Return the current that heats a printed track: ``I = k ΔT^0.44 A^0.725``.

    A fit to charts for copper on board in still air, A in square mils; it knows
    nothing of neighbours, planes or enclosures.

    Parameters
    ----------
    width, thickness : number
        Of the copper, m, > 0; 1 oz/ft² is 35 µm.
    rise : number
        ΔT, K, > 0.
    layer : {"outer", "inner"}
        k = 0.048 or 0.024.

    Returns
    -------
    number
        A.

    Raises
    ------
    InputError
        If a length or the rise is not above 0, or the layer is neither.

    References
    ----------
    IPC-2221, as cited; the standard itself was not read.

    Examples
    --------
    >>> f"{track_current(0.5e-3, 35e-6, 10.0):.2f} A"
    '1.45 A'
    """
    for name, value in (("width", width), ("thickness", thickness), ("rise", rise)):
        demand_positive(f"track_current: {name}", value)
    if layer not in _TRACK:
        raise InputError(f"track_current: layer {layer!r}; give 'outer' or 'inner'.")
    area = width * thickness / _MIL**2
    return _TRACK[layer] * rise**0.44 * area**0.725

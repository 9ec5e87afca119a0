"""Electrostatic discharges: energy, and the waveforms that standards ask of testers.

The levels are those of a calibrated tester into its target: a reference for scale. A
home-made gun into a device does something else.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchproof.measuring.circuits.limits import Number, demand_positive

TESTER_CAPACITANCE_F = 150e-12
TESTER_RESISTANCE_OHM = 330.0
BODY_CAPACITANCE_F = 100e-12
BODY_RESISTANCE_OHM = 1500.0


@dataclass(frozen=True, slots=True)
class ContactDischarge:
    """Current of a contact discharge by the standard's tester.

    Attributes
    ----------
    peak, at_30_ns, at_60_ns : number
        First peak and the current 30 ns and 60 ns on, A.
    peak_limit, later_limit : float
        Relative limits of the first and of the other two.
    rise_time : float
        Of the first peak, s.
    energy : number
        Stored in the tester before, J.

    Examples
    --------
    >>> contact_discharge(4e3).rise_time < 1e-9
    True
    """

    peak: Number
    at_30_ns: Number
    at_60_ns: Number
    energy: Number
    peak_limit: float = 0.15
    later_limit: float = 0.30
    rise_time: float = 0.8e-9


def contact_discharge(voltage: Number) -> ContactDischarge:
    """Return what a 150 pF, 330 Ω tester gives: 3.75, 2 and 1 A per kV.

    Parameters
    ----------
    voltage : number
        The tester's charge, V, > 0; for either polarity give the size.

    Raises
    ------
    InputError
        If the voltage is not > 0.

    References
    ----------
    IEC 61000-4-2:2008, tables 1 to 3. The first edition allows the peak ±10 %.

    Examples
    --------
    >>> shot = contact_discharge(8e3)
    >>> f"{shot.peak:.0f} A, {shot.at_30_ns:.0f} A, {shot.at_60_ns:.0f} A"
    '30 A, 16 A, 8 A'
    >>> f"{shot.energy * 1e3:.2f} mJ"
    '4.80 mJ'
    """
    demand_positive("contact_discharge: voltage", voltage)
    energy = TESTER_CAPACITANCE_F * voltage**2 / 2
    return ContactDischarge(3.75e-3 * voltage, 2e-3 * voltage, 1e-3 * voltage, energy)


def body_discharge_peak(
    voltage: Number, resistance: Number = BODY_RESISTANCE_OHM
) -> Number:
    """Peak of the human body model into a short: ``V/1500 Ω``, A.

    Allowed ±10 %, rising in 2 ns to 10 ns and decaying with 150 ± 20 ns. A real
    person's first peak is sharper than this model.

    Parameters
    ----------
    voltage : number
        Charge of the 100 pF, V, > 0.
    resistance : number
        Ω, > 0.

    Raises
    ------
    InputError
        If an argument is not > 0.

    References
    ----------
    ANSI/ESDA/JEDEC JS-001.

    Examples
    --------
    >>> f"{body_discharge_peak(2e3):.2f} A"
    '1.33 A'
    """
    demand_positive("body_discharge_peak: voltage", voltage)
    demand_positive("body_discharge_peak: resistance", resistance)
    return voltage / resistance

"""What the meter does to the circuit, and the way back."""

from __future__ import annotations

from benchproof.values.errors import InputError


def unloaded_voltage(
    reading: float, source_resistance: float, input_resistance: float
) -> float:
    """Voltage of a node before the voltmeter loaded it.

    Parameters
    ----------
    reading : float
        What the meter shows, V.
    source_resistance : float
        Thévenin resistance of the node, Ω, >= 0; assumed linear.
    input_resistance : float
        Of the meter with its probe, Ω, > 0.

    Raises
    ------
    InputError
        If a resistance is out of range.

    References
    ----------
    Voltage divider; published worked example in the tests.

    Examples
    --------
    >>> round(unloaded_voltage(3.267, 101e3, 10e6), 4)
    3.3
    """
    if not (source_resistance >= 0 and input_resistance > 0):
        raise InputError(
            f"unloaded_voltage: source {source_resistance} Ω, input {input_resistance} "
            "Ω; give a source >= 0 and an input resistance > 0."
        )
    return reading * (1 + source_resistance / input_resistance)

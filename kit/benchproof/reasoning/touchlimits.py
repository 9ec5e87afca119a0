"""Touch limits for voltages, charges and hot surfaces, each with what backs it.

Not above a limit is a comparison with one number, and no statement about safety.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchproof.values.units import unit_of

Waveform = Literal["", "dc", "ac rms", "ac peak"]
"""How a voltage is stated; "" where nobody said."""

NOT_SAFE = "this does not say that it is safe"

_WORDS = {"dc": "V DC", "ac rms": "V rms", "ac peak": "V peak"}


@dataclass(frozen=True, slots=True)
class VoltageLimits:
    """The touch limits of one standard for one place.

    Attributes
    ----------
    place : str
        ``dry`` or ``wet``.
    dc, ac_rms, ac_peak : float
        V.
    source : str
        Standard, edition, clause, and whether it was read.
    """

    place: str
    dc: float
    ac_rms: float
    ac_peak: float
    source: str

    def limit(self, waveform: Waveform) -> float:
        """Return the limit for a waveform, V; the lowest where it is not stated."""
        limits = {"dc": self.dc, "ac rms": self.ac_rms, "ac peak": self.ac_peak}
        return limits.get(waveform, min(limits.values()))

    def named(self, waveform: Waveform) -> str:
        """Name the limit, e.g. ``60 V DC (dry)``."""
        words = _WORDS.get(waveform, "V")
        return f"{self.limit(waveform):g} {words} ({self.place})"

    def __str__(self) -> str:
        return (
            f"{self.dc:g} V DC, {self.ac_rms:g} V rms, {self.ac_peak:g} V peak "
            f"({self.source})"
        )


DRY = VoltageLimits(
    "dry", 60.0, 30.0, 42.4,
    "ES1 of IEC 62368-1, editions 2 and 3; partly read, the rest from memory",
)  # fmt: skip
WET = VoltageLimits(
    "wet", 35.0, 16.0, 22.6, "IEC 61010-1:2010, 6.3.1; from memory, not read"
)  # fmt: skip

CHARGE_LIMIT = 45e-6
"""Of a charged capacitor up to `CHARGE_LIMIT_ENDS`, C (IEC 61010-1, recalled)."""

DISCHARGE_LIMIT = 0.35
"""Of a charged capacitor above `CHARGE_LIMIT_ENDS`, J (IEC 61010-1, recalled)."""

CHARGE_LIMIT_ENDS = 15e3
"""V, peak."""

BURN_THRESHOLDS = ((60.0, 51.0, "1 min"), (600.0, 48.0, "10 min"))
"""Contact time up to which it is taken (s), threshold (°C), the standard's time."""

_LONG_CONTACT = (43.0, "8 h or longer")
"""The threshold, °C, for any longer contact."""

VOLTAGE_BASIS = f"Touch limits in the dry: {DRY}. In the wet: {WET}."
CHARGE_BASIS = (
    "Limits of a charged capacitor: 45 µC up to 15 kV, 350 mJ above (IEC "
    "61010-1:2010, 6.3.1; from memory, not read)."
)
BURN_BASIS = (
    "Burn thresholds, any material: 51 °C for 1 min of contact, 48 °C for 10 min, "
    "43 °C for 8 h or longer (ISO 13732-1; from memory, not read). Between these times "
    "the lower one is taken; for shorter contact that of 1 min."
)
CHECK_FIRST = "Look a limit up in the standard itself before relying on it."


@dataclass(frozen=True, slots=True)
class Comparison:
    """How a value stands to a limit."""

    above: bool
    text: str


def exceeds(value: float, limit: float) -> bool:
    """Compare, and let rounding of the last bit pass; equal is not above.

    Examples
    --------
    >>> exceeds(60.0, 60.0), exceeds(60.1, 60.0)
    (False, True)
    """
    return value > limit * (1 + 1e-12)


def compared_voltage(volts: float, waveform: Waveform) -> Comparison:
    """Compare a voltage with the touch limits in the dry and in the wet.

    Parameters
    ----------
    volts : float
        Magnitude, V, as `waveform` says.
    waveform : {"", "dc", "ac rms", "ac peak"}
        Where it is not stated, the lowest limits are taken, and the text says so.

    References
    ----------
    IEC 62368-1, editions 2 and 3, ES1 (partly read, the rest from memory);
    IEC 61010-1:2010, 6.3.1 (from memory). Frequency and skin are not looked at.

    Examples
    --------
    >>> compared_voltage(230.0, "ac rms").text
    'above the touch limits of 30 V rms (dry) and 16 V rms (wet); leave it to licensed
    practice'
    >>> compared_voltage(48.0, "dc").above
    True
    """
    dry, wet = DRY.named(waveform), WET.named(waveform)
    taken = "" if waveform else "; waveform not stated, so the lowest are taken"
    if exceeds(volts, DRY.limit(waveform)):
        return Comparison(
            True,
            f"above the touch limits of {dry} and {wet}{taken}; leave it to licensed "
            "practice",
        )
    if exceeds(volts, WET.limit(waveform)):
        return Comparison(
            True,
            f"above the touch limit of {wet}, not above that of {dry}{taken}; "
            f"{NOT_SAFE}",
        )
    return Comparison(
        False, f"not above the touch limits of {dry} and {wet}{taken}; {NOT_SAFE}"
    )


def compared_charge(coulombs: float, joules: float, peak_volts: float) -> Comparison:
    """Compare a charged capacitor with the limit that holds at its voltage.

    Parameters
    ----------
    coulombs, joules : float
        Charge and energy in the capacitor.
    peak_volts : float
        Decides which of the two has the limit.

    References
    ----------
    IEC 61010-1:2010, 6.3.1 (from memory).

    Examples
    --------
    >>> compared_charge(32.5e-6, 5.3e-3, 325.0).text
    'not above the limit of 45 µC; this does not say that it is safe'
    """
    if exceeds(peak_volts, CHARGE_LIMIT_ENDS):
        above, limit = exceeds(joules, DISCHARGE_LIMIT), "350 mJ above 15 kV"
    else:
        above, limit = exceeds(coulombs, CHARGE_LIMIT), "45 µC"
    if above:
        return Comparison(True, f"above the limit of {limit}")
    return Comparison(False, f"not above the limit of {limit}; {NOT_SAFE}")


def compared_temperature(kelvin: float, contact_s: float | None) -> Comparison:
    """Compare a surface's temperature with the burn threshold for a contact time.

    Parameters
    ----------
    kelvin : float
        Of the surface, K.
    contact_s : float or None
        How long it may be touched, s. Not stated: the lowest threshold is taken.

    References
    ----------
    ISO 13732-1 (numbers from memory).

    Examples
    --------
    >>> compared_temperature(273.15 + 55, 60.0).text
    'above the burn threshold of 51 °C (contact of 1 min)'
    """
    celsius, time = _LONG_CONTACT
    for longest, threshold, words in reversed(BURN_THRESHOLDS):
        if contact_s is not None and not exceeds(contact_s, longest):
            celsius, time = threshold, words
    taken = "" if contact_s is not None else "; contact time not stated, so the lowest"
    limit = f"the burn threshold of {celsius:g} °C (contact of {time}{taken})"
    if exceeds(kelvin, unit_of("°C").to_si(celsius)):
        return Comparison(True, f"above {limit}")
    return Comparison(False, f"not above {limit}; {NOT_SAFE}")

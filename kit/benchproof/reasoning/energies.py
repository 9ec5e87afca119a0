"""Energy sources of a device, as declared: what is known and what was asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, get_args

from benchproof.reasoning.cautions import CAUTIONS
from benchproof.reasoning.touchlimits import Waveform
from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values
from benchproof.values.sources import half_width_divisor
from benchproof.values.statements import Statement
from benchproof.values.units import require_same_dimension, unit_of


@dataclass(frozen=True, slots=True)
class Amount:
    """A declared value, its ends counted with its uncertainty.

    Attributes
    ----------
    text : str
        As typed, with its unit.
    lowest, highest : float
        Ends of value ± 2 u, or of the stated limits; SI.
    """

    text: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True)
class Energy:
    """One source of energy: what is known of it, what was checked, when to stop.

    A quantity that nobody stated is None, a text that nobody wrote is empty.

    Attributes
    ----------
    name, kind : str
        The kind is one of `CAUTIONS`.
    waveform : {"", "dc", "ac rms", "ac peak"}
        How the voltage is stated.
    check, when, stop, deferred : str
        What was checked, when, the stop rule, and what was left to licensed people.
    voltage, capacitance, bleed, bleed_to, capacity, current_limit : Amount or None
        V, F, Ω (the resistor), V (where bleeding may end), C (of a cell), A.
    temperature, duration : Amount or None
        Of a surface, K; how long it may be touched, s.
    """

    name: str
    kind: str
    waveform: Waveform = ""
    check: str = ""
    when: str = ""
    stop: str = ""
    deferred: str = ""
    voltage: Amount | None = None
    capacitance: Amount | None = None
    bleed: Amount | None = None
    bleed_to: Amount | None = None
    capacity: Amount | None = None
    current_limit: Amount | None = None
    temperature: Amount | None = None
    duration: Amount | None = None

    @property
    def unanswered(self) -> tuple[str, ...]:
        """Which of the two questions nobody answered."""
        asked = {"what was checked": self.check, "stop rule": self.stop}
        return tuple(question for question, answer in asked.items() if not answer)


QUANTITIES = {
    "voltage": ("V", "12.1 V"),
    "capacitance": ("F", "2200 uF"),
    "bleed": ("ohm", "100 ohm"),
    "bleed_to": ("V", "0.1 V"),
    "capacity": ("C", "2000 mAh"),
    "current_limit": ("A", "0.5 A"),
    "temperature": ("degC", "55 degC"),
    "duration": ("s", "60 s"),
}
"""Keys that are quantities: a unit of the right kind, and an example."""

_TEXTS = ("check", "when", "stop", "deferred")
_KEYS = ("name", "kind", "waveform", *QUANTITIES, *_TEXTS)


def energy_from(entry: Mapping[str, Any], where: str) -> Energy:
    """Read one ``[[energy]]`` table.

    Parameters
    ----------
    entry : mapping
        ``name``, ``kind``, and what is known, each quantity as text with its unit.
    where : str
        The file, named in error messages.

    Raises
    ------
    InputError
        If the kind is unknown, a key is, or a quantity is not one of its dimension
        and above zero (a voltage may be negative, its magnitude counts).

    Examples
    --------
    >>> rail = energy_from(
    ...     {"name": "rail", "kind": "stored charge", "capacitance": "2200 uF"},
    ...     "case.toml",
    ... )
    >>> rail.capacitance.text, rail.voltage, rail.unanswered
    ('2200 µF', None, ('what was checked', 'stop rule'))
    """
    name = str(entry.get("name", "")).strip()
    at = f"{where}, [[energy]] {name!r}"
    if not name:
        raise InputError(
            f"{at}: name is missing. Say which part it is: name = 'rail capacitor'."
        )
    if unknown := [key for key in entry if key not in _KEYS]:
        raise InputError(
            f"{at}: {unknown[0]!r} is not one of {', '.join(_KEYS)}. "
            "Rename or remove the line."
        )
    known: dict[str, Any] = {
        key: _amount(entry, key, at) for key in QUANTITIES if key in entry
    }
    known |= {key: str(entry.get(key, "")).strip() for key in _TEXTS}
    return Energy(name, _kind(entry, at), _waveform(entry, at), **known)


def _kind(entry: Mapping[str, Any], where: str) -> str:
    kind = str(entry.get("kind", "")).strip().lower()
    if kind not in CAUTIONS:
        raise InputError(
            f"{where}: kind {kind!r}; use one of {', '.join(CAUTIONS)}. "
            "Describe any other hazard under [hazards]."
        )
    return kind


def _waveform(entry: Mapping[str, Any], where: str) -> Waveform:
    said = str(entry.get("waveform", "")).strip().lower()
    for word in get_args(Waveform):
        if said == word:
            return word  # type: ignore[no-any-return]
    raise InputError(
        f"{where}: waveform {said!r}; use 'dc', 'ac rms' or 'ac peak', or leave it out."
    )


def _amount(entry: Mapping[str, Any], key: str, where: str) -> Amount:
    said, (wanted, example) = entry[key], QUANTITIES[key]
    at = f"{where}, {key}"
    if not isinstance(said, str):
        raise InputError(f"{at}: {said} has no unit. Write {key} = '{example}'.")
    values = read_values(said, at)
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(
            f"{at}: {said!r}: write one value, {key} = '{example}'; of '< 1 V' the "
            "limit, '1 V'. What is not known is left out."
        )
    value, unit = values[0], unit_of(values[0].unit)
    require_same_dimension(unit, unit_of(wanted), at)
    middle, reach = unit.to_si(value.value), _reach(value.stated) * unit.factor
    if key == "voltage":  # of a negative rail the magnitude is what one touches
        middle = abs(middle)
    _demand_sound(middle - reach, middle + reach, key, at)
    return Amount(f"{value.text} {unit.symbol}", middle - reach, middle + reach)


def _reach(stated: Statement | None) -> float:
    """Return 2 u, or the half-width where limits were stated."""
    if stated is None:
        return 0.0
    if stated.distribution in ("normal", "t"):
        return 2 * stated.standard_uncertainty
    divisor = half_width_divisor(stated.distribution, stated.shape)
    return divisor * stated.standard_uncertainty


_SMALLEST, _LARGEST = 1e-18, 1e12
"""In SI: beyond them a unit is mistyped, and squares leave the range of floats."""


def _demand_sound(lowest: float, highest: float, key: str, where: str) -> None:
    """Refuse what cannot be: a negative capacitance, a bleeder of 0 Ω."""
    if key != "voltage" and lowest <= 0:
        zero = "absolute zero" if key == "temperature" else "zero"
        raise InputError(
            f"{where}: it reaches {zero} or below. Correct the number or its ±."
        )
    if highest > _LARGEST or (0 < highest < _SMALLEST):
        raise InputError(f"{where}: {highest:g} in SI units. Correct number or unit.")

"""What follows from a declared energy source: energy, power, time, limits."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import sqrt

from benchproof.measuring.circuits.capacitors import bleed_time, stored_energy
from benchproof.reasoning.energies import QUANTITIES, Amount, Energy
from benchproof.reasoning.touchlimits import (
    BURN_BASIS,
    CHARGE_BASIS,
    CHECK_FIRST,
    DRY,
    NOT_SAFE,
    VOLTAGE_BASIS,
    Waveform,
    compared_charge,
    compared_temperature,
    compared_voltage,
    exceeds,
)
from benchproof.values.quantities import engineering

NOT_STATED, AS_STATED = "not stated", "as stated"


@dataclass(frozen=True, slots=True)
class Fact:
    """One line about an energy source.

    Attributes
    ----------
    key, what : str
        A stable key, and its words.
    value, means : str
        As shown; ``not stated`` where it is missing, and what that leaves open.
    above : bool
        Whether a limit is exceeded.
    """

    key: str
    what: str
    value: str
    means: str = ""
    above: bool = False


_LABELS = {
    "bleed": "bleed resistor",
    "bleed_to": "bleed down to",
    "current_limit": "current limit",
    "duration": "contact time",
}
_ASKED = {
    "stored charge": ("voltage", "capacitance", "bleed"),
    "lithium cells": ("voltage", "capacity", "current_limit"),
    "mains": ("voltage", "current_limit"),
    "supply": ("voltage", "current_limit"),
    "heat": ("temperature", "duration"),
}
"""What is asked of a kind: shown as not stated where it is missing."""

_USUAL: dict[str, Waveform] = {
    "stored charge": "dc",
    "lithium cells": "dc",
    "mains": "ac rms",
}
"""Taken where the waveform is not stated; of other kinds nothing is assumed."""


def facts_of(energy: Energy) -> tuple[Fact, ...]:
    """Return what is stated of an energy source and what follows from it.

    Each value counts with the end that is worse: a stated ± widens it.

    Returns
    -------
    tuple of Fact
        Stated quantities and those asked of its kind but missing; then, where what
        they need is stated, energy, charge, source power and bleed times.

    References
    ----------
    ½ C V², R C ln(V0/Vs), V I; for the limits see `touchlimits`.

    Examples
    --------
    >>> from benchproof.reasoning.energies import energy_from
    >>> rail = energy_from(
    ...     {
    ...         "name": "rail",
    ...         "kind": "stored charge",
    ...         "capacitance": "1000 uF",
    ...         "voltage": "19 V",
    ...     },
    ...     "case.toml",
    ... )
    >>> [(f.what, f.value) for f in facts_of(rail)][2:4]
    [('bleed resistor', 'not stated'), ('stored energy', '0.180 J')]
    """
    wanted, derived = _wanted(energy), tuple(_derived(energy))
    if any(fact.key == "target_time" for fact in derived):
        wanted.discard("bleed_to")  # named with its time
    stated = [_stated(energy, key) for key in QUANTITIES if key in wanted]
    return (*stated, *derived)


def grounds_of(energies: tuple[Energy, ...]) -> tuple[str, ...]:
    """Say which limits were compared with, what backs each, and how ± counts.

    Examples
    --------
    >>> grounds_of(())
    ()
    """
    facts = [fact for energy in energies for fact in facts_of(energy)]
    compared = {fact.key for fact in facts if fact.value != NOT_STATED}
    grounds = [basis for key, basis in _BASES.items() if key in compared]
    if grounds:
        grounds.append(CHECK_FIRST)
    if any(_is_uncertain(energy) for energy in energies):
        grounds.append("Of a value with ± the worse end counts.")
    return tuple(grounds)


_BASES = {"voltage": VOLTAGE_BASIS, "charge": CHARGE_BASIS, "temperature": BURN_BASIS}


def _is_uncertain(energy: Energy) -> bool:
    amounts = [getattr(energy, key) for key in QUANTITIES]
    return any(a.lowest < a.highest for a in amounts if a is not None)


def _stated(energy: Energy, key: str) -> Fact:
    what, amount = _LABELS.get(key, key), getattr(energy, key)
    if amount is None:
        return Fact(key, what, NOT_STATED, _lacking(energy, key))
    if key == "voltage":
        found = compared_voltage(amount.highest, _waveform(energy))
        shown = f"{amount.text}{_as_stated(energy)}"
        return Fact(key, what, shown, found.text, found.above)
    if key == "temperature":
        contact = energy.duration.highest if energy.duration else None
        found = compared_temperature(amount.highest, contact)
        return Fact(key, what, amount.text, found.text, found.above)
    if key == "bleed" and energy.voltage:
        peak, how = peak_volts(energy, energy.voltage)
        means = f"takes {_shown(peak**2 / amount.lowest, 'W')} at first: V0²/R{how}"
        return Fact(key, what, amount.text, means)
    return Fact(key, what, amount.text, AS_STATED)


def _lacking(energy: Energy, key: str) -> str:
    """Say what a missing quantity leaves open."""
    if key == "duration":
        return "the lowest burn threshold is taken"
    if key == "temperature":
        return "not compared with a burn threshold"
    wanted = _wanted(energy)
    lost = [
        words
        for words, needs, _ in _FOLLOWS
        if key in needs and wanted.issuperset(needs)
    ]
    compared = ["comparison with the touch limits"] if key == "voltage" else []
    return f"not computed: {', '.join(compared + lost)}"


def _wanted(energy: Energy) -> set[str]:
    """Return the quantities that are stated, and those asked of the kind."""
    stated = {key for key in QUANTITIES if getattr(energy, key) is not None}
    return stated | set(_ASKED.get(energy.kind, ()))


def _waveform(energy: Energy) -> Waveform:
    return energy.waveform or _USUAL.get(energy.kind, "")


def _as_stated(energy: Energy) -> str:
    """Say how a voltage was stated, or how it is taken."""
    words = _waveform(energy).replace("dc", "DC").replace("ac ", "AC ")
    if energy.waveform:
        return f" {words}"
    return f", taken as {words}" if words else ""


def peak_volts(energy: Energy, voltage: Amount) -> tuple[float, str]:
    """Return the highest instantaneous voltage, V, and how it was found.

    Unless the voltage is stated as a peak or as DC, a sine is taken: what a capacitor
    keeps after switching off can be the peak.
    """
    if _waveform(energy) in ("dc", "ac peak"):
        return voltage.highest, ""
    peak = sqrt(2) * voltage.highest
    why = "" if _waveform(energy) else "waveform not stated, "
    return peak, f" at the peak of {_shown(peak, 'V')} ({why}a sine taken)"


def _derived(energy: Energy) -> Iterator[Fact]:
    for _, needs, work in _FOLLOWS:
        amounts = [getattr(energy, key) for key in needs]
        if None not in amounts:
            yield from work(energy, *amounts)


def _stored(energy: Energy, voltage: Amount, capacitance: Amount) -> Iterator[Fact]:
    peak, how = peak_volts(energy, voltage)
    joules = float(stored_energy(capacitance.highest, peak))
    yield Fact("energy", "stored energy", _joules(joules), f"½ C V²{how}")
    if exceeds(peak, DRY.dc):
        charge = capacitance.highest * peak
        found = compared_charge(charge, joules, peak)
        shown = _shown(charge, "C")
        yield Fact("charge", "stored charge", shown, found.text, found.above)


def _cell(energy: Energy, voltage: Amount, capacity: Amount) -> Iterator[Fact]:
    joules = capacity.highest * voltage.highest
    yield Fact("cell", "energy of the cell", _joules(joules), "capacity × voltage")


def _power(energy: Energy, voltage: Amount, limit: Amount) -> Iterator[Fact]:
    watts = _shown(voltage.highest * limit.highest, "W")
    means = "voltage × current limit, at most; no limit is kept for it"
    yield Fact("power", "source power", watts, means)


def _bleeding(
    energy: Energy, voltage: Amount, capacitance: Amount, bleed: Amount
) -> Iterator[Fact]:
    peak, how = peak_volts(energy, voltage)
    targets = [("limit_time", f"the touch limit of {DRY.named('dc')}", DRY.dc)]
    if energy.bleed_to:
        targets.append(("target_time", energy.bleed_to.text, energy.bleed_to.lowest))
    for key, name, volts in targets:
        what = f"bleed time to {name}"
        if not exceeds(peak, volts):
            yield Fact(key, what, "0 s", f"it starts no higher; {NOT_SAFE}")
            continue
        seconds = bleed_time(bleed.highest, capacitance.highest, peak, volts)
        means = f"R C ln(V0/Vs){how}; measure afterwards all the same"
        yield Fact(key, what, _shown(float(seconds), "s"), means)


_FOLLOWS: tuple[tuple[str, tuple[str, ...], Callable[..., Iterator[Fact]]], ...]
_FOLLOWS = (
    ("stored energy", ("voltage", "capacitance"), _stored),
    ("energy of the cell", ("voltage", "capacity"), _cell),
    ("source power", ("voltage", "current_limit"), _power),
    ("bleed time", ("voltage", "capacitance", "bleed"), _bleeding),
)
"""What follows, what it needs, and what works it out."""


def _joules(energy: float) -> str:
    return _shown(energy / 1000, "kJ") if energy >= 1000 else _shown(energy, "J")


def _shown(value: float, symbol: str) -> str:
    """Write with three figures, in whole numbers from 100 on."""
    scale, symbol = engineering(value, symbol)
    number = float(f"{value * scale:.3g}")
    text = f"{number:.0f}" if abs(number) >= 100 else f"{number:#.3g}"
    return f"{text} {symbol}"

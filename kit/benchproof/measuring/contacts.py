"""The contacts of a device, as declared before anything is measured at them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values
from benchproof.values.units import require_same_dimension, unit_of

CONFIDENCES = ("seen", "likely", "guess", "unknown")
"""How sure a guessed function is; ``seen``: the trace or a marking was followed."""


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact and what is believed about it.

    Attributes
    ----------
    name : str
        Letters and digits, e.g. ``P1``: part of its measurands' names.
    where : str
        Printed label and place, in words.
    place : (float, float) or None
        Coordinates, m.
    height : float or None
        How far it stands proud, m: the highest makes first.
    mates : float or None
        When it makes while plugged in, s: the earliest makes first.
    guess, evidence, confidence : str
        Supposed function, what it rests on, and one of `CONFIDENCES`.
    """

    name: str
    where: str = ""
    place: tuple[float, float] | None = None
    height: float | None = None
    mates: float | None = None
    guess: str = ""
    evidence: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class ForbiddenPair:
    """Two contacts that may not be joined or driven, and why."""

    first: str
    second: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SurveyPlan:
    """What a contact survey covers.

    Attributes
    ----------
    contacts : tuple of Contact
        In the order in which a row of values is typed.
    powered, unpowered : tuple of str
        States of the device; ohms belong in an unpowered one.
    reference : str
        The contact that carries the black lead while voltages are read.
    forbidden : tuple of ForbiddenPair
    """

    contacts: tuple[Contact, ...] = ()
    powered: tuple[str, ...] = ()
    unpowered: tuple[str, ...] = ()
    reference: str = ""
    forbidden: tuple[ForbiddenPair, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """All contacts by name, in declared order."""
        return tuple(c.name for c in self.contacts)

    @property
    def probed(self) -> tuple[str, ...]:
        """The contacts a row of voltages has values for: all but the reference."""
        return tuple(n for n in self.names if n != self.reference)

    @property
    def states(self) -> tuple[str, ...]:
        """All states, the powered ones first."""
        return self.powered + self.unpowered

    def check_contact(self, name: str, where: str) -> None:
        """Refuse a contact that is not declared.

        Raises
        ------
        InputError
            Naming those there are.
        """
        if name not in self.names:
            raise InputError(
                f"{where}: contact {name!r} is not declared in case.toml (there: "
                f"{_listed(self.names)}). Correct the name, or add a [[contact]]."
            )

    def check_state(self, state: str, where: str) -> None:
        """Refuse a state that is not declared.

        Raises
        ------
        InputError
            Naming those there are.
        """
        if state not in self.states:
            raise InputError(
                f"{where}: state {state!r} is not declared in case.toml (there: "
                f"{_listed(self.states)}). Correct it, or add it to [survey] states "
                "or unpowered."
            )

    def forbids(self, first: str, second: str) -> ForbiddenPair | None:
        """Return the declaration that forbids a pair, in either order."""
        for pair in self.forbidden:
            if {pair.first, pair.second} == {first, second}:
                return pair
        return None


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "none"


def state_label(state: str) -> str:
    """Return a state as part of a measurand's name.

    Examples
    --------
    >>> state_label("pack out")
    'pack_out'
    """
    return re.sub(r"\W+", "_", state).strip("_")


def voltage_name(contact: str, state: str) -> str:
    """Name the voltage of a contact against the reference.

    Examples
    --------
    >>> voltage_name("P1", "asleep")
    'V_P1_asleep'
    """
    return f"V_{contact}_{state_label(state)}"


def resistance_name(red: str, black: str, state: str) -> str:
    """Name the resistance between two contacts; each polarity has its own name.

    Examples
    --------
    >>> resistance_name("P1", "P2", "pack out")
    'R_P1_P2_pack_out'
    """
    return f"R_{red}_{black}_{state_label(state)}"


def survey_from(
    survey: Mapping[str, Any], contacts: Sequence[Mapping[str, Any]], where: str
) -> SurveyPlan:
    """Read the ``[survey]`` table and the ``[[contact]]`` tables of a case.

    Parameters
    ----------
    survey : mapping
        ``states`` (powered), ``unpowered``, ``reference``, and ``forbidden``: a list
        of ``["P1", "P2", "reason"]``.
    contacts : sequence of mapping
        ``name``, ``where``, ``x`` and ``y`` (``"2.54 mm"``), ``height`` (a length)
        or ``mates`` (a time), ``guess``, ``evidence``, ``confidence``.
    where : str
        The file, named in error messages.

    Raises
    ------
    InputError
        If something is missing, unknown, doubled or without its unit.

    Examples
    --------
    >>> plan = survey_from(
    ...     {"states": ["asleep"], "unpowered": ["pack out"], "reference": "P2"},
    ...     [{"name": "P1", "height": "0.3 mm"}, {"name": "P2"}],
    ...     "case.toml",
    ... )
    >>> plan.probed, plan.contacts[0].height
    (('P1',), 0.0003)
    """
    if not survey and not contacts:
        return SurveyPlan()
    at = f"{where}, [survey]"
    _check_keys(survey, ("states", "unpowered", "reference", "forbidden"), at)
    found = tuple(_contact(entry, where) for entry in contacts)
    _check_unique([c.name for c in found], f"{where}, [[contact]]", "name")
    powered, unpowered = (_texts(survey, k, at) for k in ("states", "unpowered"))
    states = powered + unpowered
    for state in states:
        if not state_label(state):
            raise InputError(f"{at}: state {state!r} has no letter. Name it in words.")
    _check_unique([state_label(s) for s in states], at, "state")
    if not powered:
        raise InputError(f'{at}: states is missing. Write e.g. states = ["on"].')
    plan = SurveyPlan(found, powered, unpowered, str(survey.get("reference", "")))
    plan.check_contact(plan.reference, f"{at}, reference (the black lead)")
    barred = survey.get("forbidden", [])
    if not isinstance(barred, list):
        barred = [barred]  # refused there, with what to write
    forbidden = tuple(_forbidden(e, plan, at) for e in barred)
    return SurveyPlan(found, powered, unpowered, plan.reference, forbidden)


_TEXTS = ("where", "guess", "evidence", "confidence")
_NUMBERS = {"x": "mm", "y": "mm", "height": "mm", "mates": "ms"}
"""Keys of a contact that are quantities, with a unit of the right kind."""


def _contact(entry: Mapping[str, Any], where: str) -> Contact:
    name = str(entry.get("name", "")).strip()
    at = f"{where}, [[contact]] {name!r}"
    # An underscore would make V_A_b_c ambiguous: contact A_b, or state b_c?
    if not (name.isalnum() and f"V_{name}".isidentifier()):
        raise InputError(
            f"{at}: a contact's name has letters and digits only, like P1. "
            "Put the printed label into where."
        )
    _check_keys(entry, ("name", *_TEXTS, *_NUMBERS), at)
    numbers = {key: _quantity(entry, key, at) for key in _NUMBERS}
    x, y = numbers["x"], numbers["y"]
    if (x is None) != (y is None):
        raise InputError(f"{at}: give both x and y, or neither.")
    texts = {key: str(entry.get(key, "")).strip() for key in _TEXTS}
    if texts["confidence"] not in ("", *CONFIDENCES):
        raise InputError(
            f"{at}: confidence {texts['confidence']!r}; use one of "
            f"{_listed(CONFIDENCES)}."
        )
    place = None if x is None or y is None else (x, y)
    return Contact(
        name, place=place, height=numbers["height"], mates=numbers["mates"], **texts
    )


def _quantity(entry: Mapping[str, Any], key: str, where: str) -> float | None:
    """Return a length or time in SI, None if not stated."""
    if key not in entry:
        return None
    said, wanted = entry[key], _NUMBERS[key]
    if not isinstance(said, str):
        raise InputError(
            f"{where}: {key} = {said} has no unit. Write {key} = '{said} {wanted}'."
        )
    values = read_values(said, f"{where}, {key}")
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(f"{where}: {key} = {said!r}: write one number, '1 {wanted}'.")
    unit = unit_of(values[0].unit)
    require_same_dimension(unit, unit_of(wanted), f"{where}, {key}")
    return unit.to_si(values[0].value)


def _texts(table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    value = table.get(key, [])
    if not (isinstance(value, list) and all(isinstance(v, str) for v in value)):
        raise InputError(f'{where}: {key} must be a list of names: ["…", "…"].')
    return tuple(v.strip() for v in value)


def _forbidden(entry: Any, plan: SurveyPlan, where: str) -> ForbiddenPair:
    texts = isinstance(entry, list) and all(isinstance(v, str) for v in entry)
    if not texts or len(entry) not in (2, 3) or entry[0] == entry[1]:
        raise InputError(
            f"{where}: forbidden {entry!r}: write two contacts and the reason: "
            '["P1", "P2", "reason"].'
        )
    for name in entry[:2]:
        plan.check_contact(name, f"{where}, forbidden")
    return ForbiddenPair(*entry)


def _check_keys(table: Mapping[str, Any], known: Sequence[str], where: str) -> None:
    if unknown := [key for key in table if key not in known]:
        raise InputError(
            f"{where}: {unknown[0]!r} is not one of {', '.join(known)}. "
            "Rename or remove the line."
        )


def _check_unique(names: Sequence[str], where: str, what: str) -> None:
    for name in names:
        if names.count(name) > 1:
            raise InputError(
                f"{where}: {what} {name!r} stands there {names.count(name)} times, and "
                "readings could not tell them apart. Rename one."
            )


def mating_ranks(contacts: Sequence[Contact]) -> dict[str, tuple[int, int]]:
    """Derive in which order contacts make, and break in the reverse order.

    Parameters
    ----------
    contacts : sequence of Contact
        Those without the `mating_basis` are left out: nothing is known of them.

    Returns
    -------
    dict
        Name to (make, break), both from 1; equals share a number.

    Examples
    --------
    >>> mating_ranks([Contact("P1", height=0.0), Contact("P2", height=0.00062)])
    {'P1': (2, 1), 'P2': (1, 2)}
    """
    basis = mating_basis(contacts)
    keys = {
        c.name: _rounded(c.mates if basis == "mates" else c.height, basis)
        for c in contacts
        if getattr(c, basis) is not None
    }
    order = sorted(set(keys.values()))
    return {
        name: (order.index(key) + 1, len(order) - order.index(key))
        for name, key in keys.items()
    }


def mating_basis(contacts: Sequence[Contact]) -> str:
    """Return ``mates`` if as many contacts state a time as a height, else ``height``.

    A time is what happens; a height only suggests it.
    """
    times = sum(c.mates is not None for c in contacts)
    return "mates" if times >= sum(c.height is not None for c in contacts) else "height"


def _rounded(number: float | None, basis: str) -> float:
    """Make 0.62 mm and 620 µm equal, and the first to make the smallest."""
    sign = 1 if basis == "mates" else -1
    return sign * float(f"{number or 0.0:.9g}")

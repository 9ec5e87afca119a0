"""Corrections linked to the readings that count: formula, constants, refusals."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchproof.keeping.state.absences import why_missing
from benchproof.keeping.state.constants import Constant
from benchproof.measuring.corrections import (
    KINDS,
    Declared,
    KindName,
    cautions,
    declared_property,
    refusal,
)
from benchproof.measuring.indications import indication_of
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import Measured
from benchproof.reasoning.budgets.differences import budget_of_difference
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.values.errors import InputError
from benchproof.values.units import Unit

if TYPE_CHECKING:
    from benchproof.keeping.state.state import State

FILE = "instruments.toml"


@dataclass(frozen=True, slots=True)
class Correction:
    """What a notebook's cell asks to be corrected.

    Attributes
    ----------
    name : str
        Of the corrected quantity.
    roles : tuple of (str, str)
        Quantity for each role of the formula but the declared one.
    declared : str
        The role that instruments.toml fills, "" if none.
    largest_ratio : float
        Of correction to reading; beyond it the correction is flagged.
    """

    kind: KindName
    name: str
    roles: tuple[tuple[str, str], ...]
    declared: Declared = ""
    largest_ratio: float = 0.1

    @property
    def reading(self) -> str:
        """The quantity that is corrected."""
        return self.roles[0][1]

    def formula(self, unit: Unit, constant: str = "") -> Formula:
        """Return the derived quantity it amounts to.

        Parameters
        ----------
        constant : str
            Name of the declared property; "" while it is not known.
        """
        known = KINDS[self.kind]
        names = dict(self.roles)
        if constant:
            names["leads" if self.kind == "leads" else self.declared] = constant
        arguments = tuple(names[role] for role in known.roles if role in names)
        text = known.text(self.name, arguments)
        return Formula(self.name, unit, known.function, arguments, text)


@dataclass(frozen=True, slots=True)
class Link:
    """A correction and what its readings' instrument declares for it.

    Attributes
    ----------
    constant : Constant or None
        The declared property.
    exact : bool
        Whether its tolerance was left out.
    refused : str
        Why it cannot be applied, whatever the values are.
    """

    correction: Correction
    formula: Formula
    constant: Constant | None = None
    exact: bool = False
    refused: str = ""


def link_of(
    correction: Correction,
    measured: Mapping[str, Measured],
    instruments: Mapping[str, Instrument],
    template: Formula,
    taken: Container[str],
) -> Link:
    """Find what a correction needs from instruments.toml.

    Parameters
    ----------
    template : Formula
        As declared, before the instrument was known.
    taken : container of str
        Names that the notebook declares, which no property may take.
    """
    found = measured.get(correction.reading)
    if found is None or not found.readings:
        return Link(correction, template)
    plain = Link(correction, replace(template, unit=found.unit))
    try:
        if correction.kind == "gain":
            _require_one_range(correction, measured, instruments)
        if not correction.declared:
            return plain
        name, declared = declared_property(
            correction.declared, found.readings, instruments
        )
    except InputError as problem:
        return replace(plain, refused=f"no answer: {problem}".rstrip("."))
    if name in taken:
        said = f"no answer: {name} is declared in the notebook as well. Rename that"
        return replace(plain, refused=said)
    owner = found.readings[0].instrument
    estimate = declared.estimate(name, owner)
    constant = Constant(name, declared.unit, estimate, declared.text, FILE)
    formula = correction.formula(found.unit, name)
    return Link(correction, formula, constant, declared.stated is None)


def _require_one_range(
    correction: Correction,
    measured: Mapping[str, Measured],
    instruments: Mapping[str, Instrument],
) -> None:
    """Refuse a gain that would be taken from another instrument or range."""
    stems: dict[str, str] = {}
    for role, name in correction.roles:
        found = measured.get(name)
        if role == "meter" or found is None:
            continue
        for reading in found.readings:
            if reading.instrument and not reading.value.bound:
                stems.setdefault(indication_of(reading, instruments).stem, name)
    if len(stems) > 1:
        listed = ", ".join(f"{name} on {stem}" for stem, name in stems.items())
        raise InputError(
            f"the gain is known on one range only, and these differ: {listed}. Read "
            "them on one range, named with range='…'"
        )


def no_answer(state: State, link: Link) -> str:
    """Say why a correction gives no value although its reading is there; else "".

    A reading that is pending, or invalid, speaks for itself.
    """
    correction = link.correction
    first = state.missing(correction.reading)
    if any(m.status in ("pending", "invalid") for m in first):
        return ""
    if link.refused:
        return link.refused
    lacking = [m for _, name in correction.roles[1:] for m in state.missing(name)]
    if lacking:
        listed = "; ".join(dict.fromkeys(map(why_missing, lacking)))
        return f"no answer: {listed}"
    if first:
        return ""  # a bound, which the formula carries on
    apart = 0.0
    if correction.kind == "body":
        names = dict(correction.roles)
        both = budget_of_difference(state.graph, names["body"], names["reading"])
        apart = both.standard_uncertainty
    return refusal(correction.kind, _values(state, link), apart)


def caution_texts(state: State, link: Link) -> list[str]:
    """Say what to know about a correction that is applied."""
    correction, said = link.correction, []
    if link.constant and link.exact:
        said.append(
            f"the tolerance of {link.constant.name} is not stated in {FILE}: taken as "
            "exact"
        )
    values = _values(state, link)
    said += cautions(correction.kind, values, correction.largest_ratio)
    return [f"{correction.name} ({correction.kind}): {one}" for one in said]


def _values(state: State, link: Link) -> dict[str, float]:
    roles = KINDS[link.correction.kind].roles
    arguments = link.formula.arguments
    return {
        role: state.graph.value(name)
        for role, name in zip(roles, arguments, strict=False)
    }

"""Corrections for what a meter did to the circuit: raw stands beside corrected."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchproof.keeping.measurand import Measurand
from benchproof.keeping.state.correctionlinks import Correction
from benchproof.measuring.corrections import KINDS
from benchproof.reasoning.budgets.graph import order, unknown_name
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import require_same_dimension, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True, repr=False)
class Corrections(Tabular):
    """Derived quantities that undo what a meter did: ``case.corrections``.

    Each takes the name of the corrected quantity first. The raw reading keeps its
    own name and stays what it was. What the instrument itself brings in is taken
    from instruments.toml and becomes a constant of the case, with its uncertainty
    where one is stated there. Where a correction does not hold, the corrected
    quantity has no value and says why.
    """

    case: Case

    def loading(
        self, name: str, *, reading: str, source: str, largest_ratio: float = 0.1
    ) -> Measurand:
        """Undo the load of a voltmeter: ``V = Vm (1 + Rs/Rin)``.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        reading : str
            A measurand in V; its instrument, or the function, declares
            ``input_resistance``.
        source : str
            A measurand, constant or derived quantity in Ω: the source resistance of
            the node in that state. A bound gives no answer: what nothing drives has
            no voltage of its own.
        largest_ratio : float
            Of Rs to Rin; beyond it the correction is flagged.

        Raises
        ------
        InputError
            If `reading` is no measurand, or a unit does not fit; FormulaError for an
            unknown name.

        References
        ----------
        See `unloaded_voltage`.
        """
        roles = (("reading", reading), ("source", source))
        return self._declare(
            Correction("loading", name, roles, "input_resistance", largest_ratio)
        )

    def burden(
        self, name: str, *, reading: str, source: str, largest_ratio: float = 0.1
    ) -> Measurand:
        """Undo the burden of an ammeter: ``I = Im (1 + Rb/Rs)``.

        It holds only while the device does the same with the meter in; where it did
        not, the reading is invalid and is not corrected: see `Case.valid_only_if`.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        reading : str
            A measurand in A, taken on one range that declares its ``burden``.
        source : str
            All other resistance of the loop, Ω.
        largest_ratio : float
            Of Rb to Rs; beyond it the correction is flagged.

        Raises
        ------
        InputError, FormulaError
            As for `loading`.

        References
        ----------
        See `unburdened_current`.
        """
        roles = (("reading", reading), ("source", source))
        return self._declare(Correction("burden", name, roles, "burden", largest_ratio))

    def leads(
        self, name: str, *, reading: str, leads: str = "", largest_ratio: float = 0.1
    ) -> Measurand:
        """Subtract the leads: ``R = Rm - Rl``.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        reading : str
            In Ω; a measurand if `leads` is not given.
        leads : str
            The reading with the tips held together, on the same range. If "", the
            value that instruments.toml states for the function:
            ``lead_resistance = "0.20 ± 0.05 ohm"``.
        largest_ratio : float
            Of leads to reading; beyond it the correction is flagged.

        Raises
        ------
        InputError, FormulaError
            As for `loading`.

        References
        ----------
        See `nulled_resistance`.
        """
        if not leads:
            roles: tuple[tuple[str, str], ...] = (("reading", reading),)
            return self._declare(
                Correction("leads", name, roles, "lead_resistance", largest_ratio)
            )
        roles = (("reading", reading), ("leads", leads))
        return self._declare(
            Correction("leads", name, roles, largest_ratio=largest_ratio)
        )

    def body(
        self, name: str, *, reading: str, body: str, largest_ratio: float = 0.1
    ) -> Measurand:
        """Take fingers off the tips: ``R = 1/(1/Rm - 1/Rbody)``.

        Retaking the reading with clips is better.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        reading : str
            In Ω.
        body : str
            Measured on the same person and grip, Ω; it must exceed the reading by
            more than 2 u of their difference.
        largest_ratio : float
            Of correction to reading; beyond it the correction is flagged.

        Raises
        ------
        InputError, FormulaError
            As for `loading`.

        References
        ----------
        See `resistance_without_body`.
        """
        roles = (("reading", reading), ("body", body))
        return self._declare(
            Correction("body", name, roles, largest_ratio=largest_ratio)
        )

    def reversal(
        self, name: str, *, plus: str, minus: str, largest_ratio: float = 0.1
    ) -> Measurand:
        """Remove thermal voltages by reversing the current: ``V = (V₊ - V₋)/2``.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        plus, minus : str
            In V, with the current one way and the other.
        largest_ratio : float
            Of thermal voltage to result; beyond it the correction is flagged.

        Raises
        ------
        InputError, FormulaError
            As for `loading`.

        References
        ----------
        See `without_thermal_emf`.
        """
        roles = (("plus", plus), ("minus", minus))
        return self._declare(
            Correction("reversal", name, roles, largest_ratio=largest_ratio)
        )

    def gain(
        self, name: str, *, reading: str, scope: str, meter: str, zero: str = ""
    ) -> Measurand:
        """Put a scope's reading on a meter's gain: ``V = Vm (v - v0)/(vs - v0)``.

        Parameters
        ----------
        name : str
            Of the corrected quantity.
        reading : str
            What is wanted, as the scope shows it, V.
        scope, meter : str
            One steady level by the scope, on the same range, and by the meter, V.
        zero : str
            The scope with its probe on its own ground, V; exactly 0 if not given.

        Raises
        ------
        InputError, FormulaError
            As for `loading`.

        References
        ----------
        See `transferred_voltage`.
        """
        zeros = (("zero", zero),) if zero else ()
        roles = (("reading", reading), ("scope", scope), ("meter", meter), *zeros)
        return self._declare(Correction("gain", name, roles))

    def _declare(self, correction: Correction) -> Measurand:
        case, defined = self.case, self.case.defined
        if not 0 < correction.largest_ratio < float("inf"):
            raise InputError(
                f"{correction.name}: largest_ratio is {correction.largest_ratio:g}; "
                "give a ratio above 0, e.g. 0.1."
            )
        unit = unit_of(self._check_roles(correction))
        formula = correction.formula(unit)
        defined.check_kind(correction.name, "derived quantity", case.book.record)
        trial = {**defined.formulas, correction.name: formula}
        order(trial, defined.units(case.book.record), correction.name)
        defined.add_correction(correction, formula)
        return case[correction.name]

    def _check_roles(self, correction: Correction) -> str:
        """Check that every quantity is known and fits; return the reading's unit."""
        state = self.case.state()
        kind = KINDS[correction.kind]
        units = dict(zip(kind.roles, kind.units, strict=True))
        for role, name in correction.roles:
            if not state.knows(name):
                raise unknown_name(name, state.graph.units, correction.name)
            where = f"{correction.name}: {role} {name}"
            require_same_dimension(state.graph.units[name], unit_of(units[role]), where)
        if correction.declared and correction.reading not in state.measured:
            raise InputError(
                f"{correction.name}: {correction.reading} is no measurand, so no "
                f"instrument's {correction.declared} belongs to it. Correct the "
                "readings it comes from."
            )
        return state.graph.units[correction.reading].symbol

    def table(self) -> Table:
        """Return raw beside corrected, with the formula and what to know about it."""
        return corrections_table(self.case)


def corrections_table(case: Case) -> Table:
    """Return each reading beside what it is corrected to, or why it is not."""
    state = case.state()
    rows = []
    for name, link in state.links.items():
        correction = link.correction
        missing = state.missing(name)
        notes = [] if missing else state.cautions(name)
        by = ", ".join(a for a in link.formula.arguments if a != correction.reading)
        rows.append(
            (
                correction.kind,
                f"{correction.reading} = {case[correction.reading]}",
                f"{name} = {case[name]}",
                f"{KINDS[correction.kind].equation}, by {by}",
                "; ".join(notes),
            )
        )
    heads = columns("Correction", "As read", "Corrected", "How", "Note")
    return Table("Corrections", heads, tuple(rows))

"""What a notebook's cells declared: measurands, constants, formulas, rivals."""

from __future__ import annotations

import keyword
from collections.abc import Container
from typing import TYPE_CHECKING, Any

from benchproof.keeping.state.constants import Constant
from benchproof.keeping.state.correctionlinks import Correction
from benchproof.keeping.state.validity import Condition
from benchproof.measuring.readings import Record
from benchproof.reasoning.budgets.correlations import Correlation
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.verdicts import Hypothesis
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

if TYPE_CHECKING:
    from benchproof.keeping.inquiry.objections import Objection
    from benchproof.keeping.recording import Entry
    from benchproof.measuring.captures.finding import Finding


class Definitions:
    """Everything declared so far; shared by all views of a case."""

    def __init__(self) -> None:
        self.declared: dict[str, str] = {}
        self.planned: dict[str, Entry] = {}  # how "? V" says it is to be taken
        self.constants: dict[str, Constant] = {}
        self.formulas: dict[str, Formula] = {}
        self.corrections: dict[str, Correction] = {}
        self.findings: dict[str, dict[int, Finding]] = {}
        self.opened_captures: set[str] = set()
        self.conditions: dict[tuple[str, str], Condition] = {}
        self.correlations: dict[frozenset[str], Correlation] = {}
        self.hypotheses: dict[str, Hypothesis] = {}
        self.statements: dict[str, str] = {}
        self.objections: dict[int, Objection] = {}
        self.errors: dict[tuple[str, ...], Any] = {}
        self.version = 0

    def add_formula(self, formula: Formula) -> None:
        """Note a derived quantity; it takes the place of a correction so named."""
        self.corrections.pop(formula.name, None)
        self.formulas[formula.name] = formula
        self.version += 1

    def add_correction(self, correction: Correction, formula: Formula) -> None:
        """Note a correction and the derived quantity it amounts to."""
        if self.corrections.get(correction.name) != correction:
            self.corrections[correction.name] = correction
            self.formulas[correction.name] = formula
            self.version += 1

    def keep_finding(self, name: str, number: int, finding: Finding) -> None:
        """Note what was read from a capture of one round."""
        rounds = self.findings.setdefault(name, {})
        if rounds.get(number) != finding:
            rounds[number] = finding
            self.version += 1

    def add_condition(self, condition: Condition) -> None:
        """Note a condition; it takes the place of one on the same quantity."""
        key = (condition.measurand, condition.criterion.quantity)
        if self.conditions.get(key) != condition:
            self.conditions[key] = condition
            self.version += 1

    def check_name(self, name: str, unit: str, record: Record) -> None:
        """Refuse a measurand's name that is no name, or that is taken."""
        self.check_kind(name, "measurand", record)
        recorded = record.of(name)
        if not recorded:
            return
        before = recorded[0].value.unit
        if unit_of(before).dimension != unit_of(unit).dimension:
            raise InputError(
                f"{name}: recorded in {before or 'counts'}, now in "
                f"{unit or 'counts'}. Choose another name for another quantity."
            )

    def check_kind(self, name: str, kind: str, record: Record) -> None:
        """Refuse a name that is none, or stands for something of another kind."""
        if not name.isidentifier() or keyword.iskeyword(name):
            raise InputError(
                f"{name!r} cannot be used in a formula. Name it like V_idle: letters, "
                "digits and underscores, no digit first, no word of Python."
            )
        recorded = ["measurand"] if record.of(name) else []
        rival = ["rival"] if name in self.hypotheses else []
        for what in [*self.taken(name), *recorded, *rival]:
            if what != kind:
                raise InputError(f"{name!r} is already a {what}. Choose another name.")

    def declare(self, name: str, unit: str) -> None:
        """Note a measurand that the notebook mentions, and its unit."""
        if self.declared.get(name) != unit:
            self.declared[name] = unit
            self.version += 1

    def taken(self, name: str) -> list[str]:
        """Say what a name stands for already."""
        kinds: dict[str, Container[str]] = {
            "measurand": self.declared,
            "constant": self.constants,
            "derived quantity": self.formulas,
            "captured quantity": self.findings,
        }
        return [kind for kind, names in kinds.items() if name in names]

    def units(self, record: Record) -> list[str]:
        """Return all declared names, those only in the log included."""
        return list(
            dict.fromkeys(
                [
                    *self.declared,
                    *record.names(),
                    *self.findings,
                    *self.constants,
                    *self.formulas,
                ]
            )
        )

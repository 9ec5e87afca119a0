"""What a notebook's cells declared: measurands, constants, formulas, rivals."""

from __future__ import annotations

import keyword
from collections.abc import Container
from typing import Any

from benchproof.keeping.constants import Constant
from benchproof.measuring.readings import Record
from benchproof.reasoning.budgets.correlations import Correlation
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.verdicts import Hypothesis
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of


class Definitions:
    """Everything declared so far; shared by all views of a case."""

    def __init__(self) -> None:
        self.declared: dict[str, str] = {}
        self.constants: dict[str, Constant] = {}
        self.formulas: dict[str, Formula] = {}
        self.correlations: dict[frozenset[str], Correlation] = {}
        self.hypotheses: dict[str, Hypothesis] = {}
        self.statements: dict[str, str] = {}
        self.errors: dict[tuple[str, ...], Any] = {}
        self.version = 0

    def check_name(self, name: str, unit: str, record: Record) -> None:
        """Refuse a measurand's name that is no name, or that is taken."""
        if not name.isidentifier() or keyword.iskeyword(name):
            raise InputError(
                f"{name!r} cannot be used in a formula. Name it like V_idle: letters, "
                "digits and underscores, no digit first, no word of Python."
            )
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
        """Refuse a name that already stands for something of another kind."""
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
        }
        return [kind for kind, names in kinds.items() if name in names]

    def units(self, record: Record) -> list[str]:
        """Return all declared names, those only in the log included."""
        return list(
            dict.fromkeys(
                [*self.declared, *record.names(), *self.constants, *self.formulas]
            )
        )

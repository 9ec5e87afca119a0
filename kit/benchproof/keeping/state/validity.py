"""Readings that count only where the meter let the device work as it does without."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchproof.measuring.measurands import Measured
from benchproof.reasoning.budgets.graph import unknown_name
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.verdicts import Judged, Prediction
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.tables import Table, columns
from benchproof.values.units import require_same_dimension

if TYPE_CHECKING:
    from benchproof.keeping.case import Case
    from benchproof.keeping.measurand import Measurand
    from benchproof.keeping.state.state import State

LEVEL = 0.95
"""Conformance probability a condition must reach."""


@dataclass(frozen=True, slots=True)
class Condition:
    """What must hold for the readings of a measurand to count."""

    measurand: str
    criterion: Criterion


@dataclass(frozen=True, slots=True)
class Checked:
    """A condition beside what the raw readings say about it."""

    condition: Condition
    outcome: str
    detail: str

    @property
    def reason(self) -> str:
        """Why the readings are invalid, in words."""
        text = self.condition.criterion.text
        return f"invalid because {text!r} is {self.outcome}"


def declare_condition(case: Case, measurand: str, criterion: Criterion) -> Measurand:
    """Note a condition; one on the same quantity takes the place of an earlier one.

    Raises
    ------
    InputError
        If `measurand` is a constant or derived, or the limits' unit does not fit;
        FormulaError for an unknown name.
    """
    state = case.state()
    for name in filter(None, (measurand, criterion.quantity, criterion.other)):
        if not state.knows(name):
            raise unknown_name(name, state.graph.units, f"valid_only_if {measurand}")
    if measurand not in state.measured:
        kind = "constant" if measurand in state.constants else "derived quantity"
        raise InputError(
            f"valid_only_if: {measurand} is a {kind}, and only readings can be "
            "invalid. Name the measurand it comes from."
        )
    if criterion.relation == "limits" or criterion.margin is not None:
        where = f"valid_only_if {measurand}: {criterion.text}"
        unit = state.graph.units[criterion.quantity]
        require_same_dimension(criterion.unit, unit, where)
    case.defined.add_condition(Condition(measurand, criterion))
    return case[measurand]


def check_conditions(
    raw: State, conditions: Sequence[Condition]
) -> tuple[Checked, ...]:
    """Judge every condition by the readings as they are.

    Parameters
    ----------
    raw : State
        In which no reading is invalid yet: the reading in question is mostly part
        of what its own condition is about.
    """
    return tuple(_check(raw, condition) for condition in conditions)


def _check(raw: State, condition: Condition) -> Checked:
    criterion = condition.criterion
    try:
        judged: Judged = raw.judge(Prediction(criterion.text, criterion), LEVEL)
    except (FormulaError, InputError) as problem:
        return Checked(condition, "undetermined", f"it cannot be computed: {problem}")
    return Checked(condition, judged.outcome, judged.detail)


def with_validity(
    measured: Mapping[str, Measured], checked: Sequence[Checked]
) -> dict[str, Measured]:
    """Take away the value of what is not shown to be valid; its readings stay.

    A condition about something not measured yet only warns.
    """
    result = dict(measured)
    for check in checked:
        name = check.condition.measurand
        found = result[name]
        if not found.readings or check.outcome == "met":
            continue
        if check.outcome == "not measured":
            text = check.condition.criterion.text
            said = f"valid only if {text!r}, not checked: {check.detail}"
            result[name] = replace(found, warnings=(*found.warnings, said))
        else:
            result[name] = _invalid(found, check)
    return result


def _invalid(found: Measured, check: Checked) -> Measured:
    first = f"{found.reason}; " if found.status == "invalid" else ""
    return replace(
        found,
        status="invalid",
        estimate=None,
        bound=None,
        count=None,
        flags=(*found.flags, f"{check.condition.criterion.text}: {check.detail}"),
        reason=first + check.reason,
    )


def validity_table(case: Case) -> Table:
    """Return every condition with what the raw readings say about it."""
    rows = tuple(
        (
            check.condition.measurand,
            check.condition.criterion.text,
            check.outcome,
            check.detail,
        )
        for check in case.state().checked
    )
    heads = columns("Readings of", "Valid only if", "Outcome", "Seen, as read")
    notes = (NOTE,) if rows else ()
    return Table("Validity of readings", heads, rows, notes)


NOTE = (
    "Where a condition is contradicted or undetermined, the readings are invalid: they "
    "stay visible, are not corrected, and nothing is computed from them."
)

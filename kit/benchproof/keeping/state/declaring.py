"""Correlations as a notebook declares them, tried out before they are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from benchproof.reasoning.budgets.correlations import Correlation
from benchproof.reasoning.budgets.graph import unknown_name
from benchproof.values.errors import InputError

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def declare_correlations(
    case: Case,
    pairs: Mapping[tuple[str, str], float],
    because: str,
    of: tuple[str, str],
) -> None:
    """Keep correlations of a case if they can hold beside those declared before.

    Parameters
    ----------
    pairs, because, of
        As for `Case.correlate`.

    Raises
    ------
    InputError
        If no reason is given or they contradict each other; FormulaError for a name
        that is no measurand or constant. Nothing is kept then.
    """
    if not because.strip():
        raise InputError("correlate: say where it comes from: because='…'.")
    defined = case.defined
    inputs = set(case.names()) - set(defined.formulas)
    for name in (name for pair in pairs for name in pair):
        if name not in inputs:
            raise unknown_name(name, inputs)
    before = defined.correlations
    defined.correlations = before | {
        frozenset(pair): Correlation(*pair, coefficient, because, of)
        for pair, coefficient in pairs.items()
    }
    defined.version += 1
    try:
        case.state()
    except InputError:
        defined.correlations = before
        defined.version += 1
        raise

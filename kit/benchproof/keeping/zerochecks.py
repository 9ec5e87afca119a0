"""Zero checks of a case: recorded like readings, shown in a table of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchproof.measuring.instruments import Function
from benchproof.measuring.zeros import (
    WHEN,
    ZeroCheck,
    instruments_in_round,
    zero_checks,
    zero_name,
)
from benchproof.values.errors import InputError
from benchproof.values.quantities import declared_unit, read_values
from benchproof.values.tables import Table, columns
from benchproof.values.units import require_same_dimension, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def record_zero_check(
    case: Case,
    instrument: str,
    function: str,
    readings: dict[str, str],
    *,
    at: str = "",
    because: str = "",
    in_round: int | None = None,
) -> None:
    """Record what a function showed of nothing; running it twice is harmless.

    Parameters
    ----------
    readings : dict
        Text by ``before`` and ``after``; "" is left out.

    Raises
    ------
    InputError
        If the instrument or the function is not declared, or a reading is no zero's.
    """
    known = _function(case, instrument, function)
    texts = {
        zero_name(instrument, known.name, when): readings[when]
        for when in WHEN
        if readings[when].strip()
    }
    for name, text in texts.items():
        _check_zero(name, text, known)
    for name, text in texts.items():
        case.record(
            name,
            text,
            using=instrument,
            function=known.name,
            at=at,
            because=because,
            in_round=in_round,
        )


def _check_zero(name: str, text: str, function: Function) -> None:
    """Refuse what no zero reads like, before either half is recorded."""
    values = read_values(text, name)
    unit = unit_of(declared_unit(text, name))
    if any(v.bound not in ("", "<") or v.of for v in values):
        raise InputError(
            f"{name}: {text!r} is no zero: over-range means that nothing was "
            "connected. Hold the tips together and read again."
        )
    require_same_dimension(unit, unit_of(function.unit), name)


def _function(case: Case, instrument: str, function: str) -> Function:
    if instrument not in case.instruments:
        known = ", ".join(case.instruments) or "none"
        raise InputError(
            f"zero_check: instrument {instrument!r} is not in instruments.toml "
            f"(there: {known}). Add it there or correct the name."
        )
    functions = {f.name: f for f in case.instruments[instrument].functions}
    if function in functions:
        return functions[function]
    measuring = [f for f in functions.values() if f.unit == function]
    if len(measuring) == 1:  # the unit is at hand where the name has an Ω in it
        return measuring[0]
    raise InputError(
        f"zero_check: {instrument} has no function {function!r}. It has: "
        f"{', '.join(f'{f.name} [{f.unit}]' for f in functions.values())}."
    )


def zeros_table(case: Case) -> Table:
    """Return the zero checks of every round and what was done about them."""
    checks = zero_checks(case.book.record, case.instruments, case.round_number)
    rows = []
    for (instrument, function), rounds in checks.items():
        for number, check in rounds.items():
            said = instruments_in_round(case.instruments, checks, number)[1]
            rows.append(
                (
                    instrument,
                    function,
                    str(number),
                    _shown(check, check.before),
                    _shown(check, check.after),
                    said[instrument, function],
                )
            )
    heads = columns(
        "Instrument", "Function", "Round>", "Before>", "After>", "What was done"
    )
    return Table("Zero checks", heads, tuple(rows))


def _shown(check: ZeroCheck, number: float | None) -> str:
    if number is None:
        return "not measured"
    return f"{number:g} {unit_of(check.unit).symbol}"

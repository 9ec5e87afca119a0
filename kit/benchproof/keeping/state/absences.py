"""Why a quantity has no value, in words."""

from __future__ import annotations

from collections.abc import Sequence

from benchproof.measuring.measurands import Measured
from benchproof.reasoning.judging import censored_text


def why_missing(measured: Measured) -> str:
    """Say why a quantity has no value.

    Examples
    --------
    >>> from benchproof.measuring.measurands import pending
    >>> why_missing(pending("V_min"))
    'V_min is not measured yet'
    """
    if measured.status == "invalid":
        return f"{measured.name}: {measured.reason}"
    if measured.status == "censored":
        return f"{measured.name} is only known as a bound ({censored_text(measured)})"
    if measured.status == "count":
        return f"{measured.name} is a count, not a quantity with a unit"
    return f"{measured.name} is not measured yet"


def pending_message(name: str, missing: Sequence[Measured]) -> str:
    """Say that a quantity was asked for before it had a value, and what next."""
    listed = "; ".join(map(why_missing, missing))
    if any(m.status == "invalid" for m in missing):
        return f"{name} has no value: {listed}. Measure it another way."
    return f"{name} has no value: {listed}. Record it with case.record(…)."


def invalid_text(name: str, missing: Sequence[Measured]) -> str:
    """Say in place of a value what is invalid, or why there is no answer; else "".

    Examples
    --------
    >>> from dataclasses import replace
    >>> from benchproof.measuring.measurands import pending
    >>> lost = replace(pending("I"), status="invalid", reason="invalid because …")
    >>> invalid_text("I", [lost]), invalid_text("P", [lost])
    ('(invalid because …)', '(not measured: I: invalid because …)')
    """
    invalid = [m for m in missing if m.status == "invalid"]
    if any(m.name == name for m in invalid):
        return next(f"({m.reason})" for m in invalid if m.name == name)
    listed = "; ".join(map(why_missing, invalid))
    return f"(not measured: {listed})" if invalid else ""

"""What every formula demands of its arguments, and how it refuses.

The comparisons are numpy's: unlike Python's they order complex numbers, by the real
part first, so that a complex step (a derivative) passes the same checks as a float.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

from benchproof.values.errors import InputError

Number: TypeAlias = Any
"""A float, a complex step, or an array of draws that is worked elementwise; in SI."""


def demand(holds: Any, where: str, value: Number, remedy: str) -> None:
    """Refuse a value unless a condition holds, for arrays everywhere.

    Parameters
    ----------
    holds : bool or array of bool
    where : str
        Function and argument, e.g. ``"hold_up: current"``.
    value : number
        What was given; the first offending element is shown.
    remedy : str
        What to do, e.g. ``"give a value > 0"``.

    Raises
    ------
    InputError

    Examples
    --------
    >>> import numpy as np
    >>> current = np.array([1.0, -2.0])
    >>> demand(current > 0, "hold_up: current", current, "give a value > 0")
    Traceback (most recent call last):
    ...
    benchproof.values.errors.InputError: hold_up: current is -2 (1 of 2, first at
    index 1); give a value > 0.
    """
    if np.all(holds):
        return
    raise InputError(f"{where} is {_offender(holds, value)}; {remedy}.")


def demand_positive(where: str, value: Number) -> None:
    """Refuse zero, negatives and what is no number.

    Raises
    ------
    InputError

    Examples
    --------
    >>> demand_positive("hold_up: capacitance", 2200e-6)
    """
    demand(np.greater(value, 0), where, value, "give a value > 0")


def demand_not_negative(where: str, value: Number) -> None:
    """Refuse negatives and what is no number.

    Raises
    ------
    InputError

    Examples
    --------
    >>> demand_not_negative("loaded_reading: source_resistance", 0.0)
    """
    demand(np.greater_equal(value, 0), where, value, "give a value >= 0")


def demand_nonzero(where: str, value: Number, remedy: str) -> None:
    """Refuse zero and what is no number, which is unequal to zero as well.

    Raises
    ------
    InputError

    Examples
    --------
    >>> demand_nonzero("four_wire_resistance: current", -0.1, "let a current flow")
    """
    there = np.not_equal(value, 0) & np.equal(value, value)
    demand(there, where, value, remedy)


def _offender(holds: Any, value: Number) -> str:
    passed, values = (a.ravel() for a in np.broadcast_arrays(holds, value))
    first = int(np.argmin(passed))
    shown = f"{values[first]:.6g}"
    if passed.size == 1:
        return shown
    return f"{shown} ({np.sum(~passed)} of {passed.size}, first at index {first})"

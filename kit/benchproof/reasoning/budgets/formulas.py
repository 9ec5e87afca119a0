"""A derived quantity: a plain Python function whose arguments are quantities."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchproof.values.errors import FormulaError
from benchproof.values.units import Unit, unit_with_dimension

# Irrational, so that no accidental cancellation hides a wrong dimension.
_SCALE = math.sqrt(1.7)


@dataclass(frozen=True, slots=True)
class Formula:
    """A named function of other quantities.

    Attributes
    ----------
    name : str
    unit : Unit
        Of the result, for display; inside, everything is SI.
    function : callable
        Takes SI numbers (or arrays of one shape) and returns the result in SI.
    arguments : tuple of str
        Names of quantities, in the order the function takes them.
    text : str
        The function's source, "" if unknown.
    """

    name: str
    unit: Unit
    function: Callable[..., Any]
    arguments: tuple[str, ...]
    text: str = ""

    def __call__(self, values: Sequence[Any]) -> Any:
        """Evaluate, turning any failure into an error that names the quantity."""
        try:
            return self.function(*values)
        except Exception as problem:
            shown = ", ".join(
                f"{name}={value!r}" if isinstance(value, float) else name
                for name, value in zip(self.arguments, values, strict=True)
            )
            raise FormulaError(
                f"{self.name}: the formula failed with {type(problem).__name__}: "
                f"{problem} (called with {shown}, in SI). {_remedy(problem)}"
            ) from problem


def _remedy(problem: Exception) -> str:
    """Say what to change; numpy's own messages are known by their words."""
    said = str(problem)
    if isinstance(problem, ValueError) and "truth value of an array" in said:
        return (
            "It branches on an argument, which many draws at once cannot: write "
            "np.where(x > 3, a, b) instead of 'a if x > 3 else b', np.minimum and "
            "np.maximum instead of min and max, & and | instead of 'and' and 'or'."
        )
    if isinstance(problem, TypeError) and re.search(r"only .*(scalar|length-1)", said):
        return (
            "It calls a function that takes one number at a time: use np.sqrt, np.exp "
            "and so on instead of math.sqrt, math.exp or float."
        )
    return (
        "Correct the function; use np.where and np.minimum instead of if and min, "
        "np.sqrt instead of math.sqrt."
    )


def formula_from(function: Callable[..., Any], unit: Unit) -> Formula:
    """Make a formula from a function; its name and argument names are the link.

    Raises
    ------
    FormulaError
        If the function has no arguments, or some that are not plain names.
    """
    name = function.__name__
    parameters = list(inspect.signature(function).parameters.values())
    plain = (inspect.Parameter.POSITIONAL_OR_KEYWORD, inspect.Parameter.POSITIONAL_ONLY)
    if not parameters or any(p.kind not in plain for p in parameters):
        raise FormulaError(
            f"{name}: write the quantities it needs as plain arguments, "
            f"e.g. def {name}(V_idle, I_slew)."
        )
    for parameter in parameters:
        if parameter.default is not inspect.Parameter.empty:
            raise FormulaError(
                f"{name}: argument {parameter.name} has a default. Declare it with "
                f"case.constant({parameter.name!r}, '… unit') so that it is seen."
            )
    arguments = tuple(p.name for p in parameters)
    return Formula(name, unit, function, arguments, _source(function))


def _source(function: Callable[..., Any]) -> str:
    try:
        return inspect.getsource(function)
    except (OSError, TypeError):
        return ""


def check_dimension(
    formula: Formula, values: Sequence[float], units: Mapping[str, Unit]
) -> bool:
    """Check that the formula's result has the dimension of its unit.

    Every base dimension in turn is measured in another unit; a formula that is
    sound scales by the power its unit has. This holds for any numeric function,
    solvers included, and needs no quantity objects inside.

    Parameters
    ----------
    values : sequence of float
        A point at which the formula is defined, in SI.
    units : mapping
        Unit of each argument.

    Returns
    -------
    bool
        False where the results near that point (all zero, say) cannot tell.

    Raises
    ------
    FormulaError
        Naming the dimension the result has, or the one that does not fit.
    """
    point = _telling_point(formula, values)
    if point is None:
        return False
    reference = float(formula(point))
    arguments = [dict(units[name].dimension) for name in formula.arguments]
    wanted = dict(formula.unit.dimension)
    found: dict[str, float] = {}
    for base in sorted({b for d in [*arguments, wanted] for b in d}):
        scales = [_SCALE ** d.get(base, 0.0) for d in arguments]
        scaled = [v * s for v, s in zip(point, scales, strict=True)]
        ratio = float(formula(scaled)) / reference
        power = math.log(ratio) / math.log(_SCALE) if ratio > 0 else math.nan
        if not abs(2 * power - _nearest(2 * power)) <= 2e-6:
            raise _mixed(formula, units, base)
        found[base] = _nearest(2 * power) / 2
    if any(found[b] != wanted.get(b, 0.0) for b in found):
        got = unit_with_dimension({b: p for b, p in found.items() if p})
        raise FormulaError(
            f"{formula.name}: the formula gives {got}, "
            f"not {formula.unit.symbol or 'a plain number'}"
            f"{_listing(formula, units)}. Correct the formula or its unit=."
        )
    return True


def _nearest(number: float) -> float:
    return float(round(number)) if math.isfinite(number) else math.nan


def _telling_point(formula: Formula, values: Sequence[float]) -> list[float] | None:
    """Step aside a little, so that a balance of readings does not come out as zero."""
    for nudge in (0.07, 0.013, 0.0):
        point = [v * (1 + nudge * (i + 1)) for i, v in enumerate(values)]
        try:
            result = float(formula(point))
        except FormulaError:
            if not nudge:
                raise
            continue
        if math.isfinite(result) and result != 0.0:
            return point
    return None


def _mixed(formula: Formula, units: Mapping[str, Unit], base: str) -> FormulaError:
    return FormulaError(
        f"{formula.name}: unlike units are added or compared (seen in the dimension "
        f"{base}){_listing(formula, units)}. A bare number inside the formula may hide "
        "a unit: declare it with case.constant('name', '0.40 V')."
    )


def _listing(formula: Formula, units: Mapping[str, Unit]) -> str:
    inner = ", ".join(f"{n} [{units[n].symbol or '1'}]" for n in formula.arguments)
    warm = [n for n in formula.arguments if units[n].offset]
    kelvin = f"; inside the formula {' and '.join(warm)} in K" if warm else ""
    return f" (it takes {inner}{kelvin})"

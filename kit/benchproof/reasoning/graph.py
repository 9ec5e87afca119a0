"""The graph of quantities: order, values, and derivatives by a reverse sweep."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from benchproof.reasoning.formulas import Formula
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import Unit

# Small enough to be exact in the last digit, large enough not to underflow.
_COMPLEX_STEP = 1e-30
_CENTRAL_STEP = 6e-6  # cube root of the floating-point epsilon


@dataclass(frozen=True, slots=True)
class Graph:
    """Inputs with estimates, and formulas over them.

    Attributes
    ----------
    inputs : mapping
        Estimate of every measured input and constant, in SI.
    units : mapping
        Unit of every input and formula.
    formulas : mapping
    joints : tuple of Joint
        Correlated groups of sources.
    """

    inputs: Mapping[str, Estimate]
    units: Mapping[str, Unit]
    formulas: Mapping[str, Formula]
    joints: tuple[Joint, ...] = ()
    _values: dict[str, float] = field(default_factory=dict, repr=False)
    _partials: dict[str, tuple[float, ...]] = field(default_factory=dict, repr=False)

    def order(self, target: str) -> list[str]:
        """Return the formulas `target` needs, each after those it depends on.

        Raises
        ------
        FormulaError
            For a cycle or an unknown name, both by name.
        """
        return order(self.formulas, self.units, target)

    def value(self, name: str) -> float:
        """Return the value of a quantity, in SI."""
        if name in self.inputs:
            return self.inputs[name].value
        if name not in self._values:
            for step in self.order(name):
                if step not in self._values:
                    self._values[step] = self._compute(self.formulas[step])
        return self._values[name]

    def _compute(self, formula: Formula) -> float:
        arguments = self._arguments(formula)
        result = _number(formula, formula(arguments))
        if not math.isfinite(result):
            listed = ", ".join(
                f"{n} = {v:.6g}"
                for n, v in zip(formula.arguments, arguments, strict=True)
            )
            raise FormulaError(
                f"{formula.name}: the result is {result} for {listed} (SI). "
                "Check the readings, or guard the formula against this case."
            )
        return result

    def _arguments(self, formula: Formula) -> list[float]:
        return [
            self.inputs[n].value if n in self.inputs else self._values[n]
            for n in formula.arguments
        ]

    def sensitivities(self, target: str) -> dict[str, float]:
        """Return the derivative of `target` by every input it depends on, in SI.

        One reverse sweep over local derivatives: the work grows with the number
        of quantities, however often an intermediate result is shared.
        """
        if target in self.inputs:
            return {target: 1.0}
        self.value(target)
        adjoint = {target: 1.0}
        inputs: dict[str, float] = {}
        for name in reversed(self.order(target)):
            weight = adjoint.pop(name, 0.0)
            formula = self.formulas[name]
            for argument, slope in zip(
                formula.arguments, self._local(formula), strict=True
            ):
                into = inputs if argument in self.inputs else adjoint
                into[argument] = into.get(argument, 0.0) + weight * slope
        return inputs

    def _local(self, formula: Formula) -> tuple[float, ...]:
        if formula.name not in self._partials:
            arguments = self._arguments(formula)
            self._partials[formula.name] = partials(formula, arguments)
        return self._partials[formula.name]

    def parts(self, target: str) -> dict[str, tuple[Source, float]]:
        """Return every source of `target` and its total sensitivity, in SI."""
        totals: dict[str, tuple[Source, float]] = {}
        for name, slope in self.sensitivities(target).items():
            for source, sensitivity in self.inputs[name].parts:
                before = totals.get(source.name, (source, 0.0))[1]
                totals[source.name] = (source, before + slope * sensitivity)
        return totals


def order(
    formulas: Mapping[str, Formula], known: Iterable[str], target: str
) -> list[str]:
    """Sort the formulas that `target` needs; depth first, without recursion.

    Raises
    ------
    FormulaError
        For a cycle or an unknown name.
    """
    finished: dict[str, None] = {}
    open_: dict[str, None] = {}
    stack: list[tuple[str, str]] = [(target, "")]
    while stack:
        name, asker = stack[-1]
        if name in finished or name not in formulas:
            if name not in formulas and name not in known:
                raise unknown_name(name, [*formulas, *known], asker)
            stack.pop()
        elif name in open_:
            stack.pop()
            del open_[name]
            finished[name] = None
        else:
            open_[name] = None
            for argument in formulas[name].arguments:
                if argument in open_:
                    path = [*list(open_)[list(open_).index(argument) :], argument]
                    raise FormulaError(
                        f"{argument}: a quantity cannot depend on itself "
                        f"({' ← '.join(path)}). Break the cycle by renaming one."
                    )
                if argument not in finished:
                    stack.append((argument, name))
    return list(finished)


def unknown_name(name: str, known: Iterable[str], asker: str = "") -> FormulaError:
    """Build the error for a name nobody declared, with the closest known ones."""
    known = list(dict.fromkeys(known))
    close = difflib.get_close_matches(name, known, n=3, cutoff=0.6)
    hint = f"Did you mean {' or '.join(close)}? " if close else ""
    where = f"{asker}: " if asker else ""
    return FormulaError(
        f"{where}{name!r} is not a recorded, declared or derived quantity. {hint}"
        f"Declare it first, e.g. case.record({name!r}, '? V') if it is to be measured."
    )


def _number(formula: Formula, result: Any) -> float:
    try:
        return float(result)
    except (TypeError, ValueError):
        raise FormulaError(
            f"{formula.name}: the formula returned {type(result).__name__}, not a "
            "number. Return the quantity itself (did you forget 'return'?)."
        ) from None


_ANALYTIC: dict[Any, bool] = {}
"""Whether the complex step holds for a function; found out once per function."""


def partials(formula: Formula, arguments: Sequence[float]) -> tuple[float, ...]:
    """Local derivatives of a formula at a point.

    The complex step is exact to rounding. It is silent about ``abs`` and the like,
    so the first evaluation of every function is compared with central differences,
    and a function that disagrees or refuses complex numbers keeps those.
    """
    key = formula.function
    if _ANALYTIC.get(key) is not False:
        try:
            exact = _complex_step(formula, arguments)
        except Exception:  # any failure means only: not made for complex numbers
            _ANALYTIC[key] = False
        else:
            if key not in _ANALYTIC:
                central = _central(formula, arguments)
                _ANALYTIC[key] = _agree(exact, central, arguments, formula)
            if _ANALYTIC[key]:
                return exact
    return _central(formula, arguments)


def _complex_step(formula: Formula, arguments: Sequence[float]) -> tuple[float, ...]:
    slopes = []
    point: list[Any] = list(arguments)
    function = formula.function
    for i, value in enumerate(arguments):
        point[i] = complex(value, _COMPLEX_STEP)
        slopes.append(function(*point).imag / _COMPLEX_STEP)
        point[i] = value
    return tuple(slopes)


def _central(formula: Formula, arguments: Sequence[float]) -> tuple[float, ...]:
    slopes = []
    for i, value in enumerate(arguments):
        step = _CENTRAL_STEP * (abs(value) or 1.0)
        up, down = list(arguments), list(arguments)
        up[i], down[i] = value + step, value - step
        slopes.append(
            (_number(formula, formula(up)) - _number(formula, formula(down)))
            / (up[i] - down[i])
        )
    if not all(map(math.isfinite, slopes)):
        raise FormulaError(
            f"{formula.name}: no derivative at this point, so no budget. "
            "Use case.monte_carlo, which needs none."
        )
    return tuple(slopes)


def _agree(
    exact: Sequence[float],
    central: Sequence[float],
    arguments: Sequence[float],
    formula: Formula,
) -> bool:
    size = abs(_number(formula, formula(arguments)))
    for a, b, value in zip(exact, central, arguments, strict=True):
        noise = 1e-9 * size / (_CENTRAL_STEP * (abs(value) or 1.0))
        if not abs(a - b) <= 1e-4 * max(abs(a), abs(b)) + noise:
            return False
    return True

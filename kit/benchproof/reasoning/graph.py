"""The graph of quantities: order, values, and derivatives by a reverse sweep."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import CodeType, FunctionType
from typing import Any

from benchproof.reasoning.formulas import Formula
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import Unit

# Small enough to be exact in the last digit, large enough not to underflow.
_COMPLEX_STEP = 1e-30
_CENTRAL_STEP = 6e-6  # cube root of the floating-point epsilon
_TINY = 1e-6  # what a zero is stepped by, times the above, in SI


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
    _orders: dict[str, list[str]] = field(default_factory=dict, repr=False)

    def order(self, target: str) -> list[str]:
        """Return the formulas `target` needs, each after those it depends on.

        Raises
        ------
        FormulaError
            For a cycle or an unknown name, both by name.
        """
        if target not in self._orders:
            self._orders[target] = order(self.formulas, self.units, target)
        return self._orders[target]

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

    def inputs_of(self, target: str) -> list[str]:
        """Return the measured inputs and constants that `target` depends on."""
        if target in self.inputs:
            return [target]
        arguments = [a for f in self.order(target) for a in self.formulas[f].arguments]
        return [n for n in dict.fromkeys(arguments) if n in self.inputs]

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
            # Only a zero has no size of its own to step by.
            spreads = [self._spread(n) for n in formula.arguments if 0.0 in arguments]
            self._partials[formula.name] = partials(formula, arguments, spreads)
        return self._partials[formula.name]

    def _spread(self, name: str) -> float:
        """Return the size of an input's own uncertainty, 0 for a formula."""
        if name not in self.inputs:
            return 0.0
        parts = self.inputs[name].parts
        return math.hypot(*(c * s.standard_uncertainty for s, c in parts))

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
    hint = f"{did_you_mean(name, known)} ".lstrip()
    where = f"{asker}: " if asker else ""
    return FormulaError(
        f"{where}{name!r} is not a recorded, declared or derived quantity. {hint}"
        f"Declare it first, e.g. case.record({name!r}, '? V') if it is to be measured."
    )


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Ask for the closest known names; "" if none is close."""
    unique = list(dict.fromkeys(known))
    close = difflib.get_close_matches(name, unique, n=3, cutoff=0.6)
    return f"Did you mean {' or '.join(close)}?" if close else ""


def _number(formula: Formula, result: Any) -> float:
    try:
        return float(result)
    except (TypeError, ValueError):
        raise FormulaError(
            f"{formula.name}: the formula returned {type(result).__name__}, not a "
            "number. Return the quantity itself (did you forget 'return'?)."
        ) from None


_KINKED = frozenset(
    [
        *("abs", "absolute", "fabs", "hypot", "norm", "sign", "max", "min", "maximum"),
        *("minimum", "fmax", "fmin", "clip", "where", "piecewise", "heaviside"),
        *("round", "floor", "ceil", "real", "imag", "conj", "conjugate", "angle"),
    ]
)
"""Functions under which a complex step is silently wrong, at a kink or everywhere."""

_ANALYTIC: dict[Callable[..., Any], bool] = {}
"""Whether the complex step holds for a function; found out once per function."""


def partials(
    formula: Formula, arguments: Sequence[float], spreads: Sequence[float] = ()
) -> tuple[float, ...]:
    """Local derivatives of a formula at a point.

    Parameters
    ----------
    arguments : sequence of float
        The point, in SI.
    spreads : sequence of float
        Uncertainty of each argument: the scale of one whose value is zero.

    The complex step is exact to rounding, but silent about ``abs`` and the like. A
    function that names one of these, refuses complex numbers, or at its first point
    disagrees with central differences, keeps those.
    """
    key = formula.function
    if key not in _ANALYTIC and not _smooth(key):
        _ANALYTIC[key] = False
    if _ANALYTIC.get(key) is not False:
        try:
            exact = _complex_step(formula, arguments)
        except Exception:  # any failure means only: not made for complex numbers
            _ANALYTIC[key] = False
        else:
            if key not in _ANALYTIC:
                _ANALYTIC[key] = _agree(exact, arguments, formula)
            if _ANALYTIC[key]:
                return exact
    sizes = [abs(value) for value in arguments]
    for i, spread in enumerate(spreads):
        # A difference of zero's own u, stepped like a value, would vanish in the rest.
        sizes[i] = sizes[i] or spread / _CENTRAL_STEP
    return tuple(_central(formula, arguments, i, sizes[i]) for i in range(len(sizes)))


def _smooth(function: Any) -> bool:
    """Tell whether neither a function nor the plain functions it calls has a kink."""
    seen: set[Any] = set()
    waiting = [function]
    while waiting:
        candidate = waiting.pop()
        code = getattr(candidate, "__code__", candidate)
        if candidate in seen or not hasattr(code, "co_names"):
            continue
        seen.add(candidate)
        if _KINKED.intersection(code.co_names):
            return False
        names = getattr(candidate, "__globals__", {})
        called = [names.get(n) for n in code.co_names]
        waiting += [c for c in called if isinstance(c, FunctionType)]
        waiting += [c for c in code.co_consts if isinstance(c, CodeType)]
    return True


def _complex_step(formula: Formula, arguments: Sequence[float]) -> tuple[float, ...]:
    slopes = []
    point: list[Any] = list(arguments)
    function = formula.function
    for i, value in enumerate(arguments):
        point[i] = complex(value, _COMPLEX_STEP)
        slopes.append(function(*point).imag / _COMPLEX_STEP)
        point[i] = value
    return tuple(slopes)


def _central(
    formula: Formula, arguments: Sequence[float], index: int, size: float
) -> float:
    value = arguments[index]
    step = _CENTRAL_STEP * (size or _TINY)
    up, down = list(arguments), list(arguments)
    up[index], down[index] = value + step, value - step
    rise = _number(formula, formula(up)) - _number(formula, formula(down))
    slope = rise / (up[index] - down[index])
    if not math.isfinite(slope):
        raise FormulaError(
            f"{formula.name}: no derivative at this point, so no budget. "
            "Use case.monte_carlo, which needs none."
        )
    return slope


def _agree(
    exact: Sequence[float], arguments: Sequence[float], formula: Formula
) -> bool:
    size = abs(_number(formula, formula(arguments)))
    for i, value in enumerate(arguments):
        if not value:
            continue  # no scale to step by; the other arguments still tell
        central = _central(formula, arguments, i, abs(value))
        noise = 1e-9 * size / (_CENTRAL_STEP * abs(value))
        if (
            not abs(exact[i] - central)
            <= 1e-4 * max(abs(exact[i]), abs(central)) + noise
        ):
            return False
    return True

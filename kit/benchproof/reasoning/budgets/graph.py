"""The graph of quantities: order, values, and derivatives by a reverse sweep."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import CodeType, FunctionType
from typing import Any, TypeVar

from benchproof.reasoning.budgets.formulas import Formula
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import Unit

# Small enough to be exact in the last digit, large enough not to underflow; a power of
# two, so that dividing by it is exact.
_COMPLEX_STEP = 2.0**-100
_IMAGINARY_STEP = complex(0.0, _COMPLEX_STEP)
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
    # What was found out so far; a graph altered by `replace` starts without.
    _values: dict[str, float] = field(default_factory=dict, init=False, repr=False)
    _partials: dict[str, tuple[float, ...]] = field(
        default_factory=dict, init=False, repr=False
    )
    _orders: dict[str, list[str]] = field(default_factory=dict, init=False, repr=False)
    _slopes: dict[str, dict[str, float]] = field(
        default_factory=dict, init=False, repr=False
    )

    def __post_init__(self) -> None:
        self._values.update((name, e.value) for name, e in self.inputs.items())

    def take_over(self, before: Graph, stale: Collection[str]) -> None:
        """Take over what an earlier graph found out about all but some quantities.

        Parameters
        ----------
        before : Graph
        stale : collection of str
            The quantities that are new or changed, and all that depend on them.
        """
        here = self.units.keys() - stale
        keep_known(self._values, before._values, here)
        keep_known(self._partials, before._partials, here)
        keep_known(self._orders, before._orders, here)
        keep_known(self._slopes, before._slopes, here)

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
        values, formulas = self._values, self.formulas
        if name not in values:
            for step in self.order(name):
                if step not in values:
                    formula = formulas[step]
                    arguments = [values[n] for n in formula.arguments]
                    values[step] = _value(formula, arguments)
        return values[name]

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
        if target not in self._slopes:
            self._slopes[target] = self._sweep(target)
        return dict(self._slopes[target])

    def _sweep(self, target: str) -> dict[str, float]:
        self.value(target)
        formulas, known, inputs = self.formulas, self._partials, self.inputs
        adjoint = {target: 1.0}
        for name in reversed(self.order(target)):
            weight = adjoint.pop(name)
            formula = formulas[name]
            slopes = known.get(name) or self._local(formula)
            for argument, slope in zip(formula.arguments, slopes, strict=True):
                adjoint[argument] = adjoint.get(argument, 0.0) + weight * slope
        return {n: slope for n, slope in adjoint.items() if n in inputs}

    def _local(self, formula: Formula) -> tuple[float, ...]:
        arguments = [self._values[n] for n in formula.arguments]
        spreads: list[float] = []
        if 0.0 in arguments:  # only a zero has no size of its own to step by
            spreads = [self._spread(n) for n in formula.arguments]
        found = partials(formula, arguments, spreads)
        self._partials[formula.name] = found
        return found

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


_T = TypeVar("_T")


def keep_known(
    found: dict[str, _T], before: Mapping[str, _T], names: Collection[str]
) -> None:
    """Add what was found out before about some quantities."""
    found.update((name, known) for name, known in before.items() if name in names)


def order(
    formulas: Mapping[str, Formula], known: Collection[str], target: str
) -> list[str]:
    """Sort the formulas that `target` needs; depth first, without recursion.

    Raises
    ------
    FormulaError
        For a cycle or an unknown name.
    """
    if target not in formulas and target not in known:
        raise unknown_name(target, [*formulas, *known])
    finished: dict[str, None] = {}
    open_: dict[str, None] = {}
    stack = [target] if target in formulas else []
    while stack:
        name = stack[-1]
        if name in finished:
            stack.pop()
        elif name in open_:
            stack.pop()
            del open_[name]
            finished[name] = None
        else:
            open_[name] = None
            for argument in formulas[name].arguments:
                if argument in finished:
                    continue
                if argument in open_:
                    raise _cycle(list(open_), argument)
                if argument in formulas:
                    stack.append(argument)
                elif argument not in known:
                    raise unknown_name(argument, [*formulas, *known], name)
    return list(finished)


def _cycle(path: list[str], again: str) -> FormulaError:
    way = [*path[path.index(again) :], again]
    return FormulaError(
        f"{again}: a quantity cannot depend on itself ({' ← '.join(way)}). "
        "Break the cycle by renaming one."
    )


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


def _value(formula: Formula, arguments: Sequence[float]) -> float:
    try:
        result = float(formula.function(*arguments))
    except Exception:  # once more, for an error that names the quantity
        result = _number(formula, formula(arguments))
    if not math.isfinite(result):
        listed = ", ".join(
            f"{n} = {v:.6g}" for n, v in zip(formula.arguments, arguments, strict=True)
        )
        raise FormulaError(
            f"{formula.name}: the result is {result} for {listed} (SI). "
            "Check the readings, or guard the formula against this case."
        )
    return result


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
    holds = _ANALYTIC.get(key)
    if holds is None and not _smooth(key):
        holds = _ANALYTIC[key] = False
    if holds is not False:
        try:
            exact = _complex_step(formula, arguments)
        except Exception:  # any failure means only: not made for complex numbers
            holds = _ANALYTIC[key] = False
        if holds is None:
            holds = _ANALYTIC[key] = _agree(exact, arguments, formula)
        if holds:
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
        point[i] = value + _IMAGINARY_STEP
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

"""Where a censored input may lie, and whether a formula is monotonic over it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.intervals import Floats
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.quantities import engineering
from benchproof.values.units import Unit

Bound = tuple[str, float]
"""A sign, > or <, and the limit in SI."""

SETTLED = 1e-9
"""Relative change that counts as rounding noise."""

_POINTS = 2001
_DECADES = 22
"""How far beyond the limit "to infinity" is tested: a square root settles there."""


@dataclass(frozen=True, slots=True)
class Span:
    """Where a censored input may lie.

    Attributes
    ----------
    bound : str
        In words, for messages: ``R > 60 MΩ``.
    points : array of float
        In SI, from the bound to the other end, shape (n,).
    open : bool
        Whether the other end stands for infinity.
    crosses_zero : bool
        Whether it reaches as far below zero as above.
    """

    bound: str
    points: Floats
    open: bool = False
    crosses_zero: bool = False

    def ends(self, decades_before: int = 0) -> list[float]:
        """Return the bound, zero from either side if it is crossed, the other end.

        An open end may be taken some decades earlier, to see whether it matters.
        """
        back = decades_before * (_POINTS - 1) // _DECADES if self.open else 0
        # A quotient goes to either infinity, as the sign of the zero decides.
        between = [0.0, -0.0] if self.crosses_zero else []
        return [float(self.points[0]), *between, float(self.points[-1 - back])]

    def sides(self) -> list[Floats]:
        """Return the points; apart, from either bound to zero, if it is crossed."""
        if not self.crosses_zero:
            return [self.points]
        above = self.points[self.points >= 0]
        return [above, -above]

    def probe(self, count: int) -> Floats:
        """Return a few of the points, the ends among them."""
        last = len(self.points) - 1
        if self.open:  # most of what happens, happens near the bound
            near = np.geomspace(1, last, count - 1).astype(int)
            return np.asarray(self.points[np.unique([0, *near, last])])
        return np.asarray(self.points[np.linspace(0, last, count).astype(int)])


def span_of(name: str, bound: Bound, unit: Unit) -> Span:
    """Return where a censored input may lie.

    Parameters
    ----------
    bound : (str, float)
        ``>``: from the limit to infinity. ``<`` with a limit above zero is a reading
        below resolution, whose sign is not known: from limit to -limit (a unit with
        an offset, °C: from the limit to absolute zero). ``<`` with another limit:
        from the limit to minus infinity.

    Raises
    ------
    InputError
        For another sign, or a limit that is not finite.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> below = span_of("V", ("<", 0.5), unit_of("V"))
    >>> below.ends()
    [0.5, 0.0, -0.0, -0.5]
    """
    sign, limit = bound
    if sign not in ("<", ">") or not math.isfinite(limit):
        raise InputError(f"{name}: {sign} {limit} is no bound; give < or > a number.")
    words = f"{name} {bound_text(sign, limit, unit, digits=6)}"
    if sign == ">":
        return Span(words, _half_line(limit), open=True)
    if unit.offset and limit > 0:
        return Span(words, np.linspace(limit, 0.0, _POINTS))
    if limit <= 0:
        return Span(words, -_half_line(-limit), open=True)
    small = limit * np.geomspace(1e-12, 1e-3, 100)
    side = np.concatenate([[0.0], small, np.linspace(small[-1], limit, _POINTS // 2)])
    points = np.unique(np.concatenate([side, -side]))[::-1]
    return Span(words, points, crosses_zero=True)


def _half_line(start: float) -> Floats:
    """Points from `start` towards infinity, dense near it and around zero."""
    reach = np.geomspace(1.0, 10.0**_DECADES, _POINTS)
    if start > 0:
        return np.asarray(start * reach)
    size = -start or 1.0
    small = size * np.geomspace(1e-12, 1.0, 200)
    points = np.concatenate([[start, 0.0], small, -small, size * reach, start + small])
    return np.unique(points[points >= start])


def evaluate_along(graph: Graph, target: str, points: Mapping[str, Floats]) -> Floats:
    """Evaluate the formulas with arrays for some of the inputs.

    Parameters
    ----------
    points : mapping
        SI values of these inputs, arrays that broadcast to one shape.

    Returns
    -------
    array of float
        In SI, of that shape; NaN where the formula has no real value.

    Examples
    --------
    >>> from benchproof.reasoning.budgets.formulas import formula_from
    >>> from benchproof.values.units import unit_of
    >>> def half(x): return x / 2
    >>> unit = unit_of("V")
    >>> graph = Graph({}, {"x": unit}, {"half": formula_from(half, unit)})
    >>> evaluate_along(graph, "half", {"x": np.array([1.0, 3.0])}).tolist()
    [0.5, 1.5]
    """
    values: dict[str, Any] = dict(points)
    shape = np.broadcast_shapes(*(p.shape for p in points.values()))
    for step in graph.order(target):
        formula = graph.formulas[step]
        arguments = [
            values[n] if n in values else graph.inputs[n].value
            for n in formula.arguments
        ]
        if any(isinstance(a, np.ndarray) for a in arguments):
            values[step] = _elementwise(formula, arguments, shape)
        else:
            values[step] = formula(arguments)
    return np.asarray(np.broadcast_to(values[target], shape))


def _elementwise(
    formula: Formula, arguments: Sequence[Any], shape: tuple[int, ...]
) -> Floats:
    arrays = np.broadcast_arrays(*arguments, np.empty(shape))[:-1]
    with np.errstate(all="ignore"):
        try:
            result = np.asarray(formula(arrays))
        except FormulaError:
            result = np.asarray(None)
        if result.shape == shape and result.dtype.kind in "fiub":
            return result.astype(float)
        # Made for single numbers (if, math.sqrt), or it adds up over the array.
        rows = zip(*(a.ravel().tolist() for a in arrays), strict=True)
        return np.array([_single(formula, row) for row in rows]).reshape(shape)


def _single(formula: Formula, values: Sequence[float]) -> float:
    """Evaluate at one point; NaN where the formula has no real value."""
    try:
        return float(formula(values))
    except (FormulaError, TypeError, ValueError):
        return math.nan


def require_monotonic(
    graph: Graph, target: str, name: str, spans: Mapping[str, Span]
) -> None:
    """Refuse a formula that rises and falls along a censored input.

    Parameters
    ----------
    name : str
        The input that moves; every other of `spans` is held at some of its points,
        all else is at its estimate.

    Raises
    ------
    FormulaError
        Naming the value near which the result turns back or has no value.

    Notes
    -----
    Where the input crosses zero, each side is looked at by itself: a power falls
    towards zero current from both.
    """
    others = [n for n in spans if n != name]
    probes = [spans[n].probe(9 if len(others) == 1 else 4) for n in others]
    settings = np.array(list(itertools.product(*probes))).T
    points = {n: s[:, None] for n, s in zip(others, settings, strict=True)}
    for along in spans[name].sides():
        result = evaluate_along(graph, target, {**points, name: along[None, :]})
        undefined = np.isnan(result).any(axis=0)
        turned = _turns(np.nan_to_num(result, posinf=1e300, neginf=-1e300))
        for what, where in (("has no value", undefined), ("turns back", turned)):
            if where.any():
                at = _shown_value(float(along[np.argmax(where)]), graph.units[name])
                raise FormulaError(
                    f"{target}: no bound follows from {spans[name].bound}: the result "
                    f"{what} near {name} = {at}, which the bound allows. "
                    f"Measure {name} on a range that holds it."
                )


def _turns(rows: Floats) -> NDArray[np.bool_]:
    """Tell where a row that has risen falls, or one that has fallen rises."""
    highest = np.maximum.accumulate(rows, axis=1)
    lowest = np.minimum.accumulate(rows, axis=1)
    # What is small beside the result at the bound is noise of a difference.
    size = np.maximum(np.abs(rows), np.abs(rows[:, :1]))
    falls = highest - rows > SETTLED * np.maximum(size, np.abs(highest))
    rises = rows - lowest > SETTLED * np.maximum(size, np.abs(lowest))
    seen = np.logical_or.accumulate
    turned = (falls & seen(rises, axis=1)) | (rises & seen(falls, axis=1))
    return np.asarray(turned.any(axis=0))


def _shown_value(si: float, unit: Unit) -> str:
    """Write a place where a formula misbehaves; three digits are enough."""
    number = unit.from_si(si)
    scale, symbol = engineering(number, unit.symbol)
    return f"{number * scale:.3g} {symbol}".rstrip()


def bound_text(sign: str, limit: float, unit: Unit, digits: int = 4) -> str:
    """Write a bound, rounded to the side on which it stays true.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> bound_text("<", 5.04456e-8, unit_of("A")), bound_text(">", 6e7, unit_of("ohm"))
    ('< 50.45 nA', '> 60 MΩ')
    """
    number = unit.from_si(limit)
    scale, symbol = engineering(number, unit.symbol)
    number *= scale
    shown = _outward(number, _place(number, digits), up=sign == "<")
    return f"{sign} {shown} {symbol}".rstrip()


def between_text(lower: float, upper: float, unit: Unit) -> str:
    """Write the two ends between which a quantity lies, rounded outwards.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> between_text(11.99951, 12.00049, unit_of("V"))
    '11.99951 … 12.00049 V'
    >>> between_text(-2e-6, 2e-6, unit_of("W"))
    'within ±2 µW'
    """
    low, high = unit.from_si(lower), unit.from_si(upper)
    scale, symbol = engineering(max(abs(low), abs(high)), unit.symbol)
    low, high = low * scale, high * scale
    if math.isclose(low, -high, rel_tol=SETTLED) and high:
        text = f"within ±{_outward(high, _place(high), up=True)}"
    elif math.isclose(low, high, rel_tol=SETTLED):
        text = f"{high:.4g}"
    else:
        fine = _place(high - low, digits=3)
        text = f"{_outward(low, max(fine, _place(low)), up=False)} … "
        text += _outward(high, max(fine, _place(high)), up=True)
    return f"{text} {symbol}".rstrip()


def _place(number: float, digits: int = 4) -> int:
    """Return how many decimals show a number with so many digits."""
    return digits - 1 - math.floor(math.log10(abs(number))) if number else 0


def _outward(number: float, place: int, *, up: bool) -> str:
    shown = round(number, place)
    slack = SETTLED * abs(number)
    if up and shown < number - slack:
        shown = round(shown + 10.0**-place, place)
    if not up and shown > number + slack:
        shown = round(shown - 10.0**-place, place)
    if number and not 1e-4 <= abs(number) < 1e7:
        return f"{shown:.6g}"
    text = f"{shown:.{max(place, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

"""What a formula says when some of its inputs are only known as a bound."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.coverage import coverage_factor
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.budgets.spans import (
    SETTLED,
    Bound,
    Span,
    between_text,
    bound_text,
    evaluate_along,
    require_monotonic,
    span_of,
)
from benchproof.reasoning.decisions.rule import Outcome
from benchproof.reasoning.montecarlo.intervals import Floats
from benchproof.values.errors import FormulaError, InputError, PendingError
from benchproof.values.sources import Estimate
from benchproof.values.units import Unit

_MOST_CENSORED = 5
"""The check of monotonicity takes 4 points of every other input: it would explode."""
_OVERFLOW = 1e150
"""Beyond this the square of a result, its variance, is no longer a number."""


@dataclass(frozen=True, slots=True)
class Bounded:
    """A derived quantity of which only a bound is known; limits in SI.

    Attributes
    ----------
    sign, limit : str, float
        As for a censored reading: ``("<", 50e-9)``.
    lower, upper : float
        Between these it lies; infinite where nothing is known.
    level : float
        Probability of the statement: of `limit` where one side is known, of both
        together where two are.
    monotonic_in : tuple of str
        The censored inputs, in each of which the formula was found monotonic (on
        either side of zero, where one may have either sign).
    text : str
        As shown, rounded away from the value: ``< 50 nA``.
    note : str
        What it rests on.
    """

    name: str
    unit: Unit
    sign: str
    limit: float
    lower: float
    upper: float
    level: float
    monotonic_in: tuple[str, ...]
    text: str
    note: str


def bound_of(
    graph: Graph, target: str, censored: Mapping[str, Bound], level: float = 0.95
) -> Bounded:
    """Carry the bounds of censored readings through the formulas.

    Parameters
    ----------
    graph : Graph
        Without an estimate of the censored inputs.
    target : str
        A derived quantity.
    censored : mapping
        Input name to ``(">" or "<", limit in SI)``. ``>`` reaches from the limit to
        infinity. ``<`` with a limit above zero is a reading below resolution, whose
        sign is not known: it reaches from -limit to +limit; on a temperature scale
        with an offset from absolute zero. ``<`` with another limit reaches from
        minus infinity to the limit.
    level : float
        Probability of the statement, above 0.5 and below 1.

    Returns
    -------
    Bounded
        The extreme values of the formula over all that the bounds allow, each moved
        outwards by a one-sided coverage factor times u of the other inputs (a
        two-sided one where both ends say something). The limits themselves are
        taken as exact: an over-range limit has the accuracy line in it already.

    Raises
    ------
    FormulaError
        If the result is not monotonic in a censored input, or can be anything.
    PendingError
        If another input has no value.
    InputError
        For a bound or level that makes no sense.

    Notes
    -----
    Where the result is monotonic along each censored input, whatever the others
    are, its extremes lie at the corners. That is tested on some 2000 points of each,
    log-spaced towards infinity and zero, the others at 9 of theirs (4 if more than
    two are censored), everything else at its estimate: a formula that wiggles more
    finely escapes. Towards infinity the result counts as settled once three decades
    no longer change it by 1e-9; else as unbounded.

    References
    ----------
    Common practice for an over-range reading (V/L bounds a leakage current); the
    coverage factor as in JCGM 100:2008, G.3 and G.6.4.

    Examples
    --------
    >>> from benchproof.reasoning.budgets.formulas import formula_from
    >>> from benchproof.values.units import unit_of
    >>> def I_leak(V, R): return V / R
    >>> formula = formula_from(I_leak, unit_of("A"))
    >>> units = {"V": unit_of("V"), "R": unit_of("ohm"), "I_leak": formula.unit}
    >>> graph = Graph({"V": Estimate(3.0)}, units, {"I_leak": formula})
    >>> bound_of(graph, "I_leak", {"R": (">", 60e6)}).text
    '< 50 nA'
    """
    if not 0.5 < level < 1:
        raise InputError(f"{target}: level {level}; give one above 0.5 and below 1.")
    spans = _spans(graph, target, censored)
    for name in spans:
        require_monotonic(graph, target, name, spans)
    ends = _ends(graph, target, spans)
    lower, upper = _extent(ends, 2 * level - 1)
    if math.isinf(lower) and math.isinf(upper):
        raise FormulaError(
            f"{target}: no bound follows from {_listed(spans)}: it can be anything. "
            "Measure one of them on a range that holds it."
        )
    # Zero at infinity is where every such formula ends; it is no news.
    two_sided = math.isfinite(upper - lower) and (lower == upper or lower != 0 != upper)
    unit = graph.units[target]
    if two_sided:
        lower, upper = _extent(ends, level)
        at_bound = ends[0].here.value
        is_top = upper - at_bound <= at_bound - lower
        text = between_text(lower, upper, unit)
    else:
        is_top = math.isinf(lower) or (lower == 0 and math.isfinite(upper))
        text = bound_text("<" if is_top else ">", upper if is_top else lower, unit)
    sign, limit = ("<", upper) if is_top else (">", lower)
    if any(end.here.u for end in ends):
        text += f" ({100 * level:g} %)"
    note = f"from {_listed(spans)}"
    return Bounded(
        target, unit, sign, limit, lower, upper, level, tuple(spans), text, note
    )


def at_bounds(graph: Graph, censored: Mapping[str, Bound]) -> Graph:
    """Return the graph with every censored input exactly at its bound."""
    return _fixed(graph, {name: limit for name, (_, limit) in censored.items()})


def decide_bounded(bounded: Bounded, lower: float, upper: float) -> Outcome:
    """Decide on a bounded quantity, where its bound alone is enough.

    Parameters
    ----------
    lower, upper : float
        The permitted interval in SI; infinite on an open side.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> inf, unit = float("inf"), unit_of("A")
    >>> leak = Bounded("I", unit, "<", 5e-8, 0.0, 5e-8, 0.95, ("R",), "< 50 nA", "")
    >>> decide_bounded(leak, -inf, 1e-6), decide_bounded(leak, 1e-6, inf)
    ('met', 'contradicted')
    """
    if bounded.lower >= upper or bounded.upper <= lower:
        return "contradicted"
    inside = bounded.lower >= lower and bounded.upper <= upper
    return "met" if inside else "undetermined"


def _spans(graph: Graph, target: str, censored: Mapping[str, Bound]) -> dict[str, Span]:
    formulas = [graph.formulas[step] for step in graph.order(target)]
    needed = dict.fromkeys(a for f in formulas for a in f.arguments)
    names = [n for n in needed if n in censored]
    known = {*censored, *graph.inputs, *graph.formulas}
    missing = [n for n in needed if n not in known]
    if missing:
        raise PendingError(
            f"{target} has no value: {', '.join(missing)} is not measured yet. "
            "Record it with case.record(…)."
        )
    if not names or len(names) > _MOST_CENSORED:
        raise FormulaError(
            f"{target}: {len(names)} of its inputs are only known as a bound; a bound "
            f"is carried through for 1 to {_MOST_CENSORED}. Split the formula."
        )
    return {n: span_of(n, censored[n], graph.units[n]) for n in names}


@dataclass(frozen=True, slots=True)
class _Spread:
    """The result at one place, and what the other inputs make uncertain there."""

    value: float
    u: float = 0.0
    dof: float = math.inf

    def moved(self, side: int, two_sided_level: float) -> float:
        """Return the value moved up (1) or down (-1) by the coverage."""
        if not self.u:
            return self.value
        return self.value + side * self.u * coverage_factor(two_sided_level, self.dof)


@dataclass(frozen=True, slots=True)
class _End:
    """The result at one corner, and three decades before it where that is open."""

    here: _Spread
    before: _Spread
    noise: float

    def extreme(self, side: int, two_sided_level: float) -> float:
        """Return where the result, moved to a side, ends; infinite if it does not."""
        reached = self.here.moved(side, two_sided_level)
        if math.isinf(reached):
            return reached
        step = reached - self.before.moved(side, two_sided_level)
        if abs(step) > max(self.noise, SETTLED * abs(reached)):
            return math.copysign(math.inf, step)
        return reached if abs(reached) > self.noise else 0.0


def _ends(graph: Graph, target: str, spans: Mapping[str, Span]) -> list[_End]:
    """Return the result at every corner; first where all inputs are at their bound."""
    places, earlier = _corners(spans), _corners(spans, decades_before=3)
    values = evaluate_along(graph, target, places)
    ends: list[_End] = []
    for i, value in enumerate(values):
        here = _spread(graph, target, places, i, float(value))
        same = all(places[name][i] == earlier[name][i] for name in places)
        before = here
        if not same and math.isfinite(here.value):
            before = _spread(graph, target, earlier, i)
        first = ends[0].here if ends else _Spread(0.0)
        ends.append(_End(here, before, SETTLED * (abs(first.value) + first.u)))
    return ends


def _spread(
    graph: Graph,
    target: str,
    places: Mapping[str, Floats],
    corner: int,
    value: float = 0.0,
) -> _Spread:
    if abs(value) > _OVERFLOW:
        return _Spread(math.copysign(math.inf, value))
    place = {name: float(column[corner]) for name, column in places.items()}
    found = budget_of(_fixed(graph, place), target)
    return _Spread(found.value, found.standard_uncertainty, found.degrees_of_freedom)


def _corners(spans: Mapping[str, Span], decades_before: int = 0) -> dict[str, Floats]:
    ends = [span.ends(decades_before) for span in spans.values()]
    columns = np.array(list(itertools.product(*ends))).T
    return dict(zip(spans, columns, strict=True))


def _fixed(graph: Graph, place: Mapping[str, float]) -> Graph:
    exact = {name: Estimate(value) for name, value in place.items()}
    return Graph({**graph.inputs, **exact}, graph.units, graph.formulas, graph.joints)


def _extent(ends: Sequence[_End], two_sided_level: float) -> tuple[float, float]:
    lower = min(end.extreme(-1, two_sided_level) for end in ends)
    return lower, max(end.extreme(1, two_sided_level) for end in ends)


def _listed(spans: Mapping[str, Span]) -> str:
    return ", ".join(span.bound for span in spans.values())

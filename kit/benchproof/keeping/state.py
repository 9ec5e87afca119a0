"""Everything a case amounts to at one moment: measured, derived, judged."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from benchproof.keeping.constants import Constant
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import (
    Measured,
    evaluate,
    joint_repeatability,
    pending,
)
from benchproof.measuring.readings import Record, counting, whole_sets
from benchproof.reasoning.budgets.bounds import Bounded, at_bounds, bound_of
from benchproof.reasoning.budgets.budget import Budget, budget_of
from benchproof.reasoning.budgets.correlations import Correlation, declared_joints
from benchproof.reasoning.budgets.differences import budget_of_difference
from benchproof.reasoning.budgets.formulas import Formula, check_dimension
from benchproof.reasoning.budgets.graph import Graph, did_you_mean
from benchproof.reasoning.budgets.secondorder import second_order
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.judging import (
    censored_text,
    judge_bounded,
    judge_budget,
    judge_difference,
    judge_measured,
    not_measured,
)
from benchproof.reasoning.montecarlo.runs import monte_carlo_of
from benchproof.reasoning.verdicts import (
    Hypothesis,
    Judged,
    Prediction,
    Verdict,
    verdict_of,
)
from benchproof.values.errors import FormulaError, PendingError
from benchproof.values.sources import Joint
from benchproof.values.units import unit_of

_sound: set[tuple[object, ...]] = set()
"""Functions whose units were found sound, with those units; once each is enough."""


@dataclass(frozen=True, slots=True)
class State:
    """Measured inputs, formulas, and the graph over them.

    Attributes
    ----------
    measured : mapping
        Every measurand, pending ones included.
    constants : mapping
    formulas : mapping
    graph : Graph
    """

    measured: Mapping[str, Measured]
    constants: Mapping[str, Constant]
    formulas: Mapping[str, Formula]
    graph: Graph
    _budgets: dict[tuple[str, float], Budget] = field(default_factory=dict, repr=False)
    _bounds: dict[tuple[str, float], Bounded] = field(default_factory=dict, repr=False)
    _bent: dict[str, str] = field(default_factory=dict, repr=False)

    def knows(self, name: str) -> bool:
        """Tell whether a name is declared."""
        return name in self.graph.units

    def missing(self, name: str) -> list[Measured]:
        """Return what a quantity needs and has no estimate (pending, OL, counts)."""
        names = [name]
        for formula in self.graph.order(name):
            names += self.formulas[formula].arguments
        unique = dict.fromkeys(n for n in names if n in self.measured)
        return [self.measured[n] for n in unique if self.measured[n].estimate is None]

    def graph_for(self, *names: str) -> Graph:
        """Return the graph, once everything these quantities need is measured.

        Raises
        ------
        PendingError
            Naming what is missing.
        FormulaError
            For an unknown name or units that do not fit.
        """
        for name in names:
            missing = self.missing(name)
            if missing:
                raise PendingError(_pending_message(name, missing))
            self._check_units(name, self.graph)
        return self.graph

    def _check_units(self, name: str, graph: Graph) -> None:
        for step in graph.order(name):
            formula = self.formulas[step]
            units = [self.graph.units[a].dimension for a in formula.arguments]
            key = (formula.function, formula.unit.dimension, *units)
            if key not in _sound:
                values = [graph.value(a) for a in formula.arguments]
                if check_dimension(formula, values, self.graph.units):
                    _sound.add(key)

    def budget(self, name: str, level: float = 0.95) -> Budget:
        """Return the budget of a quantity, computed once."""
        key = (name, level)
        if key not in self._budgets:
            found = budget_of(self.graph_for(name), name, level)
            bent = filter(None, [self.nonlinear(name)])
            caveats = (*found.caveats, *bent, *self.warnings(name))
            self._budgets[key] = replace(found, caveats=caveats)
        return self._budgets[key]

    def nonlinear(self, name: str) -> str:
        """Say that a derived quantity's linear budget does not suffice; else ""."""
        if name not in self._bent:
            self._bent[name] = self._bend(name) if name in self.formulas else ""
        return self._bent[name]

    def _bend(self, name: str) -> str:
        try:
            return second_order(self.graph, name).caveat()
        except (FormulaError, ArithmeticError):
            return (
                f"{name}: the formula leaves its domain within one u of its inputs: "
                "guard it, or measure closer, before its linear u is trusted"
            )

    def bound(self, name: str, level: float = 0.95) -> Bounded:
        """Return what censored readings say about a derived quantity, computed once.

        Raises
        ------
        PendingError
            If it has a value, or something it needs is not measured.
        FormulaError
            If no bound follows, with the reason; or for units that do not fit.
        """
        missing = self.missing(name)
        if not missing or any(m.bound is None for m in missing):
            without = [m for m in missing if m.bound is None]
            raise PendingError(_pending_message(name, without))
        key = (name, level)
        if key not in self._bounds:
            censored = {m.name: m.bound for m in missing if m.bound}
            self._check_units(name, at_bounds(self.graph, censored))
            self._bounds[key] = bound_of(self.graph, name, censored, level)
        return self._bounds[key]

    def bound_text(self, name: str) -> tuple[str, str]:
        """Return a derived quantity's bound as text, and what it rests on, or why not.

        Both are empty where it has a value or something is not measured.
        """
        try:
            found = self.bound(name)
        except PendingError:
            return "", ""
        except FormulaError as problem:
            return "(no bound follows)", str(problem)
        return found.text, found.note

    def warnings(self, name: str) -> list[str]:
        """Return what concerns the inputs of a quantity and so the quantity itself."""
        whose: dict[str, list[str]] = {}
        for part in self.graph.inputs_of(name):
            for warning in (
                self.measured[part].warnings if part in self.measured else ()
            ):
                whose.setdefault(warning, []).append(part)
        if name in self.measured:
            return list(whose)
        return [f"{', '.join(parts)}: {said}" for said, parts in whose.items()]

    def error_key(self, source: str) -> tuple[str, ...]:
        """Identify the error behind a source's name.

        An instrument's gain is the same error in every reading; the scatter or the
        stated uncertainty of a measurand belongs to the readings that count now.
        """
        owner = self.measured.get(source.partition(" · ")[0])
        rows = tuple(r.row for r in owner.readings) if owner else ()
        return (source, *rows)

    def judge(self, prediction: Prediction, level: float) -> Judged:
        """Judge one prediction by what is known now."""
        name, other = prediction.criterion.quantity, prediction.criterion.other
        for asked in filter(None, (name, other)):
            if not self.knows(asked):
                close = did_you_mean(asked, self.graph.units)
                return not_measured(prediction, f"not measured yet. {close}".strip())
        missing = self.missing(name) + (self.missing(other) if other else [])
        if missing and (other or name not in self.measured):
            return self._judge_derived(prediction, missing, level)
        if missing:
            return judge_measured(prediction, self.measured[name], level)
        if other:
            found = budget_of_difference(self.graph_for(name, other), name, other)
            return judge_difference(prediction, found, level)
        drawn = self._drawn(prediction.criterion) if self.nonlinear(name) else None
        return judge_budget(prediction, self.budget(name), level, drawn)

    def _drawn(self, criterion: Criterion) -> tuple[float, float, float] | None:
        """Return the share of draws below, within and above; None if not drawable."""
        name, graph = criterion.quantity, self.graph_for(criterion.quantity)

        def share(low: float, high: float) -> float:
            if not low < high:
                return 0.0
            drawn = monte_carlo_of(graph, name, limits=(low, high))
            return drawn.inside or 0.0

        try:
            inside = share(criterion.lower, criterion.upper)
            below = share(-math.inf, criterion.lower)
        except FormulaError:  # not vectorised: the caveat says what the budget is worth
            return None
        return below, inside, max(1 - below - inside, 0.0)

    def _judge_derived(
        self, prediction: Prediction, missing: Sequence[Measured], level: float
    ) -> Judged:
        if any(m.status == "pending" for m in missing):
            names = ", ".join(m.name for m in missing if m.status == "pending")
            return not_measured(prediction, f"not measured yet: {names}")
        if any(m.status == "count" for m in missing):
            why = "; ".join(map(_why_missing, missing))
            return Judged(prediction, "undetermined", why)
        if prediction.criterion.other:
            bounds = ", ".join(f"{m.name} {censored_text(m)}" for m in missing)
            why = f"only a bound is known: {bounds}"
            return Judged(prediction, "undetermined", why)
        try:
            bounded = self.bound(prediction.criterion.quantity, level)
        except FormulaError as problem:
            return Judged(prediction, "undetermined", str(problem))
        return judge_bounded(prediction, bounded)

    def verdict(self, hypothesis: Hypothesis, level: float) -> Verdict:
        """Return the verdict on a rival by its predictions."""
        judged = [self.judge(p, level) for p in hypothesis.predictions]
        return verdict_of(hypothesis, judged)


def _pending_message(name: str, missing: Sequence[Measured]) -> str:
    listed = "; ".join(map(_why_missing, missing))
    return f"{name} has no value: {listed}. Record it with case.record(…)."


def _why_missing(measured: Measured) -> str:
    """Say why a measurand has no value."""
    if measured.status == "censored":
        return f"{measured.name} is only known as a bound ({censored_text(measured)})"
    if measured.status == "count":
        return f"{measured.name} is a count, not a quantity with a unit"
    return f"{measured.name} is not measured yet"


def state_of(
    record: Record,
    instruments: Mapping[str, Instrument],
    declared: Mapping[str, str],
    constants: Mapping[str, Constant],
    formulas: Mapping[str, Formula],
    correlations: Sequence[Correlation] = (),
    up_to: int | None = None,
) -> State:
    """Evaluate all readings that count in a round, and link the formulas.

    Parameters
    ----------
    declared : mapping
        Unit text of every measurand the notebook mentions.
    correlations : sequence of Correlation
        Those a person declared.
    up_to : int, optional
        Leave out what was recorded in later rounds.
    """
    measured = {name: pending(name, unit_of(unit)) for name, unit in declared.items()}
    counted = {name: counting(record, name, up_to) for name in record.names()}
    groups: dict[str, list[str]] = {}
    for name, readings in counted.items():
        if readings and readings[0].together:
            groups.setdefault(readings[0].together, []).append(name)
    lost: dict[str, int] = {}
    for names in groups.values():
        most = max(len(counted[n]) for n in names)
        whole = whole_sets(record, [counted[n] for n in names])
        counted.update(zip(names, whole, strict=True))
        lost.update(dict.fromkeys(names, most - len(whole[0])))
    for name, readings in counted.items():
        fresh = evaluate(name, readings, instruments)
        if lost.get(name):
            flag = f"{lost[name]} sets read together left out: a reading was struck"
            fresh = replace(fresh, flags=(*fresh.flags, flag))
        # Without a reading that counts, the unit is that of what was recorded.
        unit = fresh.unit if readings else unit_of(record.of(name)[0].value.unit)
        measured[name] = replace(fresh, unit=unit)
    joints: list[Joint] = []
    for names in groups.values():
        flagged, joint = joint_repeatability({n: measured[n] for n in names})
        measured.update(flagged)
        joints += [joint] if joint else []
    inputs = {n: m.estimate for n, m in measured.items() if m.estimate is not None}
    inputs.update({n: c.estimate for n, c in constants.items()})
    joints += declared_joints(inputs, correlations, joints)
    units = {n: m.unit for n, m in measured.items()}
    units.update({n: c.unit for n, c in constants.items()})
    units.update({n: f.unit for n, f in formulas.items()})
    graph = Graph(inputs, units, formulas, tuple(joints))
    return State(measured, constants, formulas, graph)

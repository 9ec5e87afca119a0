"""Everything a case amounts to at one moment: measured, derived, judged."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from benchproof.keeping.state.absences import invalid_text, pending_message, why_missing
from benchproof.keeping.state.constants import Constant
from benchproof.keeping.state.correctionlinks import (
    Link,
    caution_texts,
    no_answer,
)
from benchproof.keeping.state.evaluation import Evaluated
from benchproof.keeping.state.validity import Checked
from benchproof.measuring.measurands import Measured
from benchproof.reasoning.budgets.bounds import Bounded, at_bounds, bound_of
from benchproof.reasoning.budgets.budget import Budget, budget_of
from benchproof.reasoning.budgets.differences import budget_of_difference
from benchproof.reasoning.budgets.formulas import Formula, check_dimension
from benchproof.reasoning.budgets.graph import Graph, did_you_mean, keep_known
from benchproof.reasoning.budgets.secondorder import second_order
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.judging import (
    censored_text,
    judge_bounded,
    judge_budget,
    judge_difference,
    judge_measured,
    not_measured,
    require_unit,
)
from benchproof.reasoning.montecarlo.runs import monte_carlo_of
from benchproof.reasoning.verdicts import (
    Judged,
    Prediction,
)
from benchproof.values.errors import FormulaError, PendingError

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
    links : mapping
        Of the formulas that are corrections, what instruments.toml says for each.
    checked : tuple of Checked
        The conditions of valid readings, judged by the raw readings.
    raw : State or None
        In which no reading is invalid yet; None where there are no conditions.
    evaluated : Evaluated or None
        What the readings amount to, before anything else was regarded.
    """

    measured: Mapping[str, Measured]
    constants: Mapping[str, Constant]
    formulas: Mapping[str, Formula]
    graph: Graph
    links: Mapping[str, Link] = field(default_factory=dict)
    checked: tuple[Checked, ...] = ()
    raw: State | None = field(default=None, repr=False)
    evaluated: Evaluated | None = field(default=None, repr=False)
    _budgets: dict[tuple[str, float], Budget] = field(default_factory=dict, repr=False)
    _bounds: dict[tuple[str, float], Bounded] = field(default_factory=dict, repr=False)
    _bent: dict[str, str] = field(default_factory=dict, repr=False)
    _refused: dict[str, str] = field(default_factory=dict, repr=False)
    _judged: dict[tuple[Prediction, float], Judged] = field(
        default_factory=dict, repr=False
    )

    def take_over(self, before: State, stale: Collection[str]) -> None:
        """Take over what an earlier state found out about all but some quantities.

        Parameters
        ----------
        before : State
        stale : collection of str
            The quantities that are new or changed, and all that depend on them.
        """
        here = self.graph.units.keys() - stale
        self.graph.take_over(before.graph, stale)
        keep_known(self._bent, before._bent, here)
        keep_known(self._refused, before._refused, here)
        for key, bounded in before._bounds.items():
            if key[0] in here:
                self._bounds[key] = bounded
        for key, budget in before._budgets.items():
            if key[0] in here:
                self._budgets[key] = budget
        for asked, judged in before._judged.items():
            criterion = asked[0].criterion
            if here.issuperset(filter(None, (criterion.quantity, criterion.other))):
                self._judged[asked] = judged

    def knows(self, name: str) -> bool:
        """Tell whether a name is declared."""
        return name in self.graph.units

    def missing(self, name: str) -> list[Measured]:
        """Return what a quantity needs and has no estimate (pending, OL, invalid)."""
        names, refused = [name], []
        for formula in self.graph.order(name):
            names += self.formulas[formula].arguments
            if formula in self.links and (why := self._refusal(formula)):
                unit = self.graph.units[formula]
                refused.append(Measured(formula, unit, "invalid", reason=why))
        unique = dict.fromkeys(n for n in names if n in self.measured)
        lacking = [self.measured[n] for n in unique]
        return refused + [m for m in lacking if m.estimate is None]

    def _refusal(self, name: str) -> str:
        """Say why a correction has no answer, "" if it has; found out once."""
        if name not in self._refused:
            # What it needs comes before it, so this ends.
            self._refused[name] = no_answer(self, self.links[name])
        return self._refused[name]

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
                raise PendingError(pending_message(name, missing))
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
            raise PendingError(pending_message(name, without))
        key = (name, level)
        if key not in self._bounds:
            censored = {m.name: m.bound for m in missing if m.bound}
            self._check_units(name, at_bounds(self.graph, censored))
            self._bounds[key] = bound_of(self.graph, name, censored, level)
        return self._bounds[key]

    def bound_text(self, name: str) -> tuple[str, str]:
        """Return a derived quantity's bound as text, and what it rests on, or why not.

        Both are empty where it has a value or something is not measured; where
        something is invalid, the text says so.
        """
        if said := invalid_text(name, self.missing(name)):
            return said, ""
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
        said_of = [f"{', '.join(parts)}: {said}" for said, parts in whose.items()]
        return said_of + self._mixed_rounds(name) + self.cautions(name)

    def _mixed_rounds(self, name: str) -> list[str]:
        """Say so where a result rests on readings of several rounds."""
        rounds: dict[int, list[str]] = {}
        for part in self.graph.inputs_of(name):
            readings = self.measured[part].readings if part in self.measured else ()
            if readings:
                rounds.setdefault(readings[0].round, []).append(part)
        if len(rounds) < 2:
            return []
        latest = max(rounds)
        older = ", ".join(
            p for n, parts in rounds.items() if n != latest for p in parts
        )
        return [f"rests on readings of round {latest} and older ones: {older}"]

    def cautions(self, name: str) -> list[str]:
        """Return what to know about the corrections a quantity goes through."""
        steps = [s for s in self.graph.order(name) if s in self.links]
        valued = [s for s in steps if not self.missing(s)]
        return [text for s in valued for text in caution_texts(self, self.links[s])]

    def error_key(self, source: str) -> tuple[str, ...]:
        """Identify the error behind a source's name.

        An instrument's gain is the same error in every reading; the scatter or the
        stated uncertainty of a measurand belongs to the readings that count now.
        """
        owner = self.measured.get(source.partition(" · ")[0])
        rows = tuple(r.row for r in owner.readings) if owner else ()
        return (source, *rows)

    def judge(self, prediction: Prediction, level: float) -> Judged:
        """Judge one prediction by what is known now; found out once."""
        key = (prediction, level)
        if key not in self._judged:
            self._judged[key] = self._judge(prediction, level)
        return self._judged[key]

    def _judge(self, prediction: Prediction, level: float) -> Judged:
        name, other = prediction.criterion.quantity, prediction.criterion.other
        for asked in filter(None, (name, other)):
            if not self.knows(asked):
                close = did_you_mean(asked, self.graph.units)
                return not_measured(prediction, f"not measured yet. {close}".strip())
        if not other:
            require_unit(prediction.criterion, self.graph.units[name])
        missing = self.missing(name) + (self.missing(other) if other else [])
        if missing and (other or name not in self.measured):
            return self._judge_derived(prediction, missing, level)
        if any(m.status == "invalid" for m in missing):
            return not_measured(prediction, invalid_text(name, missing)[1:-1])
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
        low, high = criterion.lower, criterion.upper

        def share(least: float, most: float) -> float:
            return monte_carlo_of(graph, name, limits=(least, most)).inside or 0.0

        try:
            inside = share(low, high)
            if math.isinf(high):
                below = 1 - inside
            else:
                below = 0.0 if math.isinf(low) else share(-math.inf, low)
        except FormulaError:  # not vectorised: the caveat says what the budget is worth
            return None
        return below, inside, max(1 - below - inside, 0.0)

    def _judge_derived(
        self, prediction: Prediction, missing: Sequence[Measured], level: float
    ) -> Judged:
        if any(m.status == "pending" for m in missing):
            names = ", ".join(m.name for m in missing if m.status == "pending")
            return not_measured(prediction, f"not measured yet: {names}")
        if any(m.status == "invalid" for m in missing):
            why = "; ".join(why_missing(m) for m in missing if m.status == "invalid")
            return not_measured(prediction, f"not measured: {why}")
        if any(m.status == "count" for m in missing):
            why = "; ".join(map(why_missing, missing))
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

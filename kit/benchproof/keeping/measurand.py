"""Handles a notebook works with: a quantity, a rival explanation, filled prose."""

from __future__ import annotations

import math
import string
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, cast

from benchproof.measuring.readings import Reading
from benchproof.reasoning.budgets.graph import unknown_name
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.judging import censored_text
from benchproof.reasoning.trials import shown_count, shown_interval
from benchproof.reasoning.trials.likelihoods import check_probabilities
from benchproof.reasoning.verdicts import Hypothesis, Prediction, Role
from benchproof.values.errors import InputError, PendingError
from benchproof.values.quantities import read_values
from benchproof.values.sources import Estimate, Joint
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import registry, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True, repr=False)
class Measurand(Tabular):
    """A quantity of a case by name: it always shows what is known now."""

    case: Case
    name: str

    @property
    def value(self) -> Any:
        """The value as a pint quantity of a correlated `uncertainties` number.

        Raises
        ------
        PendingError
            If it is not measured yet.
        """
        state = self.case.state()
        graph = state.graph_for(self.name)
        unit = graph.units[self.name]
        step = unit.difference().factor
        total: Any = unit.from_si(graph.value(self.name))
        for name, (source, slope) in graph.parts(self.name).items():
            error = _error_of(self.case, name)
            total = total + slope * source.standard_uncertainty / step * error
        if not isinstance(total, float):
            # Expanded once, so that a value less itself has nothing left to round.
            _ = total.derivatives
        return registry().Quantity(total, unit.symbol)

    @property
    def is_measured(self) -> bool:
        """Whether everything it needs has been measured."""
        state = self.case.state()
        return state.knows(self.name) and not state.missing(self.name)

    @property
    def count(self) -> tuple[int, int]:
        """Occurrences and attempts of what was counted.

        Raises
        ------
        PendingError
            If it was not counted (yet).
        """
        measured = self.case.state().measured.get(self.name)
        if measured is None or measured.count is None:
            raise PendingError(
                f"{self.name} has not been counted. Record it as '17 of 20'."
            )
        return measured.count

    @property
    def estimate(self) -> Estimate:
        """The SI value with its named sources, as `benchproof.captures` takes it.

        Raises
        ------
        PendingError
            If it has no value of its own readings (yet).
        """
        state = self.case.state()
        state.graph_for(self.name)
        if self.name not in state.measured:
            raise PendingError(f"{self.name} has no readings of its own.")
        return cast("Estimate", state.measured[self.name].estimate)

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty, in the quantity's own unit."""
        budget = self.case.budget(self.name)
        return budget.standard_uncertainty / budget.unit.difference().factor

    def below(self, limit: str) -> Criterion:
        """Say that the value lies below a limit such as ``8.80 V``."""
        value, unit = _limit(limit)
        text = f"{self.name} below {limit}"
        return Criterion(self.name, -math.inf, value, text, unit)

    def above(self, limit: str) -> Criterion:
        """Say that the value lies above a limit such as ``8.80 V``."""
        value, unit = _limit(limit)
        text = f"{self.name} above {limit}"
        return Criterion(self.name, value, math.inf, text, unit)

    def within(self, lower: str, upper: str) -> Criterion:
        """Say that the value lies between two limits."""
        low, unit = _limit(lower)
        high, _ = _limit(upper)
        text = f"{self.name} between {lower} and {upper}"
        return Criterion(self.name, low, high, text, unit)

    def agrees_with(
        self, other: Measurand | str, *, within: str | None = None
    ) -> Criterion:
        """Say that the value agrees with another quantity's.

        Parameters
        ----------
        other : Measurand or str
            A measurand, constant or derived quantity.
        within : str, optional
            A difference that would not matter, ``0.05 V``. Without it, agreement
            only means that no difference was seen: below 2 u of the difference.
        """
        return self._compared("agrees", "agrees with", other, "to within", within)

    def differs_from(
        self, other: Measurand | str, *, by: str | None = None
    ) -> Criterion:
        """Say that the value differs from another quantity's.

        Parameters
        ----------
        other : Measurand or str
            A measurand, constant or derived quantity.
        by : str, optional
            By more than this, ``0.05 V``. Without it, a difference of more than
            3 u meets it, and none that is smaller contradicts it.
        """
        return self._compared("differs", "differs from", other, "by more than", by)

    def _compared(
        self,
        relation: Literal["agrees", "differs"],
        words: str,
        other: Measurand | str,
        margin_words: str,
        margin: str | None,
    ) -> Criterion:
        name = other if isinstance(other, str) else other.name
        text = f"{self.name} {words} {name}"
        if margin is None:
            return Criterion(
                self.name, -math.inf, math.inf, text, other=name, relation=relation
            )
        size, unit = _limit(margin)
        return Criterion(
            self.name,
            -math.inf,
            math.inf,
            f"{text} {margin_words} {margin}",
            unit.difference(),
            name,
            relation,
            size - unit.offset,
        )

    def at_least(self, probability: float) -> Criterion:
        """Say that what was counted happens at least this often (0 to 1)."""
        _check_probability(self.name, probability)
        text = f"{self.name} in at least {100 * probability:g} % of attempts"
        return Criterion(self.name, probability, math.inf, text)

    def at_most(self, probability: float) -> Criterion:
        """Say that what was counted happens at most this often (0 to 1)."""
        _check_probability(self.name, probability)
        text = f"{self.name} in at most {100 * probability:g} % of attempts"
        return Criterion(self.name, -math.inf, probability, text)

    def __str__(self) -> str:
        state = self.case.state()
        if not state.knows(self.name):
            known = [*self.case.names(), *self.case.defined.hypotheses]
            raise unknown_name(self.name, known)
        if not state.missing(self.name):
            return state.budget(self.name).result()
        measured = state.measured.get(self.name)
        if measured and measured.count:
            count, attempts = measured.count
            return f"{count} of {attempts}" if count else shown_count(count, attempts)
        if measured and measured.status == "censored":
            return censored_text(measured)
        return state.bound_text(self.name)[0] or "(not measured yet)"

    def table(self) -> Table:
        """Return value, uncertainty, readings and what to know about them."""
        state = self.case.state()
        if not state.knows(self.name):
            return Table(
                "", columns("Quantity", ""), ((self.name, "not recorded yet"),)
            )
        rows = [("Quantity", self.name), ("Value", str(self))]
        notes: tuple[str, ...] = ()
        if not state.missing(self.name):
            budget = state.budget(self.name)
            expanded = budget.summary().partition(", ")[2] or budget.without_spread
            rows.append(("Expanded", expanded))
            derived = self.name in state.formulas
            notes = budget.caveats if derived else tuple(state.warnings(self.name))
        elif self.name in state.formulas:
            waiting = ", ".join(m.name for m in state.missing(self.name))
            known = state.bound_text(self.name)[1]
            rows.append(("Bound", known) if known else ("Waits for", waiting))
        return Table("", columns("", " "), (*rows, *self._measured_rows()), notes)

    def _measured_rows(self) -> list[tuple[str, str]]:
        measured = self.case.state().measured.get(self.name)
        if measured is None or not measured.readings:
            return self._planned_rows()
        first = measured.readings[0]
        rows = [("Readings", _listed(measured.readings))]
        if measured.count:
            rows.append(("95 % interval", shown_interval(*measured.count)))
        rows.append(("Taken", _taken(first.instrument, first.at, first.round)))
        current = self.case.round_number
        if first.round < current:
            rows.append(
                ("Note", f"not measured again in round {current}: carried over")
            )
        return rows + [("Note", flag) for flag in measured.flags]

    def _planned_rows(self) -> list[tuple[str, str]]:
        """Say so where it is to be taken with an instrument nobody declared."""
        entry = self.case.defined.planned.get(self.name)
        if not entry or not entry.instrument:
            return []
        if entry.instrument in self.case.instruments:
            return []
        return [
            (
                "Note",
                f"{entry.instrument!r} is not declared in instruments.toml: a reading "
                "taken with it will be refused",
            )
        ]


def _error_of(case: Case, source: str) -> Any:
    """Return the one `uncertainties` variable (mean 0, u 1) of a source.

    All values made from it are correlated through it.
    """
    from uncertainties import ufloat

    errors, state = case.defined.errors, case.state()
    key = state.error_key(source)
    if key not in errors:
        joint = next((j for j in state.graph.joints if source in j.names), None)
        fresh = correlated_errors(joint) if joint else {source: ufloat(0.0, 1.0)}
        errors.update({state.error_key(name): e for name, e in fresh.items()})
    return errors[key]


def correlated_errors(joint: Joint) -> dict[str, Any]:
    """Return variables of u 1 with the correlation of a joint group."""
    from uncertainties import correlated_values

    numbers = correlated_values([0.0] * len(joint.names), joint.correlation)
    return dict(zip(joint.names, numbers, strict=True))


def _listed(readings: Sequence[Reading]) -> str:
    """Write readings with one unit at the end, or each with its own."""
    units = {r.value.unit for r in readings}
    if len(units) == 1:
        listed = ", ".join(r.value.text for r in readings)
        return f"{listed} {units.pop()}".strip()
    return ", ".join(f"{r.value.text} {r.value.unit}".strip() for r in readings)


def _taken(instrument: str, at: str, number: int) -> str:
    return ", ".join(filter(None, [instrument, at, f"round {number}"]))


def _limit(text: str) -> tuple[float, Any]:
    values = read_values(text, "limit") if isinstance(text, str) else []
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(f"limit {text!r}: give one value with its unit, '8.80 V'.")
    unit = unit_of(values[0].unit)
    return unit.to_si(values[0].value), unit


def _check_probability(name: str, probability: float) -> None:
    if not 0 <= probability <= 1:
        raise InputError(f"{name}: {probability} is no probability; give 0 to 1.")


@dataclass(frozen=True, slots=True, repr=False)
class Rival(Tabular):
    """A rival explanation to which predictions are added.

    Attributes
    ----------
    hypothesis : Hypothesis
    noted : callable
        Told of each prediction, to keep when it was first written.
    """

    hypothesis: Hypothesis
    noted: Callable[[Hypothesis, Prediction], None]

    def predicts(
        self,
        text: str,
        criterion: Criterion,
        *,
        role: Role = "necessary",
        probability: float | None = None,
    ) -> None:
        """Add what must be seen if the explanation holds.

        Parameters
        ----------
        text : str
            In words.
        criterion : Criterion
            E.g. ``case["V_min"].below("8.80 V")``.
        role : {"necessary", "expected", "symptom", "control"}
            A contradicted necessary prediction contradicts the explanation; an
            expected one does not. Symptom and control are the arms of a provocation.
        probability : float, optional
            How often it is seen in one attempt if the explanation holds, between 0
            and 1; two rivals that both say so can be weighed by `Case.weights`.
        """
        if role not in ("necessary", "expected", "symptom", "control"):
            raise InputError(
                f"{self.hypothesis.name}: role {role!r}; use necessary, expected, "
                "symptom or control."
            )
        if probability is not None:
            check_probabilities(probability, probability)
        prediction = Prediction(text, criterion, role, probability)
        self.noted(self.hypothesis, prediction)
        kept = [p for p in self.hypothesis.predictions if p.text != text]
        self.hypothesis.predictions[:] = [*kept, prediction]

    def table(self) -> Table:
        """Return the predictions."""
        rows = tuple(
            (p.text, p.role, p.criterion.text) for p in self.hypothesis.predictions
        )
        title = f"{self.hypothesis.name}: {self.hypothesis.statement}"
        said = self.hypothesis.mechanism
        notes = (f"Mechanism: {said}",) if said else ()
        return Table(title, columns("Prediction", "Role", "Criterion"), rows, notes)


@dataclass(frozen=True, slots=True)
class Prose:
    """Text with values and verdicts filled in."""

    text: str

    def __repr__(self) -> str:
        return self.text

    def _repr_markdown_(self) -> str:
        return self.text


def filled(text: str, words: Mapping[str, str], value_of: Callable[[str], str]) -> str:
    """Fill ``{name}`` in a text by the verdict, value or rate of that name.

    Examples
    --------
    >>> filled("{H2}: {V}", {"H2": "contradicted"}, lambda name: "8.8 V")
    'contradicted: 8.8 V'
    """
    try:
        pieces = list(string.Formatter().parse(text))
    except ValueError as problem:
        raise InputError(
            f"conclude: {problem}. Write {{name}} for a value, {{{{ for a brace."
        ) from None
    done = []
    for literal, name, rest, _ in pieces:
        done.append(literal)
        if name is not None:
            asked = f"{name}:{rest}" if rest else name  # a rate: plan, then outcome
            done.append(words[asked] if asked in words else value_of(asked))
    return "".join(done)

"""Rivals compared: the matrix of a case, weights, and what to measure next."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from benchproof.keeping.inquiry.foretold import Written, foretold_beside
from benchproof.keeping.inquiry.timing import first_seen, standing_predictions
from benchproof.keeping.logs.logbook import LogBook
from benchproof.keeping.trials.rates import RateCriterion
from benchproof.reasoning.budgets.differences import budget_of_difference
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.reasoning.decisions.agreement import difference_text
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.matrix import Matrix, Standing, asked_of
from benchproof.reasoning.nextstep import NextSteps, Price, next_steps_of
from benchproof.reasoning.takes import Takes, takes_count, takes_value
from benchproof.reasoning.trials import RivalOdds, weigh
from benchproof.reasoning.verdicts import Hypothesis, Judged, Prediction
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


def matrix_of(case: Case) -> Matrix:
    """Return what each rival of a case predicts of each quantity."""
    rivals = tuple(
        Hypothesis(r.name, r.statement, standing_predictions(case, r), r.mechanism)
        for r in case.defined.hypotheses.values()
    )
    criteria = [p.criterion for rival in rivals for p in rival.predictions]
    return Matrix(rivals, {asked_of(c): _standing(case, c) for c in criteria})


def _standing(case: Case, criterion: Criterion) -> Standing:
    if isinstance(criterion, RateCriterion):
        if criterion.plan not in case.trials.names():
            return "not planned"
        return "measured" if first_seen(case, criterion) else "planned"
    state = case.state()
    names = list(filter(None, (criterion.quantity, criterion.other)))
    if not all(state.knows(name) for name in names):
        return "not planned"
    lacking = [m for name in names for m in state.missing(name)]
    pending = any(m.status in ("pending", "invalid") for m in lacking)
    return "planned" if pending else "measured"


# What to do next ----------------------------------------------------------------


_prices: WeakKeyDictionary[LogBook, dict[str, Price]] = WeakKeyDictionary()


def next_steps(case: Case, level: float) -> NextSteps:
    """Rank what would settle the open predictions of a case."""
    return next_steps_of(
        case.verdicts(level=level).verdicts,
        matrix_of(case).splits(),
        lambda judged: _takes(case, judged, level),
        _prices.get(case.book),
    )


def state_prices(
    case: Case, minutes: Mapping[str, float], hazards: Mapping[str, str]
) -> None:
    """Note what measurements ask of the person; the tables of the write-up know too.

    Raises
    ------
    InputError
        If nothing is predicted of a name, or minutes are not above 0.
    """
    asked = [asked_of(p.criterion) for _, p in _each(case)]
    for name in {**minutes, **hazards}:
        if name not in asked:
            listed = did_you_mean(name, asked) or f"There are: {'; '.join(asked)}."
            raise InputError(f"next_steps: nothing is predicted of {name!r}. {listed}")
    said = _prices.setdefault(case.book, {})
    for name in {**minutes, **hazards}:
        old = said.get(name, Price())
        said[name] = Price(
            minutes.get(name, old.minutes), hazards.get(name, old.hazard)
        )


def _takes(case: Case, judged: Judged, level: float) -> Takes:
    criterion = judged.prediction.criterion
    comparing = isinstance(criterion, RateCriterion) and criterion.against
    if comparing:
        return Takes("more attempts of both arms", 1.0)
    if judged.count or _asks_a_count(criterion):
        return takes_count(*(judged.count or (0, 0)), criterion, level)
    state = case.state()
    names = list(filter(None, (criterion.quantity, criterion.other)))
    lacking = [m for n in names if state.knows(n) for m in state.missing(n)]
    spoiled = [m for m in lacking if m.status == "invalid"]
    if spoiled:  # the same reading again would be as invalid
        why = "; ".join(f"{m.name} is {m.reason}" for m in spoiled)
        return Takes(f"another method, or the condition mended: {why}", 1.0)
    if judged.outcome == "not measured":
        return Takes(f"a first value: {judged.detail}", 1.0)
    if lacking or not all(map(state.knows, names)):
        return Takes(f"a value instead of a bound: {judged.detail}", 1.0)
    if criterion.other:
        graph = state.graph_for(*names)
        found = budget_of_difference(graph, criterion.quantity, criterion.other)
        return takes_value(found, criterion, level)
    budget = state.budget(criterion.quantity, level)
    return takes_value(budget, criterion, level)


def _asks_a_count(criterion: Criterion) -> bool:
    """Tell a probability from a plain number: only one of them speaks of attempts."""
    return criterion.text.endswith("of attempts")


def apart(first: Criterion, second: Criterion) -> float:
    """Return the gap between what two criteria on one quantity allow, in SI.

    Examples
    --------
    >>> low = Criterion("V", float("-inf"), 8.0, "V below 8.0 V")
    >>> high = Criterion("V", 9.0, float("inf"), "V above 9.0 V")
    >>> apart(low, high), apart(low, low)
    (1.0, 0.0)
    """
    return max(second.lower - first.upper, first.lower - second.upper, 0.0)


def separations_table(case: Case) -> Table:
    """Return how far rivals' predictions of one quantity stand apart, in its u."""
    found = []
    for (a, p), (b, q) in _pairs(case):
        c, d = p.criterion, q.criterion
        name = c.quantity
        if name != d.quantity or c.relation != "limits" or d.relation != "limits":
            continue
        gap = apart(c, d)
        if gap or c.upper == d.lower or d.upper == c.lower:
            found.append((f"{a.name}, {b.name}", name, *_in_u(case, name, gap)))
    heads = columns("Pair", "Quantity", "Stand apart by", "In its u>")
    return Table("How far predictions stand apart", heads, tuple(found))


def _in_u(case: Case, name: str, gap: float) -> tuple[str, str]:
    state = case.state()
    if not gap:
        return "0, they share a limit", "0"
    if not state.knows(name) or state.missing(name):
        return f"{gap:.3g} (SI)", "not measured yet"
    budget = state.budget(name)
    u = budget.standard_uncertainty
    ratio = gap / u if u else math.inf
    return difference_text(gap, budget.unit), f"{ratio:.2g}"


def _pairs(
    case: Case,
) -> Iterator[tuple[tuple[Hypothesis, Prediction], tuple[Hypothesis, Prediction]]]:
    for first, second in itertools.combinations(_each(case), 2):
        if first[0] is not second[0]:
            yield first, second


def _each(case: Case) -> list[tuple[Hypothesis, Prediction]]:
    rivals = case.defined.hypotheses.values()
    return [(r, p) for r in rivals for p in standing_predictions(case, r)]


# Weights ------------------------------------------------------------------------


def weights_table(case: Case) -> Table:
    """Return what each count says for one rival against another.

    Only where both said beforehand how often they expect it.
    """
    verdicts = case.verdicts().verdicts
    counts = {
        (v.hypothesis.name, j.prediction.text): j for v in verdicts for j in v.judged
    }
    rows = []
    for (a, p), (b, q) in _pairs(case):
        judged = counts[a.name, p.text]
        same = p.criterion.quantity == q.criterion.quantity
        if not same or None in (p.probability, q.probability) or not judged.count:
            continue
        rows.append((f"{a.name}, {b.name}", p.criterion.quantity,
                     _weight(case, (a, p), (b, q), judged.count)))  # fmt: skip
    heads = columns("Pair", "Counted", "Weight")
    notes = (
        "ln of the likelihood ratio, with the probabilities each rival gave. A weight "
        "compares these two only, and no verdict is taken from it.",
    )
    return Table("Weights", heads, tuple(rows), notes if rows else ())


def _weight(
    case: Case,
    first: tuple[Hypothesis, Prediction],
    second: tuple[Hypothesis, Prediction],
    count: tuple[int, int],
) -> str:
    (a, p), (b, q) = first, second
    record = foretold_beside(case.book, case.folder)
    found = [record.of(rival.name, said) for rival, said in (first, second)]
    at = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)  # only the order of the two counts
    seen = [row for row, _ in first_seen(case, p.criterion)]
    late = any(_after(w, seen) for w in found)
    written = at + dt.timedelta(hours=1) if late else at
    odds = RivalOdds(a.name, b.name, p.probability or 0, q.probability or 0, written)
    weight = weigh(odds, [count], at + dt.timedelta(minutes=30))
    if any(w is None or w.kind == "found" for w in found):
        return weight.sentence.replace("after the data", "not recorded when")
    return weight.sentence


def _after(written: Written | None, seen: list[str]) -> bool:
    """Tell whether it is not shown that something was written before the data."""
    return written is None or any(written.follows(row) for row in seen)

"""What to measure next: which open prediction, what it takes, what it would change."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from benchproof.reasoning.decisions.rule import Outcome
from benchproof.reasoning.matrix import Split, asked_of
from benchproof.reasoning.takes import Takes
from benchproof.reasoning.verdicts import Judged, Verdict, verdict_of
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns

OPEN: tuple[Outcome, ...] = ("undetermined", "not measured")


@dataclass(frozen=True, slots=True)
class Price:
    """What a measurement asks of the person who makes it, as that person says.

    Attributes
    ----------
    minutes : float or None
        Of one reading or attempt, with what it takes to set up; None if not said.
    hazard : str
        What could hurt; "" if nothing was said.

    Raises
    ------
    InputError
        If the minutes are not above 0.
    """

    minutes: float | None = None
    hazard: str = ""

    def __post_init__(self) -> None:
        if self.minutes is not None and not 0 < self.minutes < math.inf:
            raise InputError(f"{self.minutes} minutes: give a number above 0.")


@dataclass(frozen=True, slots=True)
class Step:
    """One candidate measurement.

    Attributes
    ----------
    asked : str
        The quantity, or the count.
    predictions : tuple of str
        ``H1: the rail falls``, those it would settle.
    takes : tuple of Takes
        One per prediction.
    changes : tuple of str
        ``H1 becomes contradicted if contradicted``; empty where no verdict moves.
    splits : tuple of str
        Pairs of rivals it tells apart whichever way it comes out.
    price : Price
    """

    asked: str
    predictions: tuple[str, ...]
    takes: tuple[Takes, ...]
    changes: tuple[str, ...]
    splits: tuple[str, ...]
    price: Price = field(default=Price())

    @property
    def effort(self) -> float:
        """The largest of what its predictions take; see `Takes`."""
        return max(t.effort for t in self.takes)

    def _rank(self, priced: bool) -> tuple[float, ...]:
        gain, dear = -float(len(self.splits)), self.effort
        minutes = self.price.minutes
        if priced and minutes:
            gain, dear = gain / minutes, dear * minutes
        unpriced = priced and not minutes
        return (not self.changes, bool(self.price.hazard), unpriced, gain, dear)


@dataclass(frozen=True, slots=True, repr=False)
class NextSteps(Tabular):
    """Candidate measurements in order, and what would change each verdict.

    Attributes
    ----------
    steps : tuple of Step
    verdicts : tuple of Verdict
    """

    steps: tuple[Step, ...]
    verdicts: tuple[Verdict, ...]

    def table(self) -> Table:
        """Return one row per candidate, the first to be done on top."""
        prices = any(step.price != Price() for step in self.steps)
        rows = tuple(
            (
                str(number),
                step.asked,
                "; ".join(step.predictions),
                "; ".join(dict.fromkeys(t.text for t in step.takes)),
                "; ".join(dict.fromkeys(t.dominates for t in step.takes if t.dominates))
                or "not known",
                "; ".join(step.changes) or "no verdict",
                "; ".join(step.splits) or "none",
                *(_asks(step.price) if prices else ()),
            )
            for number, step in enumerate(self.steps, 1)
        )
        heads = columns(
            "Order>", "Measure", "Would settle", "What it takes", "Largest source",
            "Would change", "Splits for certain",
            *(("Minutes each>", "Hazard") if prices else ()),
        )  # fmt: skip
        note = f"{_RULE} {_PRICED if prices else _UNPRICED}"
        if not rows:
            note = "No prediction is open: nothing more to measure would settle one."
        return Table("What to measure next", heads, rows, (note,))

    def overturns(self) -> Table:
        """Return, for each rival, the results that would change its verdict."""
        rows = tuple(
            (v.hypothesis.name, v.word, j.prediction.text, j.outcome, said, j.flips)
            for v in self.verdicts
            for j in v.judged
            if (said := _turned(v, j.prediction.text))
        )
        heads = columns(
            "Rival", "Verdict", "Prediction", "Outcome", "Verdict becomes", "Would be"
        )
        return Table("What would change each verdict", heads, rows)


_RULE = (
    "In order: what would change a verdict before what would not; then what tells more "
    "pairs of rivals apart whichever way it comes out; then what takes least more than "
    "was done (readings, attempts, or how many times smaller a contribution). Numbers "
    "of readings and attempts assume that what was seen goes on."
)
_UNPRICED = "No minutes and no hazards were stated, so they are not in it."
_PRICED = (
    "As stated by you: what has a hazard comes after what has none; then pairs told "
    "apart, and what it takes, count per minute; what has no minutes comes last."
)


def _asks(price: Price) -> tuple[str, str]:
    minutes = "not stated" if price.minutes is None else f"{price.minutes:g}"
    return minutes, price.hazard or "none stated"


def next_steps_of(
    verdicts: Sequence[Verdict],
    splits: Sequence[Split],
    takes: Callable[[Judged], Takes],
    prices: Mapping[str, Price] | None = None,
) -> NextSteps:
    """Rank the measurements that would settle what is open.

    Parameters
    ----------
    verdicts : sequence of Verdict
    splits : sequence of Split
        What tells each pair apart; see `Matrix.splits`.
    takes : callable
        From an open prediction to what would settle it.
    prices : mapping, optional
        By quantity or count, what a person says it asks.
    """
    by_asked: dict[str, list[tuple[Verdict, Judged]]] = {}
    for v in verdicts:
        for j in v.judged:
            if j.outcome in OPEN:
                asked = asked_of(j.prediction.criterion)
                by_asked.setdefault(asked, []).append((v, j))
    said = prices or {}
    steps = [
        replace(_step(asked, found, splits, takes), price=said.get(asked, Price()))
        for asked, found in by_asked.items()
    ]
    priced = any(step.price.minutes for step in steps)
    steps.sort(key=lambda step: step._rank(priced))
    return NextSteps(tuple(steps), tuple(verdicts))


def _step(
    asked: str,
    found: Sequence[tuple[Verdict, Judged]],
    splits: Sequence[Split],
    takes: Callable[[Judged], Takes],
) -> Step:
    texts: dict[str, list[str]] = {}
    whose = {v.hypothesis.name: v for v, _ in found}
    for v, j in found:
        texts.setdefault(v.hypothesis.name, []).append(j.prediction.text)
    return Step(
        asked,
        tuple(f"{v.hypothesis.name}: {j.prediction.text}" for v, j in found),
        tuple(takes(j) for _, j in found),
        tuple(c for name, ts in texts.items() for c in changes(whose[name], ts)),
        tuple(f"{s.first}, {s.second}" for s in splits if asked in s.either),
    )


def changes(verdict: Verdict, texts: Iterable[str]) -> list[str]:
    """Say what a verdict becomes if predictions come out otherwise.

    Parameters
    ----------
    verdict : Verdict
    texts : iterable of str
        Of the predictions, each tried as met and as contradicted by itself.

    Returns
    -------
    list of str
        Only what changes the word.
    """
    name = verdict.hypothesis.name
    return [
        f"{name} becomes {word!r} if {text!r} is {outcome}"
        for text in texts
        for outcome, word in _turns(verdict, text)
    ]


def _turned(verdict: Verdict, text: str) -> str:
    return "; ".join(f"{word}, if {out}" for out, word in _turns(verdict, text))


def _turns(verdict: Verdict, text: str) -> list[tuple[Outcome, str]]:
    """Return the outcomes of a prediction that change the word, and that word."""
    outcomes: tuple[Outcome, ...] = ("met", "contradicted")
    words = [(outcome, _word_if(verdict, text, outcome)) for outcome in outcomes]
    return [(outcome, word) for outcome, word in words if word != verdict.word]


def _word_if(verdict: Verdict, text: str, outcome: Outcome) -> str:
    judged = [
        # Another outcome has another count, which nobody knows; but if no attempt
        # showed it, a rate predicted to be high is contradicted by more such.
        replace(j, outcome=outcome, count=_kept(j, outcome))
        if j.prediction.text == text and j.outcome != outcome
        else j
        for j in verdict.judged
    ]
    return verdict_of(verdict.hypothesis, judged).word


def _kept(judged: Judged, outcome: Outcome) -> tuple[int, int] | None:
    only_zeros = judged.count is not None and not judged.count[0]
    return judged.count if only_zeros and outcome == "contradicted" else None

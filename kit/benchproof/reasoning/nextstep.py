"""What to measure next: which open prediction, what it takes, what it would change."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from benchproof.reasoning.decisions.rule import Outcome
from benchproof.reasoning.matrix import Split, asked_of
from benchproof.reasoning.takes import Takes
from benchproof.reasoning.verdicts import Judged, Verdict, verdict_of
from benchproof.values.tables import Table, Tabular, columns

OPEN: tuple[Outcome, ...] = ("undetermined", "not measured")


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
    """

    asked: str
    predictions: tuple[str, ...]
    takes: tuple[Takes, ...]
    changes: tuple[str, ...]
    splits: tuple[str, ...]

    @property
    def effort(self) -> float:
        """The largest of what its predictions take; see `Takes`."""
        return max(t.effort for t in self.takes)


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
            )
            for number, step in enumerate(self.steps, 1)
        )
        heads = columns(
            "Order>", "Measure", "Would settle", "What it takes", "Largest source",
            "Would change", "Splits for certain",
        )  # fmt: skip
        return Table("What to measure next", heads, rows, (_RULE,))

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
    "was done (readings, attempts, or how many times smaller a contribution). Costs "
    "and risks are not in it. Numbers of readings and attempts assume that what was "
    "seen goes on."
)


def next_steps_of(
    verdicts: Sequence[Verdict],
    splits: Sequence[Split],
    takes: Callable[[Judged], Takes],
) -> NextSteps:
    """Rank the measurements that would settle what is open.

    Parameters
    ----------
    verdicts : sequence of Verdict
    splits : sequence of Split
        What tells each pair apart; see `Matrix.splits`.
    takes : callable
        From an open prediction to what would settle it.
    """
    by_asked: dict[str, list[tuple[Verdict, Judged]]] = {}
    for v in verdicts:
        for j in v.judged:
            if j.outcome in OPEN:
                asked = asked_of(j.prediction.criterion)
                by_asked.setdefault(asked, []).append((v, j))
    steps = [_step(asked, found, splits, takes) for asked, found in by_asked.items()]
    steps.sort(key=lambda s: (not s.changes, -len(s.splits), s.effort))
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
        # Another outcome has another count, which nobody knows.
        replace(j, outcome=outcome, count=None)
        if j.prediction.text == text and j.outcome != outcome
        else j
        for j in verdict.judged
    ]
    return verdict_of(verdict.hypothesis, judged).word

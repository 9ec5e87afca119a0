"""Rival explanations, their predictions, and verdicts that claim no more than that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from benchproof.reasoning.decisions.rule import Criterion, Outcome
from benchproof.reasoning.trials import upper_bound
from benchproof.values.tables import RowState, Table, Tabular, columns

Role = Literal["necessary", "expected", "symptom", "control"]

BEFORE, AFTER = "before the data", "after the data"
NOT_RECORDED = "not recorded when"

RULES = (
    "not tested: no prediction of it has been measured",
    "contradicted: a necessary prediction is contradicted",
    "sufficient on this sample: provoking it produced the symptom, the control did not",
    "not reproduced, p < x: provoking it gave only zeros; x is their 95 % bound",
    "undetermined: a measured prediction is undetermined, or an expected one failed",
    "compatible: all that was measured is met, nothing sufficient was shown",
)
"""In the order they are applied; the first that fits is the verdict."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What must be seen if the explanation holds.

    Attributes
    ----------
    text : str
        In words.
    criterion : Criterion
        What is measured, and the limits.
    role : {"necessary", "expected", "symptom", "control"}
        A necessary prediction that fails contradicts the explanation; an expected
        one only leaves it undetermined. Symptom and control are the two arms of a
        provocation.
    probability : float or None
        Of an occurrence in one attempt if the explanation holds; for `weigh`.
    """

    text: str
    criterion: Criterion
    role: Role = "necessary"
    probability: float | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """A prediction beside what was observed.

    Attributes
    ----------
    detail : str
        The observation in words, e.g. ``8.819(60) V, probability 0.62``.
    count : (int, int) or None
        Occurrences and attempts, where the observation is a count.
    flips : str
        The measured value at which the outcome would change, and how far it is.
    written : str
        When the prediction was written, held against the first reading that bears
        on it; begins with one of `BEFORE`, `AFTER`, `NOT_RECORDED`.
    """

    prediction: Prediction
    outcome: Outcome
    detail: str
    count: tuple[int, int] | None = None
    flips: str = ""
    written: str = NOT_RECORDED


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A rival explanation and its predictions, in the order they were written.

    Attributes
    ----------
    mechanism : str
        How it would come about, in words; "" if not said.
    """

    name: str
    statement: str
    predictions: list[Prediction] = field(default_factory=list)
    mechanism: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on one explanation, and the rule that gave it."""

    hypothesis: Hypothesis
    word: str
    reason: str
    judged: tuple[Judged, ...]


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A prediction as it once stood, changed or left out since; it stays visible."""

    rival: str
    text: str
    role: str
    criterion: str
    written: str
    why: str


@dataclass(frozen=True, slots=True, repr=False)
class Verdicts(Tabular):
    """The verdicts on all rivals, in the order they were written.

    Attributes
    ----------
    withdrawn : tuple of Withdrawn
        Predictions that data bore on before they were changed or left out.
    remarks : tuple of str
        What else a reader of the verdicts should know, e.g. an open objection.
    """

    verdicts: tuple[Verdict, ...]
    scope: str = ""
    level: float = 0.95
    withdrawn: tuple[Withdrawn, ...] = ()
    remarks: tuple[str, ...] = ()

    def table(self) -> Table:
        """Return one row per rival, with the rules that were applied below."""
        rows = tuple(
            (v.hypothesis.name, v.hypothesis.statement, v.word, v.reason)
            for v in self.verdicts
        )
        heads = columns("Rival", "It says", "Verdict", "Because")
        rules = ("Rules, the first that fits gives the verdict:", *RULES)
        notes = (*self._late(), *self.remarks, *rules)
        return Table(f"Verdicts {self.scope}".strip(), heads, rows, notes)

    def _late(self) -> tuple[str, ...]:
        """Say which verdicts rest on predictions written after the data."""
        found = {
            v.hypothesis.name: [
                j.prediction.text
                for j in v.judged
                if j.written.startswith(AFTER) and j.outcome != "not measured"
            ]
            for v in self.verdicts
        }
        return tuple(
            f"{name} rests also on what was predicted after the data: "
            f"{'; '.join(texts)}."
            for name, texts in found.items()
            if texts
        )

    def _rules(self) -> tuple[str, ...]:
        asked = {
            j.prediction.criterion.relation for v in self.verdicts for j in v.judged
        }
        rules = [_guard_bands(self.level)] if "limits" in asked else []
        return (*rules, *([_COMPARED] if asked - {"limits"} else []))

    def predictions(self) -> Table:
        """Return one row per prediction: what was expected and what was seen."""
        rows: list[tuple[str, ...]] = []
        states: list[RowState] = []
        for v in self.verdicts:
            name = v.hypothesis.name
            rows += [_prediction_row(name, j) for j in v.judged]
            states += [""] * len(v.judged)
            gone = [w for w in self.withdrawn if w.rival == name]
            rows += [
                (name, w.text, w.role, w.criterion, "not judged", w.why, "", w.written)
                for w in gone
            ]
            states += ["superseded"] * len(gone)
        heads = columns(
            "Rival", "Prediction", "Role", "Criterion", "Outcome", "Seen", "Would be",
            "Written",
        )  # fmt: skip
        return Table("Predictions", heads, tuple(rows), self._rules(), tuple(states))


def _prediction_row(name: str, judged: Judged) -> tuple[str, ...]:
    prediction = judged.prediction
    return (
        name, prediction.text, prediction.role, prediction.criterion.text,
        judged.outcome, judged.detail, judged.flips, judged.written,
    )  # fmt: skip


_COMPARED = (
    "Rule: two values agree below 2 u of their difference, and differ above 3 u "
    "(common practice); with a margin, the guard bands of a limit apply."
)


def _guard_bands(level: float) -> str:
    return (
        "Rule: a limit is met, or contradicted, when the measured value lies beyond it "
        f"by a guard band that leaves at most {100 * (1 - level):.3g} % to the other "
        "side (JCGM 106, clause 8); between the bands it is undetermined."
    )


def verdict_of(hypothesis: Hypothesis, judged: Sequence[Judged]) -> Verdict:
    """Apply the rules `RULES` in order.

    Parameters
    ----------
    judged : sequence of Judged
        One per prediction of the hypothesis.

    Examples
    --------
    >>> verdict_of(Hypothesis("H1", "It is the socket"), []).word
    'not tested'
    """
    measured = [j for j in judged if j.outcome != "not measured"]
    word, reason = _word(measured)
    if not judged:
        reason = "it predicts nothing yet, so nothing could contradict it"
    missing = len(judged) - len(measured)
    if missing and measured:
        reason += f"; {missing} of {len(judged)} predictions not measured"
    return Verdict(hypothesis, word, reason, tuple(judged))


def _word(measured: Sequence[Judged]) -> tuple[str, str]:
    if not measured:
        return "not tested", "no prediction has been measured"
    for j in measured:
        if j.prediction.role == "necessary" and j.outcome == "contradicted":
            return "contradicted", _because(j)
    provoked = _provocation(measured)
    if provoked:
        return provoked
    for j in measured:
        if j.outcome != "met":
            return "undetermined", _because(j)
    return "compatible", f"met: {len(measured)} of those measured; none sufficient"


def _provocation(measured: Sequence[Judged]) -> tuple[str, str] | None:
    symptoms = [j for j in measured if j.prediction.role == "symptom"]
    controls = [j for j in measured if j.prediction.role == "control"]
    shown = [j for j in symptoms if j.outcome == "met"]
    if shown and controls and all(j.outcome == "met" for j in controls):
        return "sufficient on this sample", (
            f"{_because(shown[0])}; control: {_because(controls[0])}"
        )
    counts = [j.count for j in symptoms if j.count]
    if counts and len(counts) == len(symptoms) and all(k == 0 for k, _ in counts):
        worst = max(upper_bound(k, n) for k, n in counts)
        zeros = ", ".join(f"{k} of {n}" for k, n in counts)
        return f"not reproduced, p < {_bound(worst)}", f"provoked: {zeros}"
    return None


def _bound(probability: float) -> str:
    """Round a bound upwards, so that it stays one.

    >>> _bound(0.0722)
    '7.3 %'
    """
    percent = 100 * probability
    places = max(0, 1 - math.floor(math.log10(percent)))
    return f"{math.ceil(percent * 10**places - 1e-9) / 10**places:g} %"


def _because(judged: Judged) -> str:
    return f"{judged.prediction.text}: {judged.outcome} ({judged.detail})"

"""How often an outcome was seen: predictions on it, and how they are judged."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchproof.keeping.trials.arms import Arm, Hits, arms_of
from benchproof.keeping.trials.wording import condition_read
from benchproof.reasoning.decisions.rule import Criterion, Outcome
from benchproof.reasoning.trials import compare_counts
from benchproof.reasoning.verdicts import Judged, Prediction
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


@dataclass(frozen=True, slots=True)
class RateCriterion(Criterion):
    """What a prediction says about how often an outcome is seen.

    Attributes
    ----------
    plan, outcome, condition : str
    against : str
        Condition of the arm it is compared with; "" where limits are given.
    """

    plan: str = ""
    outcome: str = ""
    condition: str = ""
    against: str = ""


@dataclass(frozen=True, slots=True, repr=False)
class Rate(Tabular):
    """How often an outcome is seen under one condition: it shows what is known now.

    Attributes
    ----------
    case : Case
    plan, outcome, condition : str
    """

    case: Case
    plan: str
    outcome: str
    condition: str

    @property
    def arm(self) -> Arm:
        """What was seen so far; no attempts if nothing was."""
        rows = self.case.trials.rows(self.plan)
        found = arms_of(rows, self.outcome, self.case.trials.up_to)
        return found.get(self.condition, Arm(self.condition, self.outcome))

    @property
    def count(self) -> tuple[int, int]:
        """Occurrences and attempts."""
        return self.arm.count

    @property
    def name(self) -> str:
        """Plan, outcome and condition, in words."""
        return f"{self.plan}: {self.outcome} with {condition_read(self.condition)}"

    def at_least(self, probability: float) -> RateCriterion:
        """Say that it is seen at least this often (0 to 1)."""
        words = f"in at least {100 * probability:g} % of attempts"
        return self._limited(probability, probability, math.inf, words)

    def at_most(self, probability: float) -> RateCriterion:
        """Say that it is seen at most this often (0 to 1)."""
        words = f"in at most {100 * probability:g} % of attempts"
        return self._limited(probability, -math.inf, probability, words)

    def higher_than(self, other: Rate) -> RateCriterion:
        """Say that it is seen more often than in another arm of the plan.

        Judged by Fisher's exact test, one-sided, at the level of the verdict: met if
        more often, contradicted if less often, else undetermined.

        Raises
        ------
        InputError
            If the other is of another plan or outcome, or the same arm.
        """
        same = (other.plan, other.outcome) == (self.plan, self.outcome)
        if not same or other.condition == self.condition:
            raise InputError(
                f"{self.name}: compared with {other.name}. Give another condition of "
                "the same plan and outcome; those were tried in one shuffled order."
            )
        against = str(condition_read(other.condition))
        text = f"{self.name}, more often than with {against}"
        return RateCriterion(
            self.name,
            -math.inf,
            math.inf,
            text,
            plan=self.plan,
            outcome=self.outcome,
            condition=self.condition,
            against=other.condition,
        )

    def _limited(
        self, probability: float, lower: float, upper: float, words: str
    ) -> RateCriterion:
        if not 0 <= probability <= 1:
            raise InputError(
                f"{self.name}: {probability} is no probability; give 0 to 1."
            )
        return RateCriterion(
            self.name,
            lower,
            upper,
            f"{self.name} {words}",
            plan=self.plan,
            outcome=self.outcome,
            condition=self.condition,
        )

    def __str__(self) -> str:
        k, n = self.count
        return f"{k} of {n}" if n else "(not tried yet)"

    def table(self) -> Table:
        """Return count, exact limits, and what to know about them."""
        arm = self.arm
        rows = (("Rate", self.name), ("Seen", arm.shown()), ("Round", str(arm.round)))
        return Table("", columns("", " "), rows[: 3 if arm.round else 2], _notes(arm))


def _notes(arm: Arm) -> tuple[str, ...]:
    return tuple(arm.notes()) if arm.hits else ()


def judge_rate(
    prediction: Prediction, arm: Arm, other: Arm | None, level: float
) -> Judged:
    """Judge a prediction on a rate by the attempts of its arm, or of two.

    Where attempts outside the plan were made, the outcome must be the same with
    them and without; else it is undetermined. Aborted attempts are told.

    Parameters
    ----------
    other : Arm or None
        The arm it is compared with, where it is.
    level : float
        Of each one-sided bound, or of Fisher's test.
    """
    if not arm.hits or (other and not other.hits):
        return Judged(prediction, "not measured", "not tried yet")
    if other:
        return _judge_compared(prediction, arm, other, level)
    criterion = prediction.criterion

    def decided(hits: Hits) -> Outcome:
        low, high = arm.bounds(hits, level)
        return _decided(low, high, criterion.lower, criterion.upper)

    found = {way: decided(hits) for way, hits in arm.readings().items()}
    detail = [arm.shown(level), *arm.notes(level)]
    flips = ""
    if arm.aborted:
        extremes = {
            decided(arm.hits + (seen,) * arm.aborted): seen for seen in (False, True)
        }
        flips = "; ".join(
            f"{word} if all aborted had {'' if seen else 'not '}shown it"
            for word, seen in extremes.items()
            if word != found["all attempts"]
        )
    outcome = _agreed(found, detail)
    return Judged(prediction, outcome, "; ".join(detail), arm.count, flips)


def _decided(low: float, high: float, lower: float, upper: float) -> Outcome:
    if low >= lower and high <= upper:
        return "met"
    return "contradicted" if high < lower or low > upper else "undetermined"


def _agreed(found: dict[str, Outcome], detail: list[str]) -> Outcome:
    """Return the outcome all ways of counting lead to; else say where they part."""
    if len({*found.values()}) == 1:
        return next(iter(found.values()))
    detail.append("; ".join(f"{way}: {outcome}" for way, outcome in found.items()))
    return "undetermined"


def _judge_compared(
    prediction: Prediction, arm: Arm, other: Arm, level: float
) -> Judged:
    if arm.stop_at is not None or other.stop_at is not None:
        why = (
            f"{arm.shown(level)}; against {other.shown(level)}: the attempts ended at "
            "an occurrence, and Fisher's test needs their number fixed beforehand"
        )
        return Judged(prediction, "undetermined", why, arm.count)

    def decided(first: Hits, second: Hits) -> Outcome:
        a, b = _worth(first, arm.effect), _worth(second, other.effect)
        if compare_counts(a, b, "more").p_value <= 1 - level:
            return "met"
        fewer = compare_counts(a, b, "fewer").p_value <= 1 - level
        return "contradicted" if fewer else "undetermined"

    found = {"all attempts": decided(arm.hits, other.hits)}
    if (arm.unplanned or other.unplanned) and arm.planned and other.planned:
        found["planned only"] = decided(arm.planned, other.planned)
    detail = [_compared(arm, other, level)]
    detail += [*arm.notes(level), *(f"other arm: {n}" for n in other.notes(level))]
    return Judged(prediction, _agreed(found, detail), "; ".join(detail), arm.count)


def _compared(arm: Arm, other: Arm, level: float) -> str:
    """Say what the test compared: of clustered attempts what they are worth."""
    a, b = _worth(arm.hits, arm.effect), _worth(other.hits, other.effect)
    found = compare_counts(a, b, "more")
    test = found.test
    if (a, b) != (arm.count, other.count):
        test += f", as {a[0]} of {a[1]} against {b[0]} of {b[1]} independent attempts"
    first, second = arm.shown(level), other.shown(level)
    said = replace(found, first=first, second=second, test=test)
    return said.sentence(level).rstrip(".")


def _worth(hits: Hits, effect: float) -> tuple[int, int]:
    """Return the count that as many independent attempts would have shown."""
    attempts = max(math.floor(len(hits) / effect), 1)
    return round(sum(hits) * attempts / len(hits)), attempts

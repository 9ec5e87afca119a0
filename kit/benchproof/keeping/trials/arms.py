"""One arm of a plan: what was seen under one condition, and what it leaves open."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from benchproof.keeping.trials.blinding import unblinded
from benchproof.keeping.trials.planspec import PlanSpec
from benchproof.keeping.trials.rows import Made, PlanRows
from benchproof.reasoning.trials import (
    StoppedCount,
    clustered_limits,
    design_effect,
    lower_bound,
    outcome_order,
    percent_down,
    percent_up,
    shown_count,
    shown_rate,
    sitting_correlation,
    upper_bound,
)

MOST_JUDGED = 10_000
"""The exact runs test counts in whole numbers; longer arms are left unjudged."""

Hits = tuple[bool, ...]

_order = lru_cache(maxsize=64)(outcome_order)
"""Judged once: what is shown, its note and its bounds all ask, 0.4 s for 10 000."""

_COUNTED = re.compile(r"(?<=[,:]) p (?=from|[<>])")
"""What stands before it was counted; behind it stand the limits."""


@dataclass(frozen=True, slots=True)
class Arm:
    """What was seen under one condition, in the latest round that has attempts.

    Attributes
    ----------
    condition, outcome : str
        What was tried, and what is counted.
    round : int
        0 if there is no attempt.
    hits : tuple of bool
        Whether the outcome was seen, in the order the attempts were made.
    planned : tuple of bool
        Of those, the planned ones.
    aborted : int
        Attempts that gave no outcome.
    sittings : tuple of (int, int)
        Occurrences and attempts of each sitting.
    stop_at : int or None
        At which occurrence the planned attempts were to end.
    hours : float or None
        How long each attempt was watched.
    """

    condition: str
    outcome: str
    round: int = 0
    hits: Hits = ()
    planned: Hits = ()
    aborted: int = 0
    sittings: tuple[tuple[int, int], ...] = ()
    stop_at: int | None = None
    hours: float | None = None

    @property
    def count(self) -> tuple[int, int]:
        """Occurrences and attempts, those outside the plan included."""
        return sum(self.hits), len(self.hits)

    @property
    def unplanned(self) -> int:
        """How many attempts with an outcome the plan does not have."""
        return len(self.hits) - len(self.planned)

    def readings(self) -> dict[str, Hits]:
        """Return the ways to count: all attempts, and only the planned ones."""
        ways = {"all attempts": self.hits}
        if self.planned and self.unplanned:
            ways["planned only"] = self.planned
        return ways

    def order_flag(self) -> tuple[str, float]:
        """Return what the order of the outcomes betrays, and n over its worth."""
        n = len(self.hits)
        if n > MOST_JUDGED:
            return f"order not judged: more than {MOST_JUDGED} attempts", 1.0
        if n < 2:
            return "", 1.0
        order = _order(self.hits)
        return order.flag, n / order.effective_attempts

    def sitting_note(self) -> tuple[str, float]:
        """Return what the sittings say, and the design effect; 1 if they say nothing.

        References
        ----------
        As for `design_effect` and `sitting_correlation`.
        """
        if len(self.sittings) < 2 or (within := self._correlation()) <= 0:
            return "", 1.0
        effect = design_effect([n for _, n in self.sittings], within)
        return (
            f"{len(self.sittings)} sittings, correlation within one {within:.2g}: "
            f"design effect {effect:.3g}, worth about {len(self.hits) / effect:.3g} "
            "independent attempts",
            effect,
        )

    def _correlation(self) -> float:
        within = sitting_correlation(self.sittings)
        return 0.0 if math.isnan(within) else min(within, 1.0)

    @property
    def effect(self) -> float:
        """By how much clustering widens the variance; 1 if nothing is flagged."""
        return max(self.sitting_note()[1], self.order_flag()[1], 1.0)

    def bounds(self, hits: Hits, level: float) -> tuple[float, float]:
        """Return one-sided bounds of the probability, each at `level`.

        Exact; those of the stop rule where the attempts ended at an occurrence, and
        wider where clustering is flagged.
        """
        k, n = sum(hits), len(hits)
        if self.stop_at is not None and hits == self.planned:
            stopped = _until(hits, self.stop_at)
            low = lower_bound(stopped.count, stopped.attempts, level)
            high = stopped.upper_bound(level)
        else:
            low, high = lower_bound(k, n, level), upper_bound(k, n, level)
        if self.effect > 1 and n > 1:
            within = min((self.effect - 1) / (n - 1), 1.0)
            wide = clustered_limits(k, [n], within, max(2 * level - 1, 0.0) or level)
            low, high = min(low, wide[0]), max(high, wide[1])
        return low, high

    def shown(self, level: float = 0.95) -> str:
        """Write what was seen with its limits; a zero with its bound.

        Exact; where clustering is flagged those of `bounds`, and marked so.

        Examples
        --------
        >>> Arm("axes=one", "lost", 1, (False,) * 20, (False,) * 20).shown()
        '0 of 20, p < 14 % (95 %, one-sided)'
        """
        if not self.hits:
            return "not tried"
        stopped = self.stop_at is not None and self.planned
        return self._seen(self.planned if stopped else self.hits, level)

    def _seen(self, hits: Hits, level: float) -> str:
        if self.stop_at is not None and hits == self.planned:
            seen = _until(hits, self.stop_at).sentence(level)
        else:
            seen = shown_count(sum(hits), len(hits), level)
        if self.effect == 1:
            return seen
        low, high = self.bounds(hits, 0.5 + level / 2)
        limits = f"p from {percent_down(low)} to {percent_up(high)}"
        return f"{_COUNTED.split(seen)[0]} {limits} ({100 * level:g} %, clustered)"

    def notes(self, level: float = 0.95) -> list[str]:
        """Return what a careful reader should know of this count."""
        found = []
        if self.hours is not None:
            count, attempts = self.count
            narrow = ", too narrow: clustered" if self.effect > 1 else ""
            found.append(shown_rate(count, attempts * self.hours, level) + narrow)
        if self.unplanned:
            only = "none was planned"
            if self.planned:
                only = f"planned only: {self._seen(self.planned, level)}"
            found.append(f"{self.unplanned} outside the plan counted; {only}")
        if self.aborted:
            found.append(f"{self.aborted} aborted, without an outcome")
        if self.stop_at is not None and (after := self._after_stop()):
            found.append(f"went on for {after} after the stop rule had ended it")
        flags = (self.sitting_note()[0], self.order_flag()[0].rstrip("."))
        found += filter(None, flags)
        if self.effect > 1:
            found.append("limits widened accordingly")
        return found

    def _after_stop(self) -> int:
        stop_at = self.stop_at or 0
        return len(self.planned) - _until(self.planned, stop_at).attempts


def _until(hits: Hits, stop_at: int) -> StoppedCount:
    """Count the attempts up to the occurrence that was to end them."""
    seen = 0
    for number, hit in enumerate(hits, 1):
        seen += hit
        if seen == stop_at:
            return StoppedCount(seen, number, stop_at)
    return StoppedCount(seen, len(hits), stop_at)


def arms_of(plan: PlanRows, outcome: str, up_to: int | None = None) -> dict[str, Arm]:
    """Return every condition that was tried with what was seen of one outcome.

    Parameters
    ----------
    up_to : int, optional
        Leave out what was recorded in later rounds.
    """
    by_condition: dict[str, list[Made]] = {}
    everything = unblinded(plan, up_to)
    for made in everything:
        by_condition.setdefault(made.condition, []).append(made)
    specs = {v.number: v.spec for v in plan.versions}
    days = _unnamed(everything)
    return {
        condition: _arm(condition, outcome, made, specs, days)
        for condition, made in by_condition.items()
    }


def _unnamed(made: Iterable[Made]) -> dict[str, str]:
    """Return, for each day with one named sitting, that: unnamed attempts join it."""
    named = {(m.time[:10], m.sitting) for m in made if m.sitting}
    days = Counter(day for day, _ in named)
    return {day: sitting for day, sitting in named if days[day] == 1}


def _arm(
    condition: str,
    outcome: str,
    made: Sequence[Made],
    specs: dict[int, PlanSpec],
    days: Mapping[str, str],
) -> Arm:
    latest = max(m.round for m in [m for m in made if m.outcome] or made)
    now = [m for m in made if m.round == latest]
    with_outcome = [m for m in now if m.outcome]
    planned = [m for m in with_outcome if m.kind == "planned"]
    sittings: dict[str, list[bool]] = {}
    for m in with_outcome:
        # Without a name, what was recorded on one day is one sitting.
        day = m.time[:10]
        sitting = m.sitting or days.get(day, day)
        sittings.setdefault(sitting, []).append(m.outcome == outcome)
    return Arm(
        condition,
        outcome,
        latest,
        tuple(m.outcome == outcome for m in with_outcome),
        tuple(m.outcome == outcome for m in planned),
        len(now) - len(with_outcome),
        tuple((sum(hits), len(hits)) for hits in sittings.values()),
        specs[planned[-1].version].stop_at if planned else None,
        specs[with_outcome[-1].version].hours if with_outcome else None,
    )

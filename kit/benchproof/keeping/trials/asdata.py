"""Rates and coverage of every plan as plain data, for results and figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from benchproof.keeping.trials.arms import Arm, arms_of
from benchproof.keeping.trials.blinding import key_of_runs
from benchproof.keeping.trials.planned import PlannedTrial
from benchproof.keeping.trials.progress import places_of
from benchproof.keeping.trials.trialtables import MOST_EXCLUDED, versions_of
from benchproof.keeping.trials.wording import condition_text, condition_words
from benchproof.reasoning.trials import percent_down, percent_up

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

LEVEL = 0.95


def rates_of(case: Case) -> list[dict[str, Any]]:
    """Return how often each plan's outcome was seen, in each round it was tried in.

    Returns
    -------
    list of dict
        ``name`` as predictions call it, ``count``, ``attempts``, ``low`` and ``high``
        (two-sided, 95 %, wider where clustering is flagged), ``interval`` in words,
        ``round``, ``control``, ``note``. A sealed plan has none.
    """
    return [entry for name in case.trials.names() for entry in _rates(case, name)]


def _rates(case: Case, name: str) -> Iterator[dict[str, Any]]:
    power = _latest(case, name)
    if power.spec.blind and not key_of_runs(power.rows, power.number, power.up_to):
        return
    outcome = power.spec.outcomes[0]
    rounds = [
        r.number for r in case.book.record.rounds if r.number <= case.round_number
    ]
    seen = {n: arms_of(power.rows, outcome, n) for n in rounds}
    conditions = dict.fromkeys(c for arms in seen.values() for c in arms)
    for condition in conditions:
        for number in rounds:
            arm = seen[number].get(condition)
            if arm and arm.hits and arm.round == number:
                yield _rate(power, arm)


def _rate(power: PlannedTrial, arm: Arm) -> dict[str, Any]:
    low, high = arm.bounds(arm.hits, 0.5 + LEVEL / 2)
    count, attempts = arm.count
    words = condition_words(arm.condition)
    return {
        "name": f"{power.name}: {arm.outcome} with {words}",
        "count": count,
        "attempts": attempts,
        "low": low,
        "high": high,
        "interval": f"{percent_down(low)} to {percent_up(high)}",
        "round": arm.round,
        "control": arm.condition == _control(power),
        "note": "; ".join(arm.notes(LEVEL)),
    }


def coverage_of(case: Case) -> list[dict[str, Any]]:
    """Return how far every condition of every plan was tried, in its latest round.

    Returns
    -------
    list of dict
        ``plan``, ``condition`` in words, ``control``, ``planned`` and ``done`` places,
        ``why`` those not done are not; of a condition that was excluded, ``planned``
        is 0 and ``why`` its reason.
    """
    return [entry for name in case.trials.names() for entry in _coverage(case, name)]


def _coverage(case: Case, name: str) -> Iterator[dict[str, Any]]:
    power = _latest(case, name)
    planned, done = Counter[str](), Counter[str]()
    open_: dict[str, Counter[str]] = {}
    for place in places_of(power):
        planned[place.condition] += 1
        if place.stand == "done":
            done[place.condition] += 1
        else:
            why = "left" if place.stand == "due" else str(place.stand)
            why += f": {place.because}" if place.because else ""
            open_.setdefault(place.condition, Counter())[why] += 1
    for condition, count in planned.items():
        left = open_.get(condition, Counter())
        yield {
            "plan": name,
            "condition": condition_words(condition),
            "control": condition == _control(power),
            "planned": count,
            "done": done[condition],
            "why": "; ".join(f"{n} {why}" for why, n in left.items()),
        }
    for words, why in power.spec.trial_plan.left_out(MOST_EXCLUDED).rows:
        yield {
            "plan": name, "condition": words, "control": False,
            "planned": 0, "done": 0, "why": why,
        }  # fmt: skip


def _latest(case: Case, name: str) -> PlannedTrial:
    """Return the plan's latest version in the latest round in which it was tried."""
    plan, up_to = case.trials.rows(name), case.trials.up_to
    version = versions_of(plan, up_to)[-1]
    rounds = [m.round for m in plan.made(up_to) if m.version == version.number]
    return PlannedTrial(case, name, version.number, max(rounds, default=version.round))


def _control(power: PlannedTrial) -> str:
    control = power.spec.trial_plan.control
    return condition_text(control) if control else ""

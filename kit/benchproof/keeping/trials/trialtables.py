"""The tables of trials: plans, attempts, progress, coverage and rates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from benchproof.keeping.trials.arms import Arm, arms_of
from benchproof.keeping.trials.blinding import (
    key_of_runs,
    made_after_opening,
    unblinded,
)
from benchproof.keeping.trials.entering import key_of
from benchproof.keeping.trials.progress import Place, places_of
from benchproof.keeping.trials.rows import Made, PlanRows, Version
from benchproof.keeping.trials.wording import condition_text, condition_words
from benchproof.reasoning.plans import Condition
from benchproof.reasoning.plans.trialplan import MOST_LISTED
from benchproof.reasoning.trials import compare_counts
from benchproof.values.tables import RowState, Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case
    from benchproof.keeping.trials.planned import PlannedTrial

MOST_EXCLUDED = 200
"""So many excluded conditions are listed; the note says if there are more."""


def overview_table(power: PlannedTrial) -> Table:
    """Return the plan of one version, and how far it is in its round."""
    plan, version = power.spec.trial_plan.table(), power.version
    rows = [
        *plan.rows,
        ("Stop, in words", power.spec.stop),
        ("Outcomes", f"{', '.join(power.spec.outcomes)}; looked for: "
                     f"{power.spec.outcomes[0]}"),
        ("Written", f"version {version.number}, round {version.round}, "
                    f"{version.time}, SHA-256 {power.spec.digest()[:16]}…"),
        ("Progress", progress_line(power)),
    ]  # fmt: skip
    if power.spec.blind:
        rows.append(("Blind", blind_line(power)))
    title = f"{power.name}: the plan"
    notes = (
        *version_notes(power.rows, power.up_to),
        *torn_notes(power.case),
    )
    return Table(title, plan.columns, tuple(rows), notes)


def progress_line(power: PlannedTrial) -> str:
    """Return planned, done and left in one line."""
    stands = Counter(p.stand for p in places_of(power))
    made = [m for m in power.rows.made(power.up_to) if _here(m, power)]
    kinds = Counter(m.kind for m in made)
    parts = [
        f"planned {stands.total()}, done {stands['done']}, left {stands['due']}",
        _some(stands["skipped"], "skipped"),
        _some(stands["ended by the stop rule"], "ended by the stop rule"),
        _some(kinds["aborted"], "aborted"),
        _some(kinds["unplanned"], "outside the plan"),
    ]
    return "; ".join(filter(None, parts))


def _some(count: int, what: str) -> str:
    return f"{count} {what}" if count else ""


def _here(made: Made, power: PlannedTrial) -> bool:
    return made.round == power.round


def blind_line(power: PlannedTrial) -> str:
    """Say whether the key is sealed, open, or was opened early."""
    seal = key_of(power.rows, power.version)
    if not seal:
        return "no key is sealed yet"
    if not key_of_runs(power.rows, power.number, power.up_to):
        return f"key sealed, {seal[:16]}…"
    opened = next(r for r in power.rows.opened if r["version"] == str(power.number))
    after = len(made_after_opening(power.rows, power.number, power.up_to))
    late = f"; {after} attempts made after that, not blind" if after else ""
    early = f" ({opened['note']})" if opened["note"] else ""
    return f"key opened {opened['time']}{early}{late}; seal {seal[:16]}…"


def version_notes(plan: PlanRows, up_to: int | None) -> list[str]:
    """Say when and why a plan was changed."""
    return [
        f"Changed to version {v.number} after {v.after} attempts: "
        f"{v.because or 'no reason given, before the first attempt'}."
        for v in versions_of(plan, up_to)[1:]
    ]


def versions_of(plan: PlanRows, up_to: int | None) -> list[Version]:
    """Return the versions that a view of the case knows."""
    return [v for v in plan.versions if up_to is None or v.round <= up_to]


def torn_notes(case: Case) -> tuple[str, ...]:
    """Return the messages about torn rows of the ledger."""
    return tuple(case.trials.ledger.log.recovered)


def due_table(power: PlannedTrial, count: int) -> Table:
    """Return the next places to be made, in the planned order."""
    due = [p for p in places_of(power) if p.stand == "due"]
    rows = tuple(
        (str(p.number), condition_words(p.condition)) for p in due[: max(count, 0)]
    )
    note = f"{len(due)} left" if due else "nothing is left to be made"
    heads = columns("Place>", "Condition")
    return Table(f"{power.name}: next", heads, rows, (note, *torn_notes(power.case)))


def progress_table(power: PlannedTrial) -> Table:
    """Return planned, done and left by condition, and why something was not done."""
    by_condition: dict[str, list[Place]] = {}
    if power.spec.blind:
        by_condition[f"{len(power.spec.places)} coded runs"] = places_of(power)
    else:
        for place in places_of(power):
            by_condition.setdefault(place.condition, []).append(place)
    made = [m for m in power.rows.made(power.up_to) if _here(m, power)]
    if not power.spec.blind:
        for m in made:  # conditions that the plan does not have
            by_condition.setdefault(m.condition, [])
    rows = []
    for condition, places in by_condition.items():
        stands = Counter(p.stand for p in places)
        kinds = Counter(
            m.kind for m in made if power.spec.blind or m.condition == condition
        )
        why = dict.fromkeys(p.because for p in places if p.stand == "skipped")
        ended = stands["ended by the stop rule"]
        notes = [*why, _some(ended, "ended by the stop rule")]
        words = condition if power.spec.blind else condition_words(condition)
        counts = (len(places), stands["done"], stands["due"], stands["skipped"],
                  kinds["aborted"], kinds["unplanned"])  # fmt: skip
        rows.append((words, *map(str, counts), "; ".join(filter(None, notes))))
    heads = columns("Condition", "Planned>", "Done>", "Left>", "Skipped>", "Aborted>",
                    "Outside the plan>", "Not done because")  # fmt: skip
    title = f"{power.name}: {progress_line(power)}"
    return Table(
        title, heads, tuple(rows), (*_order_notes(power), *torn_notes(power.case))
    )


def _order_notes(power: PlannedTrial) -> list[str]:
    """Say where attempts were not made in the planned order."""
    places = [
        m.place
        for m in power.rows.made(power.up_to)
        if m.kind == "planned" and _here(m, power) and m.version == power.number
    ]
    early = sum(b < a for a, b in zip(places, places[1:], strict=False))
    return [f"{early} attempts made after a later place of the order"] if early else []


def attempts_table(power: PlannedTrial) -> Table:
    """Return every attempt of a plan in the order made, with what was corrected."""
    rows, states = attempt_rows(power.rows, power.up_to)
    return Table(
        f"{power.name}: attempts", ATTEMPT_HEADS, rows, torn_notes(power.case), states
    )


ATTEMPT_HEADS = columns(
    "Attempt>", "Kind", "Place>", "Condition", "Outcome", "Round>", "Sitting", "Note"
)


def attempt_rows(
    plan: PlanRows, up_to: int | None
) -> tuple[tuple[tuple[str, ...], ...], tuple[RowState, ...]]:
    """Return a row per attempt and per correction, and whether it was superseded."""
    rows: list[tuple[str, ...]] = []
    states: list[RowState] = []
    for m in unblinded(plan, up_to):
        version = f"version {m.version}" if len(plan.versions) > 1 else ""
        note = "; ".join(filter(None, (version, m.note)))
        steps = [(m.typed, note)]
        steps += [(c["outcome"], f"corrected: {c['note']}") for c in m.corrections]
        for i, (outcome, said) in enumerate(steps):
            rows.append(
                (
                    str(m.number), m.kind, str(m.place or ""),
                    condition_words(m.condition),
                    outcome or "none", str(m.round), m.sitting or m.time[:10], said,
                )
            )  # fmt: skip
            states.append("superseded" if i < len(steps) - 1 else "")
    return tuple(rows), tuple(states)


def coverage_table(power: PlannedTrial) -> Table:
    """Return done of planned per condition: one axis is the plan's last factor.

    What is excluded or skipped shows its reason; what is open shows 0.
    """
    cells: dict[str, dict[str, str]] = {}
    heads: dict[str, None] = {}
    for condition, text in _covered(power):
        parts = dict(part.partition("=")[::2] for part in condition.split("; "))
        if condition == condition_text(Condition()):
            parts = {}
        last = power.spec.factors[-1][0] if power.spec.factors else ""
        head = parts.pop(last, "")
        # The control joins nothing and so has a row of its own.
        row = (
            condition_words("; ".join(f"{k}={v}" for k, v in parts.items()))
            if parts
            else ""
        )
        cells.setdefault(row or "nothing joined", {})[head] = text
        heads[head] = None
    titles = [f"{head}>" if head else "Done>" for head in heads]
    rows = tuple(
        (row, *(found.get(head, "not in the plan") for head in heads))
        for row, found in cells.items()
    )
    title = f"{power.name}: done of planned"
    notes = _cut_note(power)
    return Table(title, columns("Tried", *titles), rows, notes)


def _covered(power: PlannedTrial) -> Iterator[tuple[str, str]]:
    """Give every condition, excluded ones too, and what its cell says."""
    spec = power.spec
    places: dict[str, list[Place]] = {}
    for place in places_of(power):
        places.setdefault(place.condition, []).append(place)
    for number, condition in enumerate(spec.trial_plan.candidates):
        if number >= MOST_LISTED:
            break
        text = condition_text(condition)
        if why := spec.trial_plan.why_not(condition):
            yield text, f"not tried: {why}"
        elif text in places:
            yield text, _cell(places[text])
    control = spec.trial_plan.control
    if control is not None and condition_text(control) in places:
        yield condition_text(control), f"{_cell(places[condition_text(control)])} c"


def _cell(places: list[Place]) -> str:
    done = sum(p.stand == "done" for p in places)
    skipped = [p.because for p in places if p.stand == "skipped"]
    said = f"{done} of {len(places)}"
    return f"{said}; skipped: {skipped[0]}" if skipped else said


def _cut_note(power: PlannedTrial) -> tuple[str, ...]:
    notes = ["c: the control arm"] if power.spec.trial_plan.control else []
    if power.spec.trial_plan.candidates.count > MOST_LISTED:
        notes.append(f"the first {MOST_LISTED} candidates only")
    if power.spec.blind:
        notes = ["the plan is blind: places are codes until the key is opened"]
    return tuple(notes)


def rates_table(power: PlannedTrial, level: float = 0.95) -> Table:
    """Return each condition that was tried or planned, with exact limits."""
    trials, spec = power.case.trials, power.spec
    outcome = spec.outcomes[0]
    found = arms_of(power.rows, outcome, trials.up_to)
    if spec.blind and not key_of_runs(power.rows, power.number, trials.up_to):
        waits = "sealed: rates follow when the key is opened"
        return Table(f"{power.name}: rates of {outcome}", _RATE_HEADS, (), (waits,))
    control = spec.trial_plan.control
    base = found.get(condition_text(control)) if control else None
    listed = dict.fromkeys([*spec.conditions, *found])
    rows = []
    for condition in listed:
        arm = found.get(condition, Arm(condition, outcome))
        against = ""
        if base and arm.hits and base.hits and condition != base.condition:
            against = _against(arm, base)
        name = condition_words(condition) + (
            " (control)" if control and condition == condition_text(control) else ""
        )
        shown = str(arm.round) if arm.round else ""
        note = "; ".join(arm.notes(level)) if arm.round else ""
        rows.append((name, arm.shown(level), against, shown, note))
    clustered = any(arm.effect > 1 for arm in found.values())
    notes = (
        f"Exact limits, {100 * level:g} %; a zero keeps its one-sided bound.",
        *(["Clustered: limits for fewer attempts, approximate."] if clustered else []),
        "p: Fisher's exact test, two-sided, not adjusted for the number of rows.",
    )
    return Table(f"{power.name}: rates of {outcome}", _RATE_HEADS, tuple(rows), notes)


_RATE_HEADS = columns("Condition", "Seen", "p against control", "Round>", "Note")


def _against(arm: Arm, base: Arm) -> str:
    if arm.stop_at is not None or base.stop_at is not None:
        return "not stated: ended at an occurrence"
    p = compare_counts(arm.count, base.count).p_value
    clustered = ", too small: clustered" if max(arm.effect, base.effect) > 1 else ""
    return f"{p:.2g}{clustered}"


_NO_REASON = {"left open": "no reason given"}


def not_done_table(power: PlannedTrial) -> Table:
    """Return what was excluded, skipped, ended or left open, each with its reason."""
    left_out = power.spec.trial_plan.left_out(MOST_EXCLUDED)
    rows = [(c, "excluded", why) for c, why in left_out.rows]
    open_: Counter[tuple[str, str, str]] = Counter()
    for p in places_of(power):
        if p.stand != "done":
            why = p.because if p.stand == "skipped" else ""
            stand = "left open" if p.stand == "due" else p.stand
            open_[(condition_words(p.condition), stand, why)] += 1
    rows += [
        (condition, f"{stand}: {count}", why or _NO_REASON.get(stand, ""))
        for (condition, stand, why), count in open_.items()
    ]
    heads = columns("Condition", "Not done", "Because")
    return Table(f"{power.name}: not done", heads, tuple(rows), left_out.notes)

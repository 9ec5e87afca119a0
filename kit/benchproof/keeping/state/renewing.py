"""The state of a case after a change: what the change does not touch is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from benchproof.keeping.logs.collecting import collecting_paused
from benchproof.keeping.state.correctionlinks import Link, link_of
from benchproof.keeping.state.definitions import Definitions
from benchproof.keeping.state.evaluation import (
    measured_of,
    with_crosschecks,
    with_findings,
)
from benchproof.keeping.state.state import State
from benchproof.keeping.state.validity import Checked, check_conditions, with_validity
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import Measured
from benchproof.measuring.readings import Record
from benchproof.reasoning.budgets.correlations import declared_joints
from benchproof.reasoning.budgets.graph import Graph


def state_of(
    record: Record,
    instruments: Mapping[str, Instrument],
    defined: Definitions,
    up_to: int | None = None,
    before: State | None = None,
) -> State:
    """Evaluate all readings that count in a round, and link the formulas.

    Parameters
    ----------
    defined : Definitions
        What the notebook declared.
    up_to : int, optional
        Leave out what was recorded in later rounds.
    before : State, optional
        The same case's, before it changed: what does not depend on the change is
        taken from there. The result is the same to the last bit.
    """
    known = before.evaluated if before else None
    with collecting_paused():
        evaluated = measured_of(record, instruments, defined.declared, up_to, known)
    measured = with_findings(evaluated.measured, defined.findings, up_to)
    links = _links(measured, instruments, defined)
    constants = dict(defined.constants)
    constants |= {c.name: c for link in links.values() if (c := link.constant)}
    formulas = defined.formulas | {name: link.formula for name, link in links.items()}

    def built(measured: Mapping[str, Measured], before: State | None) -> State:
        inputs = {n: m.estimate for n, m in measured.items() if m.estimate is not None}
        inputs.update({n: c.estimate for n, c in constants.items()})
        declared, joints = tuple(defined.correlations.values()), evaluated.joints
        both = (*joints, *declared_joints(inputs, declared, joints))
        units = {n: m.unit for n, m in measured.items()}
        units.update({n: c.unit for n, c in constants.items()})
        units.update({n: f.unit for n, f in formulas.items()})
        graph = Graph(inputs, units, formulas, both)
        fresh = State(measured, constants, formulas, graph, links)
        if before:
            fresh.take_over(before, stale_between(before, fresh))
        return fresh

    raw: State | None = None
    checked: tuple[Checked, ...] = ()
    if defined.conditions:
        # Judged by the raw readings: the reading in question is part of its condition.
        raw = built(measured, before and before.raw)
        checked = check_conditions(raw, tuple(defined.conditions.values()))
        measured = with_validity(measured, checked)
    state = built(with_crosschecks(measured, instruments), before)
    return replace(state, checked=checked, raw=raw, evaluated=evaluated)


def _links(
    measured: Mapping[str, Measured],
    instruments: Mapping[str, Instrument],
    defined: Definitions,
) -> dict[str, Link]:
    """Find for each correction what instruments.toml says."""
    taken = {*measured, *defined.constants, *defined.formulas}
    return {
        name: link_of(asked, measured, instruments, defined.formulas[name], taken)
        for name, asked in defined.corrections.items()
    }


def stale_between(before: State, after: State) -> set[str]:
    """Name the quantities that differ between two states, and all that depend on them.

    Everything that enters a value, a budget or a warning is compared: readings,
    estimates, constants, formulas, units, corrections and correlations.
    """
    stale = _changed(before, after)
    users: dict[str, list[str]] = {}
    for name, formula in after.formulas.items():
        for argument in (*formula.arguments, *_corrects(after.links.get(name))):
            users.setdefault(argument, []).append(name)
    open_ = list(stale)
    while open_:
        fresh = [user for user in users.get(open_.pop(), ()) if user not in stale]
        stale.update(fresh)
        open_ += fresh
    return stale


def _corrects(link: Link | None) -> list[str]:
    """Name what a correction looks at, whether or not its formula takes it."""
    return [name for _, name in link.correction.roles] if link else []


def _changed(before: State, after: State) -> set[str]:
    changed: set[str] = set()
    pairs: tuple[tuple[Mapping[str, object], Mapping[str, object]], ...] = (
        (before.measured, after.measured),
        (before.constants, after.constants),
        (before.formulas, after.formulas),
        (before.links, after.links),
    )
    for old, new in pairs:
        changed.update(old.keys() ^ new.keys())
        for name, fact in new.items():
            was = old.get(name)
            if was is not fact and was != fact:  # mostly it is the very same
                changed.add(name)
    if before.graph.joints != after.graph.joints:
        apart = set(before.graph.joints) ^ set(after.graph.joints)
        sources = {name for joint in apart for name in joint.names}
        for name, estimate in after.graph.inputs.items():
            if any(source.name in sources for source, _ in estimate.parts):
                changed.add(name)
    return changed

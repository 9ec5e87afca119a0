"""What a careful reader should know about readings taken at contacts."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from benchproof.measuring.contacts import SurveyPlan, voltage_name
from benchproof.measuring.measurands import Measured
from benchproof.values.quantities import engineering

Kind = Literal[
    "floating", "loaded", "one state", "equal", "powered", "body", "forbidden"
]

BODY_OHM = (0.3e6, 10e6)
"""Two hands on the tips, dry to damp: our own bracket, taken wide on purpose."""

COMPARABLE = 0.1
"""From this share of the input resistance on, the meter is part of the circuit."""

_CLIPPED = re.compile(r"(?<!not )\bclipped\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Flag:
    """One sentence about readings, and the measurands it is about."""

    kind: Kind
    sentence: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Observed:
    """What was read at the contacts and counts; pending cells are left out.

    Attributes
    ----------
    plan : SurveyPlan
    voltages : mapping
        By (contact, state).
    resistances : mapping
        By (red, black, state).
    texts : mapping
        Measurand to its value as shown.
    input_ohm : mapping
        Input resistance by instrument, where declared; Ω.
    """

    plan: SurveyPlan
    voltages: Mapping[tuple[str, str], Measured]
    resistances: Mapping[tuple[str, str, str], Measured]
    texts: Mapping[str, str]
    input_ohm: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Path:
    """Resistance from a contact to the reference, unpowered: limits in Ω, and text."""

    least: float
    most: float
    text: str


def survey_flags(seen: Observed) -> tuple[Flag, ...]:
    """Return every flag, those about safety first.

    Parameters
    ----------
    seen : Observed
        The readings that count.

    Examples
    --------
    >>> survey_flags(Observed(SurveyPlan(), {}, {}, {}, {}))
    ()
    """
    rules = (_forbidden, _powered, _body, _floating, _loaded, _equal, _one_state)
    return tuple(flag for rule in rules for flag in rule(seen))


def standard_uncertainty(measured: Measured) -> float:
    """Return the combined standard uncertainty of one measurand, SI."""
    parts = measured.estimate.parts if measured.estimate else ()
    return math.hypot(*(s.standard_uncertainty * slope for s, slope in parts))


def reads_zero(measured: Measured) -> bool:
    """Tell whether a reading is zero within twice its standard uncertainty."""
    if measured.bound:
        return measured.bound[0] == "<"
    value = measured.estimate.value if measured.estimate else math.inf
    return abs(value) <= 2 * standard_uncertainty(measured)


def path_to_reference(seen: Observed, contact: str) -> Path | None:
    """Return what is known of a contact's unpowered resistance to the reference.

    The polarity with the red lead on the contact is preferred: what would pull the
    contact up is positive in most devices.
    """
    plan = seen.plan
    for pair in ((contact, plan.reference), (plan.reference, contact)):
        for state in plan.unpowered:
            if measured := seen.resistances.get((*pair, state)):
                least, most = limits_of(measured)
                return Path(least, most, seen.texts[measured.name])
    return None


def limits_of(measured: Measured) -> tuple[float, float]:
    """Return between which limits a value lies as far as is known, SI."""
    if measured.bound:
        sign, limit = measured.bound
        return (limit, math.inf) if sign == ">" else (0.0, limit)
    value = measured.estimate.value if measured.estimate else math.nan
    return value, value


def _floating(seen: Observed) -> Iterator[Flag]:
    for contact in seen.plan.probed:
        path = path_to_reference(seen, contact)
        cells = [(s, m) for s, m in _read(seen, contact) if _is_floating(seen, m, path)]
        if cells:
            yield _floating_flag(seen, contact, cells, path)


def _loaded(seen: Observed) -> Iterator[Flag]:
    """Put all contacts into one sentence: in a survey there can be many."""
    said, about = [], []
    for contact in seen.plan.probed:
        path = path_to_reference(seen, contact)
        if path is None:
            continue
        cells = [(s, m) for s, m in _read(seen, contact) if _is_loaded(seen, m, path)]
        if cells:
            share = path.least / min(_input_ohm(seen, m) or math.inf for _, m in cells)
            # Of the unloaded voltage: Rs / (Rs + Rin).
            taken = f"{100 * share / (1 + share):.2g} %"
            effect = taken if share <= COMPARABLE else "a large part"
            said.append(f"{_place(contact, cells)} ({path.text}: {effect})")
            about += [m.name for _, m in cells]
    if said:
        yield Flag(
            "loaded",
            f"{'; '.join(said)}: if the source is as high as the unpowered resistance "
            f"to {seen.plan.reference} in brackets, the meter's input takes that share "
            "of the voltage, which the uncertainty shown does not cover. Find the "
            "source resistance in that state and correct with unloaded_voltage.",
            tuple(about),
        )


def _read(seen: Observed, contact: str) -> list[tuple[str, Measured]]:
    """Return the powered states in which a contact was read, with the readings."""
    return [
        (state, seen.voltages[contact, state])
        for state in seen.plan.powered
        if (contact, state) in seen.voltages
    ]


def _input_ohm(seen: Observed, measured: Measured) -> float | None:
    return seen.input_ohm.get(measured.readings[0].instrument)


def _is_floating(seen: Observed, measured: Measured, path: Path | None) -> bool:
    """Tell a zero the meter may have made from one a low path to reference holds."""
    if not reads_zero(measured):
        return False
    meter = _input_ohm(seen, measured)
    return path is None or meter is None or path.most > COMPARABLE * meter


def _is_loaded(seen: Observed, measured: Measured, path: Path) -> bool:
    meter = _input_ohm(seen, measured)
    if meter is None or reads_zero(measured) or measured.estimate is None:
        return False
    # V = Vm (1 + Rs/Rin), with the unpowered path standing for the unknown source.
    shift = abs(measured.estimate.value) * path.least / meter
    return path.least > COMPARABLE * meter or shift > standard_uncertainty(measured)


Cells = Sequence[tuple[str, Measured]]
"""States and what was read there."""


def _place(contact: str, cells: Cells) -> str:
    return f"{contact}, {_and([state for state, _ in cells])}"


def _meter(seen: Observed, cells: Cells) -> str:
    """Name the meter behind the readings with its input resistance."""
    name = cells[0][1].readings[0].instrument
    meter = seen.input_ohm.get(name)
    if meter is None:
        return (
            f"{name or 'a meter that is not named'} (input resistance not declared: "
            "add input_resistance to it in instruments.toml)"
        )
    return f"{name} ({_ohm(meter)} input)"


def _floating_flag(
    seen: Observed, contact: str, cells: Cells, path: Path | None
) -> Flag:
    known = path.text if path else "not measured"
    read = _and(list(dict.fromkeys(seen.texts[m.name] for _, m in cells)))
    return Flag(
        "floating",
        f"{_place(contact, cells)}: {read} is zero within its uncertainty, and the "
        f"unpowered resistance to {seen.plan.reference} is {known}: the reading may be "
        f"defined by {_meter(seen, cells)}, not by the device. "
        "Read the ohms unpowered, or see whether the reading follows a known resistor "
        "to a supply.",
        tuple(m.name for _, m in cells),
    )


def _equal(seen: Observed) -> Iterator[Flag]:
    """Contacts that agree to the last digit and were not told apart by ohms."""
    groups: dict[tuple[str, str], list[str]] = {}
    for (contact, state), measured in seen.voltages.items():
        if measured.estimate and not reads_zero(measured):
            groups.setdefault((state, _last_digits(measured)), []).append(contact)
    joined = {
        frozenset((red, black))
        for red, black, state in seen.resistances
        if state in seen.plan.unpowered
    }
    for (state, _), contacts in groups.items():
        open_ = [
            c
            for c in contacts
            if not any(frozenset((c, d)) in joined for d in contacts)
        ]
        if len(contacts) > 1 and open_:
            names = tuple(voltage_name(c, state) for c in contacts)
            yield Flag(
                "equal",
                f"{_and(contacts)}, {state}: equal to the last digit "
                f"({seen.texts[names[0]]}): one net, a short, or two alike. Read the "
                "ohms between them unpowered.",
                names,
            )


def _last_digits(measured: Measured) -> str:
    """Write a mean as the display would: in whole last digits, and their size."""
    step = max(r.value.step for r in measured.readings)
    value = measured.estimate.value if measured.estimate else math.nan
    return (
        f"{measured.unit.from_si(value) / step:.0f} × {step:g} {measured.unit.symbol}"
    )


def _one_state(seen: Observed) -> Iterator[Flag]:
    plan = seen.plan
    if len(plan.powered) < 2:
        return
    only: dict[str, list[str]] = {}
    for contact in plan.probed:
        states = [s for s in plan.powered if (contact, s) in seen.voltages]
        if len(states) == 1:
            only.setdefault(states[0], []).append(contact)
    for state, contacts in only.items():
        others = _and([s for s in plan.powered if s != state])
        yield Flag(
            "one state",
            f"{_and(contacts)}: voltage read {state} only; {others} not measured. "
            "Read it there too before saying what the contact does.",
            tuple(voltage_name(c, state) for c in contacts),
        )


def _powered(seen: Observed) -> Iterator[Flag]:
    for (red, black, state), measured in seen.resistances.items():
        if state in seen.plan.powered:
            yield Flag(
                "powered",
                f"{red} to {black}, {state}: ohms recorded in a powered state: the "
                "number is no resistance, and meter or device may suffer. Remove the "
                "power, see that 0 V are left, record it again in an unpowered state "
                f"({_and(seen.plan.unpowered) or 'none is declared'}), and strike this "
                "one.",
                (measured.name,),
            )


def _body(seen: Observed) -> Iterator[Flag]:
    low, high = BODY_OHM
    for (red, black, state), measured in seen.resistances.items():
        held = [r for r in measured.readings if not _CLIPPED.search(r.at)]
        if measured.estimate and low <= measured.estimate.value <= high and held:
            yield Flag(
                "body",
                f"{red} to {black}, {state}: {seen.texts[measured.name]} is what "
                "fingers on both tips can read. Repeat it with clips and add "
                "note='clipped'; strike this one if the fingers were on.",
                (measured.name,),
            )


def _forbidden(seen: Observed) -> Iterator[Flag]:
    for pair in seen.plan.forbidden:
        found = [
            m.name
            for (red, black, _), m in seen.resistances.items()
            if {red, black} == {pair.first, pair.second}
        ]
        if found:
            yield Flag(
                "forbidden",
                f"{pair.first} and {pair.second}: {_and(found)} recorded on a pair "
                f"declared forbidden ({pair.reason or 'reason not stated'}). Check the "
                "device and the declaration before going on.",
                tuple(found),
            )


def _and(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _ohm(number: float) -> str:
    scale, symbol = engineering(number, "Ω")
    return f"{number * scale:g} {symbol}"

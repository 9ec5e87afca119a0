"""Contact table, pair matrix and mating order of a case, as tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from benchproof.keeping.state.state import State
from benchproof.measuring.contactflags import Flag, Observed, survey_flags
from benchproof.measuring.contacts import (
    Contact,
    SurveyPlan,
    mating_basis,
    mating_ranks,
    resistance_name,
    voltage_name,
)
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.measurands import Measured
from benchproof.measuring.properties import property_from
from benchproof.reasoning.judging import censored_text
from benchproof.values.tables import Column, Table, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

NOT_MEASURED = "not measured"
LEADS = "red or black: the lead that was on the contact of the row."


def observed(case: Case) -> Observed:
    """Collect what was read at the contacts and counts.

    Raises
    ------
    InputError
        If an instrument's declared input resistance cannot be read.
    """
    plan, state = case.file.survey, case.state()
    voltages = {
        (contact, at): found
        for contact in plan.probed
        for at in plan.states
        if (found := _known(state, voltage_name(contact, at)))
    }
    resistances = {
        (red, black, at): found
        for at in plan.states
        for red in plan.names
        for black in plan.names
        if red != black and (found := _known(state, resistance_name(red, black, at)))
    }
    texts = {
        m.name: value_text(state, m)
        for m in (*voltages.values(), *resistances.values())
    }
    meters = {n: _input_ohm(i) for n, i in case.instruments.items()}
    known = {n: ohm for n, ohm in meters.items() if ohm is not None}
    return Observed(plan, voltages, resistances, texts, known)


def _known(state: State, name: str) -> Measured | None:
    """Return a measurand that says something: a value or a bound."""
    measured = state.measured.get(name)
    return measured if measured and (measured.estimate or measured.bound) else None


def value_text(state: State, measured: Measured) -> str:
    """Write a value with its standard uncertainty, or a bound."""
    if measured.bound:
        return censored_text(measured)
    return state.budget(measured.name).result()


def _input_ohm(instrument: Instrument) -> float | None:
    """Return the input resistance an instrument declares, Ω."""
    said = dict(instrument.details).get("input_resistance")
    if said is None:
        return None
    where = f"instruments.toml, {instrument.name}, input_resistance"
    return property_from(said, ("ohm",), where).value


def contact_table(case: Case) -> Table:
    """Return one row per contact with a column per state, and the flags as notes."""
    seen = observed(case)
    plan, flags = seen.plan, survey_flags(seen)
    marks = _marks(flags)
    volts = _states_of([s for _, s in seen.voltages], plan.states, plan.powered)
    direct = [s for *pair, s in seen.resistances if plan.reference in pair]
    ohms = _states_of(direct, plan.states, plan.unpowered)
    heads = [
        *columns("Contact", "Where", "Function, as guessed"),
        *(Column(f"V to {plan.reference}, {s}", True) for s in volts),
        # Both polarities in a cell: words that may break, where numbers may not.
        *(Column(f"R to {plan.reference}, {s}") for s in ohms),
    ]
    rows = tuple(
        (
            c.name,
            c.where or "not stated",
            _guess(c),
            *(_voltage(seen, c.name, s, marks) for s in volts),
            *(_to_reference(seen, c.name, s, marks) for s in ohms),
        )
        for c in plan.contacts
    )
    key = (f"R: {LEADS}",) if direct else ()
    return Table("Contacts", tuple(heads), rows, (*key, *_sentences(flags)))


def _states_of(
    used: Sequence[str], states: Sequence[str], always: Sequence[str]
) -> list[str]:
    """Keep the states that have readings, and those that should have some."""
    return [s for s in states if s in always or s in used]


def _guess(contact: Contact) -> str:
    about = "; ".join(filter(None, [contact.evidence, contact.confidence]))
    return (contact.guess or "not stated") + (f" ({about})" if about else "")


def _voltage(seen: Observed, contact: str, state: str, marks: Mapping[str, str]) -> str:
    if contact == seen.plan.reference:
        return "reference"
    found = seen.voltages.get((contact, state))
    return _cell(seen, found, marks)


def _to_reference(
    seen: Observed, contact: str, state: str, marks: Mapping[str, str]
) -> str:
    if contact == seen.plan.reference:
        return "reference"
    return _both(seen, contact, seen.plan.reference, state, marks)


def _both(
    seen: Observed, first: str, second: str, state: str, marks: Mapping[str, str]
) -> str:
    """Write both polarities of a pair: red lead on the first, then black."""
    found = [
        seen.resistances.get((first, second, state)),
        seen.resistances.get((second, first, state)),
    ]
    if found == [None, None]:
        return NOT_MEASURED
    red, black = (_cell(seen, m, marks) for m in found)
    return f"red {red}; black {black}"


def _cell(seen: Observed, measured: Measured | None, marks: Mapping[str, str]) -> str:
    if measured is None:
        return NOT_MEASURED
    return seen.texts[measured.name] + marks.get(measured.name, "")


def _marks(flags: Sequence[Flag]) -> dict[str, str]:
    """Return the numbers of the flags about each measurand, ``" [1][3]"``."""
    numbers: dict[str, list[int]] = {}
    for number, flag in enumerate(flags, 1):
        for name in flag.about:
            numbers.setdefault(name, []).append(number)
    return {name: " " + "".join(f"[{n}]" for n in ns) for name, ns in numbers.items()}


def _sentences(flags: Sequence[Flag], about: Sequence[str] = ()) -> tuple[str, ...]:
    return tuple(
        f"[{number}] {flag.sentence}"
        for number, flag in enumerate(flags, 1)
        if not about or set(about) & set(flag.about)
    )


def pair_table(case: Case) -> Table:
    """Return each pair of contacts once, with the ohms of both polarities."""
    seen = observed(case)
    plan, flags = seen.plan, survey_flags(seen)
    marks = _marks(flags)
    used = {s for *_, s in seen.resistances}
    states = [s for s in plan.states if s in used]
    names = plan.names
    rows = tuple(
        (
            first,
            *(_pair(seen, first, second, states, marks) for second in names[:i]),
            *("·" for _ in names[i:-1]),
        )
        for i, first in enumerate(names)
        if i
    )
    title = f"Ohms between contacts{', ' + states[0] if len(states) == 1 else ''}"
    heads = (Column("Contact"), *(Column(n) for n in names[:-1]))
    said = _sentences(flags, [m.name for m in seen.resistances.values()] or ["none"])
    return Table(title, heads, rows, (*_pair_notes(plan), *said) if rows else ())


def _pair(
    seen: Observed,
    first: str,
    second: str,
    states: Sequence[str],
    marks: Mapping[str, str],
) -> str:
    said = {s: _both(seen, first, second, s, marks) for s in states}
    found = {s: text for s, text in said.items() if text != NOT_MEASURED}
    bar = " (forbidden)" if seen.plan.forbids(first, second) else ""
    if not found:
        return NOT_MEASURED + bar
    if len(states) == 1:
        return "".join(found.values()) + bar
    return "; ".join(f"{s}: {text}" for s, text in found.items()) + bar


def _pair_notes(plan: SurveyPlan) -> tuple[str, ...]:
    key = f"{LEADS} · stands where the same pair would stand a second time."
    return (
        key,
        *(
            f"{p.first} and {p.second} are a forbidden pair: "
            f"{p.reason or 'reason not stated'}."
            for p in plan.forbidden
        ),
    )


def mating_table(case: Case) -> Table:
    """Return in which order the contacts make when plugged in, and break."""
    contacts = case.file.survey.contacts
    ranks, basis = mating_ranks(contacts), mating_basis(contacts)
    last = len(ranks) + 1
    ordered = sorted(contacts, key=lambda c: ranks.get(c.name, (last, 0))[0])
    rows = tuple(
        (
            c.name,
            *_ranks(ranks.get(c.name)),
            _thousandths(c.height, "mm"),
            _thousandths(c.mates, "ms"),
        )
        for c in ordered
    )
    heads = columns("Contact", "Makes>", "Breaks>", "Height>", "Mates after>")
    by = "time of mating" if basis == "mates" else "height: the highest makes first"
    note = (
        f"Derived from the {by}, as declared; no uncertainty is stated. "
        "It holds for a straight, slow insertion; a tilted plug can differ."
    )
    return Table("Mating order", heads, rows if ranks else (), (note,) if ranks else ())


def _ranks(found: tuple[int, int] | None) -> tuple[str, str]:
    return (str(found[0]), str(found[1])) if found else ("not stated", "not stated")


def _thousandths(number: float | None, symbol: str) -> str:
    return "not stated" if number is None else f"{1e3 * number:.6g} {symbol}"

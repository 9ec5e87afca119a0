"""A criterion read back from its own words, as results.json keeps them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.checking.declarations import Call
from benchproof.keeping.trials.arms import arms_of
from benchproof.keeping.trials.rates import Rate
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.values.errors import InputError

_PATTERNS = {
    "below": r"below (?P<a>.+)",
    "above": r"above (?P<a>.+)",
    "within": r"between (?P<a>.+?) and (?P<b>.+)",
    "at_least": r"in at least (?P<p>\S+) % of attempts",
    "at_most": r"in at most (?P<p>\S+) % of attempts",
    "agrees_with": r"agrees with (?P<a>\w+)(?: to within (?P<within>.+))?",
    "differs_from": r"differs from (?P<a>\w+)(?: by more than (?P<by>.+))?",
}
_COMPILED = {
    how: re.compile(r"(?P<name>\w+) " + pattern) for how, pattern in _PATTERNS.items()
}


def criterion_from(case: Case, text: str) -> Criterion:
    """Read a criterion such as ``V_min below 8.80 V``.

    Raises
    ------
    InputError
        If the words are none of ours, or their numbers cannot be read.
    """
    for how, pattern in _COMPILED.items():
        match = pattern.fullmatch(text)
        if match:
            return _criterion(case, how, match.groupdict())
    found = next((c for r in rates_of(case) if (c := _of_rate(r, text))), None)
    if found:
        return found
    raise InputError(f"criterion {text[:80]!r} cannot be read back from its words.")


def _criterion(case: Case, how: str, said: dict[str, str | None]) -> Criterion:
    name = said.pop("name") or ""
    if how in ("at_least", "at_most"):
        try:
            share = float(said["p"] or "") / 100
        except ValueError:
            raise InputError(
                f"criterion on {name}: {said['p']!r} is no share of attempts."
            ) from None
        return called(case, Call(how, (name, share)))
    arguments = [said[k] for k in ("a", "b") if said.get(k)]
    keywords = {k: v for k, v in said.items() if k in ("within", "by") and v}
    return called(case, Call(how, (name, *arguments), keywords))


def rates_of(case: Case) -> Iterator[Rate]:
    """Return every rate that was planned or tried, of every plan and outcome."""
    for plan in case.trials.names():
        rows = case.trials.rows(plan)
        outcomes = dict.fromkeys(o for v in rows.versions for o in v.spec.outcomes)
        planned = [c for v in rows.versions for c in v.spec.conditions]
        for outcome in outcomes:
            tried = arms_of(rows, outcome, None)
            for condition in dict.fromkeys([*tried, *planned]):
                yield Rate(case, plan, outcome, condition)


def _of_rate(rate: Rate, text: str) -> Criterion | None:
    """Return the criterion on this rate that reads like the text, if one does."""
    if not text.startswith(rate.name):
        return None
    said = _SHARE.fullmatch(text[len(rate.name) :])
    if said:
        share = float(said["p"]) / 100
        return rate.at_least(share) if said["how"] == "least" else rate.at_most(share)
    others = (r for r in rates_of(rate.case) if r.plan == rate.plan)
    rivals = (r for r in others if r.outcome == rate.outcome)
    for other in rivals:
        if other.condition != rate.condition:
            criterion = rate.higher_than(other)
            if criterion.text == text:
                return criterion
    return None


_SHARE = re.compile(r" in at (?P<how>least|most) (?P<p>\d+(?:\.\d+)?) % of attempts")


def called(case: Case, call: Call) -> Criterion:
    """Return the criterion of a call such as ``case["V_min"].below("8.80 V")``.

    Raises
    ------
    InputError
        If its arguments do not fit.
    """
    name, *arguments = call.arguments
    make: Any = getattr(case[name], call.name)
    try:
        made: Criterion = make(*arguments, **call.keywords)
    except (TypeError, AttributeError) as problem:
        raise InputError(f"criterion on {name}: {problem}.") from None
    return made

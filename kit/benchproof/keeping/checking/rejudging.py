"""Outcomes and verdicts of results.json, judged again without running anything."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchproof.keeping.case import Case
from benchproof.keeping.checking.criteria import called, criterion_from
from benchproof.keeping.checking.declarations import Call, Declarations
from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.checking.rebuilding import Rebuilt
from benchproof.keeping.runs.results import NAME
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.verdicts import (
    Hypothesis,
    Judged,
    Prediction,
    verdict_of,
)
from benchproof.values.errors import BenchproofError

LEVEL = 0.95
"""At which a run judges."""


def declare_hypotheses(rebuilt: Rebuilt, stored: list[Mapping[str, Any]]) -> None:
    """Give the rebuilt case its rivals, with criteria read back from their words."""
    for entry in stored:
        rival = Hypothesis(entry["name"], entry["statement"])
        for said in entry["predictions"]:
            try:
                criterion = criterion_from(rebuilt.case, said["criterion"])
            except BenchproofError as problem:
                row = f"{entry['name']}: {said['text']}"
                rebuilt.findings.append(Finding("fault", NAME, row, str(problem)))
                continue
            _lend_unit(rebuilt, criterion)
            rival.predictions.append(Prediction(said["text"], criterion, said["role"]))
        rebuilt.case.defined.hypotheses[rival.name] = rival


def _lend_unit(rebuilt: Rebuilt, criterion: Criterion) -> None:
    """Give a quantity without a value, whose unit nothing tells, its limit's unit."""
    defined = rebuilt.case.defined
    if defined.declared.get(criterion.quantity) == "":
        defined.declare(criterion.quantity, criterion.unit.symbol)


def compare_verdicts(
    rebuilt: Rebuilt, view: Case, stored: list[Mapping[str, Any]], where: str = ""
) -> Iterator[Finding]:
    """Judge every prediction again and apply the rules to the outcomes.

    Parameters
    ----------
    view : Case
        The rebuilt case, or one of its rounds.
    stored : list of mapping
        The verdicts of results.json, or of one of its rounds.
    where : str
        Put before the names in findings.
    """
    names = [entry["name"] for entry in stored]
    if sorted(names) != sorted(rebuilt.case.defined.hypotheses):
        yield Finding("fault", NAME, f"{where}verdicts", "not the same rivals as above")
    try:
        fresh = _judged_again(view)
    except BenchproofError as problem:
        yield Finding("fault", NAME, f"{where}verdicts", f"cannot be judged: {problem}")
        return
    for entry in stored:
        rival = rebuilt.case.defined.hypotheses.get(entry["name"])
        if rival is None:
            continue
        judged = []
        for prediction, said in _pairs(rival, entry):
            row = f"{where}{rival.name}: {prediction.text}"
            again = fresh[rival.name, prediction.text]
            if _needs_a_run(rebuilt, prediction, said, bool(where)):
                again = Judged(prediction, said["verdict"], said["detail"])
            judged.append(again)
            if not _same(again, said):
                yield Finding(
                    "fault", NAME, row,
                    f"results.json says {said['verdict']} ({said['detail']}), the log "
                    f"gives {again.outcome} ({again.detail})",
                )  # fmt: skip
        verdict = verdict_of(rival, judged)
        if (verdict.word, verdict.reason) != (entry["verdict"], entry["reason"]):
            yield Finding(
                "fault", NAME, f"{where}{rival.name}",
                f"the verdict reads {entry['verdict']!r}; the rules give "
                f"{verdict.word!r} ({verdict.reason})",
            )  # fmt: skip


def _pairs(
    rival: Hypothesis, entry: Mapping[str, Any]
) -> Iterator[tuple[Prediction, Mapping[str, Any]]]:
    by_text = {said["text"]: said for said in entry["predictions"]}
    for prediction in rival.predictions:
        if prediction.text in by_text:
            yield prediction, by_text[prediction.text]


def _judged_again(view: Case) -> dict[tuple[str, str], Judged]:
    """Judge every prediction as a run does, by rival and text."""
    return {
        (verdict.hypothesis.name, judged.prediction.text): judged
        for verdict in view.verdicts(level=LEVEL).verdicts
        for judged in verdict.judged
    }


def _needs_a_run(
    rebuilt: Rebuilt, prediction: Prediction, said: Mapping[str, Any], in_round: bool
) -> bool:
    """Tell whether an outcome rests on what was only taken over from the results."""
    asked = [prediction.criterion.quantity, prediction.criterion.other]
    stored = any(name and rebuilt.rests_on_stored(name) for name in asked)
    # A taken-over value is that of the last round, and carries no shape for draws.
    return stored and (in_round or rebuilt.lacks_value(asked) or _drawn(said))


def _same(fresh: Judged, said: Mapping[str, Any]) -> bool:
    """Compare outcome and words; a drawn probability may differ in its last digit."""
    same_words = fresh.detail == said["detail"] or _drawn(said)
    return fresh.outcome == said["verdict"] and same_words


def _drawn(said: Mapping[str, Any]) -> bool:
    return "Monte Carlo" in said["detail"]


def compare_criteria(
    rebuilt: Rebuilt, stored: list[Mapping[str, Any]], declared: Declarations
) -> Iterator[Finding]:
    """Compare criteria with those written out in the notebook, by their text."""
    written: dict[str, list[str]] = {}
    for call in declared.named("predicts"):
        text, criterion = (*call.arguments[:2], None, None)[:2]
        if isinstance(text, str) and isinstance(criterion, Call):
            words = _words(rebuilt.case, criterion)
            written.setdefault(text, []).append(words)
    for entry in stored:
        for said in entry["predictions"]:
            known = written.get(said["text"])
            if known and said["criterion"] not in known:
                yield Finding(
                    "fault", NAME, f"{entry['name']}: {said['text']}",
                    f"the criterion reads {said['criterion']!r}, in the notebook "
                    f"{known[-1]!r}",
                )  # fmt: skip


def _words(case: Case, call: Call) -> str:
    try:
        return called(case, call).text
    except BenchproofError as problem:
        return f"unreadable: {problem}"

"""What to measure next, in which order, and what it would change."""

import math

import pytest

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.matrix import Split
from benchproof.reasoning.nextstep import changes, next_steps_of
from benchproof.reasoning.takes import Takes
from benchproof.reasoning.verdicts import Hypothesis, Judged, Prediction, verdict_of


def judged(name, outcome, role="necessary", quantity="V", count=None):
    criterion = Criterion(quantity, 0.0, 1.0, f"{quantity} within 0 and 1")
    return Judged(Prediction(name, criterion, role), outcome, "seen", count)


def verdict(name, *parts):
    return verdict_of(Hypothesis(name, name), parts)


def steps(*verdicts, splits=(), effort=None):
    said = effort or {}
    return next_steps_of(
        verdicts,
        splits,
        lambda j: Takes("more", said.get(j.prediction.criterion.quantity, 1.0)),
    ).steps


def test_what_changes_a_verdict_comes_before_what_does_not():
    # H1 stays undetermined for want of `b`, whatever `a` shows.
    found = steps(
        verdict(
            "H1",
            judged("a", "undetermined", "expected", "A"),
            judged("b", "undetermined", "expected", "B"),
        ),
        verdict("H2", judged("c", "undetermined", quantity="C")),
    )
    assert [s.asked for s in found] == ["C", "A", "B"]
    assert found[1].changes == ()


def test_then_what_splits_more_pairs_then_what_takes_least():
    rivals = [
        verdict(f"H{i}", judged("x", "undetermined", quantity=name))
        for i, name in enumerate("ABC", 1)
    ]
    split = Split("H1", "H3", ("C",), ())
    found = steps(*rivals, splits=[split], effort={"A": 9.0, "B": 2.0, "C": math.inf})
    assert [s.asked for s in found] == ["C", "B", "A"]
    assert found[0].splits == ("H1, H3",)


def test_one_quantity_is_one_step_for_all_it_settles():
    (step,) = steps(
        verdict("H1", judged("low", "undetermined")),
        verdict("H2", judged("high", "not measured")),
    )
    assert step.predictions == ("H1: low", "H2: high")


def test_what_is_decided_is_no_step():
    assert steps(verdict("H1", judged("low", "met"), judged("b", "contradicted"))) == ()


def test_both_ways_out_of_an_open_prediction_are_named():
    said = changes(verdict("H1", judged("low", "undetermined")), ["low"])
    assert said == [
        "H1 becomes 'compatible' if 'low' is met",
        "H1 becomes 'contradicted' if 'low' is contradicted",
    ]


def test_a_control_that_fails_takes_sufficiency_away():
    provoked = verdict(
        "H1",
        judged("lost", "met", "symptom", "L", (17, 20)),
        judged("kept", "met", "control", "K", (0, 20)),
    )
    assert provoked.word == "sufficient on this sample"
    assert changes(provoked, ["kept"]) == [
        "H1 becomes 'undetermined' if 'kept' is contradicted"
    ]


@pytest.mark.parametrize("table", ["table", "overturns"])
def test_tables_of_nothing_are_empty(table):
    assert getattr(next_steps_of([], [], lambda j: Takes("", 1.0)), table)().rows == ()


def test_the_overturns_name_outcome_and_word():
    found = next_steps_of(
        [verdict("H1", judged("low", "met"))], [], lambda j: Takes("", 1.0)
    )
    assert found.overturns().rows == (
        ("H1", "compatible", "low", "met", "contradicted, if contradicted", ""),
    )

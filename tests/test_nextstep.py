"""What to measure next, in which order, and what it would change."""

import math

import pytest

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.matrix import Split
from benchproof.reasoning.nextstep import Price, changes, next_steps_of
from benchproof.reasoning.takes import Takes
from benchproof.reasoning.verdicts import Hypothesis, Judged, Prediction, verdict_of
from benchproof.values.errors import InputError


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


def test_more_zeros_leave_what_was_not_reproduced_so():
    zeros = verdict("H1", judged("lost", "undetermined", "symptom", "L", (0, 4)))
    assert zeros.word.startswith("not reproduced")
    assert changes(zeros, ["lost"]) == ["H1 becomes 'compatible' if 'lost' is met"]


def rivals_on(*quantities):
    return [
        verdict(f"H{i}", judged("x", "undetermined", quantity=name))
        for i, name in enumerate(quantities, 1)
    ]


def ranked(prices, splits=(), quantities="ABC"):
    found = next_steps_of(
        rivals_on(*quantities), splits, lambda j: Takes("more", 2.0), prices
    )
    return [step.asked for step in found.steps], found.table()


def test_pairs_told_apart_count_per_minute():
    splits = [Split("H1", "H2", ("A",), ()), Split("H1", "H3", ("A", "B"), ())]
    assert ranked({}, splits)[0] == ["A", "B", "C"]
    minutes = {"A": Price(60), "B": Price(5), "C": Price(1)}
    order, table = ranked(minutes, splits)
    assert order == ["B", "A", "C"]
    assert [row[-2] for row in table.rows] == ["5", "60", "1"]
    assert "per minute" in table.notes[0]


def test_what_has_no_minutes_comes_after_what_has():
    assert ranked({"C": Price(500)})[0] == ["C", "A", "B"]


def test_a_hazard_puts_a_measurement_behind_those_without():
    order, table = ranked({"A": Price(hazard="mains within reach")})
    assert order == ["B", "C", "A"]
    assert table.rows[-1][-2:] == ("not stated", "mains within reach")


def test_without_prices_the_table_says_that_they_are_not_in_it():
    table = ranked({})[1]
    assert len(table.columns) == 7
    assert "not in it" in table.notes[0]


def test_minutes_are_above_zero():
    with pytest.raises(InputError, match="-3 minutes: give a number above 0"):
        Price(-3)


def test_with_nothing_open_the_table_says_so():
    table = next_steps_of([], [], lambda j: Takes("", 1.0)).table()
    assert table.notes == (
        "No prediction is open: nothing more to measure would settle one.",
    )

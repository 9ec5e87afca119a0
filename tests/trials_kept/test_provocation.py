"""What a notebook holds: what is next, typed outcomes, views of a round."""

import pytest

from benchproof.keeping.live.instrument import RERUN
from benchproof.values.errors import InputError, RecordingRefusedError


def test_the_next_conditions_come_in_the_shuffled_order(power):
    power.record("k l")
    shown = power.next(2)
    assert [row[0] for row in shown.rows] == ["3", "4"]
    assert shown.notes[0] == "78 left"


def test_an_outcome_without_its_place_is_refused_with_the_line_to_type(power):
    power.record("k")
    with pytest.raises(InputError, match=r"outcome\('lost', at=2\)"):
        power.outcome("lost")
    assert len(power.rows.made()) == 1


def test_a_row_of_a_plan_that_stops_at_an_occurrence_begins_at_its_beginning(
    mount, plan
):
    power = plan(mount, 2, stop="at the first loss, or 2 of each", stop_at=1)
    with pytest.raises(InputError, match="the whole row from place 1"):
        power.record("k", start=2)
    assert power.outcome("k", at=2).rows.made()[0].place == 2


def test_outside_the_plan_there_is_neither_place_nor_second_note(power):
    for more in ({"at": 3}, {"note": "warm"}):
        with pytest.raises(InputError, match="because= is the note"):
            power.outcome("k", planned=False, because="a visitor", supply="x", **more)
    assert power.rows.made() == []


def test_an_outcome_is_one_word(power):
    with pytest.raises(InputError, match="is not one outcome"):
        power.outcome("l k", at=1)


def test_answers_are_recorded_place_by_place_and_an_empty_one_ends_it(power):
    asked, answers = [], iter(["l", "what", "k", ""])

    def ask(question):
        asked.append(question)
        return next(answers)

    power.enter(ask=ask, sitting="morning")
    made = power.rows.made()
    assert [(m.place, m.outcome, m.sitting) for m in made] == [
        (1, "lost", "morning"), (2, "kept", "morning"),
    ]  # fmt: skip
    assert asked[0].startswith("1. ")
    assert "'what' is not declared" in asked[2]


def test_in_a_headless_run_nothing_is_asked(power, monkeypatch):
    monkeypatch.setenv(RERUN, "1")
    power.enter(ask=lambda question: pytest.fail(question))
    assert power.rows.made() == []


@pytest.mark.parametrize("silence", [EOFError, NotImplementedError])
def test_where_nobody_can_answer_what_is_recorded_is_shown(power, silence):
    def ask(question):
        raise silence

    power.record("k l")
    assert len(power.enter(ask=ask).ledger().rows) == 2


def test_a_view_of_a_round_shows_that_round_and_cannot_be_recorded_in(
    mount, power, plan
):
    power.record("k l")
    mount.new_round(because="the worn socket came")
    power.in_round(2).record("l l")
    view = mount.at_round(1)
    then = plan(view)
    assert len(then.ledger().rows) == 2
    with pytest.raises(RecordingRefusedError, match="as it was in round 1"):
        then.record("k l k")


def test_a_round_that_was_not_opened_is_refused(power):
    with pytest.raises(InputError, match=r"round 2 does not exist; there are \[1\]"):
        power.in_round(2)


def test_a_rate_of_an_undeclared_outcome_or_condition_is_refused(power):
    with pytest.raises(InputError, match="outcome 'gone' is not declared"):
        power.rate("gone", supply="brick", axes="both")
    with pytest.raises(InputError, match="supply='brock'"):
        power.rate("lost", supply="brock", axes="both")


def test_a_rate_of_an_excluded_condition_says_why_it_is_not_tried(mount):
    pairs = mount.trials.plan(
        "bridge", contacts="survey", outcomes=["blank", "fine"], repetitions=1,
        seed=1, stop="once", control={},
    )  # fmt: skip
    with pytest.raises(InputError, match="shorts the pack"):
        pairs.rate("blank", joined="P1+P2")


def test_no_display_uses_words_that_claim_too_much(lost_alignment):
    lost_alignment.aborted(80, because="a cable fell out")
    power = lost_alignment
    parts = [
        power, power.progress(), power.ledger(), power.coverage(), power.rates(),
        power.not_done(), power.next(3), power.case.trials,
    ]  # fmt: skip
    shown = " ".join(map(str, parts)).lower()
    for word in ("never", "prove", "impossible", "ruled out", "confirmed"):
        assert word not in shown

"""The one rule of entering: again adds nothing, longer appends, other is refused."""

import pytest

from benchproof.keeping.trials.entering import carried_from, placed
from benchproof.values.errors import InputError, RecordingRefusedError


def outcomes(power):
    return [m.outcome for m in power.rows.made()]


def test_running_a_cell_again_adds_nothing(power):
    for _ in range(2):
        power.record("k l k")
        power.outcome("lost", at=4)
        power.aborted(5, because="a cable fell out")
        power.skip(6, because="the shop closed")
        power.correct(1, "lost", because="read the wrong line")
        power.outcome("l k", planned=False, because="a visitor asked",
                      supply="brick", axes="both")  # fmt: skip
    assert power.case.trials.ledger.rows == 10


def test_a_longer_row_appends(power):
    power.record("k l")
    power.record("k l l")
    assert [m.place for m in power.rows.made()] == [1, 2, 3]


def test_another_outcome_is_refused_and_nothing_of_the_row_is_recorded(power):
    power.record("k l")
    with pytest.raises(RecordingRefusedError, match=r"place 2 .* recorded as 'lost'"):
        power.record("k k l l")
    with pytest.raises(RecordingRefusedError, match="leaves it open"):
        power.record("k - l")
    assert outcomes(power) == ["kept", "lost"]


def test_a_correction_supersedes_and_both_texts_may_stand_in_the_cell(power):
    power.record("k l")
    power.correct(2, "k", because="the log shows it was kept")
    power.record("k l")
    power.record("k k")
    assert outcomes(power) == ["kept", "kept"]
    assert power.rows.made()[1].typed == "lost"


def test_a_correction_needs_a_reason_and_an_attempt_with_an_outcome(power):
    power.aborted(1, because="a cable fell out")
    with pytest.raises(InputError, match="say why the recorded outcome is wrong"):
        power.correct(1, "lost", because=" ")
    with pytest.raises(InputError, match="there is no attempt 2; 1 were made"):
        power.correct(2, "lost", because="misread")
    with pytest.raises(RecordingRefusedError, match="was aborted"):
        power.correct(1, "lost", because="misread")


def test_an_open_place_can_be_filled_later_and_the_order_made_is_kept(power):
    power.record("k - k")
    power.record("k l k")
    assert [(m.number, m.place) for m in power.rows.made()] == [(1, 1), (2, 3), (3, 2)]


def test_a_place_outside_the_plan_is_refused_with_the_way_to_record_it(power):
    with pytest.raises(InputError, match="planned=False and because="):
        power.record("l", start=81)
    with pytest.raises(InputError, match="80 places"):
        power.outcome("l", at=0)


def test_an_aborted_attempt_leaves_its_place_open(power):
    power.aborted(1, because="a cable fell out")
    power.record("l")
    kinds = [(m.kind, m.place, m.outcome) for m in power.rows.made()]
    assert kinds == [("aborted", 1, ""), ("planned", 1, "lost")]


def test_unplanned_attempts_of_one_reason_are_one_row(power):
    said = {"planned": False, "because": "a visitor asked", "supply": "brick"}
    power.outcome("l", axes="both", **said)
    power.outcome("l k", axes="both", **said)
    with pytest.raises(RecordingRefusedError, match="recorded as lost kept"):
        power.outcome("k k", axes="both", **said)
    assert outcomes(power) == ["lost", "kept"]


def test_a_condition_outside_the_plan_is_recorded_with_a_reason(power):
    power.outcome("k", planned=False, because="only one at hand", supply="car battery")
    assert power.rows.made()[0].condition == "supply=car battery"
    with pytest.raises(InputError, match="outside the plan: because="):
        power.outcome("k", planned=False, supply="car battery")


def test_a_plan_may_change_before_the_first_attempt_and_both_are_kept(power, plan):
    changed = plan(power.case, 10)
    assert changed.number == 2
    assert "no reason given, before the first attempt" in str(changed)


def test_a_plan_changed_after_attempts_needs_a_reason(power, plan):
    power.record("k l")
    with pytest.raises(RecordingRefusedError, match=r"differs \(repetitions, stop\)"):
        plan(power.case, 10)
    changed = plan(power.case, 10, because="the socket wears out")
    assert "after 2 attempts: the socket wears out" in str(changed)
    assert plan(power.case, 10, because="the socket wears out").number == 2


def test_the_cells_of_an_old_version_still_run_but_add_nothing(power, plan):
    power.record("k l")
    plan(power.case, 10, because="the socket wears out")
    plan(power.case).record("k l")
    with pytest.raises(RecordingRefusedError, match="superseded by version 2"):
        plan(power.case).record("k l k")


def test_more_repetitions_go_on_where_the_first_version_stopped(power, plan):
    power.record("k l")
    more = plan(power.case, 30, because="too few to tell")
    assert carried_from(more.rows, more.version) == 1
    more.record("k l k")
    assert [(m.version, m.place) for m in power.rows.made()] == [(1, 1), (1, 2), (2, 3)]


def test_another_order_begins_at_its_own_first_place(power, plan):
    power.record("k l")
    other = plan(power.case, seed=2, because="the first order was predictable")
    assert carried_from(other.rows, other.version) == 2
    other.record("k")
    assert [(m.version, m.place) for m in power.rows.made()] == [(1, 1), (1, 2), (2, 1)]


def test_attempts_of_another_round_say_so(mount, power):
    power.record("k l")
    mount.new_round(because="the worn socket came")
    power.record("k l")
    with pytest.raises(RecordingRefusedError, match=r"power\.in_round\(2\)"):
        power.record("k l k")
    power.in_round(2).record("l l")
    power.in_round(2).record("l l")
    assert [(m.round, m.place) for m in power.rows.made()] == [
        (1, 1), (1, 2), (2, 1), (2, 2),
    ]  # fmt: skip


def test_places_that_the_stop_rule_ended_are_passed_over(mount, plan):
    power = plan(mount, 2, stop="at the first loss, or 2 of each", stop_at=1)
    first = power.spec.places.index("supply=brick; axes=both")
    row = ["k"] * 7
    row[first] = "l"
    power.record(" ".join(row))
    made = power.rows.made()
    assert [m.condition for m in made].count("supply=brick; axes=both") == 1
    assert power.next().notes[0] == "nothing is left to be made"


def test_a_row_without_a_stop_rule_takes_one_place_for_each_outcome(power):
    assert placed(power.spec, ["lost", "kept", ""], 5) == [5, 6, 7]

"""Conditions and outcomes as they are typed and kept."""

import pytest

from benchproof.keeping.trials.wording import (
    check_words,
    condition_of,
    condition_read,
    condition_text,
    outcome_keys,
    outcomes_read,
)
from benchproof.reasoning.plans import Condition
from benchproof.values.errors import InputError


@pytest.mark.parametrize(
    "condition",
    [
        Condition(),
        Condition((("P1", "P2"), ("P3", "P4")), (("state", "wake in hand"),)),
        Condition(settings=(("supply", "5.4 A = limit"),), steps=("plug", "slew")),
    ],
)
def test_a_condition_is_read_back_as_it_was_written(condition):
    assert condition_read(condition_text(condition)) == condition


def test_a_part_that_is_no_name_and_value_is_refused():
    with pytest.raises(InputError, match="'both' is no name=value"):
        condition_read("supply=brick; both")


def test_nothing_joined_is_a_condition_without_groups():
    assert condition_of({"joined": "none", "state": "awake"}).groups == ()


def test_a_word_that_holds_a_separator_is_refused():
    with pytest.raises(InputError, match="separate words"):
        check_words(["a;b"], "levels", ";")


def test_an_outcome_is_typed_as_word_letter_or_number():
    assert outcomes_read("LOST, l 1 k -", ["lost", "kept"], "power") == [
        *["lost"] * 3, "kept", "",
    ]  # fmt: skip


def test_a_letter_that_two_outcomes_share_is_no_key():
    with pytest.raises(InputError, match=r"'b' is not declared\. Type one of 1, 2"):
        outcomes_read("b", ["blank", "beep"], "power")


@pytest.mark.parametrize(
    "outcomes", [["lost"], ["lost", "Lost"], "lost", ["a b", "c"], ["1st", "c"]]
)
def test_outcomes_are_two_different_words_or_more(outcomes):
    with pytest.raises(InputError):
        outcome_keys(outcomes)


def test_a_row_with_an_unknown_outcome_names_its_place():
    with pytest.raises(InputError, match="power, outcome 3: 'x' is not declared"):
        outcomes_read("l k x l", ["lost", "kept"], "power")

"""Chances of guessing, against all answers written out."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.trials import (
    chance_of_all_right,
    chance_of_balanced,
    chance_of_guesses,
)
from benchproof.values.errors import InputError


def test_eight_balanced_runs_are_guessed_once_in_seventy():
    assert chance_of_all_right([4, 4]) == 1 / 70
    assert chance_of_balanced(8, 4, 4) == 1 / 70


def test_eight_coins_are_guessed_once_in_256():
    assert chance_of_guesses(8, 8) == 2**-8


def test_three_treatments_of_two_runs_have_ninety_orders():
    orders = {*itertools.permutations("aabbcc")}
    assert chance_of_all_right([2, 2, 2]) == 1 / len(orders) == 1 / 90


@pytest.mark.parametrize(("first", "second"), [(4, 4), (2, 5), (1, 1)])
def test_balanced_guesses_have_the_chances_of_all_answers_written_out(first, second):
    truth = "a" * first + "b" * second
    answers = {*itertools.permutations(truth)}
    rights = [sum(a == b for a, b in zip(x, truth, strict=True)) for x in answers]
    for right in {*rights}:
        share = sum(r >= right for r in rights) / len(rights)
        assert chance_of_balanced(right, first, second) == pytest.approx(share)


@pytest.mark.parametrize("treatments", [2, 3])
def test_free_guesses_have_the_chances_of_all_answers_written_out(treatments):
    answers = [*itertools.product(range(treatments), repeat=5)]
    for right in range(6):
        share = sum(a.count(0) >= right for a in answers) / len(answers)
        assert chance_of_guesses(right, 5, treatments) == pytest.approx(share)


@given(st.integers(1, 20))
def test_some_score_is_always_reached(runs):
    assert chance_of_guesses(0, runs) == 1
    assert chance_of_balanced(0, runs, runs) == 1


def test_an_odd_number_of_wrong_answers_cannot_come_of_a_balanced_plan():
    with pytest.raises(InputError, match="wrong answers come in pairs"):
        chance_of_balanced(7, 4, 4)
    with pytest.raises(InputError, match="0 right of 1 and 5"):
        chance_of_balanced(0, 1, 5)


def test_one_treatment_alone_is_no_blind_trial():
    with pytest.raises(InputError, match="two treatments"):
        chance_of_all_right([8])
    with pytest.raises(InputError, match="two treatments"):
        chance_of_guesses(8, 8, 1)
    with pytest.raises(InputError, match="9 right of 8"):
        chance_of_guesses(9, 8)

"""Levels, states and sequences, counted and made."""

import pytest

from benchproof.reasoning.plans import factor_levels, sequences, states
from benchproof.values.errors import InputError


def test_every_combination_of_levels_is_made_once():
    plan = factor_levels({"supply": ["brick", "bench"], "axes": ["one", "both", "no"]})
    made = [*plan]
    assert plan.count == len(made) == len({*made}) == 6
    assert str(made[0]) == "supply brick, axes one"


def test_many_factors_are_counted_and_begun_without_being_made():
    plan = factor_levels({f"f{i}": ["a", "b", "c"] for i in range(30)})
    assert plan.count == 3**30
    assert len(next(iter(plan)).settings) == 30


def test_states_are_the_levels_of_one_factor():
    made = [str(c) for c in states(["asleep", "docked"], "device")]
    assert made == ["device asleep", "device docked"]


@pytest.mark.parametrize(
    ("length", "repeated", "count"),
    [(None, False, 6), (2, False, 6), (1, False, 3), (2, True, 9), (4, True, 81)],
)
def test_sequences_are_counted_as_they_are_made(length, repeated, count):
    plan = sequences(["plug", "switch on", "slew"], length, repeated)
    made = [*plan]
    assert plan.count == len(made) == len({*made}) == count


def test_a_sequence_longer_than_its_actions_needs_repeats():
    with pytest.raises(InputError, match="let actions be repeated"):
        sequences(["plug", "slew"], 3)
    with pytest.raises(InputError, match="sequences of 0"):
        sequences(["plug", "slew"], 0, repeated=True)


def test_a_level_named_twice_or_a_factor_without_levels_is_refused():
    with pytest.raises(InputError, match="levels of supply: 'brick'"):
        factor_levels({"supply": ["brick", "brick"]})
    with pytest.raises(InputError, match="levels of supply"):
        factor_levels({"supply": []})
    with pytest.raises(InputError, match="factors"):
        factor_levels({})

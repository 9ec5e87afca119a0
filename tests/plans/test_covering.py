"""Pairwise plans: every pair that may be tried is, and in few rows."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof.reasoning.plans import (
    Forbidden,
    chosen_levels,
    covering_rows,
    pairwise_levels,
)
from benchproof.values.errors import InputError

MOUNT = {
    "supply": ["brick", "bench", "pack"],
    "axes": ["one", "both"],
    "cable": ["thin", "thick"],
    "dew heater": ["off", "on"],
}


def pairs_of(settings):
    return {frozenset(pair) for pair in itertools.combinations(settings, 2)}


def wanted(factors):
    named = [[(f, level) for level in levels] for f, levels in factors.items()]
    return {
        frozenset(pair)
        for a, b in itertools.combinations(named, 2)
        for pair in itertools.product(a, b)
    }


def tried(plan):
    return set().union(*(pairs_of(c.settings) for c in plan.candidates))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 5), min_size=2, max_size=8))
def test_every_pair_of_levels_occurs(counts):
    rows, missed = covering_rows(counts)
    assert not missed
    for (i, n), (j, m) in itertools.combinations(enumerate(counts), 2):
        assert {(row[i], row[j]) for row in rows} == {
            *itertools.product(*map(range, (n, m)))
        }


def test_a_plan_names_its_levels_and_its_least_size():
    plan = pairwise_levels(MOUNT)
    assert tried(plan) == wanted(MOUNT)
    assert plan.least == 6
    assert plan.least <= plan.candidates.count <= 8
    assert plan.excluded == ()


def test_twenty_factors_of_three_levels_take_fifteen_combinations():
    plan = pairwise_levels({f"f{i}": ["a", "b", "c"] for i in range(20)})
    assert (plan.candidates.count, plan.least) == (15, 12)


@pytest.mark.parametrize(
    ("counts", "most"),
    [([4] * 10, 32), ([4, 4, 3, 3, 2, 2, 2], 20), ([3] * 40, 30), ([2] * 100, 10)],
)
def test_plans_stay_short(counts, most):
    # Sizes seen when written, with a margin: longer ones would be a step back.
    assert len(covering_rows(counts)[0]) <= most


def test_the_same_factors_give_the_same_plan():
    plans = [[*pairwise_levels(MOUNT).candidates] for _ in range(2)]
    assert plans[0] == plans[1]


def test_what_is_forbidden_is_not_tried_and_the_rest_is():
    rule = Forbidden("overheats", settings=(("supply", "pack"), ("dew heater", "on")))
    plan = pairwise_levels(MOUNT, [rule])
    assert not any(rule.forbids(c) for c in plan.candidates)
    assert wanted(MOUNT) - tried(plan) == {frozenset(rule.settings)}
    assert plan.excluded == (("supply pack", "dew heater on", "overheats"),)


def test_pairs_that_only_forbidden_combinations_hold_are_listed():
    # With the pack, the heater may be neither off nor on: no pack at all.
    rules = [
        Forbidden("a reason", settings=(("supply", "pack"), ("dew heater", state)))
        for state in ("off", "on")
    ]
    plan = pairwise_levels(MOUNT, rules)
    lost = wanted(MOUNT) - tried(plan)
    assert all(("supply", "pack") in pair for pair in lost)
    assert len(plan.excluded) == len(lost) == 6
    reasons = {reason for _, _, reason in plan.excluded}
    assert reasons == {"a reason", "no combination holds it that is not forbidden"}


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_forbidden_settings_are_kept_out_and_all_else_is_tried(data):
    counts = data.draw(st.lists(st.integers(1, 3), min_size=2, max_size=5))
    factors = {f"f{i}": [*"abc"[:n]] for i, n in enumerate(counts)}
    every = [(f, level) for f, levels in factors.items() for level in levels]
    sets = st.lists(st.sampled_from(every), min_size=1, max_size=3, unique=True)
    barred = data.draw(st.lists(sets, max_size=4))
    rules = [Forbidden("a reason", settings=tuple(held)) for held in barred]
    plan = pairwise_levels(factors, rules)
    named = [[(f, level) for level in levels] for f, levels in factors.items()]
    allowed = [
        row
        for row in itertools.product(*named)
        if not any({*held} <= {*row} for held in barred)
    ]
    assert tried(plan) == set().union(*map(pairs_of, allowed))
    assert {c.settings for c in plan.candidates} <= {*allowed}
    assert len(plan.excluded) == len(wanted(factors)) - len(tried(plan))


def test_a_rule_on_levels_that_are_not_there_forbids_nothing():
    rule = Forbidden("no such thing", settings=(("supply", "solar"),))
    assert tried(pairwise_levels(MOUNT, [rule])) == wanted(MOUNT)


def test_one_factor_has_no_pairs():
    with pytest.raises(InputError, match="two factors or more"):
        pairwise_levels({"supply": ["brick", "bench"]})


@pytest.mark.parametrize("row", [(0, 0), (2,), (-1,), ("0",)])
def test_a_row_that_does_not_fit_the_factors_is_refused(row):
    with pytest.raises(InputError, match="the number of a level, from 0"):
        chosen_levels({"supply": ["brick", "bench"]}, [row])

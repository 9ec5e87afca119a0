"""A plan: counted, excluded with reasons, ordered, with its control."""

from collections import Counter

import pytest

from benchproof.reasoning.plans import (
    Condition,
    Forbidden,
    StopRule,
    TrialPlan,
    contact_pairs,
    contact_sets,
    crossed,
    separate_groups,
    states,
)
from benchproof.values.errors import InputError

SIX = ["P1", "P2", "P3", "P4", "P5", "P6"]
DRY = Condition(settings=(("state", "dry control"),))


def bridges(**changes):
    given = {
        "candidates": crossed(contact_pairs(SIX), states(["asleep", "docked"])),
        "control": DRY,
        "stop": StopRule(attempts=10),
        "repetitions": 10,
        "seed": 7,
        "forbidden": (Forbidden("shorts the pack", ("P1", "P2")),),
        **changes,
    }
    return TrialPlan("Bridges", **given)


def test_the_count_comes_before_anything_is_made():
    plan = bridges()
    assert plan.most_attempts == 10 * (15 * 2 + 1)
    assert str(plan.candidates).endswith("combinations of state: 30")


def test_every_condition_is_tried_as_often_as_planned_or_excluded():
    plan = bridges()
    attempts = plan.attempts()
    made = Counter(a.condition for a in attempts if not a.control)
    excluded = [e.condition for e in plan.exclusions()]
    assert {*made.values()} == {10}
    assert len(made) + len(excluded) == plan.candidates.count
    assert {*made} | {*excluded} == {*plan.candidates}
    assert [a.number for a in attempts] == [*range(1, len(attempts) + 1)]


def test_each_exclusion_has_its_reason():
    plan = bridges()
    assert {e.reason for e in plan.exclusions()} == {"shorts the pack"}
    assert len([*plan.exclusions()]) == 2
    assert "shorts the pack" in str(plan.left_out())


def test_a_condition_that_two_rules_forbid_has_both_reasons():
    rules = (
        Forbidden("shorts the pack", ("P1", "P2")),
        Forbidden("hot", settings=(("state", "docked"),)),
    )
    reasons = {e.reason for e in bridges(forbidden=rules).exclusions()}
    assert reasons == {"shorts the pack", "hot", "shorts the pack; hot"}


def test_the_control_is_in_every_block():
    attempts = bridges().attempts()
    controls = [a.repetition for a in attempts if a.control]
    assert controls == [*range(1, 11)]
    assert {a.condition for a in attempts if a.control} == {DRY}


def test_the_seed_alone_decides_the_order():
    assert bridges().attempts() == bridges().attempts()
    assert bridges().attempts() != bridges(seed=8).attempts()


def test_a_plan_too_large_to_order_says_its_count_and_can_be_begun():
    contacts = [f"P{i}" for i in range(1, 21)]
    plan = bridges(candidates=separate_groups(contacts), repetitions=10)
    with pytest.raises(InputError, match=r"51724158235371 \(5.2e\+13\)"):
        plan.attempts()
    assert next(plan.conditions()).groups
    assert "5.2e+13" in str(plan.table())
    assert "looked through the first 100000" in str(plan.left_out())


def test_a_long_list_of_exclusions_says_that_there_are_more():
    assert "there are more" not in str(bridges().left_out(2))
    assert "the first 1; there are more" in str(bridges().left_out(1))


def test_the_limit_of_an_order_can_be_raised_or_lowered():
    with pytest.raises(InputError, match="more than 309"):
        bridges().attempts(309)
    assert len(bridges().attempts(310)) == 290


def test_a_plan_without_control_must_say_why():
    with pytest.raises(InputError, match="no control arm"):
        bridges(control=None)
    plan = bridges(control=None, no_control="the fault cannot be switched off")
    assert not any(a.control for a in plan.attempts())
    assert "none: the fault cannot be switched off" in str(plan.table())


def test_a_control_that_is_forbidden_is_refused():
    with pytest.raises(InputError, match="is itself forbidden: hot"):
        bridges(forbidden=(Forbidden("hot", settings=DRY.settings),))


def test_a_stop_rule_and_repetitions_that_disagree_are_refused():
    with pytest.raises(InputError, match="Make the two agree"):
        bridges(stop=StopRule(attempts=5))
    with pytest.raises(InputError, match="0 repetitions"):
        bridges(repetitions=0, stop=StopRule(exposure=1.0))


def test_a_stop_at_an_occurrence_names_its_analysis():
    plan = bridges(stop=StopRule(attempts=10, occurrences=1))
    assert "ended at an occurrence" in str(plan.table())
    assert "ended at an occurrence" not in str(bridges().table())


def test_the_order_is_a_table_to_work_through():
    table = bridges(candidates=contact_sets(SIX[:3]), forbidden=()).order()
    assert len(table.rows) == 50
    assert {row[3] for row in table.rows} == {"test", "control"}
    assert table.rows[0][0] == "1"


def test_attempts_are_counted_without_those_of_forbidden_conditions():
    rule = Forbidden("shorts the pack", ("P1", "P2"))
    plan = bridges(forbidden=(rule,))
    assert plan.counted() == (len(plan.attempts()), True)
    assert plan.counted()[0] == plan.most_attempts - 2 * plan.repetitions
    assert "290; 20 left out as forbidden" in str(plan)


def test_too_many_candidates_are_counted_at_most():
    many = separate_groups([f"P{i}" for i in range(1, 21)])
    plan = bridges(candidates=many, stop=StopRule(attempts=1), repetitions=1)
    assert plan.counted() == (many.count + 1, False)
    assert "Attempts at most" in str(plan)

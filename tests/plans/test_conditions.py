"""Conditions, what forbids them, and candidates that are counted first."""

import itertools

import pytest

from benchproof.measuring.contacts import ForbiddenPair
from benchproof.reasoning.plans import (
    Candidates,
    Condition,
    Forbidden,
    contact_pairs,
    crossed,
    forbidden_pairs,
    sequences,
    states,
)
from benchproof.values.errors import InputError


def test_a_condition_is_written_in_one_line():
    condition = Condition((("P1", "P2"),), (("state", "docked"),), ("plug", "wake"))
    assert str(condition) == "P1–P2, state docked, plug → wake"
    assert str(Condition()) == "nothing changed"


def test_contacts_are_forbidden_in_one_group_only():
    rule = Forbidden("shorts the pack", ("P1", "P2"))
    assert rule.forbids(Condition((("P3", "P1", "P2"),)))
    assert not rule.forbids(Condition((("P1", "P3"), ("P2", "P4"))))


def test_contacts_with_a_setting_are_forbidden_together_only():
    rule = Forbidden("hot", ("P1", "P2"), (("state", "docked"),))
    pair = Condition((("P1", "P2"),))
    docked = Condition(pair.groups, (("state", "docked"),))
    assert rule.forbids(docked)
    assert not rule.forbids(pair)
    assert not rule.forbids(Condition(settings=docked.settings))


def test_settings_are_forbidden_whatever_is_joined():
    rule = Forbidden("no such cable", settings=(("supply", "brick"), ("cable", "thin")))
    assert rule.forbids(Condition(settings=(("cable", "thin"), ("supply", "brick"))))
    assert not rule.forbids(Condition(settings=(("cable", "thin"),)))
    assert rule.text() == "supply brick with cable thin: no such cable"


def test_what_is_forbidden_needs_a_reason():
    with pytest.raises(InputError, match="contacts P1–P2 forbidden without a reason"):
        Forbidden(" ", ("P1", "P2"))


def test_something_must_be_forbidden():
    with pytest.raises(InputError, match="two contacts or more"):
        Forbidden("hot")
    with pytest.raises(InputError, match="two contacts or more"):
        Forbidden("hot", ("P1",))


def test_the_pairs_of_a_survey_are_taken_over_with_their_reason_or_its_lack():
    known, unknown = forbidden_pairs(
        [ForbiddenPair("P1", "P2", "shorts the pack"), ForbiddenPair("P1", "P3")]
    )
    assert known.text() == "contacts P1–P2: shorts the pack"
    assert "no reason stated" in unknown.reason


def test_candidates_can_be_gone_through_twice():
    pairs = contact_pairs(["P1", "P2", "P3"])
    assert [*pairs] == [*pairs]


def test_crossing_counts_and_makes_every_pairing_once():
    both = crossed(contact_pairs(["P1", "P2", "P3"]), states(["asleep", "docked"]))
    made = [*both]
    assert both.count == len(made) == len({*made}) == 6
    assert str(made[0]) == "P1–P2, state asleep"


def test_crossing_huge_plans_makes_nothing_before_it_is_asked():
    endless = Candidates("endless", 10**30, lambda: map(_numbered, itertools.count()))
    both = crossed(endless, states(["asleep", "docked"]))
    assert both.count == 2 * 10**30
    assert str(next(iter(both))) == "number 0, state asleep"
    assert str(both).endswith("(2.0e+30)")


def _numbered(number):
    return Condition(settings=(("number", str(number)),))


def test_crossing_what_sets_the_same_thing_is_refused_at_once():
    with pytest.raises(InputError, match="both set state"):
        crossed(states(["asleep"]), states(["docked"]))
    pairs = contact_pairs(["P1", "P2"])
    with pytest.raises(InputError, match="both set the same thing"):
        crossed(pairs, pairs)
    orders = sequences(["plug", "wake"])
    with pytest.raises(InputError, match="both set the same thing"):
        crossed(orders, orders)

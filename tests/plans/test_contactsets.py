"""Pairs, sets and separate groups of contacts, counted and made."""

import itertools
import math

import pytest

from benchproof.reasoning.plans import (
    bell_number,
    contact_pairs,
    contact_sets,
    separate_groups,
)
from benchproof.values.errors import InputError

SIX = ["P1", "P2", "P3", "P4", "P5", "P6"]
TWENTY = [f"P{i}" for i in range(1, 21)]


def test_six_contacts_have_15_pairs_57_sets_and_202_separate_groups():
    # C(6, 2); 2^6 - 6 - 1; Bell(6) - 1.
    assert contact_pairs(SIX).count == 15
    assert contact_sets(SIX).count == 57
    assert separate_groups(SIX).count == 202


@pytest.mark.parametrize("kind", [contact_pairs, contact_sets, separate_groups])
@pytest.mark.parametrize("n", [2, 3, 6, 8])
def test_as_many_different_conditions_are_made_as_were_counted(kind, n):
    candidates = kind(TWENTY[:n])
    made = [*candidates]
    assert candidates.count == len(made) == len({*made})


def test_bell_numbers_are_those_of_their_recurrence():
    bells = [bell_number(n) for n in range(12)]
    assert bells[:6] == [1, 1, 2, 5, 15, 52]
    for n in range(11):
        assert bells[n + 1] == sum(math.comb(n, k) * bells[k] for k in range(n + 1))


def test_twenty_contacts_are_counted_and_begun_without_being_made():
    groups = separate_groups(TWENTY)
    assert groups.count == 51724158235371
    assert "5.2e+13" in str(groups)
    first = [*itertools.islice(groups, 5)]
    assert len({*first}) == 5


def test_separate_groups_share_no_contact_and_have_two_or_more_each():
    for condition in separate_groups(SIX):
        contacts = [c for group in condition.groups for c in group]
        assert len(contacts) == len({*contacts})
        assert min(map(len, condition.groups)) >= 2


def test_every_set_is_one_of_the_separate_groups():
    groups = {*separate_groups(SIX)}
    assert {*contact_sets(SIX)} <= groups


def test_sets_can_be_kept_to_some_sizes():
    assert contact_sets(SIX, 3, 3).count == len([*contact_sets(SIX, 3, 3)]) == 20


@pytest.mark.parametrize("sizes", [(1, 3), (3, 2), (2, 7)])
def test_sizes_that_cannot_be_are_refused(sizes):
    with pytest.raises(InputError, match="sizes from 2"):
        contact_sets(SIX, *sizes)


@pytest.mark.parametrize("contacts", [["P1"], ["P1", "P1"], ["P1", " "], "P1"])
def test_contacts_that_cannot_be_joined_are_refused(contacts):
    with pytest.raises(InputError, match="contacts"):
        separate_groups(contacts)

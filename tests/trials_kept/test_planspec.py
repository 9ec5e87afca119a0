"""A plan as text: the same after reading back, refused where it is no plan."""

import json

import pytest

from benchproof.keeping.trials.planspec import PlanSpec, spec_read
from benchproof.reasoning.plans import Forbidden
from benchproof.values.errors import FileError, InputError

AXES = (("supply", ("brick", "bench")), ("axes", ("one", "both")))
CONTROL = (("supply", "bench"), ("axes", "one"))


def spec_of(**more):
    said = {
        "name": "power",
        "outcomes": ("lost", "kept"),
        "factors": AXES,
        "repetitions": 3,
        "control": CONTROL,
        "stop": "3 of each",
        "seed": 7,
    }
    return PlanSpec(**said | more)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"contacts": ("P1", "P2", "P3"), "joined": "sets", "largest": 3},
        {"actions": ("plug", "slew"), "length": 2, "factors": (), "control": None,
         "no_control": "the mount is needed by its owner"},
        {"stop_at": 1, "stop": "at the first loss, or 3 of each"},
        {"forbidden": (Forbidden("hot", ("P1", "P2"), (("axes", "one"),)),)},
        {"blind": True},
        {"contacts": ("P1", "P2"), "factors": (), "control": ()},
        {"repetitions": 1, "seed": 0, "stop": "once"},
    ],
)  # fmt: skip
def test_a_plan_is_read_back_as_it_was_written(more):
    spec = spec_of(**more)
    assert spec_read(spec.text(), "here") == spec
    assert spec_read(spec.text(), "here").digest() == spec.digest()


def test_another_seed_gives_another_hash():
    assert spec_of().digest() != spec_of(seed=8).digest()


def test_the_control_is_not_tried_twice_where_it_is_a_combination():
    spec = spec_of()
    assert len(spec.places) == 12
    assert spec.conditions[-1] == "supply=bench; axes=one"
    assert {spec.places.count(c) for c in spec.conditions} == {3}


def test_the_order_of_names_does_not_matter():
    spec = spec_of(control=CONTROL[::-1])
    assert spec.conditions == spec_of().conditions
    assert spec.named({"axes": "both", "supply": "brick"}) == "supply=brick; axes=both"


def test_contacts_of_a_condition_come_in_declared_order():
    spec = spec_of(contacts=("P1", "P2"), factors=(), control=())
    assert spec.named({"joined": "P2+P1"}) == "joined=P1+P2"


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ({"supply": "brick"}, "say axes too"),
        ({"supply": "brock", "axes": "one"}, "supply='brock' is not in the plan"),
    ],
)
def test_a_condition_must_name_declared_levels_of_every_factor(said, message):
    with pytest.raises(InputError, match=message):
        spec_of().named(said)


def test_codes_stand_for_the_conditions_of_a_blind_plan():
    spec = spec_of(blind=True)
    assert spec.places[:2] == ("run 1", "run 2")
    assert len(spec.treatments) == len(spec.places)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"stop": ""}, "say beforehand when attempts end"),
        ({"stop": "until it is lost"}, "Give stop_at=1"),
        ({"stop": "10 of each"}, "Make the two agree"),
        ({"control": None}, "no control arm"),
        ({"factors": (), "control": ()}, "nothing to try"),
        ({"factors": (("joined", ("a", "b")),), "control": None}, "another name"),
        ({"joined": "heaps"}, "use pairs, sets or groups"),
        ({"outcomes": ("lost",)}, "two different words"),
        ({"blind": True, "stop_at": 1, "stop": "first loss"}, "cannot stop"),
    ],
)  # fmt: skip
def test_what_is_no_plan_is_refused(more, message):
    with pytest.raises(InputError, match=message):
        spec_of(**more)


def test_too_many_attempts_are_refused_with_their_number_before_any_is_made():
    spec = spec_of(
        contacts=tuple(f"P{i}" for i in range(1, 21)), joined="groups",
        factors=(), control=(),
    )  # fmt: skip
    with pytest.raises(InputError, match="51724158235371"):
        _ = spec.places


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", json.dumps({"name": "power", "later": 1})]
)
def test_a_text_that_is_no_plan_is_refused_with_its_place(text):
    with pytest.raises(FileError, match="line 2, column 'condition': not a plan"):
        spec_read(text, "trials.csv line 2")

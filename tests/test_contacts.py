"""Contacts as declared: what may be written, what is refused, and who makes first."""

import pytest

from benchproof.measuring.contacts import (
    Contact,
    SurveyPlan,
    mating_basis,
    mating_ranks,
    resistance_name,
    survey_from,
    voltage_name,
)
from benchproof.values.errors import InputError

SURVEY = {
    "states": ["asleep", "awake"],
    "unpowered": ["pack out"],
    "reference": "P2",
    "forbidden": [["P1", "P2", "charging current"]],
}
CONTACTS = [
    {"name": "P1", "where": "CHG+", "x": "0 mm", "y": "0 mm", "guess": "charge +"},
    {"name": "P2", "height": "0.62 mm", "confidence": "seen"},
    {"name": "P3", "mates": "41 ms"},
]


def plan_of(survey=None, contacts=None):
    return survey_from({**SURVEY, **(survey or {})}, contacts or CONTACTS, "case.toml")


def refusal(survey=None, contacts=None):
    with pytest.raises(InputError) as caught:
        plan_of(survey, contacts)
    return str(caught.value)


def test_a_full_declaration_is_read_in_si():
    plan = plan_of()
    assert plan.names == ("P1", "P2", "P3")
    assert plan.contacts[0].place == (0.0, 0.0)
    assert plan.contacts[1].height == pytest.approx(0.62e-3, rel=1e-12)
    assert plan.contacts[2].mates == pytest.approx(0.041, rel=1e-12)
    assert plan.contacts[1].confidence == "seen"
    assert plan.states == ("asleep", "awake", "pack out")


def test_a_row_of_voltages_leaves_the_reference_out():
    assert plan_of().probed == ("P1", "P3")


def test_a_forbidden_pair_is_found_in_either_order_with_its_reason():
    plan = plan_of()
    assert plan.forbids("P2", "P1").reason == "charging current"
    assert plan.forbids("P1", "P3") is None


def test_without_a_declaration_there_is_an_empty_plan():
    assert survey_from({}, [], "case.toml") == SurveyPlan()


def test_states_of_two_words_make_plain_names():
    assert voltage_name("P1", "pack out") == "V_P1_pack_out"
    assert resistance_name("P1", "P2", "pack out").isidentifier()


@pytest.mark.parametrize(
    ("survey", "said"),
    [
        ({"states": []}, "states is missing"),
        ({"states": "asleep"}, "states must be a list"),
        ({"states": ["a", "a"]}, "state 'a' stands there 2 times"),
        ({"unpowered": ["asleep"]}, "state 'asleep' stands there 2 times"),
        ({"unpowered": ["+"]}, "state '+' has no letter"),
        ({"reference": "P9"}, "contact 'P9' is not declared"),
        ({"reference": ""}, "reference (the black lead)"),
        ({"forbidden": [["P1"]]}, "write two contacts and the reason"),
        ({"forbidden": ["P1", "P2"]}, "write two contacts and the reason"),
        ({"forbidden": [["P1", "P1", "x"]]}, "write two contacts and the reason"),
        ({"forbidden": [["P1", "P7", "x"]]}, "contact 'P7' is not declared"),
        ({"forbiden": []}, "'forbiden' is not one of states, unpowered"),
    ],
)
def test_a_mistake_in_the_survey_table_is_named_with_a_remedy(survey, said):
    message = refusal(survey)
    assert message.startswith("case.toml, [survey]")
    assert said in message


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"name": "P1"}, "name 'P1' stands there 2 times"),
        ({"name": ""}, "letters and digits only"),
        ({"name": "USB_D"}, "letters and digits only"),
        ({"name": "CHG+"}, "Put the printed label into where"),
        ({"name": "P4", "x": 2.54, "y": "0 mm"}, "x = 2.54 has no unit"),
        ({"name": "P4", "x": "2.54", "y": "0 mm"}, "no unit"),
        ({"name": "P4", "x": "2.54 mm"}, "give both x and y"),
        ({"name": "P4", "height": "3 ms"}, "cannot be converted"),
        ({"name": "P4", "mates": "3 mm"}, "cannot be converted"),
        ({"name": "P4", "mates": "1 2 ms"}, "write one number"),
        ({"name": "P4", "confidence": "sure"}, "use one of seen, likely"),
        ({"name": "P4", "colour": "red"}, "'colour' is not one of name"),
    ],
)
def test_a_mistake_in_a_contact_is_named_with_a_remedy(entry, said):
    message = refusal(contacts=[*CONTACTS, entry])
    assert message.startswith("case.toml, [[contact]]")
    assert said in message


def test_an_unknown_state_is_refused_with_those_there_are():
    with pytest.raises(InputError, match=r"'sleep' .*asleep, awake, pack out"):
        plan_of().check_state("sleep", "voltages")


def test_the_highest_contact_makes_first_and_breaks_last():
    contacts = [Contact("P1", height=0.0), Contact("P2", height=0.62e-3)]
    assert mating_ranks(contacts) == {"P1": (2, 1), "P2": (1, 2)}


def test_the_earliest_contact_makes_first_and_breaks_last():
    contacts = [Contact("A", mates=0.041), Contact("B", mates=0.0), Contact("C")]
    assert mating_ranks(contacts) == {"A": (2, 1), "B": (1, 2)}


def test_equal_heights_share_a_place_however_they_were_written():
    contacts = survey_from(
        {"states": ["on"], "reference": "A"},
        [
            {"name": "A", "height": "0.62 mm"},
            {"name": "B", "height": "620 um"},
            {"name": "C", "height": "0 mm"},
        ],
        "case.toml",
    ).contacts
    assert mating_ranks(contacts) == {"A": (1, 2), "B": (1, 2), "C": (2, 1)}


def test_times_count_before_heights_unless_more_heights_are_stated():
    timed = [Contact("A", mates=0.0, height=0.0), Contact("B", mates=0.1, height=0.1)]
    assert mating_basis(timed) == "mates"
    assert mating_basis([*timed, Contact("C", height=0.0)]) == "height"

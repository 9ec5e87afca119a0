"""``case.trials``: planning, finding, judging."""

import pytest

from benchproof.reasoning.plans import Forbidden
from benchproof.values.errors import InputError


def test_a_plan_is_in_the_ledger_before_the_first_attempt(mount, power):
    version = power.version
    assert (version.number, version.after) == (1, 0)
    assert version.spec.digest() in mount.trials.ledger.log.rows()[0].cells


def test_planning_again_writes_nothing(mount, power, plan):
    assert plan(mount).version == power.version
    assert mount.trials.ledger.rows == 1


def test_a_plan_is_found_by_name_without_its_cell(power, again):
    power.record("k l")
    found = again().trials["power"]
    assert found.spec == power.spec
    assert found.progress().title.startswith("power: planned 80, done 2, left 78")


def test_an_unknown_plan_is_refused_with_those_there_are(mount, power):
    with pytest.raises(InputError, match=r"no trial plan 'tower' \(there: power\)"):
        mount.trials["tower"]


def test_pairs_of_the_survey_leave_out_what_case_toml_forbids(mount):
    pairs = mount.trials.plan(
        "bridge", contacts="survey", states=mount.contacts.plan.powered,
        outcomes=["blank", "fine"], repetitions=10, control={"state": "awake"},
        stop="10 of each", seed=3,
    )  # fmt: skip
    assert pairs.spec.trial_plan.candidates.count == 6
    assert len(pairs.spec.conditions) == 5
    assert ("P1–P2, state asleep", "excluded", "shorts the pack") in (
        pairs.not_done().rows
    )


def test_actions_in_every_order_are_a_plan(mount):
    orders = mount.trials.plan(
        "orders", actions=["plug", "switch on", "slew"], outcomes=["lost", "kept"],
        repetitions=2, control={"steps": "switch on > slew"}, stop="2 of each", seed=1,
        forbidden=[Forbidden("the brick gets hot", settings=(("supply", "brick"),))],
    )  # fmt: skip
    assert len(orders.spec.places) == 14
    assert orders.spec.conditions[0] == "steps=plug > switch on > slew"


def test_too_many_conditions_are_counted_and_nothing_is_written(mount, case_folder):
    with pytest.raises(InputError, match="51724158235371"):
        mount.trials.plan(
            "all", contacts=[f"P{i}" for i in range(1, 21)], joined="groups",
            outcomes=["blank", "fine"], repetitions=1, control={}, stop="once", seed=1,
        )  # fmt: skip
    assert not (case_folder / "trials.csv").exists()


@pytest.mark.parametrize(
    ("name", "more", "message"),
    [
        ("my plan", {}, "no plain name"),
        ("bridge", {"contacts": "all"}, "give a list or 'survey'"),
    ],
)
def test_a_plan_that_is_not_understood_is_refused(mount, name, more, message):
    with pytest.raises(InputError, match=message):
        mount.trials.plan(
            name, outcomes=["blank", "fine"], repetitions=1, seed=1, stop="once",
            control={}, **more,
        )  # fmt: skip


def verdict_on(case, rival):
    name = rival.hypothesis.name
    return next(v for v in case.verdicts().verdicts if v.hypothesis.name == name)


def test_a_rival_whose_provocation_showed_it_and_control_did_not_is_sufficient(
    mount, power, lost_alignment
):
    limit = mount.hypothesis("H2", "both axes exceed the limit of the brick")
    rate = mount.trials["power"].rate
    limit.predicts("lost with brick and both axes",
                   rate("lost", supply="brick", axes="both").at_least(0.5),
                   role="symptom")  # fmt: skip
    limit.predicts("kept on the bench supply",
                   rate("lost", supply="bench", axes="one").at_most(0.15),
                   role="control")  # fmt: skip
    verdict = verdict_on(mount, limit)
    assert verdict.word == "sufficient on this sample"


def test_only_zeros_leave_their_bound(mount, power, lost_alignment):
    gears = mount.hypothesis("H5", "the gears slip")
    gears.predicts("lost on the bench supply",
                   power.rate("lost", supply="bench", axes="both").at_least(0.15),
                   role="symptom")  # fmt: skip
    assert verdict_on(mount, gears).word == "not reproduced, p < 14 %"


def test_predictions_on_readings_are_judged_as_before(mount):
    reset = mount.hypothesis("H1", "the rail falls below reset")
    reset.predicts("below", mount["V_min"].below("8.80 V"))
    mount.record("V_min", "7.8(1) V")
    verdict = verdict_on(mount, reset)
    assert verdict.judged[0].outcome == "met"


def test_a_view_of_a_round_is_judged_by_what_was_known_then(mount, power):
    rate = power.rate("lost", supply="brick", axes="both")
    limit = mount.hypothesis("H2", "both axes exceed the limit of the brick")
    limit.predicts("often", rate.at_least(0.5))
    first = power.spec.places.index("supply=brick; axes=both") + 1
    power.outcome("l", at=first)
    mount.new_round(because="the worn socket came")
    power.in_round(2).outcome("k", at=first)
    then = verdict_on(mount.at_round(1), limit)
    assert then.judged[0].count == (1, 1)
    assert verdict_on(mount, limit).judged[0].count == (0, 1)


def test_a_plan_of_a_later_round_is_not_in_an_earlier_view(mount, plan):
    mount.new_round(because="the worn socket came")
    plan(mount)
    assert mount.at_round(1).trials.names() == []
    assert mount.trials.names() == ["power"]


def test_contacts_of_a_survey_that_declares_none_are_refused(case):
    with pytest.raises(InputError, match=r"case\.toml declares no contacts"):
        case.trials.plan(
            "bridge", contacts="survey", outcomes=["blank", "fine"], repetitions=1,
            seed=1, stop="once", control={},
        )  # fmt: skip

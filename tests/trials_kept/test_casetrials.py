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


@pytest.mark.parametrize(
    ("left_out", "message"),
    [
        ("stop", "say beforehand when attempts end"),
        ("seed", "give the seed of the shuffled order.*others get the same order"),
    ],
)
def test_a_plan_without_stop_or_seed_says_why_they_are_asked(mount, left_out, message):
    said = {"stop": "5 of each", "seed": 1}
    del said[left_out]
    with pytest.raises(InputError, match=message):
        mount.trials.plan(
            "power", outcomes=["lost", "kept"], repetitions=5,
            factors={"supply": ["brick", "bench"]}, control={}, **said,
        )  # fmt: skip
    assert mount.trials.names() == []


def test_a_rate_is_found_by_the_name_its_tables_give_it(power, mount):
    rate = power.rate("lost", supply="brick", axes="both")
    assert mount.trials.named(rate.name) == rate


@pytest.mark.parametrize(
    "name", ["power: gone with supply brick, axes both", "power: lost with rain"]
)
def test_a_rate_that_is_not_there_lists_what_is(power, mount, name):
    with pytest.raises(InputError, match="there is no rate.*supply brick, axes both"):
        mount.trials.named(name)


def test_attempts_that_are_watched_for_hours_give_a_rate_per_hour(mount):
    watch = mount.trials.plan(
        "watch", outcomes=["lost", "kept"], states=["idle"], no_control="a field claim",
        stop="23 of each", repetitions=23, seed=1, hours=2.0,
    )  # fmt: skip
    assert "or after 46 h" in str(watch.spec.trial_plan.stop)
    watch.record("k " * 23)
    (row,) = watch.rates().rows
    assert row[-1] == "0 in 46 h, rate < 0.0652 per h (95 %, one-sided)"


def test_hours_are_above_zero(mount, plan):
    with pytest.raises(InputError, match="hours=0; give a number above 0"):
        plan(mount, hours=0)


FACTORS = {f"f{i}": ["a", "b", "c"] for i in range(4)}


def pairwise(case, **more):
    return case.trials.plan(
        "mixed", outcomes=["lost", "kept"], factors=FACTORS, pairwise=True,
        no_control="all are compared", stop="once each", repetitions=1, seed=1, **more,
    )  # fmt: skip


def test_every_two_levels_meet_in_a_pairwise_plan(mount):
    plan = pairwise(mount)
    assert len(plan.spec.places) == 9
    assert "that hold every pair: 9" in str(plan.spec.trial_plan.candidates)
    plan.record("k " * 9)
    assert pairwise(mount).number == 1


def test_a_pairwise_plan_stays_though_others_would_be_chosen_later(mount, monkeypatch):
    before = pairwise(mount).record("k " * 9)
    rows = tuple(tuple((level + 1) % 3 for level in row) for row in before.spec.rows)
    chosen = type("Chosen", (), {"rows": rows})
    path = "benchproof.keeping.trials.casetrials.pairwise_levels"
    monkeypatch.setattr(path, lambda *given: chosen)
    assert pairwise(mount).spec == before.spec


def test_what_may_not_be_set_together_is_left_out_of_a_pairwise_plan(mount):
    rule = Forbidden("overheats", settings=(("f0", "a"), ("f1", "b")))
    plan = pairwise(mount, forbidden=[rule])
    assert not any("f0=a; f1=b" in place for place in plan.spec.places)
    assert plan.spec.trial_plan.counted()[0] == len(plan.spec.places)

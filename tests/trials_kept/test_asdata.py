"""Rates and coverage as data say what the tables of a plan say."""

import pytest

from benchproof.keeping.trials.asdata import coverage_of, rates_of
from benchproof.reasoning.plans import Forbidden
from benchproof.reasoning.trials import exact_limits

HIT = "power: lost with supply brick, axes both"


def test_a_rate_has_its_exact_limits_and_the_name_predictions_use(lost_alignment):
    case = lost_alignment.case
    (rate,) = [r for r in rates_of(case) if r["name"] == HIT]
    low, high = exact_limits(17, 20)
    assert (rate["count"], rate["attempts"], rate["round"]) == (17, 20, 1)
    assert (rate["low"], rate["high"]) == pytest.approx((low, high))
    assert rate["interval"] == "62.1 % to 96.8 %"
    assert lost_alignment.rate("lost", supply="brick", axes="both").name == HIT


def test_one_condition_is_the_control(lost_alignment):
    controls = [r["name"] for r in rates_of(lost_alignment.case) if r["control"]]
    assert controls == ["power: lost with supply bench, axes one"]


def test_each_round_keeps_its_own_rate(lost_alignment):
    case = lost_alignment.case
    case.new_round(because="another brick")
    again = lost_alignment.in_round(2)
    again.record("k k k k")
    rounds = {
        r["name"]: [s["round"] for s in rates_of(case) if s["name"] == r["name"]]
        for r in rates_of(case)
    }
    assert sum(found == [1, 2] for found in rounds.values()) >= 2
    assert {r["round"] for r in rates_of(case.at_round(1))} == {1}


def test_nothing_is_told_of_a_sealed_plan(mount, plan, tmp_path_factory):
    power = plan(mount, repetitions=2, blind=True)
    power.seal(tmp_path_factory.mktemp("helper") / "key.txt")
    power.record("l k")
    assert rates_of(mount) == []
    assert sum(entry["done"] for entry in coverage_of(mount)) == 2


def test_coverage_counts_what_is_done_and_says_why_the_rest_is_not(power):
    power.record("l k k")
    case = power.case
    found = {entry["condition"]: entry for entry in coverage_of(case)}
    assert sum(entry["planned"] for entry in found.values()) == 80
    assert sum(entry["done"] for entry in found.values()) == 3
    left = found["supply brick, axes one"]
    assert left["why"] == f"{20 - left['done']} left"


def test_a_skipped_condition_has_its_reason(power):
    power.skip(supply="brick", axes="one", because="the brick <smells>")
    found = {entry["condition"]: entry for entry in coverage_of(power.case)}
    assert found["supply brick, axes one"]["why"] == "20 skipped: the brick <smells>"


def test_an_excluded_condition_has_no_places(mount, plan):
    levels = {"supply": "bench", "axes": "both"}
    plan(mount, forbidden=[Forbidden("trips the fuse", settings=tuple(levels.items()))])
    (entry,) = [e for e in coverage_of(mount) if not e["planned"]]
    assert (entry["condition"], entry["why"]) == (
        "supply bench, axes both", "trips the fuse",
    )  # fmt: skip

"""What results keep of each prediction is enough to draw it."""

import pytest

from benchproof.keeping.reports.evidence import arms_of, evidence_of
from benchproof.keeping.runs.lastrun import arms_in
from benchproof.keeping.runs.results import results_of
from benchproof.reasoning.trials import exact_limits


@pytest.fixture
def measured(case):
    case.record("V", "8.472(60) V")
    case.record("R_iso", "> 58.8 Mohm")
    case.record("lost", "17 of 20", at="brick")
    case.record("kept", "0 of 20", at="steady supply")
    case.constant("exact", "2 V")
    rival = case.hypothesis("H1", "It sags")
    rival.predicts("low", case["V"].below("8.80 V"))
    rival.predicts("insulated", case["R_iso"].above("10 Mohm"), role="expected")
    rival.predicts("often", case["lost"].at_least(0.5), role="symptom")
    rival.predicts("not without", case["kept"].at_most(0.2), role="control")
    rival.predicts("exactly", case["exact"].above("1 V"), role="expected")
    rival.predicts("later", case["V_later"].above("1 V"), role="expected")
    rival.predicts("agrees", case["V"].agrees_with("exact"), role="expected")
    return case


def seen(case):
    (rival,) = evidence_of(case)
    return {p["text"]: p["seen"] for p in rival["predictions"]}


def test_a_value_is_kept_as_its_distance_inside_its_limit_in_its_own_u(measured):
    found = seen(measured)["low"]
    assert found["inside"] == pytest.approx((8.80 - 8.472) / 0.060)
    assert found["half_width"] == measured.budget("V").coverage_factor


def test_a_value_outside_its_limit_is_negative(case):
    case.record("V", "9.00(10) V")
    case.hypothesis("H1", "x").predicts("low", case["V"].within("8 V", "8.80 V"))
    assert seen(case)["low"]["inside"] == pytest.approx(-2)


def test_a_censored_reading_is_kept_as_such(measured):
    assert seen(measured)["insulated"] == {"censored": True}


def test_a_count_is_kept_with_the_frequencies_predicted(measured):
    assert seen(measured)["often"] == {"limits": [0.5, None]}
    assert seen(measured)["not without"] == {"limits": [None, 0.2]}


@pytest.mark.parametrize("what", ["exactly", "later", "agrees"])
def test_what_has_no_distance_in_u_from_a_limit_is_left_empty(measured, what):
    assert seen(measured)[what] == {}


def test_evidence_says_what_would_change_an_outcome(measured):
    (rival,) = evidence_of(measured)
    assert "away" in rival["predictions"][0]["flips"]


def test_counts_come_with_exact_limits_and_where_they_were_counted(measured):
    lost = arms_of(measured)[0]
    low, high = exact_limits(17, 20)
    assert lost == {
        "name": "lost", "count": 17, "attempts": 20, "low": low, "high": high,
        "interval": "62.1 % to 96.8 %", "round": 1, "at": "brick",
    }  # fmt: skip


def test_a_count_of_an_earlier_round_stands_beside_the_later_one(measured):
    measured.new_round(because="another brick")
    measured.record("lost", "1 of 30", at="other brick")
    arms = [(a["name"], a["round"], a["count"]) for a in arms_of(measured)]
    assert arms == [("lost", 1, 17), ("lost", 2, 1), ("kept", 1, 0)]
    assert [a["round"] for a in arms_of(measured.at_round(1))] == [1, 1]


def test_results_give_the_same_counts_as_the_case(measured):
    measured.new_round(because="another brick")
    measured.record("lost", "1 of 30", at="other brick")
    assert arms_in(results_of(measured)) == arms_of(measured)


def test_results_of_an_older_run_have_no_counts_to_draw():
    assert (
        arms_in({"rounds": [{"number": 1, "quantities": {"V": {"text": "1 V"}}}]}) == []
    )

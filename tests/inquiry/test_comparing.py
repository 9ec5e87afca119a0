"""Rivals of a case compared: matrix, weights, next steps, limits of the sample."""

import pytest

from benchproof.values.errors import InputError


@pytest.fixture
def argued(case):
    brick = case.hypothesis("H1", "the brick's limit")
    brick.predicts("the rail falls", case["V_min"].below("8.80 V"))
    brick.predicts("lost", case["lost"].at_least(0.5), role="symptom", probability=0.85)
    gears = case.hypothesis("H2", "the gears")
    gears.predicts("no dip", case["V_min"].above("8.80 V"))
    gears.predicts("lost too", case["lost"].at_most(0.6), probability=0.05)
    case.hypothesis("H3", "static").predicts("upset", case["charge"].above("1 uC"))
    return case


# The matrix --------------------------------------------------------------------------


def test_the_matrix_says_what_is_measured_planned_or_neither(argued):
    argued.record("V_min", "? V")
    argued.record("lost", "6 of 10")
    standing = {row[0]: row[-1] for row in argued.matrix().table().rows}
    assert standing == {
        "V_min": "planned", "lost": "measured", "charge": "not planned",
    }  # fmt: skip


def test_a_pair_split_by_a_planned_reading_is_named_with_it(argued):
    argued.record("V_min", "? V")
    rows = {row[0]: row[1:] for row in argued.report("splits").rows}
    assert rows["H1, H2"] == ("V_min", "nothing")
    assert rows["H1, H3"] == ("nothing", "V_min")


# Weights -----------------------------------------------------------------------------


def test_a_count_weighs_rivals_by_probabilities_given_beforehand(argued):
    argued.record("lost", "10 of 10")
    ((pair, counted, said),) = argued.weights().rows
    assert (pair, counted) == ("H1, H2", "lost")
    # 10 ln(0.85/0.05) = 28.3
    assert "ln of the likelihood ratio 28.3, for H1 against H2" in said
    assert "written before the data" in said


def test_probabilities_given_after_the_count_say_so(argued):
    argued.record("lost", "10 of 10")
    argued.hypothesis("H2", "the gears").predicts(
        "lost too", argued["lost"].at_most(0.5), probability=0.10
    )
    assert "after the data, so this weight says little" in argued.weights().rows[0][2]


def test_without_probabilities_nothing_is_weighed(case):
    for name in ("H1", "H2"):
        case.hypothesis(name, name).predicts("lost", case["lost"].at_least(0.5))
    case.record("lost", "10 of 10")
    assert case.weights().rows == ()


# Next steps --------------------------------------------------------------------------


def test_what_is_open_is_ranked_by_verdicts_then_by_splits(argued):
    argued.record("V_min", "8.81(6) V")
    argued.record("lost", "6 of 10")
    found = argued.next_steps()
    assert [s.asked for s in found.steps] == ["V_min", "charge", "lost"]
    first = found.steps[0]
    assert first.splits == ("H1, H2",)
    assert len(first.predictions) == 2
    assert "u of 0.0061 V instead of 0.060 V" in first.takes[0].text
    assert any("H1 becomes 'contradicted'" in c for c in first.changes)
    assert "first value" in found.steps[1].takes[0].text
    # 6 of 10 may lie on H2's limit for good: no number of attempts is promised.
    assert "about 68 more attempts" in found.steps[2].takes[0].text
    assert "undetermined however often" in found.steps[2].takes[1].text


def test_the_u_that_is_asked_for_would_settle_it(case):
    case.hypothesis("H1", "x").predicts("low", case["V"].above("8.80 V"))
    case.record("V", "8.81(6) V")
    assert case.verdicts().verdicts[0].word == "undetermined"
    case.record("V", "8.8100(60) V", because="read again, closer")
    assert case.verdicts().verdicts[0].word == "compatible"


def test_a_bound_asks_for_a_value(case):
    case.hypothesis("H1", "x").predicts("high", case["R"].above("100 Mohm"))
    case.record("R", ">60 Mohm", using="handheld")
    (step,) = case.next_steps().steps
    assert step.takes[0].text.startswith("a value instead of a bound")


def test_a_comparison_asks_for_a_smaller_u_of_the_difference(case):
    case.hypothesis("H1", "x").predicts("same", case["A"].agrees_with("B"))
    case.record("A", "5.00(3) V")
    case.record("B", "5.10(3) V")
    (step,) = case.next_steps().steps
    # |0.10|/3 = 33 mV: beyond 3 u the two differ.
    assert step.takes[0].text.startswith("u of 0.033 V instead of 0.042 V")


def test_nothing_open_leaves_nothing_to_do(case):
    case.hypothesis("H1", "x").predicts("low", case["V"].below("8.80 V"))
    case.record("V", "7.00(6) V")
    assert case.next_steps().steps == ()
    assert str(case.next_steps())


def test_every_verdict_is_shown_with_what_would_change_it(argued):
    argued.record("V_min", "7.00(6) V")
    rows = argued.report("overturns").rows
    mine = [r for r in rows if r[:3] == ("H1", "compatible", "the rail falls")]
    assert len(mine) == 1
    assert mine[0][4] == "contradicted, if contradicted"
    assert "undetermined at 8.70" in mine[0][5]


def test_predictions_stand_apart_in_units_of_u(case):
    case.hypothesis("H1", "x").predicts("low", case["V"].below("8.00 V"))
    case.hypothesis("H2", "y").predicts("high", case["V"].above("9.20 V"))
    case.record("V", "8.50(6) V")
    assert case.report("separations").rows == (("H1, H2", "V", "1.2 V", "20"),)


def test_minutes_and_hazards_stay_stated(argued):
    argued.record("V_min", "8.81(6) V")
    argued.record("lost", "6 of 10")
    argued.next_steps(minutes={"lost": 3}, hazards={"charge": "a charged pack"})
    rows = argued.report("next").rows
    assert [row[1] for row in rows] == ["lost", "V_min", "charge"]
    assert rows[-1][-1] == "a charged pack"


def test_minutes_of_what_nobody_predicts_are_refused(argued):
    with pytest.raises(InputError, match="nothing is predicted of 'V_mni'.*V_min"):
        argued.next_steps(minutes={"V_mni": 3})


def test_an_invalid_reading_is_not_asked_for_again(case):
    case.hypothesis("H1", "x").predicts("small", case["I"].below("1 A"))
    case.record("I", "0.50(1) A")
    case.record("V", "1.00(2) V")
    case.valid_only_if("I", case["V"].above("2.0 V"))
    (step,) = case.next_steps().steps
    assert step.takes[0].text == (
        "another method, or the condition mended: I is invalid because 'V above 2.0 V' "
        "is contradicted"
    )

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.trials import exact_limits, upper_bound
from benchproof.reasoning.verdicts import (
    AFTER,
    BEFORE,
    RULES,
    Hypothesis,
    Judged,
    Prediction,
    Verdicts,
    Withdrawn,
    verdict_of,
)
from benchproof.values.errors import InputError

RIVAL = Hypothesis("H1", "The brick is too weak")


def judged(outcome, role="necessary", count=None, text=""):
    criterion = Criterion("x", 0.0, 1.0, "x within 0 and 1")
    said = text or f"a {role} prediction"
    detail = f"{count[0]} of {count[1]}" if count else "seen"
    return Judged(Prediction(said, criterion, role), outcome, detail, count)


def word(*parts):
    return verdict_of(RIVAL, parts).word


ZEROS = judged("contradicted", "symptom", (0, 40))
SHOWN = judged("met", "symptom", (17, 20))
CONTROL = judged("met", "control", (0, 20))


# The six words.


def test_without_a_measured_prediction_a_rival_is_not_tested():
    assert word() == "not tested"
    assert word(judged("not measured"), judged("not measured", "symptom")) == (
        "not tested"
    )


def test_a_failed_necessary_prediction_contradicts():
    assert word(judged("contradicted")) == "contradicted"


def test_a_provoked_symptom_with_a_clean_control_is_sufficient_on_this_sample():
    assert word(SHOWN, CONTROL) == "sufficient on this sample"


def test_zeros_when_provoked_are_not_reproduced_with_their_bound():
    assert word(ZEROS) == "not reproduced, p < 7.3 %"


def test_an_undetermined_prediction_leaves_the_rival_undetermined():
    assert word(judged("met"), judged("undetermined")) == "undetermined"


def test_a_failed_expected_prediction_only_leaves_it_undetermined():
    assert word(judged("met"), judged("contradicted", "expected")) == "undetermined"


def test_predictions_that_are_all_met_make_it_compatible():
    assert word(judged("met"), judged("met", "expected")) == "compatible"


# Their order.


def test_a_contradiction_counts_more_than_a_provoked_symptom():
    assert word(SHOWN, CONTROL, judged("contradicted")) == "contradicted"


def test_a_contradiction_counts_more_than_zeros():
    assert word(ZEROS, judged("contradicted")) == "contradicted"


def test_sufficiency_counts_more_than_an_undetermined_prediction():
    assert word(judged("undetermined"), SHOWN, CONTROL) == "sufficient on this sample"


def test_zeros_count_more_than_an_undetermined_prediction():
    assert word(judged("undetermined"), ZEROS) == "not reproduced, p < 7.3 %"


def test_undetermined_counts_more_than_met():
    assert word(judged("undetermined"), judged("met")) == "undetermined"


@given(st.permutations([SHOWN, CONTROL, judged("undetermined"), judged("met")]))
def test_the_order_of_the_predictions_does_not_matter(parts):
    assert word(*parts) == "sufficient on this sample"


def test_the_rules_are_listed_in_the_order_in_which_they_are_applied():
    assert [rule.partition(":")[0] for rule in RULES] == [
        "not tested",
        "contradicted",
        "sufficient on this sample",
        "not reproduced, p < x",
        "undetermined",
        "compatible",
    ]


# What is not enough.


def test_a_symptom_without_a_control_is_not_sufficient():
    assert word(SHOWN) == "compatible"
    assert word(SHOWN, judged("not measured", "control")) == "compatible"


def test_a_control_that_shows_the_symptom_spoils_sufficiency():
    assert word(SHOWN, judged("contradicted", "control")) == "undetermined"


def test_one_spoiled_control_of_two_is_enough_to_spoil():
    assert word(SHOWN, CONTROL, judged("undetermined", "control")) == "undetermined"


def test_a_single_occurrence_is_not_called_not_reproduced():
    assert word(judged("contradicted", "symptom", (1, 40))) == "undetermined"


def test_zeros_in_one_arm_and_events_in_another_are_not_called_not_reproduced():
    assert word(ZEROS, judged("contradicted", "symptom", (2, 40))) == "undetermined"


def test_zeros_of_a_control_say_nothing_about_reproduction():
    assert word(CONTROL) == "compatible"


def test_the_weakest_of_several_zero_arms_gives_the_bound():
    few = judged("contradicted", "symptom", (0, 10))
    # 1 - 0.05^(1/10) = 25.89 %.
    assert word(ZEROS, few) == "not reproduced, p < 26 %"


# What is said.


def test_the_reason_names_the_prediction_that_decided():
    verdict = verdict_of(
        RIVAL, [judged("met"), judged("contradicted", text="the rail falls")]
    )
    assert verdict.reason == "the rail falls: contradicted (seen)"


def test_the_reason_says_how_many_predictions_were_not_measured():
    verdict = verdict_of(RIVAL, [judged("met"), judged("not measured")])
    assert verdict.word == "compatible"
    assert verdict.reason.endswith("1 of 2 predictions not measured")


def test_the_reason_of_zeros_gives_the_counts():
    assert verdict_of(RIVAL, [ZEROS]).reason == "provoked: 0 of 40"


@given(st.integers(1, 100_000))
def test_the_bound_of_zeros_is_shown_and_rounded_upwards(attempts):
    said = word(judged("contradicted", "symptom", (0, attempts)))
    shown = re.fullmatch(r"not reproduced, p < ([\d.e-]+) %", said)
    assert shown, said
    exact = 100 * upper_bound(0, attempts)
    # Never below the bound (1e-9 of rounding), nor more than a tenth above it.
    assert exact - 1e-9 <= float(shown[1]) <= 1.1 * exact


@given(
    st.lists(
        st.builds(
            judged,
            st.sampled_from(["met", "contradicted", "undetermined", "not measured"]),
            st.sampled_from(["necessary", "expected", "symptom", "control"]),
            st.sampled_from([None, (0, 20), (3, 20), (20, 20)]),
        ),
        max_size=5,
    )
)
def test_every_combination_gets_one_of_the_six_words(parts):
    verdict = verdict_of(RIVAL, parts)
    plain = re.sub(r"p < .* %", "p < x", verdict.word)
    assert plain in [rule.partition(":")[0] for rule in RULES]
    assert verdict.reason


def test_the_table_lists_the_rules_below_the_verdicts():
    table = Verdicts((verdict_of(RIVAL, [ZEROS]),)).table()
    assert table.rows[0][:3] == (
        "H1",
        "The brick is too weak",
        "not reproduced, p < 7.3 %",
    )
    assert table.notes[1:] == RULES


def test_the_predictions_table_shows_what_was_expected_and_seen():
    table = Verdicts((verdict_of(RIVAL, [ZEROS]),)).predictions()
    assert table.rows == (
        (
            "H1",
            "a symptom prediction",
            "symptom",
            "x within 0 and 1",
            "contradicted",
            "0 of 40",
            "",
            "not recorded when",
        ),
    )


# The same through a case.


def test_a_provocation_with_its_control_is_judged_from_recorded_counts(case):
    case.record("lost", "17 of 20", at="weak brick")
    case.record("kept", "0 of 20", at="strong brick")
    rival = case.hypothesis("H2", "The brick is too weak")
    rival.predicts("lost, weak", case["lost"].at_least(0.5), role="symptom")
    rival.predicts("kept, strong", case["kept"].at_most(0.2), role="control")
    (verdict,) = case.verdicts().verdicts
    assert verdict.word == "sufficient on this sample"
    assert str(case.conclude("{H2}")) == "sufficient on this sample"


def test_a_misspelt_role_is_refused_with_the_four_that_exist(case):
    case.record("lost", "17 of 20")
    rival = case.hypothesis("H1", "The brick is too weak")
    with pytest.raises(InputError, match="role 'sympton'; use necessary, expected"):
        rival.predicts("lost", case["lost"].at_least(0.5), role="sympton")


def test_a_prediction_written_again_replaces_itself(case):
    case.record("lost", "17 of 20")
    rival = case.hypothesis("H1", "The brick is too weak")
    rival.predicts("lost", case["lost"].at_least(0.5))
    rival.predicts("lost", case["lost"].at_least(0.6))
    (verdict,) = case.verdicts().verdicts
    assert len(verdict.judged) == 1


def test_the_interval_beside_a_zero_is_rounded_outwards(case):
    case.record("lost", "0 of 20")
    rival = case.hypothesis("H1", "The brick is too weak")
    rival.predicts("lost", case["lost"].at_least(0.5), role="symptom")
    (verdict,) = case.verdicts().verdicts
    shown = re.search(r"to ([\d.]+) %", verdict.judged[0].detail)
    assert shown
    assert float(shown[1]) >= 100 * exact_limits(0, 20)[1]


def test_a_rival_without_predictions_says_so():
    found = verdict_of(Hypothesis("H1", "It is the socket"), [])
    assert found.word == "not tested"
    assert found.reason == "it predicts nothing yet, so nothing could contradict it"


def test_a_verdict_says_which_of_its_predictions_came_after_the_data():
    outcomes = [("met", BEFORE), ("undetermined", AFTER), ("not measured", AFTER)]
    parts = [
        replace(judged(outcome, text=f"{outcome} one"), written=f"{written}: a row")
        for outcome, written in outcomes
    ]
    notes = Verdicts((verdict_of(RIVAL, parts),)).table().notes
    late = "H1 rests also on what was predicted after the data: undetermined one."
    assert notes[0] == late
    early = Verdicts((verdict_of(RIVAL, parts[:1]),)).table()
    assert "after the data" not in str(early)


def test_a_withdrawn_prediction_stays_below_those_of_its_own_rival():
    other = Hypothesis("H2", "The plug is loose")
    verdicts = tuple(verdict_of(rival, [judged("met")]) for rival in (RIVAL, other))
    gone = Withdrawn("H2", "it wobbles", "expected", "x above 1", AFTER, "left out")
    table = Verdicts(verdicts, withdrawn=(gone,)).predictions()
    assert [row[:2] for row in table.rows] == [
        ("H1", "a necessary prediction"),
        ("H2", "a necessary prediction"),
        ("H2", "it wobbles"),
    ]
    assert table.rows[2][4:6] == ("not judged", "left out")
    assert table.states == ("", "", "superseded")

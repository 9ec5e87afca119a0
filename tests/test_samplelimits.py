"""What a case does not show, said from verdicts and sample."""

from dataclasses import replace

import pytest

from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.samplelimits import (
    Deviation,
    not_shown,
    resting_on,
    units_sentence,
)
from benchproof.reasoning.verdicts import (
    AFTER,
    BEFORE,
    Hypothesis,
    Judged,
    Prediction,
    Verdict,
)
from benchproof.values.errors import InputError

CABLE = Deviation("cable", "different", ("H1",))
AGE = Deviation("age", "unknown")


def verdict(name, word, reason="seen"):
    return Verdict(Hypothesis(name, name), word, reason, ())


ALL = [
    verdict("H1", "sufficient on this sample"),
    verdict("H2", "not reproduced, p < 7.3 %"),
    verdict("H3", "not tested"),
    verdict("H4", "undetermined", "close to the limit"),
    verdict("H5", "contradicted"),
    verdict("H6", "compatible"),
]


@pytest.mark.parametrize(
    ("units", "bound"),
    # 1 - 0.05^(1/n), rounded upwards to one decimal.
    [(1, "95 %"), (2, "77.7 %"), (3, "63.2 %"), (10, "25.9 %"), (59, "5 %")],
)
def test_alike_units_leave_room_for_a_bounded_share_of_others(units, bound):
    assert f"up to {bound} of the others" in units_sentence(units)


def test_no_unit_at_all_is_refused():
    with pytest.raises(InputError, match="0 units tested: give"):
        units_sentence(0)


def test_a_sufficient_cause_is_not_called_the_cause_in_the_field():
    said = not_shown(ALL, [], 1)
    assert any("(H1) is not thereby the cause in the field" in s for s in said)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ([BEFORE], ""),
        ([BEFORE, AFTER], "H1 rests also on 1 prediction written after the data."),
        ([AFTER, AFTER], "H1 rests also on 2 predictions written after the data."),
    ],
)
def test_a_sufficient_rival_says_how_much_of_it_came_after_the_data(written, words):
    prediction = Prediction("seen", Criterion("x", 0.0, 1.0, "x"), "symptom")
    judged = tuple(Judged(prediction, "met", "", written=w) for w in written)
    said = not_shown([replace(ALL[0], judged=judged)], [], 1)
    assert [s for s in said if "rests also" in s] == ([words] if words else [])


def test_without_a_sufficient_rival_the_bench_is_still_not_the_field():
    assert "need not be the cause in the field" in not_shown([ALL[4]], [], 1)[1]


def test_each_open_verdict_says_what_it_leaves_open():
    said = " ".join(not_shown(ALL, [], 1))
    assert "H2 (p < 7.3 %) was not reproduced: what was shown is the bound" in said
    assert "H3 was not tested: nothing here speaks for or against." in said
    assert "H4 is undetermined: close to the limit." in said
    assert "H6 is compatible, which is less than shown" in said
    assert "H5" not in said


def test_nothing_is_called_impossible_or_settled_for_good():
    said = " ".join(not_shown(ALL, [CABLE, AGE], 1)).lower()
    for word in ("never", "proved", "confirmed", "impossible", "ruled out"):
        assert word not in said


def test_fields_of_one_kind_share_a_sentence_that_names_what_each_bears_on():
    plug = Deviation("plug", "different", ("H2", "H3"))
    (said,) = not_shown(ALL, [CABLE, plug], 1)[-1:]
    assert said == (
        "Different between the reported device and the tested sample, which may change "
        "the verdicts in brackets: cable (H1); plug (H2, H3)."
    )


def test_fields_of_which_nobody_said_what_they_touch_are_said_apart():
    said = not_shown(ALL, [CABLE, AGE, Deviation("hood", "unknown")], 1)
    assert "cable (H1)" in said[-2]
    assert said[-1] == (
        "Unknown between the reported device and the tested sample, and nobody said "
        "which verdicts it bears on: age; hood."
    )


def test_rivals_with_the_same_open_end_share_a_sentence():
    zeros = [verdict("H4", "not reproduced, p < 9.6 %"), ALL[1]]
    said = not_shown([*zeros, ALL[2], verdict("H7", "not tested")], [], 1)
    assert "H4 (p < 9.6 %), H2 (p < 7.3 %) were not reproduced" in " ".join(said)
    assert "H3, H7 were not tested" in " ".join(said)


def test_every_verdict_stands_beside_the_fields_it_rests_on():
    table = resting_on(ALL[:2], [CABLE, AGE])
    assert table.rows == (("H1", "sufficient on this sample", "cable (different)"),)
    assert table.notes == (
        "Nobody said which verdicts these bear on, so all may: age (unknown).",
    )

"""What a case does not show, said from verdicts and sample."""

import pytest

from benchproof.reasoning.samplelimits import (
    Deviation,
    not_shown,
    resting_on,
    units_sentence,
)
from benchproof.reasoning.verdicts import Hypothesis, Verdict
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
    with pytest.raises(InputError):
        units_sentence(0)


def test_a_sufficient_cause_is_not_called_the_cause_in_the_field():
    said = not_shown(ALL, [], 1)
    assert any("(H1) is not thereby the cause in the field" in s for s in said)


def test_without_a_sufficient_rival_the_bench_is_still_not_the_field():
    assert "need not be the cause in the field" in not_shown([ALL[4]], [], 1)[1]


def test_each_open_verdict_says_what_it_leaves_open():
    said = " ".join(not_shown(ALL, [], 1))
    assert "its bound (p < 7.3 %) is what was shown, not its absence" in said
    assert "H3 was not tested" in said
    assert "H4 is undetermined: close to the limit." in said
    assert "H6 is compatible, which is less than shown" in said
    assert "H5" not in said


def test_nothing_is_called_impossible_or_settled_for_good():
    said = " ".join(not_shown(ALL, [CABLE, AGE], 1)).lower()
    for word in ("never", "proved", "confirmed", "impossible", "ruled out"):
        assert word not in said


def test_a_difference_names_the_verdicts_it_bears_on():
    said = not_shown(ALL, [CABLE, AGE], 1)
    assert said[-2].endswith("it bears on H1 (sufficient on this sample).")
    assert said[-1].startswith("age: unknown between")
    assert said[-1].endswith("it may bear on any.")


def test_every_verdict_stands_beside_the_fields_it_rests_on():
    table = resting_on(ALL[:2], [CABLE, AGE])
    assert table.rows == (("H1", "sufficient on this sample", "cable (different)"),)
    assert table.notes == (
        "Nobody said which verdicts these bear on, so all may: age (unknown).",
    )

"""Stop rules: said in words and checked."""

import pytest

from benchproof.reasoning.plans import StopRule
from benchproof.values.errors import InputError


def test_a_rule_says_all_its_ends():
    rule = StopRule(attempts=20, occurrences=2, exposure=46, unit="h")
    assert str(rule) == (
        "stop after 20 attempts of a condition, or at occurrence 2, or after 46 h, "
        "whichever comes first"
    )
    assert str(StopRule(attempts=20)) == "stop after 20 attempts of a condition"


@pytest.mark.parametrize(
    ("seen", "reason"),
    [
        ((19, 1, 45.9), ""),
        ((20, 1, 0.0), "20 of 20 attempts made"),
        ((3, 2, 0.0), "occurrence 2 of 2 reached"),
        ((3, 0, 46.0), "46 of 46 h watched"),
    ],
)
def test_each_end_is_reached_when_it_is(seen, reason):
    rule = StopRule(attempts=20, occurrences=2, exposure=46)
    assert rule.reached(*seen) == reason


def test_a_rule_that_looks_at_occurrences_makes_no_binomial_count():
    assert StopRule(attempts=20).binomial
    assert not StopRule(attempts=20, occurrences=1).binomial


@pytest.mark.parametrize("ends", [{}, {"attempts": 0}, {"exposure": float("nan")}])
def test_a_rule_without_an_end_is_refused(ends):
    with pytest.raises(InputError, match="at least one end"):
        StopRule(**ends)

"""Exact limits of counts as published, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.

Not among them, since rates per hour have no public name yet: exact limits of a Poisson
count (Garwood 1936), intervals of a mean time between failures and the length of a
life test (NIST/SEMATECH e-Handbook, 8.4.5.1 and 8.3.1.3).
"""

import pytest
from published.printed import half_a_digit

from benchproof.reasoning.trials import exact_limits, upper_bound


# Clopper and Pearson, Biometrika 26 (1934) 404, two-sided 95 % limits. Recalled,
# recomputed agrees. Half of the last digit.
@pytest.mark.parametrize(
    ("count", "attempts", "low", "high"),
    [
        (0, 10, 0.0, 0.3085),
        (1, 10, 0.0025, 0.4450),
        (5, 10, 0.1871, 0.8129),
        (0, 20, 0.0, 0.1684),
        (0, 30, 0.0, 0.1157),
        (1, 30, 0.0008, 0.1722),
    ],
)
def test_exact_limits_agree_with_the_published_table(count, attempts, low, high):
    assert exact_limits(count, attempts) == pytest.approx(
        (low, high), abs=half_a_digit(4)
    )


# 1 - 0.05^(1/n), close to 3/n; evaluated numerically, half of the last digit.
def test_no_event_in_forty_attempts_leaves_7_22_per_cent(case):
    assert upper_bound(0, 40) == pytest.approx(0.0722, abs=half_a_digit(4))
    case.record("lost", "0 of 40")
    rival = case.hypothesis("H1", "The brick is too weak")
    rival.predicts("alignment is lost", case["lost"].at_least(0.5), role="symptom")
    (verdict,) = case.verdicts().verdicts
    # Rounded upwards, or it would be no bound.
    assert verdict.word == "not reproduced, p < 7.3 %"


# Kurz, Lewitschnig and Pilz, IEEE Transactions on Reliability (2014), one-sided. Read
# and recomputed.
def test_five_of_a_hundred_thousand_have_the_published_bound():
    assert upper_bound(5, 100_000) == pytest.approx(0.0001051275, abs=half_a_digit(10))


def test_64972_attempts_are_the_fewest_that_bound_eight_events_by_200_ppm():
    assert upper_bound(8, 64_972, 0.90) <= 0.0002
    assert upper_bound(8, 64_971, 0.90) > 0.0002


# Hanley and Lippman-Hand, JAMA 249 (1983) 1743: three over n. Read and recomputed.
def test_the_rule_of_three_is_an_approximation_from_above():
    found = upper_bound(0, 300)
    assert found == pytest.approx(0.00994, abs=1e-5)
    assert found < 3 / 300


# Success-run theorem: the fewest attempts, none of them failing, that show a
# reliability R with confidence C. Read and recomputed; exact.
@pytest.mark.parametrize(
    ("reliability", "confidence", "attempts"),
    [
        (0.90, 0.90, 22),
        (0.90, 0.95, 29),
        (0.95, 0.90, 45),
        (0.95, 0.95, 59),
        (0.99, 0.90, 230),
        (0.99, 0.95, 299),
        (0.9973, 0.95, 1109),
    ],
)
def test_success_runs_have_the_published_lengths(reliability, confidence, attempts):
    assert upper_bound(0, attempts, confidence) <= 1 - reliability
    assert upper_bound(0, attempts - 1, confidence) > 1 - reliability

"""Conformity and agreement as published, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.
"""

import pytest
from published.printed import half_a_digit

from benchproof import conformance_probability


# JCGM 106:2012, 7.2-7.3; evaluated numerically: Φ(0.019/0.060) = 0.6242, printed 0.62.
def test_a_rail_a_third_of_u_above_its_limit_is_undetermined(case):
    probability = conformance_probability(8.819, 0.06, lower=8.800)
    assert probability == pytest.approx(0.62, abs=half_a_digit(2))
    case.constant("V_min", "8.819(60) V")
    rival = case.hypothesis("H1", "The rail stays above the reset threshold")
    rival.predicts("the rail stays up", case["V_min"].above("8.800 V"))
    (verdict,) = case.verdicts().verdicts
    assert verdict.word == "undetermined"
    assert "0.62" in verdict.reason


# JCGM 106:2012, 7.3, Table 1: how many u inside a limit give a probability of
# conformity. Recalled, recomputed agrees. Printed with two decimals: 0.005 of z moves
# the probability by less than 0.0015 there.
TABLE_1 = [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]


@pytest.mark.parametrize(("probability", "z"), TABLE_1)
def test_jcgm_106_table_1_agrees(probability, z):
    found = conformance_probability(-0.05 * z, 0.05, upper=0.0)
    assert found == pytest.approx(probability, abs=0.0015)


# The same from the other side: a verdict turns to met at the printed z. A step of
# 0.02 u to either side is more than the printed figure was rounded by.
@pytest.mark.parametrize(("probability", "z"), TABLE_1)
def test_jcgm_106_table_1_is_where_verdicts_turn(case, probability, z):
    for name, distance in (("inside", z + 0.02), ("just", z - 0.02)):
        case.constant(name, f"{5 - 0.05 * distance:.6f} ± 0.05 V")
        rival = case.hypothesis(f"H_{name}", "It stays below five volt")
        rival.predicts("it stays below", case[name].below("5 V"))
    found = [v.judged[0].outcome for v in case.verdicts(level=probability).verdicts]
    assert found == ["met", "undetermined"]


# JCGM 106:2012, 7.3.2 (breakdown voltage of a Zener diode). Recalled, recomputed
# agrees (0.9192); the clause's number from memory, too.
def test_jcgm_106_zener_diode_conforms_with_92_per_cent_through_a_case(case):
    case.constant("V_Z", "-5.470(50) V")
    rival = case.hypothesis("H1", "The diode is a good one")
    rival.predicts("it breaks down low enough", case["V_Z"].below("-5.40 V"))
    assert case.verdicts(level=0.90).verdicts[0].judged[0].outcome == "met"
    (strict,) = case.verdicts(level=0.95).verdicts
    assert strict.word == "undetermined"
    assert "probability 0.92" in strict.reason


# ILAC-G8:09/2019: guard bands in multiples of U = 2u, and the risk of accepting by
# mistake, at most. Recalled, recomputed agrees (9.9e-10, 0.135 %, 2.28 %, 4.85 %; at
# the limit itself one half, which "less than" does not hold for).
@pytest.mark.parametrize(
    ("multiple", "at_most"),
    [(3, 1e-6), (1.5, 0.0016), (1, 0.025), (0.83, 0.05)],
)
def test_ilac_g8_guard_bands_bound_the_false_acceptance(multiple, at_most):
    u = 0.05
    accepted_at = 10 - multiple * 2 * u
    mistaken = 1 - conformance_probability(accepted_at, u, upper=10.0)
    assert 0 < mistaken < at_most
    # Half as wide a guard band would not do: the bound tells the two apart.
    half = 1 - conformance_probability(10 - multiple * u, u, upper=10.0)
    assert half > at_most


def test_ilac_g8_no_guard_band_is_even_odds():
    assert conformance_probability(10.0, 0.05, upper=10.0) == pytest.approx(0.5)


# ISO 13528 and ISO/IEC 17043: E_n up to 1, with U = 2u. A definition with invented
# numbers; no published case was found. 0.001/√(0.0008² + 0.0006²) is 1 exactly, so a
# hundredth less agrees and a hundredth more does not.
@pytest.mark.parametrize(
    ("first", "outcome"), [("10.00099", "met"), ("10.00101", "undetermined")]
)
def test_two_results_agree_up_to_e_n_of_one(case, first, outcome):
    case.constant("x", f"{first} V, U = 0.8 mV, k = 2")
    case.constant("X", "10.00000 V, U = 0.6 mV, k = 2")
    rival = case.hypothesis("H1", "Both show the same")
    rival.predicts("they agree", case["x"].agrees_with("X"))
    (verdict,) = case.verdicts().verdicts
    assert verdict.judged[0].outcome == outcome

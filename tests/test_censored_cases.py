"""Censored readings through the formulas of a case, up to a verdict."""

# Quantities are named as at the bench, not as code usually is.
# ruff: noqa: N802

import pytest


@pytest.fixture
def leaking(case):
    case.record("R_leak", "OL Mohm", using="handheld")
    case.constant("V_rail", "3 V")
    case.constant("R_ref", "1 Gohm")

    @case.derive(unit="A")
    def I_leak(V_rail, R_leak):
        return V_rail / R_leak

    @case.derive(unit="A")
    def I_odd(V_rail, R_leak, R_ref):
        return V_rail / (R_leak - R_ref)

    return case


def test_a_leak_through_an_over_range_resistance_is_shown_as_a_bound(leaking):
    assert str(leaking["I_leak"]) == "< 50.45 nA"
    assert "from R_leak > 59.47 MΩ" in str(leaking["I_leak"].table())
    assert "< 50.45 nA" in str(leaking.report("quantities"))


def test_a_bounded_leak_decides_a_prediction(leaking):
    rival = leaking.hypothesis("H1", "It leaks")
    rival.predicts("more than 1 µA", leaking["I_leak"].above("1 uA"))
    rival.predicts("more than 10 nA", leaking["I_leak"].above("10 nA"), role="expected")
    said = leaking.verdicts()
    outcomes = [j.outcome for j in said.verdicts[0].judged]
    assert outcomes == ["contradicted", "undetermined"]
    assert "< 50.45 nA" in str(said.predictions())


def test_a_formula_that_allows_no_bound_says_why(leaking):
    assert str(leaking["I_odd"]) == "(no bound follows)"
    shown = dict(leaking["I_odd"].table().rows)["Bound"]
    assert shown.startswith("I_odd: no bound follows from R_leak > 59.47 MΩ")


def test_what_is_not_measured_beside_a_bound_is_still_waited_for(leaking):
    leaking.record("V_late", "? V")

    @leaking.derive(unit="A")
    def I_late(V_late, R_leak):
        return V_late / R_leak

    assert str(leaking["I_late"]) == "(not measured yet)"

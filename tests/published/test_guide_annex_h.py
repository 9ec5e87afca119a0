"""The examples of JCGM 100:2008, annex H, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.

Not among them: H.4 and H.6, whose figures were not at hand; H.5 (ten days of a Zener
voltage) is tested with the module of grouped readings.
"""

# Quantities are named as at the bench (V, I, R_source), not as code usually is.
# ruff: noqa: E741, N802

import math

import numpy as np
import pytest
from published.printed import half_a_digit

from benchproof import line_intercept, line_slope

NANOMETRE = 1e-9


# JCGM 100:2008, H.1 (end gauge), Table H.1. Read and recomputed.
# The three parts of d keep their own degrees of freedom. Rectangular half-widths
# are typed as (limits), that of the temperature's cyclic part as (arcsine).
def end_gauge(case, *, with_degrees_of_freedom):
    def dof(number):
        return number if with_degrees_of_freedom else None

    case.constant("standard", "50000623(25) nm", dof=dof(18))
    case.constant("d_repeats", "215.0(5.8) nm", dof=dof(24))
    case.constant("d_random", "0.0(3.9) nm", dof=dof(5))
    case.constant("d_systematic", "0.0(6.7) nm", dof=dof(8))
    case.constant("expansion", "11.5e-6 ± 2e-6 K^-1 (limits)")
    case.constant("expansion_difference", "0 ± 1e-6 K^-1 (limits)", dof=dof(50))
    case.constant("bed", "-0.1(2) K")
    case.constant("cycle", "0 ± 0.5 K (arcsine)")
    case.constant("temperature_difference", "0 ± 0.05 K (limits)", dof=dof(2))

    @case.derive(unit="nm")
    def difference(d_repeats, d_random, d_systematic):
        return d_repeats + d_random + d_systematic

    @case.derive(unit="K")
    def temperature(bed, cycle):
        return bed + cycle

    @case.derive(unit="nm")
    def length(
        standard,
        difference,
        expansion_difference,
        temperature,
        expansion,
        temperature_difference,
    ):
        thermal = expansion_difference * temperature
        return (
            standard
            + difference
            - standard * (thermal + expansion * temperature_difference)
        )


def test_gum_h1_end_gauge_agrees_in_its_linear_budget(case):
    end_gauge(case, with_degrees_of_freedom=True)
    budget = case.budget("length", level=0.99)
    assert budget.value / NANOMETRE == pytest.approx(50000838, abs=0.5)
    # Half of the last printed digit.
    assert budget.standard_uncertainty / NANOMETRE == pytest.approx(32, abs=0.5)
    # The standard truncates 16.75 to 16 and takes t from there.
    assert math.floor(budget.degrees_of_freedom) == 16
    assert budget.coverage_factor == pytest.approx(2.92, abs=half_a_digit(2))
    # 93 was printed as 2.92 times the rounded 32; unrounded it is 92.5.
    assert budget.expanded_uncertainty / NANOMETRE == pytest.approx(93, abs=1)


def test_gum_h1_contributions_agree_source_by_source(case):
    end_gauge(case, with_degrees_of_freedom=True)
    found = {
        line.source.name.partition(" · ")[0]: abs(line.contribution) / NANOMETRE
        for line in case.budget("length").lines
    }
    assert found["standard"] == pytest.approx(25, abs=0.5)
    assert found["expansion_difference"] == pytest.approx(2.9, abs=half_a_digit(1))
    # 16.6 was printed as (11.5e-6)(0.0289)(50 mm) with rounded factors.
    assert found["temperature_difference"] == pytest.approx(16.6, abs=0.05)
    assert found["expansion"] == found["bed"] == found["cycle"] == 0.0
    assert case["difference"].standard_uncertainty == pytest.approx(9.7, abs=0.05)
    assert case["temperature"].standard_uncertainty == pytest.approx(0.41, abs=0.005)


def test_gum_h1_second_order_shows_only_in_monte_carlo(case):
    # Without degrees of freedom, as a t distribution would widen the result by more
    # than the second-order terms do.
    end_gauge(case, with_degrees_of_freedom=False)
    drawn = case.monte_carlo("length", draws=200_000)
    # u of 2e5 draws scatters by 0.05 nm; exact 33.81, printed 34.
    assert drawn.standard_uncertainty / NANOMETRE == pytest.approx(33.81, abs=0.25)
    linear = case.budget("length").standard_uncertainty / NANOMETRE
    assert linear == pytest.approx(31.66, abs=0.01)
    assert not drawn.linear_holds


# JCGM 100:2008, H.1.7: with the second-order terms 34 nm. Read and recomputed (33.81).
def test_gum_h1_budget_itself_says_that_34_nanometre_is_nearer(case):
    end_gauge(case, with_degrees_of_freedom=True)
    said = " ".join(case.budget("length").caveats)
    assert "first-order u = 32 nm" in said
    assert "second-order terms 34 nm" in said


# JCGM 100:2008, H.2 (resistance and reactance), Table H.2. Read and recomputed.
SETS = {
    "V": "5.007 4.994 5.005 4.990 4.999 V",
    "I": "19.663 19.639 19.640 19.685 19.678 mA",
    "phi": "1.0456 1.0438 1.0468 1.0428 1.0433 rad",
}


def impedance(case):
    @case.derive(unit="ohm")
    def R(V, I, phi):
        return V / I * np.cos(phi)

    @case.derive(unit="ohm")
    def X(V, I, phi):
        return V / I * np.sin(phi)

    @case.derive(unit="ohm")
    def Z(V, I):
        return V / I


@pytest.mark.parametrize(
    ("name", "mean", "mean_decimals", "u", "u_decimals"),
    [
        ("V", 4.999, 3, 0.0032, 4),
        ("I", 19.661, 3, 0.0095, 4),
        ("phi", 1.04446, 5, 0.00075, 5),
    ],
)
def test_gum_h2_inputs_agree_with_table_h2(
    case, name, mean, mean_decimals, u, u_decimals
):
    case.record_together(SETS)
    found = case[name].value.magnitude.nominal_value
    # Half of the last printed digit.
    assert found == pytest.approx(mean, abs=half_a_digit(mean_decimals))
    assert case[name].standard_uncertainty == pytest.approx(
        u, abs=half_a_digit(u_decimals)
    )


@pytest.mark.parametrize(
    ("first", "second", "r"),
    [("V", "I", -0.36), ("V", "phi", 0.86), ("I", "phi", -0.65)],
)
def test_gum_h2_correlations_of_the_inputs_agree(case, first, second, r):
    case.record_together(SETS)
    assert case.correlation(first, second) == pytest.approx(r, abs=half_a_digit(2))


# JCGM 100:2008, H.2, Tables H.3 and H.4. Read and recomputed. Tolerance one unit of
# the last digit: the second approach of the example differs by that much from the
# first; 0.002 for u(X), printed 0.295 where the exact value is 0.2956.
@pytest.mark.parametrize(
    ("name", "value", "u", "tolerance"),
    [
        ("R", 127.732, 0.071, 0.001),
        ("X", 219.847, 0.295, 0.002),
        ("Z", 254.260, 0.236, 0.001),
    ],
)
def test_gum_h2_results_agree_when_sets_are_kept(case, name, value, u, tolerance):
    case.record_together(SETS)
    impedance(case)
    budget = case.budget(name)
    assert budget.value == pytest.approx(value, abs=0.001)
    assert budget.standard_uncertainty == pytest.approx(u, abs=tolerance)


@pytest.mark.parametrize(
    ("first", "second", "r"),
    [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)],
)
def test_gum_h2_results_are_correlated_as_published(case, first, second, r):
    case.record_together(SETS)
    impedance(case)
    assert case.correlation(first, second) == pytest.approx(r, abs=0.001)


def test_gum_h2_has_the_degrees_of_freedom_of_its_five_sets(case):
    case.record_together(SETS)
    impedance(case)
    # Approach 2 of H.2.4: five values of R, hence four. Exact by construction.
    assert case.budget("R").degrees_of_freedom == pytest.approx(4)


# JCGM 100:2008, H.2, Table H.5: what dropping the correlations gives. Recalled,
# recomputed agrees. It is the wrong answer for these sets, and must differ from the
# right one; tolerance half of the last digit.
@pytest.mark.parametrize(("name", "u"), [("R", 0.195), ("X", 0.201), ("Z", 0.204)])
def test_gum_h2_recorded_apart_gives_the_uncorrelated_figures(case, name, u):
    for measurand, text in SETS.items():
        case.record(measurand, text)
    impedance(case)
    found = case[name].standard_uncertainty
    assert found == pytest.approx(u, abs=half_a_digit(3))


@pytest.mark.parametrize(
    ("first", "second", "r"), [("R", "X", 0.056), ("R", "Z", 0.527), ("X", "Z", 0.878)]
)
def test_gum_h2_recorded_apart_gives_the_uncorrelated_r(case, first, second, r):
    for measurand, text in SETS.items():
        case.record(measurand, text)
    impedance(case)
    assert case.correlation(first, second) == pytest.approx(r, abs=half_a_digit(3))


# JCGM 100:2008, H.3 (calibration of a thermometer), Table H.6 and H.3.3-H.3.4. Read
# and recomputed. Half of the last digit. As the standard does, each correction has
# the u of the residuals' s = 0.0035 °C (unrounded 0.003497); the temperatures are
# exact and counted from 20 °C.
TEMPERATURES = [
    *(1.521, 2.012, 2.512, 3.003, 3.507, 3.999),
    *(4.513, 5.002, 5.503, 6.010, 6.511),
]
CORRECTIONS = [
    *(-0.171, -0.169, -0.166, -0.159, -0.164, -0.165),
    *(-0.156, -0.157, -0.159, -0.161, -0.160),
]


def thermometer(case):
    for number, correction in enumerate(CORRECTIONS):
        case.constant(f"b{number}", f"{correction} ± 0.003497 K")

    @case.derive(unit="K")
    def y1(b0, b1, b2, b3, b4, b5, b6, b7, b8, b9, b10):
        corrections = [b0, b1, b2, b3, b4, b5, b6, b7, b8, b9, b10]
        return line_intercept(TEMPERATURES, corrections)

    @case.derive(unit="K")
    def y2(b0, b1, b2, b3, b4, b5, b6, b7, b8, b9, b10):
        corrections = [b0, b1, b2, b3, b4, b5, b6, b7, b8, b9, b10]
        return line_slope(TEMPERATURES, corrections)

    @case.derive(unit="K")
    def at_30(y1, y2):
        return y1 + 10 * y2


def test_gum_h3_thermometer_line_agrees_through_a_case(case):
    thermometer(case)
    intercept, slope = case.budget("y1"), case.budget("y2")
    assert intercept.value == pytest.approx(-0.1712, abs=half_a_digit(4))
    assert intercept.standard_uncertainty == pytest.approx(0.0029, abs=half_a_digit(4))
    assert slope.value == pytest.approx(0.00218, abs=half_a_digit(5))
    assert slope.standard_uncertainty == pytest.approx(0.00067, abs=half_a_digit(5))
    assert case.correlation("y1", "y2") == pytest.approx(-0.930, abs=half_a_digit(3))


def test_gum_h3_correction_at_30_degrees_counts_the_covariance(case):
    thermometer(case)
    budget = case.budget("at_30")
    assert budget.value == pytest.approx(-0.1494, abs=half_a_digit(4))
    assert budget.standard_uncertainty == pytest.approx(0.0041, abs=half_a_digit(4))
    # Without the covariance it would be 0.0073: the check must tell the two apart.
    apart = math.hypot(
        case["y1"].standard_uncertainty, 10 * case["y2"].standard_uncertainty
    )
    assert apart == pytest.approx(0.0073, abs=half_a_digit(4))

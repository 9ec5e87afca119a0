"""The examples of EA-4/02, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.
"""

# Quantities are named as in the document.
# ruff: noqa: N802

import math

import pytest
from published.printed import half_a_digit

from benchproof import coverage_factor


# EA-4/02, example S2 (10 kg weight). Partly read, the rest recalled; recomputed
# agrees. 8.95 mg is as printed (15/√3 would be 8.66). The figure is rounded to 0.1 mg
# and to 1 mg for U.
def test_ea_4_02_s2_weight_agrees(case):
    case.constant("standard", "0.0(22.5) mg")
    case.constant("drift", "0.00 ± 8.95 mg")
    case.constant("difference", "0.0(14.4) mg", dof=2)
    case.constant("eccentricity", "0.00 ± 5.77 mg")
    case.constant("buoyancy", "0.00 ± 5.77 mg")

    @case.derive(unit="mg")
    def weight(standard, drift, difference, eccentricity, buoyancy):
        return standard + drift + difference + eccentricity + buoyancy

    budget = case.budget("weight", level=0.9545)
    milligram = 1e-6  # in SI
    assert budget.standard_uncertainty / milligram == pytest.approx(29.3, abs=0.1)
    # The example takes k = 2 (normal, 95.45 %); degrees of freedom taken strictly
    # give 2.08 and 61 mg.
    plain = coverage_factor(0.9545) * budget.standard_uncertainty
    assert plain / milligram == pytest.approx(59, abs=1)
    assert math.floor(budget.degrees_of_freedom) == 34
    assert budget.coverage_factor == pytest.approx(2.08, abs=0.01)
    assert budget.expanded_uncertainty / milligram == pytest.approx(61, abs=1)


# EA-4/02, example S3 (10 kΩ standard resistor by substitution). Budget, u, k and U
# read; estimates and observations recalled, consistent; recomputed agrees (8.328 mΩ
# unrounded). The observed ratio's u is s/√5 of five observations.
def test_ea_4_02_s3_standard_resistor_agrees(case):
    case.record(
        "ratio", "1.0000104 1.0000107 1.0000106 1.0000103 1.0000105 dimensionless"
    )
    case.constant("R_S", "10000.0530 ohm, U = 5 mohm, k = 2")
    case.constant("drift", "0.020 ± 0.010 ohm (limits)")
    case.constant("warm_S", "0 ± 2.75 mohm (limits)")
    case.constant("warm_X", "0 ± 5.5 mohm (limits)")
    case.constant("leakage", "1 ± 1e-6 (triangular)")

    @case.derive(unit="ohm")
    def R_X(R_S, drift, warm_S, warm_X, leakage, ratio):
        return (R_S + drift + warm_S) * leakage * ratio - warm_X

    # 0.0707e-6, printed with three figures.
    assert case["ratio"].standard_uncertainty == pytest.approx(7.07e-8, abs=5e-11)
    budget = case.budget("R_X", level=0.9545)
    milliohm = 1e-3
    assert budget.value == pytest.approx(10000.178, abs=half_a_digit(3))
    assert budget.standard_uncertainty / milliohm == pytest.approx(8.33, abs=0.01)
    assert budget.coverage_factor == pytest.approx(2.00, abs=0.01)
    assert budget.expanded_uncertainty / milliohm == pytest.approx(17, abs=1)


# EA-4/02, example S4 (gauge block of 50 mm). Read and recomputed (36.41 nm).
# Contributions as printed, within 0.2 nm; two of them with their sensitivities,
# 575 nm/°C and 50 mm.
def test_ea_4_02_s4_gauge_block_agrees(case):
    case.constant("standard", "0.0(15.0) nm")
    case.constant("drift", "0.0(17.3) nm")
    case.constant("comparison", "0.00(5.37) nm")
    case.constant("variation", "0.0(18.5) nm")
    case.constant("t_difference", "0 ± 0.05 K (limits)")
    case.constant("per_kelvin", "575 nm/K")
    case.constant("expansions", "0 ± 0.236e-6")
    case.constant("nominal", "50 mm")
    case.constant("off_centre", "0.00(3.87) nm")

    @case.derive(unit="nm")
    def length(
        standard, drift, comparison, variation, t_difference, per_kelvin,
        expansions, nominal, off_centre,
    ):  # fmt: skip
        warmth = t_difference * per_kelvin + expansions * nominal
        return standard + drift + comparison + variation + warmth + off_centre

    budget = case.budget("length", level=0.9545)
    nanometre = 1e-9
    assert budget.standard_uncertainty / nanometre == pytest.approx(36.4, abs=0.2)
    assert budget.expanded_uncertainty / nanometre == pytest.approx(73, abs=0.5)


# EA-4/02, example S5 (type N thermocouple at 1000 °C), u and sensitivity of each
# contribution. Read and recomputed (0.6405).
def test_ea_4_02_s5_thermocouple_agrees(case):
    case.constant("t_S", "1000.0 ± 0.1 K")
    case.constant("V_1", "0.0 ± 1.0 µV")
    case.constant("V_2", "0.00 ± 0.29 µV")
    case.constant("V_3", "0.00 ± 1.15 µV")
    case.constant("per_microvolt", "0.077 K/µV")
    case.constant("reference", "0.000 ± 0.058 K")
    case.constant("reference_slope", "-0.407")
    case.constant("drift", "0.00 ± 0.15 K")
    case.constant("furnace_drift", "0.000 ± 0.173 K")
    case.constant("furnace_gradient", "0.000 ± 0.577 K")

    @case.derive(unit="K")
    def t_X(
        t_S, V_1, V_2, V_3, per_microvolt, reference, reference_slope,
        drift, furnace_drift, furnace_gradient,
    ):  # fmt: skip
        voltages = per_microvolt * (V_1 + V_2 + V_3) + reference_slope * reference
        return t_S + voltages + drift + furnace_drift + furnace_gradient

    budget = case.budget("t_X", level=0.9545)
    assert budget.standard_uncertainty == pytest.approx(0.641, abs=0.001)
    assert budget.expanded_uncertainty == pytest.approx(1.3, abs=0.05)


# EA-4/02, example S6 (power sensor at 19 GHz): relative contributions, those of the
# mismatch U-shaped. Read and recomputed (0.02235). Half-widths of the U-shaped ones
# are √2 times the u printed.
def test_ea_4_02_s6_power_sensor_agrees(case):
    case.constant("standard", "1 ± 0.009")
    case.constant("drift", "1 ± 0.0025")
    case.constant("linearity", "1 ± 0.0011")
    case.constant("mismatch", f"1 ± {0.02 * 2**0.5} (arcsine)")
    case.constant("reference", f"1 ± {0.0017 * 2**0.5} (arcsine)")
    case.constant("p_1", "1 ± 0.0003")
    case.constant("p_2", "1 ± 0.0003")
    case.constant("p_3", "1 ± 0.002")
    case.constant("p_4", "1 ± 0.002")

    @case.derive(unit="")
    def K_X(standard, drift, linearity, mismatch, reference, p_1, p_2, p_3, p_4):
        ratio = p_1 / p_2 * p_3 / p_4
        return standard * drift * linearity * mismatch / reference * ratio

    budget = case.budget("K_X", level=0.9545)
    assert budget.standard_uncertainty == pytest.approx(0.0224, abs=1e-4)
    assert budget.expanded_uncertainty == pytest.approx(0.045, abs=half_a_digit(3))


# EA-4/02, example S11 (block calibrator at 180 °C), contributions in millikelvin. u
# read, recomputed agrees (164.1). k was printed as 1.81; the distribution of the two
# largest sources, rectangular with 250 and 100 mK, gives 1.797: within 1 %.
def test_ea_4_02_s11_block_calibrator_names_the_factor_of_its_two_rectangles(case):
    contributions = {"a": 15, "b": 10, "c": 23, "d": 29, "g": 29, "h": 17}
    for name, u in contributions.items():
        case.constant(name, f"0 ± {u} mK")
    case.constant("e", "0 ± 100 mK (limits)")
    case.constant("f", "0 ± 250 mK (limits)")

    @case.derive(unit="mK")
    def deviation(a, b, c, d, e, f, g, h):
        return a + b + c + d + e + f + g + h

    budget = case.budget("deviation")
    millikelvin = 1e-3
    assert budget.standard_uncertainty / millikelvin == pytest.approx(164, abs=0.5)
    (caveat,) = budget.caveats
    assert "f · stated and e · stated: rectangular" in caveat
    nearer = float(caveat.partition("nearer to k = ")[2].partition(":")[0])
    assert nearer == pytest.approx(1.81, rel=0.01)
    assert nearer * budget.standard_uncertainty == pytest.approx(0.3, abs=0.05)


# EA-4/02, example S12.14 (household water meter): three repeats and a large share of
# them. Read and recomputed (9.07e-4, 10.44, 2.284); 95.45 %.
def test_ea_4_02_s12_water_meter_has_few_degrees_of_freedom(case):
    case.constant("repeats", "0 ± 0.0006", dof=2)
    case.constant("errors", "0 ± 0.00068")

    @case.derive(unit="")
    def deviation(repeats, errors):
        return repeats + errors

    budget = case.budget("deviation", level=0.9545)
    assert budget.standard_uncertainty == pytest.approx(0.00091, abs=half_a_digit(5))
    assert math.floor(budget.degrees_of_freedom) == 10
    assert budget.coverage_factor == pytest.approx(2.28, abs=0.01)
    assert budget.expanded_uncertainty == pytest.approx(0.002, abs=half_a_digit(3))

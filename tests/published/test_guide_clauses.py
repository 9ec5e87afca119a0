"""The examples in the clauses of JCGM 100:2008, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.

Table E.1 (how well s is known from n readings) is tested with the module of repeats.
"""

import pytest
from published.printed import half_a_digit

from benchproof import coverage_factor, effective_degrees_of_freedom, summarise

# JCGM 100:2008, 4.4.3, Table 1. Recalled, recomputed agrees. Half of the last digit.
# The table is sorted, not in the order of time, and rising readings would be refused
# s/√n: here every seventh follows.
SORTED = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip
TEMPERATURES = [SORTED[7 * i % 20] for i in range(20)]


def test_gum_4_4_3_twenty_temperatures_agree():
    found = summarise(TEMPERATURES)
    assert found.mean == pytest.approx(100.145, abs=half_a_digit(3))
    assert found.standard_deviation == pytest.approx(1.489, abs=half_a_digit(3))
    assert found.standard_uncertainty == pytest.approx(0.333, abs=half_a_digit(3))


def test_gum_4_4_3_agrees_when_recorded_in_degrees_celsius(case):
    case.record("oven", " ".join(f"{t:.2f}" for t in TEMPERATURES) + " °C")
    assert case["oven"].value.magnitude.nominal_value == pytest.approx(
        100.145, abs=half_a_digit(3)
    )
    assert case["oven"].standard_uncertainty == pytest.approx(
        0.333, abs=half_a_digit(3)
    )
    assert case.budget("oven").degrees_of_freedom == 19


# JCGM 100:2008, 4.3.3 to 4.3.7 and 4.4.5 to 4.4.6: what certificates and limits say.
# Recalled, recomputed agrees. Half of the last digit printed, in the unit printed.
@pytest.mark.parametrize(
    ("text", "in_si", "printed", "tolerance"),
    [
        # 4.3.3: a mass of nominally 1 kg, 240 µg "at three standard deviations".
        ("1000.000325 g, U = 240 µg, k = 3", 1e-9, 80, 0.5),
        # 4.3.4: a resistor, 129 µΩ "at a level of confidence of 99 percent".
        ("10.000742 ohm, U = 129 µohm, 99 %", 1e-6, 50, 0.5),
        # 4.3.5: a length, as likely inside 10.07 to 10.15 mm as outside.
        ("10.11 ± 0.04 mm (50 %)", 1e-3, 0.06, 0.005),
        # 4.3.7, example 1: the expansion of copper within 0.40e-6 per °C.
        ("16.52e-6 ± 0.40e-6 K^-1 (limits)", 1e-6, 0.23, 0.005),
        # 4.4.5: 96 to 104 °C, anything between equally likely.
        ("100 ± 4 °C (limits)", 1, 2.3, 0.05),
        # 4.4.6: the same, the middle likelier.
        ("100 ± 4 °C (triangular)", 1, 1.6, 0.05),
    ],
)
def test_gum_4_3_and_4_4_statements_have_the_printed_u(
    case, text, in_si, printed, tolerance
):
    case.constant("stated", text)
    found = case.budget("stated").standard_uncertainty / in_si
    assert found == pytest.approx(printed, abs=tolerance)


def test_gum_4_3_4_resistor_has_a_relative_u_of_five_millionths(case):
    case.constant("R_S", "10.000742 ohm, U = 129 µohm, 99 %")
    budget = case.budget("R_S")
    found = budget.standard_uncertainty / budget.value
    assert found == pytest.approx(5.0e-6, abs=half_a_digit(7))


# JCGM 100:2008, 5.2.2, example: ten resistors of 1000 Ω, each compared with one
# standard. Recalled, recomputed agrees. Half of the last digit; 1 Ω is exact.
def ten_in_series(case, r):
    names = [f"R{number}" for number in range(10)]
    for name in names:
        case.constant(name, "1000.00(10) ohm")
    if r:
        pairs = {(a, b): r for i, a in enumerate(names) for b in names[i + 1 :]}
        case.correlate(pairs, because="compared with one standard")

    @case.derive(unit="ohm")
    def series(R0, R1, R2, R3, R4, R5, R6, R7, R8, R9):
        return R0 + R1 + R2 + R3 + R4 + R5 + R6 + R7 + R8 + R9

    return case["series"].standard_uncertainty


def test_gum_5_2_2_errors_of_one_standard_add_up_linearly(case):
    assert ten_in_series(case, 1.0) == pytest.approx(1.0, abs=1e-9)


def test_gum_5_2_2_ten_standards_would_give_a_third_of_it(case):
    assert ten_in_series(case, 0.0) == pytest.approx(0.32, abs=half_a_digit(2))


# JCGM 100:2008, F.2.2.1: u = 0.29 δx. Read and recomputed. Half of the last digit.
def test_gum_f_2_2_1_resolution_of_one_step_is_0_29(case):
    # Readings that agree have no scatter; what is left is the display's step.
    case.record("steps", "7 7 7 V")
    assert case["steps"].standard_uncertainty == pytest.approx(
        0.29, abs=half_a_digit(2)
    )


# JCGM 100:2008, Table G.2. Recalled, recomputed agrees. Half of the last digit and a
# little, as the table rounds 2.845 up and down; 0.03 where it prints one decimal.
LEVELS = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)
TABLE_G2 = {
    1: (1.84, 6.31, 12.71, 13.97, 63.66, 235.80),
    2: (1.32, 2.92, 4.30, 4.53, 9.92, 19.21),
    3: (1.20, 2.35, 3.18, 3.31, 5.84, 9.22),
    4: (1.14, 2.13, 2.78, 2.87, 4.60, 6.62),
    5: (1.11, 2.02, 2.57, 2.65, 4.03, 5.51),
    10: (1.05, 1.81, 2.23, 2.28, 3.17, 3.96),
    16: (1.03, 1.75, 2.12, 2.17, 2.92, 3.54),
    20: (1.03, 1.72, 2.09, 2.13, 2.85, 3.42),
    50: (1.01, 1.68, 2.01, 2.05, 2.68, 3.16),
    100: (1.005, 1.660, 1.984, 2.025, 2.626, 3.077),
}


@pytest.mark.parametrize("dof", TABLE_G2)
def test_gum_table_g2_coverage_factors_agree(dof):
    for level, printed in zip(LEVELS, TABLE_G2[dof], strict=True):
        tolerance = 0.03 if printed > 200 else 0.006
        assert coverage_factor(level, dof) == pytest.approx(printed, abs=tolerance)


# JCGM 100:2008, G.4.1, example. Recalled, recomputed agrees. Half of the last digit.
def test_gum_g4_product_of_three_agrees(case):
    case.constant("first", "1.0000(25)", dof=9)
    case.constant("second", "1.0000(57)", dof=4)
    case.constant("third", "1.0000(82)", dof=14)

    @case.derive(unit="")
    def product(first, second, third):
        return first * second * third

    budget = case.budget("product")
    assert 100 * budget.standard_uncertainty == pytest.approx(1.03, abs=0.005)
    assert budget.degrees_of_freedom == pytest.approx(19.0, abs=0.05)
    assert 100 * budget.expanded_uncertainty == pytest.approx(2.2, abs=0.05)
    # Exactly it is 18.9987, truncated to 18 here; the example reads t at 19.
    assert coverage_factor(0.95, 19) == pytest.approx(2.09, abs=0.005)


def test_gum_g4_formula_alone_agrees():
    terms = [(0.25, 9), (0.57, 4), (0.82, 14)]
    assert effective_degrees_of_freedom(terms) == pytest.approx(19.0, abs=0.05)

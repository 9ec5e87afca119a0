"""The examples of JCGM 101:2008 (Monte Carlo), through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.

9.4 with correlated inputs is not among them: its figures were not at hand.
"""

import math

import pytest
from published.printed import half_a_digit

NANOMETRE = 1e-9


# JCGM 101:2008, 9.2.2 (read, recomputed) and 9.2.3 (recalled, recomputed). The ends
# of 10^6 draws scatter by 0.005 (normal); 0.02 is four of those.
def sum_of_four(case, text, **options):
    for name in ("a", "b", "c", "d"):
        case.constant(name, text)

    @case.derive(unit="V")
    def total(a, b, c, d):
        return a + b + c + d

    return case.monte_carlo("total", draws=1_000_000, **options)


def test_gum_supplement_9_2_2_four_normals_agree(case):
    drawn = sum_of_four(case, "0.0(1.0) V")
    assert drawn.value == pytest.approx(0, abs=0.01)
    assert drawn.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert drawn.symmetric == pytest.approx((-3.92, 3.92), abs=0.02)
    assert drawn.shortest == pytest.approx((-3.92, 3.92), abs=0.04)


def test_gum_supplement_9_2_3_four_rectangulars_agree(case):
    drawn = sum_of_four(case, "0 ± 1.7320508 V (limits)", digits=3)
    budget = case.budget("total")
    assert budget.standard_uncertainty == pytest.approx(2.0, abs=1e-6)
    # The linear interval is too wide, 3.92; printed and half of its last digit.
    assert budget.expanded_uncertainty == pytest.approx(3.92, abs=0.005)
    # Closed form 2·√3·(2 - (3/5)^(1/4)).
    exact = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    assert exact == pytest.approx(3.88, abs=0.005)
    assert drawn.symmetric == pytest.approx((-exact, exact), abs=0.02)
    # The ends differ by 0.04: seen with three digits of u (0.005), not with two (0.05).
    assert not drawn.linear_holds
    assert case.monte_carlo("total", draws=100_000, digits=2).linear_holds


# JCGM 101:2008, 9.2.4: one rectangular source ten times the others. Recalled,
# recomputed agrees (10.149; linear 19.89; 17.01). Half of the last digit; the steep
# ends of 10^6 draws scatter by 0.005.
def test_gum_supplement_9_2_4_a_dominant_rectangle_agrees(case):
    for name in ("a", "b", "c"):
        case.constant(name, "0 ± 1.7320508 V (limits)")
    case.constant("d", "0 ± 17.320508 V (limits)")

    @case.derive(unit="V")
    def total(a, b, c, d):
        return a + b + c + d

    budget = case.budget("total")
    assert budget.standard_uncertainty == pytest.approx(10.1, abs=half_a_digit(1))
    assert budget.expanded_uncertainty == pytest.approx(19.9, abs=half_a_digit(1))
    drawn = case.monte_carlo("total", draws=1_000_000)
    assert drawn.symmetric == pytest.approx((-17.0, 17.0), abs=half_a_digit(1))
    assert not drawn.linear_holds
    # The budget alone is too wide by a sixth, and says so.
    assert "too wide" in " ".join(budget.caveats)


# JCGM 101:2008, 9.3 (mass calibration), Tables 5 and 6. Partly read, the rest
# recalled; recomputed agrees. In milligram. u within 0.0002; the ends of a shortest
# interval are flat places and scatter by more, 0.002.
def mass_in_air(case):
    case.constant("m_R", "100000.000(50) mg")
    case.constant("dm", "1.234(20) mg")
    case.constant("air", "1.20 ± 0.10 kg/m^3 (limits)")
    case.constant("weight", "8000 ± 1000 kg/m^3 (limits)")
    case.constant("reference", "8000 ± 50 kg/m^3 (limits)")
    case.constant("air_nominal", "1.2 kg/m^3")
    case.constant("m_nominal", "100000 mg")

    @case.derive(unit="mg")
    def deviation(m_R, dm, air, weight, reference, air_nominal, m_nominal):
        buoyancy = (air - air_nominal) * (1 / weight - 1 / reference)
        return (m_R + dm) * (1 + buoyancy) - m_nominal


def test_gum_supplement_9_3_mass_agrees_in_monte_carlo(case):
    mass_in_air(case)
    drawn = case.monte_carlo("deviation", draws=1_000_000)
    milligram = 1e-6  # in SI
    assert drawn.value / milligram == pytest.approx(1.2341, abs=0.0003)
    assert drawn.standard_uncertainty / milligram == pytest.approx(0.0754, abs=0.0002)
    low, high = (end / milligram for end in drawn.shortest)
    assert (low, high) == pytest.approx((1.0834, 1.3825), abs=0.002)
    assert not drawn.linear_holds


def test_gum_supplement_9_3_mass_agrees_in_its_budget_and_the_caveat(case):
    mass_in_air(case)
    budget = case.budget("deviation")
    milligram = 1e-6
    assert budget.standard_uncertainty / milligram == pytest.approx(0.0539, abs=1e-4)
    low = budget.value - budget.expanded_uncertainty
    high = budget.value + budget.expanded_uncertainty
    assert low / milligram == pytest.approx(1.1285, abs=1e-4)
    assert high / milligram == pytest.approx(1.3395, abs=1e-4)
    # The product of two first-order zeros: 0.0750 mg with second-order terms.
    assert "second-order terms 0.075 mg" in " ".join(budget.caveats)


# JCGM 101:2008, 9.4 (comparison loss), Tables 7 and 8, zero covariance. Partly read,
# the rest recalled; recomputed agrees. In 1e-6: u within 1, the mean within 1 of the
# exact x1² + 2u² and within 2 of the printed one, which was drawn, too. The ends of a
# shortest interval within 5 at the edge; where it lies on a broad hump each end of 10^6
# draws scatters by 4.5 (the printed ones, too), but its length by less than 2.
@pytest.mark.parametrize(
    ("x1", "exact", "mean", "u", "ends", "within", "linear"),
    [
        ("0.0000(50)", 50, 50, 50, (0, 150), 5, (0, 0)),
        ("0.0100(50)", 150, 150, 112, (0, 367), 5, (100, 100)),
        ("0.0500(50)", 2550, 2551, 502, (1590, 3543), 20, (2500, 500)),
    ],
)
def test_gum_supplement_9_4_comparison_loss_agrees(
    case, x1, exact, mean, u, ends, within, linear
):
    case.constant("x1", x1)
    case.constant("x2", "0.0000(50)")

    @case.derive(unit="")
    def loss(x1, x2):
        return x1**2 + x2**2

    budget = case.budget("loss")
    found = (1e6 * budget.value, 1e6 * budget.standard_uncertainty)
    assert found == pytest.approx(linear, abs=0.5)
    drawn = case.monte_carlo("loss", draws=1_000_000)
    assert 1e6 * drawn.value == pytest.approx(exact, abs=1)
    assert 1e6 * drawn.value == pytest.approx(mean, abs=2)
    assert 1e6 * drawn.standard_uncertainty == pytest.approx(u, abs=1)
    low, high = (1e6 * end for end in drawn.shortest)
    assert (low, high) == pytest.approx(ends, abs=within)
    assert high - low == pytest.approx(ends[1] - ends[0], abs=5)


def test_gum_supplement_9_4_no_first_order_u_is_not_shown_as_certainty(case):
    case.constant("x1", "0.0000(50)")

    @case.derive(unit="")
    def loss(x1):
        return x1**2

    assert case.budget("loss").standard_uncertainty == 0
    assert "use case.monte_carlo" in " ".join(case.budget("loss").caveats)
    assert not case.monte_carlo("loss", draws=100_000).linear_holds


# JCGM 101:2008, 9.5 (gauge block), Tables 10 and 11. Read and recomputed. In
# nanometre: value and u within 1, the ends of 99 % within 2. Limits that are
# themselves uncertain by a tenth and by half of the half-width.
def test_gum_supplement_9_5_gauge_block_agrees(case):
    case.constant("standard", "50000623(25) nm", dof=18)
    case.constant("difference", "215.0(6.0) nm", dof=24)
    case.constant("random", "0.0(4.0) nm", dof=5)
    case.constant("systematic", "0.0(7.0) nm", dof=8)
    case.constant("expansion", "11.5e-6 ± 2e-6 K^-1 (limits)")
    case.constant("bed", "-0.1(2) K")
    case.constant("cycle", "0 ± 0.5 K (arcsine)")
    case.constant("d_expansion", "0 ± 1e-6 K^-1 (curvilinear 0.1)")
    case.constant("d_temperature", "0 ± 0.05 K (curvilinear 0.5)")
    case.constant("nominal", "50 mm")

    @case.derive(unit="nm")
    def deviation(
        standard, difference, random, systematic,
        expansion, bed, cycle, d_expansion, d_temperature, nominal,
    ):  # fmt: skip
        warming = d_expansion * (bed + cycle) + expansion * d_temperature
        compared = difference + random + systematic
        return standard * (1 - warming) + compared - nominal

    drawn = case.monte_carlo("deviation", draws=1_000_000, level=0.99)
    assert drawn.value / NANOMETRE == pytest.approx(838, abs=1)
    assert drawn.standard_uncertainty / NANOMETRE == pytest.approx(36, abs=1)
    ends = [end / NANOMETRE for end in drawn.shortest]
    assert ends == pytest.approx((745, 932), abs=2)
    budget = case.budget("deviation", level=0.99)
    assert budget.value / NANOMETRE == pytest.approx(838, abs=1)
    assert budget.standard_uncertainty / NANOMETRE == pytest.approx(32, abs=1)

"""Reference data sets with known answers, through the public names only.

Above each test stand its source and how the figures were verified: "read" means
that the document was open when they were typed, "recalled" that they were written
from memory; "recomputed" that an independent calculation agreed with them.

Not among them: Longley, Filip and Wampler (no fit of several variables here); Lew,
Lottery and Mavro (no package brings their readings); the analyses of variance
and the tables of Grubbs, which are tested with their modules.
"""

import math
from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path

import pytest

from benchproof import fit_line, summarise


# Pearson's ten points, y on x without weights. Read, and recomputed in fractions:
# the exact line is 5.7611851904… and -0.5395772749…, so the figures that were
# published to 11 decimals hold to 2.2e-9 and 0.6e-9 only. Hence 3e-9 for them, and
# 1e-12 (rounding) against the fractions.
def test_line_through_pearsons_points_agrees():
    x = [
        Fraction(v)
        for v in ["0", "0.9", "1.8", "2.6", "3.3", "4.4", "5.2", "6.1", "6.5", "7.4"]
    ]
    y = [
        Fraction(v)
        for v in ["5.9", "5.4", "4.4", "4.6", "3.5", "3.7", "2.8", "2.8", "2.4", "1.5"]
    ]
    mx, my = sum(x) / 10, sum(y) / 10
    products = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True))
    slope = products / sum((a - mx) ** 2 for a in x)
    line = fit_line([float(v) for v in x], [float(v) for v in y])
    assert line.slope == pytest.approx(float(slope), abs=1e-12)
    assert line.intercept == pytest.approx(float(my - slope * mx), abs=1e-12)
    assert line.intercept == pytest.approx(5.76118519259, abs=3e-9)
    assert line.slope == pytest.approx(-0.53957727555, abs=3e-9)


# Pearson's points with York's weights. Read and recomputed (11.86635, 1.483294); the
# Birge ratio follows from the definition. Standard uncertainties of York and others,
# Am. J. Phys. 72 (2004) 367, times that ratio.
def test_york_line_is_scaled_by_its_birge_ratio_only_where_it_says_external():
    weights_x = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1]
    weights_y = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500]
    line = fit_line(
        [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4],
        [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5],
        u_x=[w**-0.5 for w in weights_x],
        u_y=[w**-0.5 for w in weights_y],
    )
    assert line.birge == pytest.approx(1.2179, abs=1e-4)
    assert line.u_intercept * line.birge == pytest.approx(0.35925, abs=1e-5)
    assert line.u_slope * line.birge == pytest.approx(0.07062, abs=1e-5)


# NIST StRD, linear regression: Norris. Certified, read and recomputed; the file
# travels with scipy. Estimates are tested with the line's module; here what follows
# from them: R² and F, as certified.
def test_nist_norris_has_the_certified_r_squared_and_f():
    folder = Path(find_spec("scipy").submodule_search_locations[0])
    path = folder / "stats" / "tests" / "data" / "nist_linregress" / "Norris.dat"
    if not path.exists():
        pytest.skip("this scipy wheel comes without its test data")
    rows = path.read_text(encoding="ascii").splitlines()[60:96]
    y, x = zip(*(map(float, row.split()) for row in rows), strict=True)
    line = fit_line(x, y)
    left = 34 * line.residual_deviation**2
    mean = math.fsum(y) / 36
    whole = math.fsum((value - mean) ** 2 for value in y)
    assert 1 - left / whole == pytest.approx(0.999993745883712, rel=1e-12)
    assert (line.slope / line.u_slope) ** 2 == pytest.approx(5436385.54079785, rel=1e-9)


# NIST StRD, NoInt1. Certified, read and recomputed; R² counts from zero there.
def test_nist_noint1_has_the_certified_r_squared_about_zero():
    y = range(130, 141)
    line = fit_line(range(60, 71), y, through_origin=True)
    left = 10 * line.residual_deviation**2
    whole = sum(value**2 for value in y)
    assert 1 - left / whole == pytest.approx(0.999365492298663, rel=1e-12)


# NIST StRD, univariate: NumAcc1 to NumAcc4, constructed data, typed into a case. 1 to
# 3 read and recomputed, 4 recalled. u is s/√n: neighbours that alternate (r1 = -0.999)
# gain nothing. Relative tolerance as the decimal readings survive in doubles.
def alternating(first, low, high):
    return " ".join([first, *[low, high] * 500]) + " V"


@pytest.mark.parametrize(
    ("text", "mean", "s", "n", "tolerance"),
    [
        ("10000001 10000003 10000002 V", 10000002, 1, 3, 1e-14),
        (alternating("1.2", "1.1", "1.3"), 1.2, 0.1, 1001, 1e-13),
        (
            alternating("1000000.2", "1000000.1", "1000000.3"),
            *(1000000.2, 0.1, 1001, 1e-9),
        ),
        (
            alternating("10000000.2", "10000000.1", "10000000.3"),
            *(10000000.2, 0.1, 1001, 1e-8),
        ),
    ],
)
def test_nist_numerical_accuracy_survives_a_case(case, text, mean, s, n, tolerance):
    case.record("level", text)
    budget = case.budget("level")
    assert budget.value == pytest.approx(mean, rel=1e-15)
    assert budget.standard_uncertainty == pytest.approx(s / n**0.5, rel=tolerance)
    assert budget.degrees_of_freedom == n - 1


# NIST/SEMATECH e-Handbook, 1.3.5.17.1 (Tietjen and Moore 1972), eight isotope ratios.
# Read and recomputed: G = 2.4687, s = 15.853. In an order without a slope, as the
# page lists them sorted.
def test_the_handbooks_outlier_is_flagged_and_still_counts():
    ratios = [200.82, 199.31, 245.57, 201.95, 199.53, 202.18, 200.19, 201.92]
    found = summarise(ratios)
    assert found.mean == pytest.approx(sum(ratios) / 8)
    assert found.standard_deviation == pytest.approx(15.853, abs=5e-4)
    (flag,) = found.flags
    assert flag.startswith("reading 3 (245.57) stands out: 2.47 standard deviations")

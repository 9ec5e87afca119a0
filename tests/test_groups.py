"""Readings in groups: scatter within and between them."""

import math
import re
from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchproof.measuring.groups import between_and_within, pooled_standard_deviation
from benchproof.values.errors import InputError

# NIST StRD, one-way analysis of variance; the certified files travel in scipy's wheel.
SCIPY = Path(find_spec("scipy").submodule_search_locations[0])
ANOVA = SCIPY / "stats" / "tests" / "data" / "nist_anova"

# Relative tolerance of F and of s. The readings are decimal; rounded to doubles they
# keep 15 to 16 digits, so 7 (or 13) constant leading ones leave about 9 (or 3).
CERTIFIED = {
    "SiRstv": 1e-12,
    "SmLs01": 1e-14,
    "SmLs02": 1e-14,
    "SmLs03": 1e-14,
    "AtmWtAg": 2e-10,
    "SmLs04": 2e-10,
    "SmLs05": 2e-10,
    "SmLs06": 2e-10,
    "SmLs07": 1e-4,
    "SmLs08": 1e-4,
    "SmLs09": 1e-4,
}

PLUGS = {"a": [10.1, 10.3, 10.2], "b": [11.0, 11.2], "c": [10.6]}

SETS = st.lists(
    st.lists(
        st.integers(-(10**6), 10**6).map(lambda digits: digits / 1000),
        min_size=2,
        max_size=8,
    ),
    min_size=2,
    max_size=6,
)


def certified_file(name):
    path = ANOVA / f"{name}.dat"
    if not path.exists():
        pytest.skip("this scipy wheel comes without its test data")
    return path.read_text(encoding="ascii").splitlines()


def certified_values(lines):
    """F and the residual standard deviation, as certified."""
    f = next(line for line in lines if line.startswith("Between")).split()[-1]
    place = next(i for i, line in enumerate(lines) if "Certified Residual" in line)
    return float(f), float(lines[place + 1].split()[-1])


def certified_groups(lines):
    """The readings, by treatment."""
    said = next(line for line in lines if re.match(r" +Data +\(lines", line))
    first, last = map(int, re.findall(r"\d+", said))
    groups = {}
    for line in lines[first - 1 : last]:
        treatment, value = line.split()
        groups.setdefault(treatment, []).append(float(value))
    return groups


@pytest.mark.parametrize(("name", "tolerance"), CERTIFIED.items())
def test_f_and_s_agree_with_the_certified_values(name, tolerance):
    lines = certified_file(name)
    found = between_and_within(certified_groups(lines))
    f, s = certified_values(lines)
    assert found.statistic == pytest.approx(f, rel=tolerance)
    assert found.s_within == pytest.approx(s, rel=tolerance)


@pytest.mark.parametrize("name", ["AtmWtAg", "SmLs04", "SmLs07"])
def test_what_the_certified_values_miss_is_lost_in_the_data_not_in_the_sums(name):
    groups = certified_groups(certified_file(name))
    exact = [[Fraction(x) for x in group] for group in groups.values()]
    found = between_and_within(groups)
    means = [sum(g) / len(g) for g in exact]
    total = sum(len(g) for g in exact)
    middle = sum(map(sum, exact)) / total
    within = sum((x - m) ** 2 for g, m in zip(exact, means, strict=True) for x in g)
    within /= total - len(exact)
    between = sum(
        len(g) * (m - middle) ** 2 for g, m in zip(exact, means, strict=True)
    ) / (len(exact) - 1)
    assert found.statistic == pytest.approx(float(between / within), rel=1e-12)
    assert found.s_within**2 == pytest.approx(float(within), rel=1e-12)


def test_two_instruments_weigh_silver_differently():
    found = between_and_within(certified_groups(certified_file("AtmWtAg")))
    assert (found.dof_between, found.dof_within) == (1, 46)
    # p is not certified; it was computed apart when the values were collected.
    assert found.p_value == pytest.approx(0.0002, abs=5e-5)


# JCGM 100:2008, H.5, Table H.9: ten days, five readings each, given as mean and s.
# From memory; means, s and F recomputed from the table agree with each other.
# The five readings of a day are rebuilt: any five with that mean and s will do.
DAYS_UV = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]  # above 10 V
SCATTER_UV = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]
FIVE = [(i - 2) / math.sqrt(2.5) for i in (3, 0, 4, 1, 2)]  # mean 0, s 1


def zener_days():
    return {
        f"day {j}": [10 + 1e-6 * (mean + s * z) for z in FIVE]
        for j, (mean, s) in enumerate(zip(DAYS_UV, SCATTER_UV, strict=True), start=1)
    }


def test_gum_h5_ten_days_of_a_zener_voltage_agree():
    found = between_and_within(zener_days(), "V")
    assert found.mean == pytest.approx(10.000097, abs=0.5e-6)
    assert found.s_within == pytest.approx(85e-6, abs=0.5e-6)
    assert found.standard_uncertainty == pytest.approx(57e-6 / 10**0.5, abs=0.2e-6)
    assert found.s_between == pytest.approx(43e-6, abs=0.5e-6)
    # Printed 2.25, from the printed 128 and 85.
    assert found.statistic == pytest.approx(2.25, abs=0.03)
    dof = (found.dof_between, found.dof_within, found.degrees_of_freedom)
    assert dof == (9, 40, 9)
    # Between the printed quantiles F.95(9, 40) = 2.12 and F.975(9, 40) = 2.45.
    assert 0.025 < found.p_value < 0.05


def test_u_from_all_readings_would_be_too_small_where_groups_differ():
    groups = zener_days()
    naive = np.std(np.concatenate(list(groups.values())), ddof=1) / math.sqrt(50)
    assert between_and_within(groups).standard_uncertainty > 1.2 * naive


def test_groups_that_agree_better_than_their_scatter_have_no_spread_between_them():
    found = between_and_within([[1.0, 3.0], [1.1, 2.9], [0.9, 3.1]])
    assert found.s_between == 0
    assert found.statistic < 1


def test_groups_of_different_size_count_once_each():
    found = between_and_within(PLUGS)
    assert found.mean == pytest.approx((10.2 + 11.1 + 10.6) / 3)
    assert found.standard_uncertainty == pytest.approx(
        np.std([10.2, 11.1, 10.6], ddof=1) / math.sqrt(3)
    )
    assert not found.balanced
    assert math.isnan(found.deviations[2])


def test_u_of_unequal_groups_is_right_on_average():
    rng = np.random.default_rng(20260131)
    counts, between, within = (2, 3, 9, 2), 0.5, 1.0
    means, squares = [], []
    for _ in range(3000):
        found = between_and_within(
            [rng.normal(rng.normal(0, between), within, n).tolist() for n in counts]
        )
        means.append(found.mean)
        squares.append(found.standard_uncertainty**2)
    # Both scatter by about 3 % over 3000 sets.
    assert np.mean(squares) == pytest.approx(np.var(means), rel=0.12)
    expected = sum(between**2 + within**2 / n for n in counts) / len(counts) ** 2
    assert np.mean(squares) == pytest.approx(expected, rel=0.06)


def test_the_spread_between_unequal_groups_is_right_on_average():
    rng = np.random.default_rng(7)
    counts = (2, 3, 9, 2, 4, 6)
    found = [
        between_and_within([rng.normal(rng.normal(0, 3), 1.0, n) for n in counts])
        for _ in range(2000)
    ]
    assert np.mean([g.s_between**2 for g in found]) == pytest.approx(9, rel=0.06)


@given(SETS, st.floats(0.01, 100))
def test_scaling_scales_every_deviation_and_leaves_f(groups, scale):
    before = between_and_within(groups)
    assume(before.s_within > 1e-3)
    after = between_and_within([[scale * x for x in g] for g in groups])
    assert after.s_within == pytest.approx(scale * before.s_within, rel=1e-9)
    assert after.standard_uncertainty == pytest.approx(
        scale * before.standard_uncertainty, rel=1e-9, abs=1e-9
    )
    assert after.statistic == pytest.approx(before.statistic, rel=1e-6, abs=1e-12)


@given(SETS)
def test_the_parts_add_up_to_the_scatter_of_all_readings(groups):
    found = between_and_within(groups)
    every = np.concatenate(groups)
    total = np.sum((every - every.mean()) ** 2)
    within = found.dof_within * found.s_within**2
    counts, means = np.array(found.counts), np.array(found.means)
    between = np.sum(counts * (means - every.mean()) ** 2)
    assert within + between == pytest.approx(total, rel=1e-9, abs=1e-9)


def test_readings_without_scatter_leave_f_missing():
    found = between_and_within([[5.0, 5.0], [6.0, 6.0]])
    assert math.isnan(found.statistic)
    assert math.isnan(found.p_value)
    assert "no scatter within the groups shows: F cannot be formed" in repr(found)


def test_the_table_shows_the_groups_the_mean_and_the_test():
    text = repr(between_and_within(PLUGS, "mΩ"))
    assert "Mean / mΩ" in text
    assert re.search(r"^c +│ +1 │ +\d+\.\d+ │ +–$", text, re.MULTILINE)
    assert "mean 10.63 mΩ, standard uncertainty 0.26 mΩ" in text
    assert re.search(r"F\(2, 3\) = \d", text)
    assert "groups of different size: each counts once in the mean" in text


def test_the_table_escapes_the_names_of_groups():
    page = between_and_within({"<b>a": [1.0, 2.0], "b": [1.0, 3.0]})._repr_html_()
    assert "&lt;b&gt;a" in page
    assert "<b>a" not in page


@pytest.mark.parametrize("groups", [[], [[1.0, 2.0]]])
def test_fewer_than_two_groups_are_refused(groups):
    with pytest.raises(InputError, match="give at least two to compare"):
        between_and_within(groups)


@pytest.mark.parametrize("odd", [[], [1.0, math.nan], [math.inf]])
def test_an_empty_or_missing_group_is_refused_by_name(odd):
    with pytest.raises(InputError, match="group 'odd' is empty or not finite"):
        between_and_within({"good": [1.0, 2.0], "odd": odd})
    with pytest.raises(InputError, match="group '2' is empty or not finite"):
        between_and_within([[1.0, 2.0], odd])


def test_readings_too_large_to_be_squared_are_refused():
    with pytest.raises(InputError, match="too large to be squared"):
        between_and_within([[1e300, 1.0], [2.0, 3.0]])


@pytest.mark.parametrize("function", [between_and_within, pooled_standard_deviation])
def test_groups_of_one_reading_each_carry_no_scatter(function):
    with pytest.raises(InputError, match="no group has a second reading"):
        function([[1.0], [2.0]])


def test_pooling_agrees_with_the_definition_and_ignores_single_readings():
    s, dof = pooled_standard_deviation([[1.0, 3.0], [5.0, 7.0, 9.0], [100.0]])
    # s1² = 2 with 1, s2² = 4 with 2 degrees of freedom.
    assert s == pytest.approx(math.sqrt((1 * 2 + 2 * 4) / 3))
    assert dof == 3


def test_gum_h5_pooled_scatter_of_ten_days_is_85_microvolt():
    s, dof = pooled_standard_deviation(zener_days())
    assert s == pytest.approx(85e-6, abs=0.5e-6)
    assert dof == 40

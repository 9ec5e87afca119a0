import math

import pytest

from benchproof.values.errors import InputError, UnitError
from benchproof.values.quantities import read_values
from benchproof.values.statements import statement_from, unsaid
from benchproof.values.units import unit_of


def u(number, words):
    return statement_from(number, words, "here").standard_uncertainty


def test_a_certificate_at_99_percent_is_divided_by_its_normal_quantile():
    # JCGM 100:2008, 4.3.4 (from memory): 129 microohm at 99 % is u = 50 microohm.
    value = read_values("10.000742 ohm, U = 129 uohm, 99 %")[0]
    assert value.standard_uncertainty == pytest.approx(50e-6, abs=0.5e-6)


def test_three_standard_deviations_are_divided_by_three():
    # JCGM 100:2008, 4.3.3 (from memory): 240 micrograms at k = 3.
    assert u(240, "k=3") == 80


def test_an_even_chance_is_half_of_a_normal_distribution():
    # JCGM 100:2008, 4.3.5 (from memory): +-0.04 mm with 50 %, u = 0.06 mm.
    assert u(0.04, "50 %") == pytest.approx(0.06, abs=0.005)


def test_limits_are_rectangular_and_triangular_ones_narrower():
    # JCGM 100:2008, 4.4.5 and 4.4.6 (from memory): 96 to 104.
    assert u(4, "limits") == pytest.approx(2.3, abs=0.05)
    assert u(4, "triangular") == pytest.approx(1.6, abs=0.05)


def test_a_trapezoid_lies_between_the_triangle_and_the_rectangle():
    # JCGM 100:2008, 4.3.9: u^2 = a^2 (1 + beta^2) / 6.
    assert u(1, "trapezoidal 0") == pytest.approx(u(1, "triangular"))
    assert u(1, "trapezoidal 1") == pytest.approx(u(1, "limits"))
    assert u(1, "trapezoidal 0.5") == pytest.approx(math.sqrt(1.25 / 6))


def test_a_shape_without_its_ratio_is_the_plainest_of_its_kind():
    assert u(1, "trapezoidal") == pytest.approx(u(1, "triangular"))
    assert u(1, "curvilinear") == pytest.approx(u(1, "limits"))
    for words in ("limits", "k=2", "95 %, 4 dof"):
        assert statement_from(1, words, "here").shape == 0.0


def test_a_certificate_may_be_in_another_prefix_than_the_value():
    value = read_values("10000 mV, U = 0.1 V, k = 2")[0]
    assert value.standard_uncertainty == pytest.approx(50)


def test_a_certificate_of_a_percentage_is_in_per_cent_of_the_whole():
    value = read_values("10.0 %, U = 1 %, k = 2")[0]
    assert value.standard_uncertainty == pytest.approx(0.5)


def test_uncertain_limits_widen_a_rectangle():
    # JCGM 101:2008, 6.4.3.4: u^2 = (b - a)^2 / 12 + d^2 / 9.
    assert u(0.5, "curvilinear 0.1") == pytest.approx(math.sqrt(1 / 12 + 0.05**2 / 9))


def test_degrees_of_freedom_make_it_a_t_distribution():
    stated = statement_from(2.78, "95 %, 4 dof", "here")
    assert stated.distribution == "t"
    assert stated.standard_uncertainty == pytest.approx(1.0, abs=0.002)


def test_a_source_is_in_si_and_a_difference():
    source = statement_from(0.5, "limits", "here").source("T · stated", unit_of("°C"))
    assert source.unit.symbol == "K"
    assert source.standard_uncertainty == pytest.approx(0.5 / math.sqrt(3))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("10.0 V, U = 0.1 V", "needs its k or level"),
        ("10.0 V, U = 0.1 V, k = 0", "must be above 0"),
        ("10.0 V, U = 0.1 V, 100 %", "between 0 and 100"),
        ("10.0 ± 0.1 V (k=2, often)", "understood 2, but not 'often'"),
        ("10.0 ± 0.1 V (limits, k=2)", "limits and a coverage factor"),
        ("10.0 ± 0.1 V (k=2, 0.5 dof)", "at least 1"),
        ("10.0 V (k=2)", "belongs to an uncertainty"),
        ("10.0 ± 0.1 V (trapezoidal 2)", "give 0 to 1"),
        ("10.0 11.0 V, U = 0.1 V, k = 2", "give one value"),
    ],
)
def test_a_statement_that_makes_no_sense_is_refused_with_the_remedy(text, words):
    with pytest.raises(InputError, match=words):
        read_values(text, "V_ref")


def test_a_certificate_in_another_dimension_is_refused():
    with pytest.raises(UnitError, match="V_ref: 'A' cannot be converted to 'V'"):
        read_values("10.0 V, U = 0.1 A, k = 2", "V_ref")


def test_a_relative_certificate_refers_to_the_value():
    value = read_values("5.00 V, U = 50 ppm, k = 2")[0]
    assert value.standard_uncertainty == pytest.approx(5 * 25e-6)


def test_a_unit_with_brackets_is_no_statement():
    assert read_values("1.2 W/(m*K)")[0].stated is None


def test_a_relative_certificate_of_a_negative_value_is_as_wide():
    value = read_values("-5.00 V, U = 50 ppm, k = 2")[0]
    assert value.standard_uncertainty == pytest.approx(5 * 25e-6)


def test_a_standard_uncertainty_needs_no_coverage_factor():
    assert read_values("10.0 V, u = 0.1 V")[0].standard_uncertainty == 0.1
    stated = statement_from(0.1, "18 dof", "here")
    assert (stated.standard_uncertainty, stated.degrees_of_freedom) == (0.1, 18)


def test_a_negative_uncertainty_is_refused():
    with pytest.raises(InputError, match="give a value >= 0"):
        read_values("10.0 ± -0.1 V", "V_ref")


@pytest.mark.parametrize("text", ["12.1 ± 0.2 V", "12.1 +/- 0.2 V", "12.1+-0.2 V"])
def test_a_bare_plus_minus_says_how_it_was_taken(text):
    assert "taken as a standard uncertainty" in unsaid(text)
    assert unsaid(read_values(text)[0].text) == unsaid(text)


@pytest.mark.parametrize(
    "text",
    ["12.1 ± 0.2 V (k=2)", "12.1 ± 0.2 V (95 %)", "12.1 ± 0.2 V (limits)", "12.1(2) V",
     "12.1 V, u = 0.2 V", "12.1 V, U = 0.2 V, k = 2", "12.1 V"],
)  # fmt: skip
def test_an_uncertainty_whose_kind_is_said_needs_no_word_more(text):
    assert not unsaid(text)
    assert not unsaid(read_values(text)[0].text)

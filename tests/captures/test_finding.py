import math

import pytest

from benchproof.measuring.captures.finding import Finding, derived, merged, unknown
from benchproof.values.errors import PendingError
from benchproof.values.sources import Source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
GAIN = Source("gain", "B", "rectangular", 0.01)


def test_errors_of_one_gain_cancel_in_a_ratio_and_add_in_a_sum():
    one = Finding("one", VOLT, 2.0, ((GAIN, 2.0),))
    two = Finding("two", VOLT, 3.0, ((GAIN, 3.0),))
    total = derived("sum", VOLT, 5.0, [(one, 1.0), (two, 1.0)])
    ratio = derived("ratio", unit_of(""), 2 / 3, [(one, 1 / 3), (two, -2 / 9)])
    assert total.standard_uncertainty == pytest.approx(0.05)
    assert ratio.standard_uncertainty == pytest.approx(0, abs=1e-15)


def test_a_finding_that_cannot_be_told_has_no_value_and_gives_no_estimate():
    lost = unknown("mean", VOLT, "the record is AC-coupled.")
    assert math.isnan(lost.value)
    assert math.isnan(lost.standard_uncertainty)
    with pytest.raises(PendingError, match="mean: cannot tell: the record is AC"):
        lost.estimate()


def test_what_is_derived_from_the_untold_cannot_be_told():
    lost = unknown("mean", VOLT, "clipped.")
    found = derived("ratio", VOLT, 1.0, [(lost, 1.0)])
    assert found.cannot_tell == "clipped."


def test_degrees_of_freedom_follow_welch_and_satterthwaite():
    few = Source("few", "A", "t", 1.0, degrees_of_freedom=4)
    many = Source("many", "B", "normal", 1.0)
    found = Finding("x", VOLT, 0.0, ((few, 1.0), (many, 1.0)))
    assert found.degrees_of_freedom == pytest.approx(4 * 2**2)
    assert Finding("y", VOLT, 0.0, ((many, 1.0),)).degrees_of_freedom == math.inf


def test_parts_that_cancel_or_are_zero_are_left_out():
    nothing = Source("nothing", "B", "normal", 0.0)
    assert merged([(GAIN, 1.0), (GAIN, -1.0), (nothing, 3.0)]) == ()


def test_a_finding_is_shown_in_its_own_unit():
    source = Source("noise", "B", "normal", 12e-6)
    shown = Finding("rise", unit_of("µs"), 268e-6, ((source, 1.0),))
    assert str(shown) == "rise = 268(12) µs"

"""Resistance of wire and cable."""

import numpy as np
import pytest

from benchproof.measuring.circuits import conductors
from benchproof.values.errors import InputError


def test_six_metres_of_half_a_square_millimetre():
    assert conductors.wire_resistance(6.0, 0.5e-6) == pytest.approx(0.2069, abs=5e-5)


def test_a_cable_counts_out_and_back_and_its_joints():
    cable = conductors.cable_resistance(3.0, 0.5e-6, joints=0.03)
    assert cable == pytest.approx(conductors.wire_resistance(6.0, 0.5e-6) + 0.03)


def test_ten_kelvin_more_is_four_per_cent_more():
    cold = conductors.wire_resistance(1.0, 1e-6)
    warm = conductors.wire_resistance(1.0, 1e-6, temperature=303.15)
    assert warm / cold == pytest.approx(1.0393)
    with pytest.raises(InputError, match="in K"):
        conductors.wire_resistance(1.0, 1e-6, temperature=20.0)


# ASTM B258 (16 to 12 read, 24 from memory; recomputed), annealed copper, mΩ/m.
@pytest.mark.parametrize(
    ("gauge", "milliohm"),
    [(12, 5.211), (14, 8.286), (16, 13.17), (18, 20.95), (20, 33.31), (24, 84.2)],
)
def test_gauges_have_the_published_resistance(gauge, milliohm):
    metre = conductors.wire_resistance(1.0, conductors.gauge_area(gauge))
    assert metre * 1e3 == pytest.approx(milliohm, rel=1e-3)


# ASTM B258 (partly read, rest from memory; recomputed), mm.
@pytest.mark.parametrize(
    ("gauge", "millimetre"),
    [(10, 2.588), (24, 0.511), (30, 0.2546), (36, 0.127), (40, 0.0799)],
)
def test_gauges_have_the_published_diameter(gauge, millimetre):
    diameter = conductors.gauge_diameter(gauge) * 1e3
    assert diameter == pytest.approx(millimetre, rel=1e-3)


def test_gauges_end_at_four_noughts_and_at_56():
    # Each six gauges halve the diameter, nearly: 92^(6/39).
    ends = conductors.gauge_diameter(np.array([-3, 36, 56]))
    assert ends * 1e3 == pytest.approx([11.684, 0.127, 0.0125], rel=1e-3)
    for beyond in (-4, 57):
        with pytest.raises(InputError, match="-3"):
            conductors.gauge_diameter(beyond)


def test_a_cross_section_is_not_taken_for_a_gauge():
    with pytest.raises(InputError, match="-3"):
        conductors.gauge_diameter(np.array([24, 120]))


def test_a_track_carries_what_the_charts_say():
    # IPC-2221 by its formula (read): 0.5 mm of 1 oz copper, 10 K: 1.44 A with 1.37 mil,
    # and 11.8 mil outside or 30.8 mil inside for 1 A. Within 1 %.
    ounce = 1.378 * 25.4e-6
    outer = conductors.track_current(0.5e-3, 1.37 * 25.4e-6, 10.0)
    assert outer == pytest.approx(1.44, rel=0.01)
    for width, layer in ((11.8, "outer"), (30.8, "inner")):
        found = conductors.track_current(width * 25.4e-6, ounce, 10.0, layer)
        assert found == pytest.approx(1.0, rel=0.01)
    with pytest.raises(InputError, match="'middle'"):
        conductors.track_current(1e-3, ounce, 10.0, "middle")

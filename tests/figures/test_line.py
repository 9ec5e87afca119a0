"""The load line is drawn from its own points only, with band, load and residuals."""

import numpy as np
import pytest

from benchproof import fit_line
from benchproof.showing.figures.line import figure_of_line, plot_of_line
from benchproof.values.errors import InputError
from benchproof.values.quantities import shorthand

AMPS = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5]
VOLTS = [12.10, 11.96, 11.81, 11.66, 11.53, 11.36]
NAMES = {"x_name": "current in A", "y_name": "voltage in V"}


@pytest.fixture(scope="module")
def line():
    return fit_line(AMPS, VOLTS, u_y=0.01)


def plotted(line, **more):
    return plot_of_line(line, AMPS, VOLTS, ("current in A", "voltage in V"), **more)


def curve(plot, label):
    lines = plot.figure.axes[0].get_lines()
    return next(c for c in lines if c.get_label() == label)


def test_the_line_is_drawn_over_its_points_and_not_beyond(line):
    drawn = curve(plotted(line), "straight line, with ± 2 u")
    assert (drawn.get_xdata()[0], drawn.get_xdata()[-1]) == (0.0, 2.5)
    assert drawn.get_ydata()[0] == pytest.approx(line.intercept)


def test_the_residuals_below_are_those_of_the_line(line):
    points = plotted(line).figure.axes[1].get_lines()[-1]
    assert points.get_ydata() == pytest.approx(line.residuals)


def test_a_bar_is_two_standard_uncertainties_each_way(line):
    axes = plotted(line, u_y=0.01).figure.axes[1]
    (bars,) = [c for c in axes.collections if hasattr(c, "get_segments")]
    lengths = [np.ptp(segment[:, 1]) for segment in bars.get_segments()]
    assert lengths == pytest.approx([0.04] * 6)


def test_load_and_operating_point_are_drawn_and_said(line):
    load = ("constant power 28 W", [(2.2, 12.7), (2.5, 11.2)])
    plot = plotted(line, load=load, operating_point=(2.47, 11.37))
    assert curve(plot, "constant power 28 W").get_ydata()[-1] == 11.2
    assert curve(plot, "operating point").get_xdata() == [2.47]
    assert "Beside it: constant power 28 W. They meet at 2.47, 11.37." in plot.alt


def test_the_text_has_the_numbers_and_the_caveats_of_the_line(line):
    alt = figure_of_line(line, AMPS, VOLTS, **NAMES).alt
    assert f"slope {shorthand(line.slope, line.u_slope)}" in alt
    assert "voltage in V against current in A" in alt
    for caveat in line.caveats:
        assert caveat[1:] in alt


def test_points_of_another_line_are_refused(line):
    other = [v + 0.1 * i for i, v in enumerate(VOLTS)]
    with pytest.raises(InputError, match="not the 6 points of this line"):
        figure_of_line(line, AMPS, other, **NAMES)
    with pytest.raises(InputError, match="not the 6 points"):
        figure_of_line(line, AMPS[:-1], VOLTS[:-1], **NAMES)


def test_the_same_line_gives_the_same_bytes(line):
    assert plotted(line).drawing().svg == plotted(line).drawing().svg

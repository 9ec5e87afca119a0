import numpy as np
import pytest
from captures.invented import PLAIN, record

from benchproof.measuring.captures.fits import Fitted, fit_findings, points_of
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

UNITS = (unit_of("V"), unit_of("V/s"))


def line(trace):
    """Fit a straight line, whose uncertainty is known in closed form."""
    points = points_of(trace)
    columns = np.column_stack([np.ones_like(points.times), points.times])
    values, *_ = np.linalg.lstsq(columns, points.values, rcond=None)
    fitted = Fitted(values, columns @ values, columns)
    return fit_findings(trace, points, fitted, ("level", "slope"), UNITS, "line")


def test_the_slope_of_a_line_has_the_uncertainty_of_least_squares():
    n, dt, sigma = 2000, 1e-3, 0.1
    noise = sigma * np.random.default_rng(1).standard_normal(n)
    found = line(record(3 + 2 * np.arange(n) * dt + noise, dt))["slope"]
    expected = sigma / (dt * np.sqrt(n * (n**2 - 1) / 12))
    assert found.standard_uncertainty == pytest.approx(expected, rel=0.1)
    assert 0.45 * n < found.degrees_of_freedom <= n


def test_averaging_long_records_loses_no_information():
    noise = 0.1 * np.random.default_rng(2).standard_normal(100_000)
    trace = record(3 + noise, 1e-3)
    assert points_of(trace).each == 5
    u = line(trace)["slope"].standard_uncertainty
    expected = 0.1 / (1e-3 * np.sqrt(100_000**3 / 12))
    assert u == pytest.approx(expected, rel=0.1)


def test_alike_residuals_count_for_fewer():
    white = np.random.default_rng(3).standard_normal(5015)
    slow = np.convolve(white, np.full(16, 0.25), mode="valid")
    u = [
        line(record(5 + noise, 1e-3))["level"].standard_uncertainty
        for noise in (white[:5000], slow)
    ]
    assert u[1] / u[0] == pytest.approx(4, rel=0.35)


def test_a_short_stretch_or_gaps_are_refused_with_what_there_is():
    with pytest.raises(InputError, match="4 from sample 0 on hold 0 without"):
        points_of(record(np.zeros(90)), 0, 4)
    with pytest.raises(InputError, match="at least 10 samples without gaps"):
        points_of(record(np.r_[np.zeros(40), np.nan], settings=PLAIN))


def test_parameters_that_do_the_same_are_refused():
    trace = record(np.random.default_rng(4).standard_normal(50))
    points = points_of(trace)
    twice = np.column_stack([np.ones(50), np.ones(50)])
    fitted = Fitted(np.zeros(2), np.zeros(50), twice)
    with pytest.raises(InputError, match="does not determine level, slope together"):
        fit_findings(trace, points, fitted, ("level", "slope"), UNITS, "line")

"""Figures of a set of draws: mean, u and coverage intervals, alone or steadied."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.montecarlo.linearsum import LinearSum

Floats = NDArray[np.float64]
Interval = tuple[float, float]
Places = NDArray[np.intp]

_CHUNK = 20_000  # draws looked at together: as many as stay in a processor's cache
_POSITIONS = 21  # places at which the shortest interval is looked for
_NEIGHBOURS = 19  # quantiles about the end of an interval that are fitted together
_NEAR_LINEAR = 20.0  # a gain from which on this is done


@dataclass(frozen=True, slots=True)
class Figures:
    """What a set of draws says.

    Attributes
    ----------
    value, standard_uncertainty : float
        Mean and standard deviation.
    symmetric, shortest : (float, float)
        Coverage intervals.
    gain : float
        By which, at least, the variance of the ends of `symmetric` is smaller than
        that of plain draws; 1 without a control.
    """

    value: float
    standard_uncertainty: float
    symmetric: Interval
    shortest: Interval
    gain: float = 1.0


def numerical_tolerance(standard_uncertainty: float, digits: int) -> float:
    """Half a unit in the last of the `digits` significant digits of u.

    References
    ----------
    JCGM 101:2008, 7.9.2.

    Examples
    --------
    >>> numerical_tolerance(0.35, 2)
    0.005
    """
    if not standard_uncertainty > 0:
        return 0.0
    exponent = math.floor(math.log10(standard_uncertainty)) - (digits - 1)
    return 0.5 * float(f"1e{exponent}")


def symmetric_interval(outcome: Floats, level: float) -> Interval:
    """Return the interval that leaves equal probability on both sides.

    References
    ----------
    JCGM 101:2008, 5.3.3 and 7.7.1.
    """
    inside = _inside(outcome.size, level)
    low = (outcome.size - inside) // 2
    parted = np.partition(outcome, (low, low + inside))
    return float(parted[low]), float(parted[low + inside])


def _inside(size: int, level: float) -> int:
    return min(math.floor(level * size + 0.5), size - 1)


def coverage_intervals(outcome: Floats, level: float) -> tuple[Interval, Interval]:
    """Shortest and symmetric interval; only the two tails are sorted.

    References
    ----------
    JCGM 101:2008, 5.3.4 and 7.7.
    """
    tail = outcome.size - _inside(outcome.size, level)
    lows, highs = _tails(outcome, tail)
    best = int(np.argmin(highs - lows))
    low = tail // 2
    return (
        (float(lows[best]), float(highs[best])),
        (float(lows[low]), float(highs[low])),
    )


def _tails(outcome: Floats, tail: int) -> tuple[Floats, Floats]:
    """Return the `tail` smallest and the `tail` largest draws, each sorted."""
    lows, highs = outcome[_lowest(outcome, tail)], outcome[_highest(outcome, tail)]
    return np.sort(lows)[:tail], np.sort(highs)[-tail:]


def _lowest(outcome: Floats, tail: int) -> Places:
    """Where the smallest draws are: at least `tail` of them, and not many more.

    A few draws tell roughly where the tail ends, so that one comparison sets most of
    the others aside; this is quicker than partitioning them all.
    """
    limit = _limit(outcome, tail, 1)
    found = np.flatnonzero(outcome <= limit)
    return found if found.size >= tail else np.arange(outcome.size)


def _highest(outcome: Floats, tail: int) -> Places:
    limit = _limit(outcome, tail, -1)
    found = np.flatnonzero(outcome >= limit)
    return found if found.size >= tail else np.arange(outcome.size)


def _limit(outcome: Floats, tail: int, sign: int) -> float:
    some = outcome[:: max(outcome.size // 10_000, 1)]
    expected = tail * some.size / outcome.size
    reach = math.ceil(expected + 5 * math.sqrt(expected)) + 1  # five sigma
    if reach >= some.size:
        return sign * math.inf
    place = reach if sign > 0 else some.size - 1 - reach
    return float(np.partition(some, place)[place])


def plain_figures(outcome: Floats, level: float) -> Figures:
    """Return the figures of the draws alone.

    Parameters
    ----------
    outcome : ndarray, shape (n,)
        Draws of the measurand, in SI; n >= 2.
    level : float
        Coverage probability.

    References
    ----------
    JCGM 101:2008, 7.6 and 7.7.

    Examples
    --------
    >>> plain_figures(np.arange(1001.0), 0.95).symmetric
    (25.0, 976.0)
    """
    shortest, symmetric = coverage_intervals(outcome, level)
    return Figures(*_mean_and_u(outcome), symmetric, shortest)


def _mean_and_u(outcome: Floats) -> tuple[float, float]:
    mean, squares = float(outcome.mean()), 0.0
    for start in range(0, outcome.size, _CHUNK):
        apart = outcome[start : start + _CHUNK] - mean
        squares += float(np.einsum("i,i->", apart, apart))
    return mean, math.sqrt(squares / (outcome.size - 1))


@dataclass(frozen=True)
class Control:
    """What is known without drawing: the linear model's exact distribution.

    Attributes
    ----------
    centre : float
        Value of the linear model at the estimates.
    exact : LinearSum
        Distribution of its deviation from there.
    level : float
        Coverage probability.
    """

    centre: float
    exact: LinearSum
    level: float

    @cached_property
    def upper_end(self) -> float:
        """Upper end of the linear model's interval, from its centre."""
        return float(self.exact.quantile(0.5 + self.level / 2))

    @cached_property
    def nearby(self) -> tuple[Floats, Floats]:
        """Probabilities about that below the interval, and the exact quantiles."""
        below = (1 - self.level) / 2
        odds = below / (1 - below) * np.exp(np.linspace(-1, 1, _NEIGHBOURS))
        probabilities = odds / (1 + odds)
        return probabilities, self.exact.quantile(probabilities)

    def positions(self, size: int) -> tuple[Floats, Floats]:
        """Probabilities below the interval that are tried, and the exact quantiles."""
        least = 1 / size
        below = np.linspace(least, 1 - self.level - least, _POSITIONS)
        return below, self.exact.quantile(below)


def steadied_figures(
    outcome: Floats, line: Floats, control: Control, shortest: bool = True
) -> Figures:
    """Figures of the draws, corrected by what the linear model shows on the same draws.

    The share of the draws below an exact quantile of the linear model differs from
    its probability by chance; the same chance moved the result's draws. So the end of
    an interval is read off, not at the share p of the draws, but at
    ``p + b (share of the linear model's draws below its exact p-quantile - p)``,
    where b is the regression coefficient between lying below the one and below the
    other. With b from regression, a linear model that has nothing to do with the
    result changes nothing. Mean and variance are corrected by regression as well.
    Near to linear, the ends of the symmetric interval are smoothed over neighbouring
    quantiles, too, which gains several times more than `gain` says.

    Parameters
    ----------
    outcome : ndarray, shape (n,)
        Draws of the measurand, in SI.
    line : ndarray, shape (n,)
        The linear model's deviation from its centre on the same draws.
    control : Control
    shortest : bool
        False saves looking for it; `symmetric` then stands in its place.

    References
    ----------
    P. Glasserman, Monte Carlo Methods in Financial Engineering (2003), 4.1 (control
    variates, nonlinear controls and quantiles); JCGM 101:2008, 7.6 and 7.7.

    Examples
    --------
    A result that is its own linear model has the exact u:

    >>> from benchproof.reasoning.montecarlo.linearsum import Term
    >>> line = np.random.default_rng(1).standard_normal(10_000)
    >>> control = Control(5.0, LinearSum((Term("normal", 1.0),)), 0.95)
    >>> round(steadied_figures(5.0 + line, line, control).standard_uncertainty, 6)
    1.0
    """
    low, high = _Tail(outcome, line, control), _Tail(-outcome, -line, control)
    symmetric = low.symmetric, -high.symmetric
    mean, u = _steadied_moments(outcome, line, control)
    found = _shortest(low, high, control) if shortest else symmetric
    return Figures(mean, u, symmetric, found, min(low.gain, high.gain))


def _shortest(low: _Tail, high: _Tail, control: Control) -> Interval:
    # Above the interval the linear model's quantiles mirror those below: one set does.
    below, quantiles = control.positions(low.size)
    lows, highs = low.grid(below, quantiles), -high.grid(below, quantiles)[::-1]
    widths = highs - lows
    best = int(np.argmin(widths))
    place = float(best)
    if 0 < best < widths.size - 1:
        before, least, after = widths[best - 1 : best + 2]
        bend = before - 2 * least + after
        place += (before - after) / (2 * bend) if bend > 0 else 0.0
    grid = np.arange(widths.size)
    return float(np.interp(place, grid, lows)), float(np.interp(place, grid, highs))


class _Tail:
    """The lower tail of the result's draws, and what the linear model says of it."""

    def __init__(self, outcome: Floats, line: Floats, control: Control) -> None:
        self.size, self.line = outcome.size, line
        aside = 1 - control.level
        wide = min(math.ceil(1.4 * aside * self.size) + 20, self.size)
        which = _lowest(outcome, wide)
        draws = outcome[which]
        self.sorted = np.sort(draws)
        seen = line[which] <= -control.upper_end
        below = int(np.count_nonzero(line <= -control.upper_end))
        below = min(max(below, 1), self.sorted.size)
        both = int(np.count_nonzero(seen & (draws <= self.sorted[below - 1])))
        # At least one draw is taken to tell them apart: so many show no more.
        apart = max(below - both, 1) / self.size
        share = min(below, self.size - 1) / self.size
        self.slope = max(1 - apart / (share * (1 - share)), 0.0)
        self.gain = 1 / (1 - self.slope**2)
        end = float(self.ends(np.array([aside / 2]), np.array([below]))[0])
        self.symmetric = self._smoothed(end, control)

    def ends(self, probabilities: Floats, counts: Floats) -> Floats:
        """Quantiles of the result, from the number of draws the linear model has."""
        expected = probabilities * self.size
        places = expected + self.slope * (counts - expected) - 0.5
        return np.interp(places, np.arange(self.sorted.size), self.sorted)

    def _smoothed(self, end: float, control: Control) -> float:
        """Fit the distance from the linear model's quantile over its neighbours.

        For a model near to linear the distance is a smooth function of the quantile,
        and its noise differs from one neighbour to the next. Where the fitted end lies
        farther from the one read off than chance explains, it is not smooth enough.
        """
        if self.gain < _NEAR_LINEAR:
            return end
        probabilities, quantiles = control.nearby
        own, middle = self.grid(probabilities, quantiles), -control.upper_end
        scale = math.sqrt(control.exact.variance)
        at = (quantiles - middle) / scale
        fitted = middle + float(np.polyfit(at, own - quantiles, 2)[2])
        p = probabilities[_NEIGHBOURS // 2]
        density = np.ptp(probabilities) / np.ptp(quantiles)
        chance = math.sqrt(p * (1 - p) / self.size / self.gain) / density
        return fitted if abs(fitted - end) <= 3 * chance else end

    def grid(self, probabilities: Floats, quantiles: Floats) -> Floats:
        """Quantiles of the result at several probabilities, in rising order."""
        low = self.line[np.flatnonzero(self.line <= quantiles[-1])]
        cells = np.bincount(np.searchsorted(quantiles, low), minlength=quantiles.size)
        return self.ends(probabilities, np.cumsum(cells))


def _steadied_moments(
    outcome: Floats, line: Floats, control: Control
) -> tuple[float, float]:
    """Mean and standard deviation by regression on the linear model and its square."""
    sums = np.zeros(7)
    for start in range(0, outcome.size, _CHUNK):
        y = outcome[start : start + _CHUNK] - control.centre
        x = line[start : start + _CHUNK]
        y2, x2 = y * y, x * x
        pairs = ((y, x), (x, x), (y2, x2), (x2, x2))
        products = [np.einsum("i,i->", a, b) for a, b in pairs]
        sums += [y.sum(), x.sum(), y2.sum(), *products]
    y1, x1, y2, yx, x2, y2x2, x4 = (sums / outcome.size).tolist()
    exact = control.exact.variance
    slope = _ratio(yx - y1 * x1, x2 - x1 * x1)
    square_slope = _ratio(y2x2 - y2 * x2, x4 - x2 * x2)
    mean = y1 - slope * x1
    variance = y2 - square_slope * (x2 - exact) - mean * mean
    if not variance > 0:  # a result that hardly varies: its draws speak for themselves
        return _mean_and_u(outcome)
    return control.centre + mean, math.sqrt(variance)


def _ratio(top: float, bottom: float) -> float:
    return top / bottom if bottom > 0 else 0.0

"""The lowest level of a dip, told apart from the noise that lies on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import own_part
from benchproof.measuring.captures.finding import Part
from benchproof.measuring.captures.noise import (
    Noise,
    expected_extreme,
    quantisation_of_mean,
)
from benchproof.measuring.captures.trace import Floats, Trace

_SHAPE = 14.2
"""Chi squared, 3 degrees of freedom, that noise alone exceeds in 0.3 % of windows."""

_ROUND, _STRAIGHT = 1 / 12, 1 / 2
"""Lift of a quarter of a window, in contrasts of its quarters: by integration."""

_LEANING = 0.56
"""Noise of a contrast by which the ends of the least of many windows are too low.

Found by simulation: white noise, windows of 16 to 1024 on flat and bent bottoms alike.
"""


@dataclass(frozen=True, slots=True)
class Bottom:
    """The least value of a stretch, without noise.

    Attributes
    ----------
    value : float
        What noise and averaging add is taken off.
    averaged : int
        Samples averaged.
    noise : float
        Standard uncertainty that noise leaves in such an average.
    bias : float
        Half-width of what choosing the least average leaves open: narrow or flat.
    shape : float
        Half-width of what averaging leaves open: a straight bottom or a round one.
    """

    value: float
    averaged: int
    noise: float
    bias: float
    shape: float


def bottom_of(v: Floats, noise: Noise) -> Bottom:
    """Find the least value that noisy samples rest on.

    Parameters
    ----------
    v : array, shape (n,)
        n > 0; finite.
    noise : Noise
        Same unit.

    Notes
    -----
    The window of the least average is doubled for as long as its four quarters differ
    by no more than noise, up to half the stretch. The result is the least average of a
    quarter as many samples, less what averaging lifts: half the contrast of the four
    quarters if the signal is straight on one or both sides, a twelfth if it is round.
    The least of several averages lies too low: on a flat bottom by the extreme of all
    that compete, on a narrow one by half the extreme of its nearest.

    Examples
    --------
    >>> v = 8.5 + 0.03 * np.random.default_rng(1).standard_normal(4000)
    >>> found = bottom_of(v, Noise(0.03))
    >>> round(float(v.min()), 2), round(found.value, 3), found.averaged
    (8.39, 8.498, 256)
    """
    sums = np.concatenate([[0.0], np.cumsum(v - v[0])])
    width = _flat_width(sums, noise)
    part = max(width // 4, 1)
    if width > 1:
        size, doubt = _contrast(sums, width, noise)
        lift = size * (_STRAIGHT + _ROUND) / 2
        doubt = (size + doubt) * (_STRAIGHT - _ROUND) / 2
    else:
        lift = doubt = _below(v) / 2
    few, many = _biases(sums, width, lift, noise)
    least = float(v[0] + _averages(sums, part).min())
    return Bottom(
        least + (few + many) / 2 - lift,
        part,
        noise.of_mean(part),
        (many - few) / 2,
        doubt,
    )


def bottom_parts(trace: Trace, name: str, found: Bottom, noise: Noise) -> list[Part]:
    """Return the sources of a bottom: noise, which average, its shape, codes."""
    rounding = quantisation_of_mean(trace, noise, found.averaged)
    parts = own_part(trace, f"{name} · noise", found.noise)
    # Either the one end or the other: bottoms are seldom half-way between.
    for cause, half in (("least of several", found.bias), ("shape", found.shape)):
        u = half / 2**0.5
        parts += own_part(trace, f"{name} · {cause}", u, distribution="arcsine")
    return parts + own_part(
        trace, f"{name} · quantisation", rounding / 3**0.5, distribution="rectangular"
    )


def _averages(sums: Floats, width: int) -> Floats:
    return np.asarray((sums[width:] - sums[:-width]) / width)


def _quarters(sums: Floats, width: int) -> Floats:
    """Return the means of the four quarters of the least average, shape (4,)."""
    at = int(_averages(sums, width).argmin())
    return np.asarray(np.diff(sums[at : at + width + 1 : width // 4]) * 4 / width)


def _flat_width(sums: Floats, noise: Noise) -> int:
    """Return the widest window that holds no more than noise, 4, 8, 16 …; else 1."""
    found, width = 1, 4
    while width <= max(sums.size // 2, 4) and width < sums.size:
        apart = _quarters(sums, width)
        apart -= apart.mean()
        if float(np.dot(apart, apart)) > _SHAPE * noise.of_mean(width / 4) ** 2:
            break
        found, width = width, 2 * width
    return found


def _contrast(sums: Floats, width: int, noise: Noise) -> tuple[float, float]:
    """Return how far the quarters of a window differ, noise taken off, and its u."""
    a, b, c, d = _quarters(sums, width)
    u = noise.of_mean(width / 4) / 2
    slope, corner = (c + d - a - b) / 4, (a + d - b - c) / 4 + _LEANING * u
    # Noise makes slopes of both signs, and half of its corners point up.
    size = slope**2 + max(corner, 0.0) ** 2 - 1.5 * u**2
    return math.sqrt(max(size, 0.0)), u


def _below(v: Floats) -> float:
    """Say how far at most a corner between the samples lies below the least one.

    By where the lines on its two sides meet; at an end of the stretch by a whole step.
    """
    at = int(v.argmin())
    if not 0 < at < v.size - 1:
        beside = 1 if at == 0 else at - 1
        return float(v[beside] - v[at]) if v.size > 1 else 0.0
    left = at if v[at + 1] < v[at - 1] else at - 1
    steps = [max(float(v[k] - v[n]), 0.0)
             for k, n in ((left - 1, left), (left + 2, left + 1))
             if 0 <= k < v.size]  # fmt: skip
    return math.prod(steps) / (sum(steps) or 1.0) if len(steps) > 1 else steps[0]


def _biases(sums: Floats, width: int, lift: float, noise: Noise) -> tuple[float, float]:
    """Return by how much the least average is too low: narrow bottom, flat bottom."""
    part, wide = max(width // 4, 1), _averages(sums, width)
    near, sigma = float(wide.size), noise.of_mean(part)
    for _ in range(3):
        # On a flat bottom averages scatter as far above the level as below it.
        reach = 2 * noise.of_mean(width) * _extreme(near, width, noise)
        near = float(np.count_nonzero(wide <= wide.min() + reach))
    near *= (sums.size - part) / wide.size
    # Averages beside that are lifted by more than noise do not compete.
    alone = part * math.sqrt(sigma / lift) if lift else near
    few = _extreme(max(min(near, alone), 1.0), part, noise) / 2
    return sigma * few, sigma * _extreme(near, part, noise)


def _extreme(count: float, width: int, noise: Noise) -> float:
    """Mean of the largest of averages of `width` samples at `count` places in a row.

    In standard deviations of one of them.

    References
    ----------
    Averages that overlap: chance that none passes a level on a way as long as the
    window, D. Slepian 1961; from memory, the tests simulate it.
    """
    from scipy.special import ndtr

    alone = expected_extreme(max(count / noise.alike, 1.0))
    x = np.linspace(-9, 9, 1801)
    below, density = ndtr(x), np.exp(-x * x / 2) / math.sqrt(2 * math.pi)
    beside = np.maximum(below**2 - density * (density + x * below), 1e-300) / below
    length = (count - 1) / max(width, noise.alike)
    return min(alone, 9 - float(np.trapezoid(below * beside**length, x)))

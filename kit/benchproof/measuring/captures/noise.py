"""Noise of a record: how large, how much alike in neighbours, what it biases."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told_difference
from benchproof.values.errors import InputError

_PIECES, _PIECE = 64, 1 << 14
"""A million samples, spread over the record, are enough to know its noise."""

_MEDIAN = 1.482602
"""Standard deviation of a Gaussian over the median of its size."""


@dataclass(frozen=True, slots=True, repr=False)
class Noise:
    """What scatters from sample to sample, SI.

    Attributes
    ----------
    standard_deviation : float
    alike : float
        Samples that count as one independent sample, >= 1.
    text : str
        How it was found.
    """

    standard_deviation: float
    alike: float = 1.0
    text: str = ""

    def __repr__(self) -> str:
        said = self.text or f"noise {self.standard_deviation:.3g} (SI)"
        return f"{said}, {self.alike:.1f} samples count as one"

    def of_mean(self, count: float) -> float:
        """Return the uncertainty that noise leaves in a mean of `count` samples.

        References
        ----------
        JCGM 100:2008, 4.2.3 and 4.2.7: s/√n with the number of independent samples.
        """
        worth = max(count / self.alike, 1.0)
        return self.standard_deviation / math.sqrt(worth)

    def extreme(self, count: float) -> float:
        """Say by how much the largest of `count` samples of a flat level stands out."""
        return self.standard_deviation * expected_extreme(max(count / self.alike, 1.0))


def noise_of(
    trace: Trace, first: int | str = 0, last: int | str | None = None
) -> Noise:
    """Noise of a steady stretch of a record, with its autocorrelation.

    Parameters
    ----------
    first, last : int or str
        Sample numbers, or times as ``"12 ms"``, of a stretch in which the signal
        itself is steady.

    Raises
    ------
    InputError
        If the stretch has fewer than 10 samples, or gaps.

    Notes
    -----
    ``alike = 1 + 2 Σ r_k``, summed over the lags until r_k first falls below 2/√n.
    A negative sum is not taken: the noise of a mean is not made smaller by it.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = 12 + 0.03 * np.random.default_rng(1).standard_normal(4000)
    >>> found = noise_of(Trace("quiet", v, 1e-5, Settings("scope", "CH1")))
    >>> round(found.standard_deviation, 3), round(found.alike, 1)
    (0.03, 1.0)
    """
    first, last = trace.stretch(first, last)
    v = trace.values(first, last)
    if v.size < 10:
        raise InputError(
            f"{trace.name}: a stretch of {v.size} samples is too short to know the "
            "noise from. Give at least 10 samples of a steady stretch."
        )
    if not np.isfinite(v).all():
        raise InputError(
            f"{trace.name} has gaps (samples without a value) between samples {first} "
            f"and {first + v.size}. Give a steady stretch without them."
        )
    deviations = v - v.mean()
    alike = alike_in(deviations[: _PIECE * 4])
    worth = max(v.size / alike, 2.0)
    spread = float(np.sqrt(np.dot(deviations, deviations) / v.size))
    deviation = spread * math.sqrt(worth / (worth - 1))
    said = told_difference(deviation, trace.settings.unit)
    text = f"noise {said} (standard deviation) from {v.size} steady samples"
    return Noise(deviation, alike, text)


def alike_in(deviations: Floats) -> float:
    """Return how many neighbours count as one independent sample.

    Parameters
    ----------
    deviations : array, shape (n,)
        From the mean, or from a model.

    Examples
    --------
    >>> white = np.random.default_rng(2).standard_normal(8000)
    >>> averaged = np.convolve(white, np.full(4, 0.25), mode="valid")
    >>> round(alike_in(averaged), 1)
    4.0
    """
    n = deviations.size
    power = float(np.dot(deviations, deviations))
    if power == 0:
        return 1.0
    spectrum = np.abs(np.fft.rfft(deviations, 2 * n)) ** 2
    r = np.fft.irfft(spectrum)[: n // 2] / power
    below = np.flatnonzero(r < 2 / math.sqrt(n))
    end = int(below[0]) if below.size else n // 2
    return max(1.0, float(1 + 2 * r[1:end].sum()))


def noise_within(trace: Trace) -> Noise:
    """Noise of a record whose signal is not steady, from differences of samples.

    The median does not mind edges. Noise slower than the sampling, as behind a
    bandwidth limit, is seen too small: then give `noise_of` a steady stretch.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> t = np.arange(4000) / 4000
    >>> noise = 0.03 * np.random.default_rng(1).standard_normal(4000)
    >>> record = Trace("ramp", 12 * t + noise, 1e-5, Settings("scope", "CH1"))
    >>> round(noise_within(record).standard_deviation, 3)
    0.03
    """
    pieces = _pieces(trace)
    # A signal of few samples a period is left out better by higher differences.
    found = [_spread(pieces, trace, order) for order in (2, 4, 6)]
    # Rounding to codes is in every sample; its differences may hide it.
    deviation = max(min(found), quantisation(trace))
    said = told_difference(deviation, trace.settings.unit)
    text = f"noise {said} (standard deviation) from differences of samples"
    return Noise(deviation, 1.0, text)


def _spread(pieces: list[Floats], trace: Trace, order: int) -> float:
    """Turn differences into a standard deviation of samples by their median."""
    parts = [np.abs(np.diff(piece, order)) for piece in pieces if piece.size > order]
    sizes = np.concatenate(parts) if parts else np.zeros(0)
    sizes = sizes[np.isfinite(sizes)]
    if not sizes.size:
        return 0.0
    squares = math.comb(2 * order, order)  # sum of the squared coefficients
    q = quantisation(trace) * math.sqrt(12)
    if q == 0:
        return _MEDIAN * float(np.median(sizes)) / math.sqrt(squares)
    # Whole codes: the median is interpolated inside the code it falls on.
    counts = np.bincount(np.rint(np.minimum(sizes / q, 1 << 20)).astype(np.int64))
    share = np.cumsum(counts) / sizes.size
    code = int(np.searchsorted(share, 0.5))
    before = float(share[code - 1]) if code else 0.0
    inside = (0.5 - before) / (float(share[code]) - before)
    median = q * (inside / 2 if code == 0 else code - 0.5 + inside)
    return math.sqrt(max((_MEDIAN * median) ** 2 - q * q / 12, 0.0) / squares)


def _pieces(trace: Trace) -> list[Floats]:
    n = len(trace)
    if n <= _PIECES * _PIECE:
        return [trace.values()] if n >= 3 else []
    starts = np.linspace(0, n - _PIECE, _PIECES).astype(int)
    return [trace.values(int(a), int(a) + _PIECE) for a in starts]


def quantisation(trace: Trace) -> float:
    """Return the uncertainty of one sample known to one code, ``q/√12``.

    The resolution of the record where stated; 0 where neither that is known nor the
    codes are whole numbers.

    References
    ----------
    JCGM 100:2008, F.2.2.1.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> codes = np.zeros(10, dtype=np.int16)
    >>> record = Trace("r", codes, 1e-5, Settings("scope", "CH1"), step=8 / 256)
    >>> f"{quantisation(record) * 1e3:.2f} mV"
    '9.02 mV'
    """
    if trace.resolution:
        return trace.resolution / math.sqrt(12)
    whole = np.issubdtype(trace.codes.dtype, np.integer)
    return abs(trace.step) / math.sqrt(12) if whole else 0.0


def quantisation_of_mean(trace: Trace, noise: Noise, count: float) -> float:
    """Half-width that rounding to codes leaves in a mean.

    Noise of half a code or more spreads the samples over codes and the mean gets
    finer than a code; without it all samples are rounded alike.
    """
    q = quantisation(trace) * math.sqrt(12)
    if noise.standard_deviation < 0.5 * q:
        return q / 2
    return q / 2 / math.sqrt(max(count / noise.alike, 1.0))


def expected_extreme(count: float) -> float:
    """Mean of the largest of `count` Gaussian samples, in standard deviations.

    Notes
    -----
    ``∫ (1 - Φⁿ) dx`` over x > 0 less ``∫ Φⁿ dx`` over x < 0, by the trapezoidal rule.

    Examples
    --------
    >>> round(expected_extreme(1000), 2)
    3.24
    """
    from scipy.special import ndtr

    x = np.linspace(-9, 9, 1801)
    return 9 - float(np.trapezoid(ndtr(x) ** max(count, 1.0), x))

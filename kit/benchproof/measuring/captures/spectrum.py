"""Amplitude spectrum of a record, its window stated, and single tones in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import (
    difference_parts,
    duration_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.extremes import extremes_of, unsound
from benchproof.measuring.captures.finding import Finding, merged, unknown
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

WINDOWS = {
    "rectangular": (1.0,),
    "hann": (0.5, 0.5),
    "flat top": (0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368),
}
"""Cosine terms ``a0 - a1 cos x + a2 cos 2x - …`` over the record."""

_NEAR, _FAR = 4, 64
"""Bins beside a tone that are its own, and those that show the noise around it."""


@dataclass(frozen=True, slots=True)
class Spectrum:
    """Effective value per bin.

    Attributes
    ----------
    frequency, rms : array, shape (n,)
        In Hz and SI: a tone in the middle of a bin shows its effective value.
    window : str
        One of `WINDOWS`.
    resolution : float
        Distance of the bins, in Hz.
    noise_bandwidth : float
        Of one bin, in bins.
    text : str
        Window, resolution and the settings of the record.
    """

    frequency: Floats
    rms: Floats
    window: str
    resolution: float
    noise_bandwidth: float
    text: str


def spectrum_of(trace: Trace, window: str = "hann") -> Spectrum:
    """Return the amplitude spectrum of a record, its mean removed.

    Parameters
    ----------
    window : str
        ``hann`` for frequencies, ``flat top`` for amplitudes, ``rectangular`` for
        whole periods only.

    Raises
    ------
    InputError
        If the window is unknown, or the record too short, with gaps or clipped.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.sin(2 * np.pi * np.arange(1000) / 50)
    >>> found = spectrum_of(Trace("r", v, 1e-3, Settings("scope", "CH1")))
    >>> found.frequency[found.rms.argmax()].round(6), found.rms.max().round(4)
    (np.float64(20.0), np.float64(0.7071))
    """
    if window not in WINDOWS:
        raise InputError(
            f"window {window!r} is not known. Use one of: {', '.join(WINDOWS)}."
        )
    n = len(trace)
    reason = unsound(trace, extremes_of(trace))
    if reason or n < 16:
        raise InputError(reason or f"{trace.name}: {n} samples make no spectrum.")
    x = 2 * np.pi * np.arange(n) / n
    weights = sum(a * (-1) ** k * np.cos(k * x) for k, a in enumerate(WINDOWS[window]))
    v = trace.values()
    v -= v.mean()
    rms = np.abs(np.fft.rfft(v * weights)) * math.sqrt(2) / weights.sum()
    wide = n * float(np.square(weights).sum()) / float(weights.sum()) ** 2
    resolution = 1 / (n * trace.interval)
    text = (
        f"{window} window, {resolution:.6g} Hz a bin, noise bandwidth {wide:.3g} bins; "
        f"{settings_line(trace)}"
    )
    return Spectrum(
        resolution * np.arange(rms.size), rms, window, resolution, wide, text
    )


def tone_of(trace: Trace, near: float | None = None) -> tuple[Finding, Finding]:
    """Frequency and effective value of one tone, between the bins of a Hann window.

    Parameters
    ----------
    near : float, optional
        Where to look, in Hz, within 4 bins; else the largest tone.

    Returns
    -------
    tuple of two Findings
        Without values if no tone stands out of the noise beside it, or it is within
        4 bins of zero or of half the sample rate. Tones nearer to each other than 8
        bins disturb each other.

    Notes
    -----
    With r the ratio of the larger neighbour to the peak the tone lies
    ``(2r - 1)/(r + 1)`` bins off, and the window has lowered it by
    ``sinc(d)/(1 - d²)``. The noise is that of the bins around.

    References
    ----------
    The transform of the window ``(1 - cos x)/2``.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = 2**0.5 * np.sin(2 * np.pi * 100.3 * np.arange(10_000) * 1e-4)
    >>> frequency, rms = tone_of(Trace("r", v, 1e-4, Settings("scope", "CH1")))
    >>> round(frequency.value, 2), round(rms.value, 3)
    (100.3, 1.0)
    """
    found = spectrum_of(trace)
    size = found.rms.size
    if near is None:
        k = _NEAR + int(found.rms[_NEAR : size - _NEAR].argmax())
    else:
        around = round(near / found.resolution)
        begin = max(around - _NEAR, 0)
        k = begin + int(found.rms[begin : around + _NEAR + 1].argmax())
    floor = _floor(found.rms, k)
    reason = _no_tone(trace, found, k, floor)
    names, units = ("frequency", "rms"), (unit_of("Hz"), trace.settings.unit)
    if reason:
        one, two = (
            unknown(f"tone · {n}", u, reason, found.text)
            for n, u in zip(names, units, strict=True)
        )
        return one, two
    left, peak, right = (float(found.rms[k + d]) for d in (-1, 0, 1))
    r = max(left, right) / peak
    off = (2 * r - 1) / (r + 1)
    value = peak * float(1 / np.sinc(off)) * (1 - off**2)
    frequency = (k + math.copysign(off, right - left)) * found.resolution
    return _tone(trace, found, frequency, value, floor)


def _floor(rms: Floats, k: int) -> float:
    """Return the effective noise of one bin, by the median of the bins around."""
    bins = np.r_[
        rms[max(k - _FAR, 1) : max(k - _NEAR, 1)], rms[k + _NEAR + 1 : k + _FAR]
    ]
    squares = np.square(bins)
    return math.sqrt(float(np.median(squares)) / math.log(2)) if bins.size else 0.0


def _no_tone(trace: Trace, found: Spectrum, k: int, floor: float) -> str:
    size = found.rms.size
    if not _NEAR <= k < size - _NEAR:
        return (
            f"{trace.name}: bin {k} is too near to zero or to half the sample rate. "
            "Record more periods, or sample faster."
        )
    if found.rms[k] < 5 * floor:
        return (
            f"{trace.name}: no tone stands out 5 times of the noise beside it. Record "
            "longer, or on a smaller range."
        )
    return ""


def _tone(
    trace: Trace, found: Spectrum, frequency: float, value: float, floor: float
) -> tuple[Finding, Finding]:
    # One quadrature of the noise of a bin; between bins the window passes less tone.
    u = 1.2 * floor / math.sqrt(2)
    amplitude = Finding(
        "tone · rms", trace.settings.unit, value,
        merged([*difference_parts(trace, value), *own_part(trace, "tone · noise", u)]),
        found.text,
    )  # fmt: skip
    # Of the best estimate's √6/π · u/(A·T), half as much again for the window.
    u_f = 1.5 * math.sqrt(6) / math.pi * u / value * found.resolution / math.sqrt(1.5)
    parts = own_part(trace, "tone · frequency · noise", u_f, unit_of("Hz"))
    parts += duration_parts(trace, 1 / frequency, -(frequency**2))
    tone = Finding(
        "tone · frequency", unit_of("Hz"), frequency, merged(parts), found.text
    )
    return tone, amplitude

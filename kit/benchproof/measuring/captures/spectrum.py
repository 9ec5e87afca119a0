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
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told, told_difference
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit, unit_of

WINDOWS = {
    "rectangular": (1.0,),
    "hann": (0.5, 0.5),
    "flat top": (0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368),
}
"""Cosine terms ``a0 - a1 cos x + a2 cos 2x - …`` over the record."""

_LISTED = 5

_NEAR, _FAR = 4, 64
"""Bins beside a tone that are its own, and those that show the noise around it."""


@dataclass(frozen=True, slots=True, repr=False)
class Spectrum(Tabular):
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
    unit : Unit
        Of the record.
    text : str
        Window, resolution and the settings of the record.
    """

    frequency: Floats
    rms: Floats
    window: str
    resolution: float
    noise_bandwidth: float
    unit: Unit
    text: str

    def table(self) -> Table:
        """Return the largest bins; those beside a larger one are left out."""
        beside = np.pad(self.rms, 1, constant_values=-1.0)
        peaks = (self.rms > beside[:-2]) & (self.rms >= beside[2:])
        order = np.flatnonzero(peaks)[np.argsort(-self.rms[peaks])][:_LISTED]
        rows = [
            (told(self.frequency[k], "Hz"), told_difference(self.rms[k], self.unit))
            for k in order
        ]
        bins = f"the {len(rows)} largest of {self.rms.size} bins; {self.text}"
        heads = columns("Frequency>", "Effective value>")
        return Table("Spectrum", heads, tuple(rows), (bins,))


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
        raise InputError(
            reason or f"{trace.name}: {n} samples make no spectrum. Give 16 or more."
        )
    x = 2 * np.pi * np.arange(n) / n
    weights = sum(a * (-1) ** k * np.cos(k * x) for k, a in enumerate(WINDOWS[window]))
    v = trace.values()
    v -= v.mean()
    rms = np.abs(np.fft.rfft(v * weights)) * math.sqrt(2) / weights.sum()
    wide = n * float(np.square(weights).sum()) / float(weights.sum()) ** 2
    resolution = 1 / (n * trace.interval)
    text = (
        f"{window} window, {told(resolution, 'Hz')} a bin, noise bandwidth {wide:.3g} "
        f"bins; {settings_line(trace)}"
    )
    return Spectrum(
        resolution * np.arange(rms.size), rms, window, resolution, wide,
        trace.settings.unit, text,
    )  # fmt: skip


def tone_of(trace: Trace, near: Stated | None = None) -> tuple[Finding, Finding]:
    """Frequency and effective value of one tone, between the bins of a Hann window.

    Parameters
    ----------
    near : str or float, optional
        Where to look, ``"100 Hz"`` or in Hz, within 4 bins; else the largest tone.

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
    names, units = ("frequency", "rms"), (unit_of("Hz"), trace.settings.unit)

    def none(reason: str, text: str) -> tuple[Finding, Finding]:
        one, two = (
            unknown(f"tone · {n}", u, reason, text)
            for n, u in zip(names, units, strict=True)
        )
        return one, two

    if reason := unsound(trace, extremes_of(trace)):
        return none(reason, settings_line(trace))
    found = spectrum_of(trace)
    size = found.rms.size
    if near is None:
        k = _NEAR + int(found.rms[_NEAR : size - _NEAR].argmax())
    else:
        wanted = in_si(near, unit_of("Hz"), f"{trace.name}, near")
        around = round(wanted / found.resolution)
        begin = max(around - _NEAR, 0)
        k = begin + int(found.rms[begin : around + _NEAR + 1].argmax())
    floor = _floor(found.rms, k)
    if reason := _no_tone(trace, found, k, floor):
        return none(reason, found.text)
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
    # What is left of a constant by rounding is no tone either.
    dust = 1e-12 * max(map(abs, trace.values(0, 1)), default=0.0)
    if not found.rms[k] > max(5 * floor, dust):
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

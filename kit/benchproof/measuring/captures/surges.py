"""An inrush or another pulse: peak, charge, melting integral, energy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import (
    difference_parts,
    duration_parts,
    level_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.extremes import (
    extreme_parts,
    extremes_of,
    unsound,
)
from benchproof.measuring.captures.finding import (
    Finding,
    Found,
    Part,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.noise import Noise, noise_of, noise_within
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told, told_difference
from benchproof.values.errors import InputError
from benchproof.values.units import Unit, unit_of

NAMES = ("peak", "charge", "I²t")
"""What `surge_of` finds; with a voltage also "energy"."""

_UNITS = {"charge": "A*s", "I²t": "A²·s", "energy": "J"}


@dataclass(frozen=True, slots=True)
class Pulse:
    """A record without its offset, from the begin of a pulse to its end.

    Attributes
    ----------
    values : array, shape (n,)
        In SI, offset removed.
    offset : float
        Mean of the quiet samples, in SI.
    offset_u : float
        Standard uncertainty of it, by the noise.
    noise : Noise
        Of the quiet samples.
    first : int
        Sample number at which the values begin.
    """

    values: Floats
    offset: float
    offset_u: float
    noise: Noise
    first: int


def pulse_of(
    trace: Trace, quiet: tuple[int, int], first: int = 0, last: int | None = None
) -> Pulse:
    """Remove the offset that the quiet samples show.

    Parameters
    ----------
    quiet : tuple of int
        Sample numbers between which nothing flows, before the pulse.
    first, last : int
        Sample numbers of the pulse.

    Raises
    ------
    InputError
        If there are fewer than 10 quiet samples, or none of the pulse.
    """
    noise = noise_of(trace, *quiet)
    level = float(trace.values(*quiet).mean())
    values = trace.values(first, last) - level
    if values.size < 2:
        raise InputError(f"{trace.name}: no pulse between samples {first} and {last}.")
    return Pulse(values, level, noise.of_mean(quiet[1] - quiet[0]), noise, first)


def surge_of(
    trace: Trace,
    quiet: tuple[int | str, int | str],
    first: int | str = 0,
    last: int | str | None = None,
    voltage: Trace | None = None,
) -> Found:
    """Peak, charge and melting integral of a current pulse, and its energy.

    Parameters
    ----------
    trace : Trace
        Of a current.
    quiet : tuple of int or str
        Sample numbers, or times as ``"-2 ms"``, before the pulse, where no current
        flows: the offset is their mean, and the noise is theirs.
    first, last : int or str
        Of the pulse, likewise; it should have ended at `last`.
    voltage : Trace, optional
        Across the load, of the same samples; then the energy is found as well.

    Returns
    -------
    Found
        `NAMES`, and "energy".

    Raises
    ------
    InputError
        If the trace is not of a current, the stretches are too short or the two traces
        do not belong together.

    Notes
    -----
    Squares add the noise: n σ² Δt is taken off I²t, uncertain by a half of itself. What
    summing leaves open is taken from the difference to the sum of every other sample.

    References
    ----------
    Definition; ``I²t = Σ (i - i0)² Δt``.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> i = np.r_[np.zeros(1000), 36.9 * np.exp(-np.arange(9000) / 700)] + 0.1
    >>> clamp = Settings("clamp", "CH2", unit_of("A"))
    >>> found = surge_of(Trace("inrush", i, 1e-6, clamp), quiet=(0, 900))
    >>> round(found["I²t"].value, 2)  # 36.9² · 700 µs / 2
    0.48
    """
    if trace.settings.unit.dimension != unit_of("A").dimension:
        raise InputError(
            f"{trace.name} is in {trace.settings.unit.symbol or 'plain numbers'}; a "
            "surge is of a current. State its unit, or with scale = '10 A/V' what a "
            "volt stands for."
        )
    quiet = trace.place(quiet[0], "quiet"), trace.place(quiet[1], "quiet")
    first, last = trace.stretch(first, last)
    text = f"offset of samples {quiet[0]} to {quiet[1]} removed; {settings_line(trace)}"
    reason = unsound(trace, extremes_of(trace, first, last))
    if reason:
        names = (*NAMES, "energy") if voltage is not None else NAMES
        return Found({n: unknown(n, _unit(trace, n), reason, text) for n in names})
    pulse = pulse_of(trace, quiet, first, last)
    found = {
        "peak": _peak(trace, pulse, text),
        "charge": _charge(trace, pulse, text),
        "I²t": _melting(trace, pulse, text),
    }
    if voltage is not None:
        found["energy"] = _energy(trace, pulse, voltage, text)
    late = _not_over(trace, pulse)
    loud = _not_quiet(trace, pulse)
    notes = {n: (loud, "" if n == "peak" else late) for n in found}
    return Found({n: f.noted(*notes[n]) for n, f in found.items()})


def _unit(trace: Trace, name: str) -> Unit:
    return unit_of(_UNITS[name]) if name in _UNITS else trace.settings.unit


def _not_over(trace: Trace, pulse: Pulse) -> str:
    """Say if the current still flows at the end."""
    tail = pulse.values[-max(pulse.values.size // 20, 1) :]
    left, reach = abs(float(tail.mean())), float(np.abs(pulse.values).max())
    u = max(3 * pulse.noise.of_mean(tail.size), 3 * pulse.offset_u)
    if left <= max(u, 0.01 * reach):
        return ""
    flows = told_difference(left, trace.settings.unit)
    return f"at the end {flows} still flow: what comes later is not included"


def _not_quiet(trace: Trace, pulse: Pulse) -> str:
    """Say if the quiet samples hold more than noise."""
    usual = noise_within(trace).standard_deviation
    seen = pulse.noise.standard_deviation
    if seen <= max(3 * usual, 0.01 * float(np.abs(pulse.values).max())):
        return ""
    scatter, step = (told_difference(u, trace.settings.unit) for u in (seen, usual))
    return (
        f"the quiet samples scatter by {scatter}, from one to the next only by {step}: "
        "are they before the pulse?"
    )


def _peak(trace: Trace, pulse: Pulse, text: str) -> Finding:
    up = pulse.values.max() >= -pulse.values.min()
    last = pulse.first + pulse.values.size
    ends = extremes_of(trace, pulse.first, last)
    place = ends.high_at if up else ends.low_at
    near = _near_peak(pulse, place - pulse.first)
    half, own = extreme_parts(trace, "peak", place, pulse.noise, near, 1 if up else -1)
    value = (ends.high if up else ends.low) - pulse.offset
    value += -half if up else half
    parts = [*difference_parts(trace, value), *_offset(trace, pulse, "offset", -1.0)]
    note = _bandwidth_note(trace, pulse, place - pulse.first)
    return Finding(
        "peak", trace.settings.unit, value, merged([*parts, *own]), text
    ).noted(note)


def _near_peak(pulse: Pulse, place: int) -> int:
    """Count the samples that are as high as the peak but for the noise."""
    height = abs(float(pulse.values[place]))
    reach = 6 * pulse.noise.standard_deviation
    return int((np.abs(pulse.values) >= height - reach).sum())


def _bandwidth_note(trace: Trace, pulse: Pulse, place: int) -> str:
    bandwidth = trace.settings.bandwidth
    if bandwidth is None:
        return "bandwidth not stated: a narrow peak may have been higher"
    half = 0.5 * abs(float(pulse.values[place]))
    wide = float((np.abs(pulse.values) >= half).sum()) * trace.interval
    if wide * bandwidth >= 1:
        return ""
    return (
        f"half its height lasts {told(wide, 's', 2)}, the bandwidth of "
        f"{told(bandwidth, 'Hz')} lowers such a peak"
    )


def _offset(trace: Trace, pulse: Pulse, name: str, sensitivity: float) -> list[Part]:
    own = own_part(trace, f"quiet · {name}", pulse.offset_u)
    return list(scaled(own, sensitivity))


def _charge(trace: Trace, pulse: Pulse, text: str) -> Finding:
    dt, n = trace.interval, pulse.values.size
    value = float(pulse.values.sum()) * dt
    parts = difference_parts(trace, value)
    parts += duration_parts(trace, n * dt, value / (n * dt))
    parts += _offset(trace, pulse, "offset", -n * dt)
    parts += _summing(trace, "charge", pulse.values, pulse.noise.of_mean(n) * n * dt)
    return Finding("charge", _unit(trace, "charge"), value, merged(parts), text)


def _melting(trace: Trace, pulse: Pulse, text: str) -> Finding:
    dt, n, v = trace.interval, pulse.values.size, pulse.values
    sigma = pulse.noise.standard_deviation
    squares = float(np.dot(v, v)) * dt
    power = n * sigma**2 * dt
    value = squares - power
    # d(I²t) = 2 I²t · gain, - 2 Q · offset.
    parts = list(scaled(difference_parts(trace, value), 2.0))
    parts += duration_parts(trace, n * dt, value / (n * dt))
    parts += _offset(trace, pulse, "offset", -2 * float(v.sum()) * dt)
    u = (
        2
        * sigma
        * dt
        * float(np.sqrt(max(squares / dt, power / dt) * pulse.noise.alike))
    )
    parts += _summing(trace, "I²t", v * v, u)
    parts += own_part(
        trace, "I²t · power of the noise", power / 2 / 3**0.5, _unit(trace, "I²t"),
        "rectangular",
    )  # fmt: skip
    return Finding("I²t", _unit(trace, "I²t"), value, merged(parts), text)


def _summing(trace: Trace, name: str, samples: Floats, noise: float) -> list[Part]:
    """Return noise and what the sum over samples leaves open of an integral."""
    even = samples[: samples.size // 2 * 2]
    coarse = abs(float(even[::2].sum()) - float(even[1::2].sum())) * trace.interval
    unit = _unit(trace, name)
    parts = own_part(trace, f"{name} · noise", noise, unit)
    return parts + own_part(
        trace, f"{name} · sampling interval", coarse / 3**0.5, unit, "rectangular"
    )


def _energy(trace: Trace, pulse: Pulse, voltage: Trace, text: str) -> Finding:
    dt, n = trace.interval, pulse.values.size
    together = (
        len(voltage) == len(trace)
        and voltage.interval == dt
        and voltage.start == trace.start
    )
    if not together:
        raise InputError(
            f"{trace.name} and {voltage.name} are not samples of the same times. Give "
            "two channels of one record."
        )
    name, joule = "energy", unit_of("J")
    reason = unsound(voltage, extremes_of(voltage, pulse.first, pulse.first + n))
    if reason:
        return unknown(name, joule, reason, text)
    v = voltage.values(pulse.first, pulse.first + n)
    value = float(np.dot(v, pulse.values)) * dt
    held = float(v.sum()) * dt
    parts = difference_parts(trace, value)
    parts += _level(voltage, value, pulse, dt)
    parts += duration_parts(trace, n * dt, value / (n * dt))
    parts += _offset(trace, pulse, "offset", -held)
    sigma, alike = pulse.noise.standard_deviation, pulse.noise.alike
    u = sigma * dt * float(np.sqrt(np.dot(v, v) * alike))
    parts += _summing(trace, name, v * pulse.values, u)
    text = f"{text}; voltage: {settings_line(voltage)}"
    return Finding(name, joule, value, merged(parts), text)


def _level(voltage: Trace, value: float, pulse: Pulse, dt: float) -> list[Part]:
    """Return gain and offset of the voltage: an offset acts on the charge."""
    charge = float(pulse.values.sum()) * dt
    shared = level_parts(voltage, value, "energy")
    return [(s, c * charge if s.pool else c) for s, c in shared]

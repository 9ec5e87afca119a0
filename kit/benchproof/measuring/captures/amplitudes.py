"""Mean, effective values and peaks of a record."""

from __future__ import annotations

import math

from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    difference_parts,
    duration_parts,
    level_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.extremes import (
    Extremes,
    extreme_parts,
    extremes_of,
    unsound,
)
from benchproof.measuring.captures.finding import (
    Finding,
    Found,
    Part,
    derived,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.instants import instant_parts
from benchproof.measuring.captures.noise import Noise, noise_within
from benchproof.measuring.captures.stretches import (
    Averages,
    Stretch,
    averages_of,
    stretch_of,
)
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.circuits.waveforms import SINE_FORM_FACTOR
from benchproof.values.units import Unit, unit_of

NAMES = (
    "mean",
    "rms",
    "ac rms",
    "rectified mean",
    "average-responding meter",
    "maximum",
    "minimum",
    "peak to peak",
    "crest factor",
    "form factor",
    "ripple factor",
    "ripple frequency",
)
"""What `amplitudes_of` finds."""


def amplitudes_of(trace: Trace, noise: Noise | None = None) -> Found:
    """Mean, effective values, peaks and factors, over whole periods where there are.

    Parameters
    ----------
    noise : Noise, optional
        From a steady stretch; else it is taken from the differences of its samples.

    Returns
    -------
    Found
        In the order of `NAMES`. Crest factor is the larger peak over rms, form factor
        rms over rectified mean, ripple factor ac rms over mean. The
        average-responding meter is AC-coupled and shows 1.1107 times the rectified
        AC part.

    Raises
    ------
    InputError
        If there are fewer than two samples.

    Notes
    -----
    Type A: the scatter of up to 32 pieces (of whole periods, if the record repeats),
    which keeps whatever correlation the noise has from sample to sample. An effective
    value holds the noise as well, be it the device's or the scope's: half of what the
    noise adds is taken off, and the correction is uncertain by as much. So it is with
    extremes, which stand out by up to the extreme of as many noise samples.

    References
    ----------
    ``rms² = mean² + ac²``: the parts are orthogonal.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = 12 + np.sin(2 * np.pi * np.arange(10_000) / 1000)
    >>> found = amplitudes_of(Trace("r", v, 1e-5, Settings("scope", "CH1")))
    >>> round(found["ac rms"].value, 3), round(found["ripple frequency"].value, 2)
    (0.707, 100.0)
    """
    ends = extremes_of(trace)
    if reason := unsound(trace, ends):
        text = settings_line(trace)
        return Found({n: unknown(n, unit_for(trace, n), reason, text) for n in NAMES})
    trace, noise = trace.summarised(), noise or noise_within(trace)
    stretch = stretch_of(trace, ends, noise)
    found = _averaged(averages_of(trace, stretch, noise))
    found |= _peaks(trace, ends, noise)
    top, bottom = found["maximum"], found["minimum"]
    peak = top if top.value >= -bottom.value else bottom
    found["crest factor"] = _ratio(trace, "crest factor", peak, found["rms"])
    flat = found["rectified mean"]
    found["form factor"] = _ratio(trace, "form factor", found["rms"], flat)
    mean = found["mean"]
    found["ripple factor"] = _ratio(trace, "ripple factor", found["ac rms"], mean)
    found["ripple frequency"] = _frequency(trace, ends, stretch, noise)
    return Found({name: found[name] for name in NAMES})


def unit_for(trace: Trace, name: str) -> Unit:
    """Return the unit of one of `NAMES`."""
    if name == "ripple frequency":
        return unit_of("Hz")
    return unit_of("") if name.endswith("factor") else trace.settings.unit


def _averaged(table: Averages) -> dict[str, Finding]:
    trace, sigma = table.trace, table.noise.standard_deviation
    mean, rms = table.of("mean"), math.sqrt(table.of("square"))
    flat, ac = table.of("rectified"), math.sqrt(table.of("ac square"))
    meter = SINE_FORM_FACTOR * table.of("ac rectified")
    # An offset moves rms by mean/rms of itself, the rectified mean likewise.
    tilt = mean / rms if rms else 0.0
    rows = [
        ("mean", "mean", mean, 1.0, 0.0, level_parts(trace, mean, "mean")),
        ("rms", "square", rms, _slope(rms), sigma, _tilted(trace, rms, "rms", tilt)),
        ("ac rms", "ac square", ac, _slope(ac), sigma, difference_parts(trace, ac)),
        (
            "rectified mean", "rectified", flat, 1.0, sigma * _FLAT,
            _tilted(trace, flat, "rectified mean", mean / flat if flat else 0.0),
        ),
        (
            "average-responding meter", "ac rectified", meter, SINE_FORM_FACTOR,
            sigma, difference_parts(trace, meter),
        ),
    ]  # fmt: skip
    return {row[0]: _row(table, *row) for row in rows}


_FLAT = math.sqrt(2 / math.pi)
"""Rectified mean of noise over its standard deviation."""


def _slope(effective: float) -> float:
    """Return the derivative of a root of a mean square."""
    return 0.5 / effective if effective else 0.0


def _tilted(trace: Trace, value: float, result: str, tilt: float) -> list[Part]:
    """Weigh the offset of a level by how much it changes the result."""
    parts = level_parts(trace, value, result)
    return [(s, c * tilt if s.pool else c) for s, c in parts]


def _row(
    table: Averages,
    name: str,
    average: str,
    value: float,
    slope: float,
    sigma: float,
    parts: list[Part],
) -> Finding:
    trace = table.trace
    added = value - math.sqrt(max(value**2 - sigma**2, 0.0)) if sigma else 0.0
    parts = parts + table.parts(average, name, slope)
    parts += own_part(
        trace, f"{name} · power of the noise", added / 2 / 3**0.5,
        distribution="rectangular",
    )  # fmt: skip
    text = f"{name} over {table.stretch}; {table.noise.text}; {settings_line(trace)}"
    found = Finding(name, trace.settings.unit, value - added / 2, merged(parts), text)
    lost = "" if trace.settings.coupling == "DC" else _coupling(trace)
    if name.startswith("a"):
        lost = ""
    return found.noted(lost, table.warning())


def _coupling(trace: Trace) -> str:
    if trace.settings.coupling == "AC":
        return "the record is AC-coupled: this is not the mean or rms of the signal"
    return "the coupling is not stated: if it was AC, the mean is lost"


def _peaks(trace: Trace, ends: Extremes, noise: Noise) -> dict[str, Finding]:
    n, unit = len(trace), trace.settings.unit
    down, own_down = extreme_parts(trace, "minimum", ends.low_at, noise, n, -1)
    up, own_up = extreme_parts(trace, "maximum", ends.high_at, noise, n)
    most = (ends.high - ends.low) / 2  # the two do not pass each other
    low, high = ends.low + min(down, most), ends.high - min(up, most)
    text = f"noise of {n} samples taken off; {noise.text}; {settings_line(trace)}"
    own_span = [*own_up, *scaled(own_down, -1)]
    span = merged([*difference_parts(trace, high - low), *own_span])
    bottom = merged([*level_parts(trace, low, "minimum"), *own_down])
    top = merged([*level_parts(trace, high, "maximum"), *own_up])
    lost = "" if trace.settings.coupling == "DC" else _coupling(trace)
    return {
        "minimum": Finding("minimum", unit, low, bottom, text).noted(lost),
        "maximum": Finding("maximum", unit, high, top, text).noted(lost),
        "peak to peak": Finding("peak to peak", unit, high - low, span, text),
    }


def _ratio(trace: Trace, name: str, over: Finding, under: Finding) -> Finding:
    unit = unit_for(trace, name)
    reason = over.cannot_tell or under.cannot_tell
    if name == "ripple factor" and trace.settings.coupling == "AC":
        reason = f"{trace.name} is AC-coupled: its mean is lost. Record it DC-coupled."
    if not reason and abs(under.value) <= 2 * under.standard_uncertainty:
        reason = f"the {under.name} is not told apart from 0."
    if reason:
        return unknown(name, unit, reason, over.text)
    size = abs(under.value)
    value = abs(over.value) / size
    sign = math.copysign(1.0, over.value), math.copysign(1.0, under.value)
    inputs = [(over, sign[0] / size), (under, -sign[1] * value / size)]
    return derived(name, unit, value, inputs, over.text)


def _frequency(trace: Trace, ends: Extremes, stretch: Stretch, noise: Noise) -> Finding:
    name, unit = "ripple frequency", unit_of("Hz")
    text = f"{stretch}; {settings_line(trace)}"
    if not stretch.periods or stretch.rises is None:
        reason = (
            f"{trace.name} does not hold two like periods above its noise. Record "
            "longer, or on a smaller range."
        )
        return unknown(name, unit, reason, text)
    rises = stretch.rises
    lasted = float(rises.reached[-1] - rises.reached[0]) * trace.interval
    value = stretch.periods / lasted
    band = (ends.high - ends.low) / 5
    parts = duration_parts(trace, lasted, -value / lasted)
    for end in ("first edge", "last edge"):
        parts += instant_parts(
            trace, rises, f"{name} · {end}", band, noise, value / lasted
        )
    per_period = len(trace) / (stretch.periods + 1)
    few = f"about {per_period:.0f} samples a period: it may be an alias"
    found = Finding(name, unit, value, merged(parts), text)
    return found.noted(few if per_period < LEAST_SAMPLES else "")

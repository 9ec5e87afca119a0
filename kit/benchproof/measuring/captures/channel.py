"""What a channel's settings say about the uncertainty of a result taken from it.

Errors of gain, offset and time base are the same for all samples of a record. They
are evaluated on the result, with one sensitivity each, not sample by sample.
"""

from __future__ import annotations

import math
from typing import Any

from benchproof.measuring.captures.finding import Part
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told
from benchproof.values.sources import Distribution, Source, half_width_source
from benchproof.values.units import unit_of

LEAST_SAMPLES = 10
"""Samples on the shortest feature from which a record is trusted: common practice."""


def stem(trace: Trace) -> str:
    """Name what all results of a channel and range share.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> stem(Trace("r", np.zeros(2), 1e-5, Settings("scope", "CH1", full_screen=16.0)))
    'scope · CH1 · 16 V'
    """
    settings = trace.settings
    screen = settings.full_screen
    label = "range not stated"
    if screen is not None:
        label = told(screen, settings.unit.difference())
    return " · ".join(filter(None, (settings.instrument, settings.channel, label)))


def level_parts(trace: Trace, value: float, result: str) -> list[Part]:
    """Return the sources of a value on the screen, such as a mean or a residual.

    The fixed part of the accuracy line (of full screen, digits, absolute) is an
    offset. As with any reading, another result of the range is not taken to have
    the same one; the source's `pool` names the one they would share.

    Parameters
    ----------
    value : float
        In SI.
    result : str
        Names the offset beside the record.
    """
    parts = _gain(trace, value)
    accuracy, unit = trace.settings.accuracy, trace.settings.unit
    if accuracy is not None:
        digit, screen = abs(trace.step), trace.settings.full_screen or 0.0
        fixed = accuracy.fixed_half_width(screen / unit.factor, digit / unit.factor)
        pool = f"{stem(trace)} · offset"
        name = f"{trace.name} · {result} · {pool}"
        parts.append((_limits(trace, name, fixed * unit.factor, unit, pool), 1.0))
    return parts


def difference_parts(trace: Trace, difference: float) -> list[Part]:
    """Return the sources of a difference of two values of one record.

    Offsets cancel. Of the term "of full screen" a slope remains: its limit holds
    everywhere on the screen, and so an error that runs straight from one limit at the
    bottom to the other at the top is within it, 2 · limit / full screen of the
    difference.

    Parameters
    ----------
    difference : float
        In SI.
    """
    parts = _gain(trace, difference)
    accuracy = trace.settings.accuracy
    if accuracy is not None and accuracy.of_range:
        name = f"{stem(trace)} · slope over the screen"
        slope = _limits(trace, name, 2 * accuracy.of_range, unit_of("%"))
        parts.append((slope, difference))
    return parts


def duration_parts(
    trace: Trace, duration: float, per_second: float = 1.0
) -> list[Part]:
    """Return the source of a duration, or of what is proportional to one.

    Parameters
    ----------
    duration : float
        In s.
    per_second : float
        Derivative of the result with respect to a duration.
    """
    limit, name = trace.settings.time_base, trace.settings.instrument
    if not limit:
        return []
    source = _limits(trace, f"{name} · time base", limit, unit_of("ppm"))
    return [(source, duration * per_second)]


def own_part(
    trace: Trace,
    name: str,
    u: float,
    unit: Any = None,
    distribution: Distribution = "normal",
    degrees_of_freedom: float = math.inf,
) -> list[Part]:
    """Return the source of one result alone, with sensitivity 1; none if it is zero.

    Parameters
    ----------
    name : str
        ``result · cause``; the record's name is put before it.
    u : float
        Standard uncertainty, SI.
    unit : Unit, optional
        For display; that of the trace if None.
    degrees_of_freedom : float
        Finite for a Type A evaluation.
    """
    if not u > 0:
        return []
    source = Source(
        f"{trace.name} · {name}",
        "A" if degrees_of_freedom < math.inf else "B",
        "t" if degrees_of_freedom < math.inf else distribution,
        u,
        trace.settings.unit if unit is None else unit,
        degrees_of_freedom,
        trace.settings.instrument,
    )
    return [(source, 1.0)]


def settings_line(trace: Trace) -> str:
    """Say how the channel was set, and what was not stated.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> settings = Settings("scope", "CH1", coupling="DC", bits=8)
    >>> settings_line(Trace("r", np.zeros(200), 1e-5, settings))
    'scope · CH1 · range not stated, 8 bit, DC-coupled, bandwidth not stated,
    probe 1:1, accuracy not stated, 200 samples every 10 µs'
    """
    s = trace.settings
    said = [
        stem(trace),
        "bits not stated" if s.bits is None else f"{s.bits} bit",
        f"{s.coupling}-coupled" if s.coupling else "coupling not stated",
        "bandwidth not stated" if s.bandwidth is None else told(s.bandwidth, "Hz"),
        f"probe {s.probe_ratio:g}:1",
        f"accuracy {s.accuracy.text or 'stated'}" if s.accuracy else "",
        "" if s.accuracy else "accuracy not stated",
        "inverted" if s.inverted else "",
        f"{len(trace)} samples every {told(trace.interval, 's')}",
    ]
    return ", ".join(filter(None, said))


def no_level(trace: Trace) -> str:
    """Say that an AC-coupled record has no absolute level, or ""."""
    if trace.settings.coupling != "AC":
        return ""
    return (
        f"{trace.name} is AC-coupled: it has no absolute level to compare with a "
        "threshold. Record it DC-coupled."
    )


def coupling_doubt(trace: Trace) -> str:
    """Say what the coupling leaves of an absolute level; "" for DC.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> coupling_doubt(Trace("r", np.zeros(2), 1e-5, Settings("scope", "CH1")))
    'the coupling is not stated: if it was AC, absolute levels are lost'
    """
    lost = "absolute levels are lost"
    return {
        "DC": "",
        "AC": f"the record is AC-coupled: {lost}",
    }.get(trace.settings.coupling, f"the coupling is not stated: if it was AC, {lost}")


def _gain(trace: Trace, value: float) -> list[Part]:
    accuracy = trace.settings.accuracy
    if accuracy is None or not accuracy.of_reading:
        return []
    name = f"{stem(trace)} · gain"
    return [(_limits(trace, name, accuracy.of_reading, unit_of("%")), value)]


def _limits(
    trace: Trace, name: str, half_width: float, unit: Any, pool: str = ""
) -> Source:
    instrument = trace.settings.instrument
    return half_width_source(name, half_width, unit, instrument=instrument, pool=pool)

"""Gain taken over from a meter on the same steady node, and a wrong probe ratio."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchproof.measuring.captures.channel import settings_line, stem
from benchproof.measuring.captures.finding import (
    Finding,
    Part,
    merged,
    scaled,
    unknown,
)
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told
from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate

_PLAIN_LIMIT = 0.1
"""How far from a power of ten a ratio may be, where the uncertainties are less."""


def transferred(
    trace: Trace,
    found: Finding,
    steady: Finding,
    meter: Estimate,
    zero: Finding | None = None,
    difference: bool = False,
) -> Finding:
    """Return a finding on the gain of a meter: ``Vm/(vs - v0) · (v - v0)``.

    Gain, offset and slope of the channel, a straight line, drop out if the zero was
    recorded; noise, codes and the meter's uncertainty stay. What is not straight in
    the channel is not covered.

    Parameters
    ----------
    trace : Trace
        Names the channel and range; all three findings are taken on it.
    found : Finding
        v, a level such as a residual; or a difference of levels.
    steady : Finding
        vs, a steady level away from zero, as the scope shows it.
    meter : Estimate
        Vm, the same level by the meter, with its sources.
    zero : Finding, optional
        v0, the level with the probe on its own ground. Without it 0 is taken, and
        the offset of the channel stays in.
    difference : bool
        Whether v is one, such as a depth, an amplitude or a ripple: no zero is taken
        from it.

    Returns
    -------
    Finding
        Without a value where an input has none, or the steady level is not told
        apart from the zero.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> from benchproof.values.units import unit_of
    >>> volt = unit_of("V")
    >>> record = Trace("r", np.zeros(2), 1e-5, Settings("scope", "CH1"))
    >>> v, vs = Finding("residual", volt, 8.98), Finding("steady", volt, 12.31)
    >>> print(transferred(record, v, vs, Estimate(12.06)))
    residual, gain of the meter = 8.79763 V
    """
    name, unit = f"{found.name}, gain of the meter", found.unit
    v0 = zero or Finding("zero", unit, 0.0)
    text = (
        f"{found.name} of {trace.name}, gain by {steady.name} on the meter and on the "
        f"scope; {settings_line(trace)}"
    )
    if not isinstance(meter, Estimate):
        raise InputError(
            f"the meter's value is {meter}; give its estimate, such as "
            "case.at_round(1)['V_rest'].estimate."
        )
    for each in (found, steady, v0):
        if each.cannot_tell:
            return unknown(name, unit, each.cannot_tell, text)
    lever = steady.value - v0.value
    own = [_kept(trace, each, zero is not None) for each in (found, steady, v0)]
    floor = math.hypot(*(c * s.standard_uncertainty for s, c in own[1] + own[2]))
    if abs(lever) <= 4 * floor or lever == 0:
        reason = (
            f"{steady.name} and zero are not told apart. Take a steady level away from "
            "zero."
        )
        return unknown(name, unit, reason, text)
    factor = meter.value / lever
    base = 0.0 if difference else 1.0
    seen = found.value - base * v0.value
    share = seen / lever
    parts = [
        *scaled(own[0], factor),
        *scaled(own[1], -factor * share),
        *scaled(own[2], -factor * (base - share)),
        *scaled(meter.parts, share),
    ]
    if zero is None:
        parts += _offset(trace, (found, steady), factor * (base - share))
    assumed = (
        "a straight channel is assumed"
        if zero
        else "no zero record: 0 taken, the offset of the channel stays in"
    )
    said = (
        f"gain taken over from the meter, which read {told(meter.value, unit)} where "
        f"the scope shows {told(steady.value, unit)}; {assumed}"
    )
    inputs = dict.fromkeys(found.notes + steady.notes + v0.notes)
    notes = (said, ratio_slip(steady, meter).text, *inputs)
    return Finding(name, unit, factor * seen, merged(parts), text).noted(*notes)


def _kept(trace: Trace, found: Finding, with_zero: bool) -> list[Part]:
    """Return the parts that are not of the channel's straight line."""
    shared = {f"{stem(trace)} · gain", f"{stem(trace)} · slope over the screen"}
    pool = f"{stem(trace)} · offset"
    return [(s, c) for s, c in found.parts if s.name not in shared and s.pool != pool]


def _offset(
    trace: Trace, levels: tuple[Finding, ...], sensitivity: float
) -> list[Part]:
    """Return the channel's offset: one and the same in all levels of the range."""
    pool = f"{stem(trace)} · offset"
    parts = [part for found in levels for part in found.parts if part[0].pool == pool]
    return [(source, sensitivity * c) for source, c in parts[:1]]


@dataclass(frozen=True, slots=True, repr=False)
class Slip:
    """Whether scope and meter differ by a power of ten.

    Attributes
    ----------
    factor : float or None
        By which the scope's values would have to be multiplied: 1 if they agree;
        None if no power of ten explains the ratio. Nothing is changed by itself.
    text : str
        What to do; "" if they agree.
    """

    factor: float | None
    text: str

    def __repr__(self) -> str:
        return self.text or "scope and meter agree within their uncertainties"


def ratio_slip(scope: Finding, meter: Estimate) -> Slip:
    """Compare one steady node by scope and meter for a wrong probe ratio.

    Parameters
    ----------
    scope : Finding
        A steady level.
    meter : Estimate
        The same level by a meter.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> level = Finding("mean", unit_of("V"), 1.49)
    >>> ratio_slip(level, Estimate(14.86)).factor
    10.0
    """
    if scope.cannot_tell:
        return Slip(None, f"not compared: {scope.cannot_tell}")
    if scope.value * meter.value <= 0:
        said = "scope and meter differ in sign, or show 0: check leads and node"
        return Slip(None, said)
    ratio = meter.value / scope.value
    power = round(math.log10(ratio))
    u_meter = math.hypot(*(c * s.standard_uncertainty for s, c in meter.parts))
    u = math.hypot(scope.standard_uncertainty / scope.value, u_meter / meter.value)
    if abs(ratio / 10.0**power - 1) > max(3 * u, _PLAIN_LIMIT):
        said = (
            f"meter and scope differ by a factor of {ratio:.3g}, no power of ten: "
            "check node, coupling and range"
        )
        return Slip(None, said)
    if power == 0:
        return Slip(1.0, "")
    said = (
        f"meter and scope differ by a factor of {ratio:.3g}: probe and menu are likely "
        f"set {10.0**power:g} apart. Nothing was rescaled: strike the record, or "
        "correct the probe ratio with that reason"
    )
    return Slip(10.0**power, said)

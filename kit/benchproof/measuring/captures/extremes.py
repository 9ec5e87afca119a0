"""The lowest and the highest sample of a record, and whether it can be used at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchproof.measuring.captures.channel import own_part
from benchproof.measuring.captures.finding import Part, scaled
from benchproof.measuring.captures.instants import sample
from benchproof.measuring.captures.noise import Noise, quantisation
from benchproof.measuring.captures.trace import Trace
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class Extremes:
    """Where a record is lowest and highest, noise included.

    Attributes
    ----------
    low, high : float
        In SI.
    low_at, high_at : int
        Sample numbers, the first of equal ones.
    """

    low: float
    high: float
    low_at: int
    high_at: int


def extremes_of(trace: Trace, first: int = 0, last: int | None = None) -> Extremes:
    """Find the lowest and the highest sample.

    Raises
    ------
    InputError
        If there are fewer than two samples.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.array([0.0, 3.0, -1.0]), 1e-3, Settings("scope", "CH1"))
    >>> extremes_of(record)
    Extremes(low=-1.0, high=3.0, low_at=2, high_at=1)
    """
    codes = trace.codes[first:last]
    if codes.shape[0] < 2:
        raise InputError(
            f"{trace.name}: {codes.shape[0]} samples cannot be measured. Give a record "
            "of at least two."
        )
    down, up = int(codes.argmin()), int(codes.argmax())
    if trace.step < 0:
        down, up = up, down
    low, high = (float(trace.zero + trace.step * codes[k]) for k in (down, up))
    return Extremes(low, high, first + down, first + up)


def gaps(trace: Trace, found: Extremes) -> str:
    """Say that samples have no value, or "".

    Parameters
    ----------
    found : Extremes
        Of the record.
    """
    if np.isfinite(found.low + found.high):
        return ""
    return (
        f"{trace.name} has gaps (samples without a value). Measure a stretch without "
        "them, or record again."
    )


def unsound(trace: Trace, found: Extremes, *wanted: str) -> str:
    """Say why a record cannot tell, or "".

    Parameters
    ----------
    found : Extremes
        Of the record.
    *wanted : {"low", "high"}
        Ends of the scale that matter; both if none is named.

    Returns
    -------
    str
        Gaps in it, or clipped at a stated end of the scale.
    """
    if missing := gaps(trace, found):
        return missing
    if trace.rails is None:
        return ""
    bottom, top = sorted(trace.rails)
    ends = [("low", found.low <= bottom, found.low_at)]
    ends.append(("high", found.high >= top, found.high_at))
    for name, reached, place in ends:
        if reached and (not wanted or name in wanted):
            return (
                f"{trace.name} is clipped at the {name} end of its scale, first at "
                f"sample {place}: what lies beyond was not recorded. Record again with "
                "a larger full screen."
            )
    return ""


def extreme_parts(
    trace: Trace, result: str, place: int, noise: Noise, count: float, sign: float = 1.0
) -> tuple[float, list[Part]]:
    """Return what noise adds to an extreme, on average, and its sources.

    The largest of many noisy samples stands out: by nothing where the peak is sharp,
    by the extreme of `count` noise samples where it is flat. Half of that is the
    correction, and a source of its own of the same half-width.

    Parameters
    ----------
    place : int
        Sample number of the extreme.
    count : float
        Samples that are as extreme without noise, at most.
    sign : float
        1 for a maximum, -1 for a minimum.

    Returns
    -------
    correction : float
        >= 0, in SI; to be taken off a maximum and added to a minimum.
    parts : list of (Source, float)
    """
    sigma = noise.standard_deviation
    rounding = quantisation(trace)
    reach = noise.extreme(count)
    if sigma <= 1.05 * rounding:  # codes alone: off by half of one at most
        reach = rounding * 3**0.5
    half = reach / 2
    # Maximum and minimum are alike sharp or flat: they share what that leaves open.
    name = f"extremes of {count:g} samples of noise"
    bias = own_part(trace, name, half / 3**0.5, distribution="rectangular")
    parts = list(scaled(bias, sign))
    parts += own_part(trace, f"{result} · noise", sigma / 2)
    missed = _missed(trace, place, sigma)
    parts += own_part(
        trace, f"{result} · between samples", missed / 3**0.5,
        distribution="rectangular",
    )  # fmt: skip
    return half, parts


def _missed(trace: Trace, place: int, sigma: float) -> float:
    """Height of a parabola through an extreme that may lie between its samples."""
    if not 0 < place < len(trace) - 1:
        return 0.0
    a, b, c = sample(trace, np.arange(place - 1, place + 2))
    bend = abs(b - (a + c) / 2)
    # A parabola rises by a quarter of the bend at most; coarser samples miss more.
    return float(bend / 3) if bend > 6 * sigma else 0.0

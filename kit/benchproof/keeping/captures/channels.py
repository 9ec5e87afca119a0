"""One channel as it stands in a file: codes, what one is worth, and its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.summary import Summary

Part = tuple[int, int, float]
"""First sample, one behind the last, and the time of the first in s."""


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel before its settings are applied, in the unit of the file.

    Attributes
    ----------
    name, unit : str
        As in the file, "" where it says nothing.
    codes : array, shape (n,)
        ``value = zero + step · code``.
    interval : float or None
        In s; None if the file does not say.
    parts : tuple of (int, int, float) or None
        Stretches without a gap: first, one behind the last, time of the first in s.
        None while they are not looked for.
    resolution : float
        Smallest distance of two values that came, in the unit.
    ends : tuple of two floats or None
        The codes at which the converter ends, None if not known.
    summary : Summary or None
        Of all codes, where there is one part.
    said : mapping
        How it was set, as far as the file says: see `csvsettings.Said`.
    """

    name: str
    unit: str
    codes: NDArray[Any]
    step: float = 1.0
    zero: float = 0.0
    interval: float | None = None
    parts: tuple[Part, ...] | None = None
    resolution: float = 0.0
    ends: tuple[float, float] | None = None
    summary: Summary | None = field(default=None, repr=False)
    said: Mapping[str, Any] = field(default_factory=dict)


def note_missing(
    missing: list[tuple[int, int]], gone: NDArray[np.bool_], first: int
) -> None:
    """Add the stretches of a block that hold no value to those before it.

    Parameters
    ----------
    missing : list of (int, int)
        First sample and one behind the last; what touches the block's is lengthened.
    gone : array of bool, shape (n,)
    first : int
        Sample number at which the block begins.

    Examples
    --------
    >>> missing = [(3, 5)]
    >>> note_missing(missing, np.array([True, False, True]), 5)
    >>> missing
    [(3, 6), (7, 8)]
    """
    sides = np.flatnonzero(np.diff(np.concatenate([[0], gone.view(np.int8), [0]])))
    for begin, end in (sides.reshape(-1, 2) + first).tolist():
        if missing and missing[-1][1] == begin:
            begin = missing.pop()[0]
        missing.append((begin, end))


def parts_between(
    count: int,
    begins: Sequence[tuple[int, float]],
    missing: Iterable[tuple[int, int]],
    interval: float,
) -> tuple[Part, ...]:
    """Cut a record where time jumps and where samples are missing.

    Parameters
    ----------
    count : int
        Samples of the record.
    begins : sequence of (int, float)
        Sample and time at which time runs on without a gap, rising.
    missing : iterable of (int, int)
        Stretches without values: first, one behind the last.
    interval : float
        In s.

    Examples
    --------
    >>> parts_between(10, [(0, 0.0), (6, 100.0)], [(2, 3)], 1.0)
    ((0, 2, 0.0), (3, 6, 3.0), (6, 10, 100.0))
    """
    holes = sorted(missing)
    parts = []
    for place, (first, time) in enumerate(begins):
        end = begins[place + 1][0] if place + 1 < len(begins) else count
        at = first
        for start, stop in [h for h in holes if h[1] > first and h[0] < end]:
            if start > at:
                parts.append((at, start, time + (at - first) * interval))
            at = min(stop, end)
        if at < end:
            parts.append((at, end, time + (at - first) * interval))
    return tuple(parts)


def smallest_distance(summary: Summary) -> float:
    """Return the smallest distance of two codes that came, 0 if only one did.

    Text is often finer than the converter was: then its steps show here.
    """
    used = np.flatnonzero(summary.histogram.counts)
    if not summary.histogram.exact or len(used) < 2:
        return 0.0
    return float(np.diff(used).min()) * summary.histogram.width

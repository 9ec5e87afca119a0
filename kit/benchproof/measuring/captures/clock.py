"""Whether the times of a record are equally spaced, block by block."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

JITTER = 0.05
"""Of the interval: what a step may differ by, beyond the rounding of the times."""

MOST_GAPS = 1000

CHECKS = 9
"""Times of each block that are kept, to see at the end whether all lie on a line."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A time that is not where it should be: its row, from 0, and what is wrong."""

    row: int
    text: str


@dataclass(slots=True)
class Clock:
    """Follows times that should rise by equal steps.

    A step too long is a gap, and a new part of the record begins behind it. All
    else that is not the usual step is a fault.

    Attributes
    ----------
    resolution : float
        Of the times as written, in s: what rounding may move each by.
    begins : list of (int, float)
        Row and time of the first sample of each part.

    Examples
    --------
    >>> clock = Clock(1e-3)
    >>> clock.follow(np.array([0.0, 0.1, 0.2, 0.5, 0.6]))
    >>> clock.begins, round(clock.interval, 6)
    ([(0, 0.0), (3, 0.5)], 0.1)
    """

    resolution: float = 0.0
    begins: list[tuple[int, float]] = field(default_factory=list)
    _ends: list[tuple[int, float]] = field(default_factory=list)
    _checks: list[tuple[int, float]] = field(default_factory=list)
    _usual: float = 0.0
    _exact: bool = False
    _rows: int = 0

    @property
    def interval(self) -> float:
        """The mean step of the longest part, in s; 0 with a single sample."""
        ends = self._part_ends()
        spans = [(b[0] - a[0], b[1] - a[1])
                 for a, b in zip(self.begins, ends, strict=True)]  # fmt: skip
        steps, seconds = max(spans, default=(0, 0.0))
        return seconds / steps if steps else 0.0

    def follow(self, times: Floats) -> Fault | None:
        """Take the times of the next block, in s; return the first fault in it."""
        if not times.size:
            return None
        start = self._rows
        if not np.isfinite(times.sum()):
            missing = np.flatnonzero(~np.isfinite(times))
            if missing.size:
                return Fault(start + int(missing[0]), "its time is missing")
        if self._checks:
            times = np.concatenate([[self._checks[-1][1]], times])
            start -= 1
        else:
            self.begins.append((0, float(times[0])))
        fault = self._steps(times, start)
        self._rows = start + len(times)
        places = np.unique(np.linspace(0, len(times) - 1, CHECKS).astype(int))
        self._checks += [(start + int(i), float(times[i])) for i in places]
        return fault

    def _steps(self, times: Floats, start: int) -> Fault | None:
        steps = np.diff(times)
        if not steps.size:
            return None
        if not self._usual:
            self._usual = self._usual_step(steps[:10_000])
            self._exact = self._repeats(steps[:10_000], self._usual)
            if self._usual <= 0:
                odd = int(np.flatnonzero(steps <= 0)[0])
                return Fault(start + odd + 1, "the times do not rise")
        slack = self._slack()
        low, high = self._usual - slack, self._usual + slack
        if steps.min() >= low and steps.max() <= high:
            return None
        for at in np.flatnonzero((steps < low) | (steps > high)):
            step, row = float(steps[at]), start + int(at) + 1
            if step < low:
                word = "runs backwards" if step < 0 else "advances"
                return Fault(row, self._step_text(word, step))
            self._ends.append((row - 1, float(times[at])))
            self.begins.append((row, float(times[at + 1])))
            if len(self.begins) > max(2, min(MOST_GAPS, 0.01 * (row + 1) + 3)):
                first = self.begins[1][0]
                return Fault(first, "the steps of the time are not equal")
        return None

    def _usual_step(self, steps: Floats) -> float:
        middle = float(np.median(steps))
        # Times written with too few digits repeat; then only their mean tells.
        coarse = 4 * self.resolution > middle and not self._repeats(steps, middle)
        return float(steps.mean()) if coarse else middle

    def _repeats(self, steps: Floats, usual: float) -> bool:
        """Tell whether nearly all steps are one number: then rounding moves none."""
        same = np.abs(steps - usual) <= 1e-3 * usual
        return bool(same.mean() > 0.9)

    def _slack(self) -> float:
        return JITTER * self._usual + (0 if self._exact else 2 * self.resolution)

    def _step_text(self, word: str, step: float) -> str:
        return (
            f"the time {word} by {abs(step):.4g} s where {self._usual:.4g} s is usual"
        )

    def drift(self) -> Fault | None:
        """Return where the times leave a straight line, looked at once at the end."""
        interval = self.interval
        if not interval:
            return None
        rows, seen = np.array(self._checks).T
        slack = 0.5 * self._usual + 2 * self.resolution
        for (row, time), end in zip(self.begins, self._part_ends(), strict=True):
            off = np.abs(seen - time - interval * (rows - row)) > slack
            odd = np.flatnonzero(off & (rows >= row) & (rows <= end[0]))
            if odd.size:
                text = "the interval changes slowly along the record"
                return Fault(int(rows[odd[0]]), text)
        return None

    def _part_ends(self) -> list[tuple[int, float]]:
        return [*self._ends, *self._checks[-1:]]

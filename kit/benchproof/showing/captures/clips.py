"""Where a plotted record was clipped: beyond the ends of its scale it shows nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from benchproof.measuring.captures.trace import Floats
from benchproof.showing.captures.axes import Scale, explanation
from benchproof.showing.captures.curves import Curve, segments
from benchproof.showing.figures.drawing import INK

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes


@dataclass(frozen=True, slots=True)
class Run:
    """Where a record lies at or beyond one end of its scale.

    Attributes
    ----------
    end : {"low", "high"}
    rail : float
        In SI.
    left, right : array, shape (n,)
        Of each stretch, in s.
    """

    end: str
    rail: float
    left: Floats
    right: Floats


def clipped_runs(curve: Curve) -> list[Run] | None:
    """Return where a record was clipped.

    Returns
    -------
    list of Run or None
        One for each end of the scale that was reached; None if the ends are not
        stated: then nothing is known of it.
    """
    if curve.trace.rails is None:
        return None
    rails = sorted(curve.trace.rails)
    found = curve.low <= rails[0], curve.high >= rails[1]
    half = np.diff(curve.bounds) / 2 * curve.trace.interval
    runs = []
    for end, beyond, rail in zip(("low", "high"), found, rails, strict=True):
        steps = np.diff(np.concatenate([[0], beyond.view(np.int8), [0]]))
        first, last = np.flatnonzero(steps > 0), np.flatnonzero(steps < 0) - 1
        if first.size:
            left = np.maximum(curve.times[first] - half[first], curve.begin)
            right = np.minimum(curve.times[last] + half[last], curve.end)
            runs.append(Run(end, rail, left, right))
    return runs


def draw_clipped(axes: Axes, runs: Sequence[Run], time: Scale, value: Scale) -> Artist:
    """Mark where a record was clipped with a heavy line; return its explanation."""
    for run in runs:
        level = np.full(run.left.shape, value.factor * (run.rail - value.zero))
        segments(axes, time, run.left, run.right, level, color=INK, linewidth=4)
    return explanation("clipped", color=INK, linewidth=4)


def clipped_text(runs: Sequence[Run] | None, time: Scale, value: Scale) -> str:
    """Say where a record was clipped; also where nothing is known of it."""
    if runs is None:
        return "clipping not known: the ends of the scale are not stated"
    return "; ".join(
        f"clipped at the {run.end} end of the scale, {value.text(run.rail)}, in "
        f"{len(run.left)} place{'s' if len(run.left) > 1 else ''}, first near "
        f"{time.text(float(run.left[0]))}"
        for run in runs
    )

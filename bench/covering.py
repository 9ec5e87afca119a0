"""How often the U of what captures say holds the truth, over invented records.

Each record has an offset, gain and time base of its own within the limits of the
instrument, ripple, noise, a sample rate, 8 or 12 bits, and up to five dips of several
shapes. Nothing here is timed: the notes of the lines are the result.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from harness import Line

if TYPE_CHECKING:
    from benchproof.measuring.captures.finding import Finding
    from benchproof.measuring.captures.trace import Trace

SEEDS = 200
RAIL, THRESHOLD, HYSTERESIS = 12.0, 10.5, 0.5
SCREEN, GAIN, OFFSET, TIME_BASE = 16.0, 0.01, 0.005, 50e-6
"""Full screen in V; limits: of reading, of full screen, of the time base."""

_FINE = 8
"""Points of the true signal on one sample."""


def _trapezium(x: Any) -> Any:
    return np.minimum(1, 8 * np.minimum(x, 1 - x))


def _ringing(x: Any) -> Any:
    return 1 - np.exp(-6 * x) * np.cos(2 * np.pi * 4 * x)


SHAPES = {
    "trapezium": _trapezium,
    "round": lambda x: np.sin(np.pi * x),
    "triangle": lambda x: 1 - np.abs(2 * x - 1),
    "exponential sag": lambda x: (1 - np.exp(-4 * x)) / (1 - math.exp(-4)),
    "motor start": lambda x: 1.08 * (1 - np.exp(-60 * x)) * np.exp(-1.5 * x),
    "notch": lambda x: np.where(np.abs(x - 0.4) < 0.02, 1.0, 0.7),
    "ringing": _ringing,
}


@dataclass(frozen=True)
class Truth:
    """An invented record and what it holds."""

    trace: Trace
    steady: Trace
    mean: float
    rms: float
    dips: tuple[tuple[float, float], ...]
    """Duration in s and residual in V of each."""


def coverage(folder: Path) -> Iterator[Line]:
    """Count how often U (k = 2) holds the truth, with and without an accuracy line."""
    for stated in (False, True):
        yield from _study(stated)


def _study(stated: bool) -> Iterator[Line]:
    wrong, held = 0, _Held()
    for seed in range(SEEDS):
        made = invented(np.random.default_rng([31, seed]), stated)
        wrong += _compare(made, held)
    what = "accuracy line stated" if stated else "noise, codes and sampling alone"
    yield Line(f"coverage, {SEEDS} records, {what}", note=f"{wrong} dip counts wrong")
    for name, errors in held.rows.items():
        z = np.abs(np.array(errors))
        note = f"{(z <= 2).mean():.1%} of {z.size} within U, error {_rms(z):.2f} u rms"
        yield Line(f"  {name}", note=note)


def _rms(z: Any) -> float:
    return float(np.sqrt(np.square(z).mean()))


class _Held:
    """Errors in standard uncertainties, by what was measured."""

    def __init__(self) -> None:
        self.rows: dict[str, list[float]] = {}

    def add(self, name: str, found: Finding, true: float) -> None:
        row = self.rows.setdefault(name, [])
        if not found.cannot_tell:
            row.append((found.value - true) / found.standard_uncertainty)


def _compare(made: Truth, held: _Held) -> int:
    """Measure one record; return 1 if its dips were not counted right."""
    from benchproof.measuring.captures import amplitudes_of, dips_of

    found = dips_of(made.trace, THRESHOLD, HYSTERESIS)
    for dip, (duration, residual) in zip(found.dips, made.dips, strict=False):
        held.add("duration", dip.duration, duration)
        held.add("residual", dip.residual, residual)
    amplitudes = amplitudes_of(made.steady)
    held.add("mean", amplitudes["mean"], made.mean)
    held.add("rms", amplitudes["rms"], made.rms)
    return int(found.count.value != len(made.dips))


def invented(rng: Any, stated: bool) -> Truth:
    """Make a record of a rail with ripple, and up to five dips."""
    interval = float(np.exp(rng.uniform(math.log(4e-6), math.log(2e-5))))
    ripple, frequency = rng.uniform(0, 0.1), rng.uniform(200, 2000)
    starts = 0.02 + 0.035 * np.arange(rng.integers(0, 6)) + rng.uniform(0, 5e-3)
    count = round((0.06 + 0.035 * len(starts)) / interval)
    fine = interval / _FINE * np.arange(count * _FINE)
    level = RAIL + rng.uniform(-0.2, 0.2)
    phase = rng.uniform(0, 2 * np.pi)
    waves = ripple * np.sin(2 * np.pi * frequency * fine + phase)
    v = level + waves
    for start in starts:
        x = (fine - start) / rng.uniform(4e-3, 20e-3)
        shape = SHAPES[str(rng.choice(list(SHAPES)))]
        inside = (x > 0) & (x < 1)
        v[inside] -= rng.uniform(2.5, 5.0) * shape(x[inside])
    sigma, bits = rng.uniform(5e-3, 0.04), int(rng.choice([8, 12]))
    channel = _Channel(rng, interval, sigma, bits, stated)
    return Truth(
        channel.record(v, "rail"), channel.record(level + waves, "steady"), level,
        math.hypot(level, ripple / 2**0.5), tuple(_true_dips(fine, v)),
    )  # fmt: skip


class _Channel:
    """A channel with errors of its own, within its limits if they are stated."""

    def __init__(
        self, rng: Any, interval: float, sigma: float, bits: int, stated: bool
    ) -> None:
        self.rng, self.interval, self.sigma = rng, interval, sigma
        self.bits, self.stated = bits, stated
        within = rng.uniform(-1, 1, 3) * stated
        self.gain, self.offset = GAIN * within[0], OFFSET * SCREEN * within[1]
        self.time_base = TIME_BASE * within[2]

    def record(self, v: Any, name: str) -> Trace:
        """Sample, disturb and round what is there."""
        from benchproof.measuring.accuracy import accuracy_line
        from benchproof.measuring.captures import Settings, Trace

        line = f"±({GAIN:%} of reading + {OFFSET:%} of full screen)"
        settings = Settings(
            "invented scope", "CH1", coupling="DC", full_screen=SCREEN, bits=self.bits,
            accuracy=accuracy_line(line) if self.stated else None,
            time_base=TIME_BASE * self.stated,
        )  # fmt: skip
        step = SCREEN / 2**self.bits
        seen = v[::_FINE] * (1 + self.gain) + self.offset
        seen = seen + self.sigma * self.rng.standard_normal(seen.size)
        codes = np.rint(seen / step).astype(np.int16)
        shown = self.interval * (1 + self.time_base)
        return Trace(name, codes, shown, settings, step=step)


def _true_dips(fine: Any, v: Any) -> Iterator[tuple[float, float]]:
    """Yield duration and least value of each dip of the true signal."""
    from benchproof.measuring.captures import Settings, Trace

    interval = float(fine[1])
    signal = Trace("true", v, interval, Settings("none", ""))
    changes = signal.changes(THRESHOLD, THRESHOLD + HYSTERESIS)
    down = np.flatnonzero(~changes.rising)
    for k in down:
        lasted = changes.reached[k + 1] - changes.reached[k]
        part = v[changes.index[k] : changes.index[k + 1]]
        yield float(lasted * interval), float(part.min())

"""State levels of a two-level record, from the modes of its histogram."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.channel import (
    LEAST_SAMPLES,
    coupling_doubt,
    difference_parts,
    level_parts,
    own_part,
    settings_line,
)
from benchproof.measuring.captures.extremes import extremes_of, unsound
from benchproof.measuring.captures.finding import (
    Finding,
    Findings,
    Part,
    merged,
    unknown,
)
from benchproof.measuring.captures.noise import (
    Noise,
    noise_within,
    quantisation,
    quantisation_of_mean,
)
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.values.errors import InputError

BINS = 1 << 10
"""Of the histogram, where codes do not make fewer."""

_STEPS = 5

_WITHIN, _MOST_BETWEEN = 0.954, 0.25
"""Share of a Gaussian within 2 standard deviations; share of edges worth a note."""


@dataclass(frozen=True, slots=True, repr=False)
class Levels(Findings):
    """Low state, high state and the amplitude between them.

    Attributes
    ----------
    low, high, amplitude : Finding
        All without a value if the record has no two states.
    noise : Noise
        That was used.
    rounded : str
        Why the levels depend on how they are looked for; "" for clear states.
    """

    low: Finding
    high: Finding
    amplitude: Finding
    noise: Noise
    rounded: str = ""

    @property
    def cannot_tell(self) -> str:
        """Why there are no states, or ""."""
        return self.amplitude.cannot_tell

    @property
    def own_uncertainty(self) -> float:
        """Standard uncertainty of the amplitude without the accuracy line, in SI."""
        mine = ("low state ·", "high state ·")
        own = (
            c * s.standard_uncertainty
            for s, c in self.amplitude.parts
            if any(word in s.name for word in mine)
        )
        return math.hypot(*own)

    def at(self, share: float) -> float:
        """Return the level at a share of the amplitude, in SI: 0.1 for 10 %."""
        return self.low.value + share * (self.high.value - self.low.value)


def levels_of(trace: Trace, noise: Noise | None = None) -> Levels:
    """Find the two state levels.

    Parameters
    ----------
    noise : Noise, optional
        Else from the differences of its samples.

    Notes
    -----
    The histogram between the extremes is split in the middle; the fullest bin of each
    half is its mode, and the level is the mean of the samples within 2 standard
    deviations of noise (or one bin) of it. There are two states only if the amplitude
    is above 6 standard deviations of noise and the histogram has a valley below half
    of the lesser mode.

    References
    ----------
    IEEE 181-2011, state levels by histogram modes; cited second-hand, not read.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = np.repeat([0.2, 5.0, 0.2], 400)
    >>> found = levels_of(Trace("r", v, 1e-6, Settings("scope", "CH1")))
    >>> round(found.low.value, 3), round(found.high.value, 3)
    (0.2, 5.0)
    """
    ends = extremes_of(trace)
    reason = unsound(trace, ends)
    if reason:
        return _none(trace, noise or Noise(0.0), reason)
    noise = noise or noise_within(trace)
    if ends.high - ends.low <= 6 * noise.standard_deviation:
        reason = "its amplitude is not above 6 standard deviations of its noise"
        return _none(trace, noise, _no_states(trace, reason))
    values, counts = _histogram(trace)
    step = float(values[1] - values[0])
    # One code of the converter may be several of the text it was written as.
    width = max(trace.resolution, step, step * len(values) / BINS)
    sigma = noise.standard_deviation
    starts = np.arange(0, len(values), math.ceil(max(width, sigma) / step - 1e-9))
    modes = _modes(np.add.reduceat(counts, starts))
    if modes is None:
        reason = "its histogram has no two modes with a valley between"
        return _none(trace, noise, _no_states(trace, reason))
    centres = [values[starts[k]] + step * (starts[1] - 1) / 2 for k in modes]
    reach = max(2 * sigma, 1.01 * width)
    states = [_state(values, counts, c, reach) for c in centres]
    shapes = [
        max(
            abs(_state(values, counts, value, reach / 2)[0] - value),
            abs(_state(values, counts, value, reach * 2)[0] - value) / 2,
        )
        for value, _ in states
    ]
    return _levels(trace, noise, width, states, shapes)


def given_levels(
    trace: Trace, low: Stated, high: Stated, noise: Noise | None = None
) -> Levels:
    """Return state levels that are declared, not looked for; taken as exact.

    Parameters
    ----------
    low, high : str or float
        ``"0 V"``, or in SI; low < high.
    noise : Noise, optional
        Else from the differences of its samples.

    Raises
    ------
    InputError
        If low is not below high, or one is of another dimension.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.sin(np.arange(99) / 9), 1e-6, Settings("s", "CH1"))
    >>> given_levels(record, -1.0, 1.0).at(0.5)
    0.0
    """
    unit, text = trace.settings.unit, f"declared; {settings_line(trace)}"
    low, high = (
        in_si(level, unit, f"{trace.name}, {name}")
        for name, level in (("low", low), ("high", high))
    )
    if not low < high:
        raise InputError(
            f"{trace.name}: a low state of {low:g} is not below a high one of {high:g}."
            " Give the lower level first."
        )
    pairs = (("low state", low), ("high state", high), ("amplitude", high - low))
    states = [Finding(name, unit, value, text=text) for name, value in pairs]
    return Levels(states[0], states[1], states[2], noise or noise_within(trace))


def _no_states(trace: Trace, why: str) -> str:
    return (
        f"{trace.name} has no two states: {why}. Give the levels yourself, or record "
        "a stretch that holds both."
    )


def _none(trace: Trace, noise: Noise, reason: str) -> Levels:
    unit, text = trace.settings.unit, settings_line(trace)
    names = ("low state", "high state", "amplitude")
    low, high, size = (unknown(name, unit, reason, text) for name in names)
    return Levels(low, high, size, noise)


def _histogram(trace: Trace) -> tuple[Floats, NDArray[np.int64]]:
    """Return bins of equal width, ascending, and their counts."""
    values, counts = trace.summarised().levels()
    if values[0] > values[-1]:
        values, counts = values[::-1], counts[::-1]
    return values, counts


def _modes(counts: NDArray[np.int64]) -> tuple[int, int] | None:
    n = counts.size
    if n < 3:
        return (0, n - 1) if n == 2 else None
    middle = n // 2
    low = int(counts[:middle].argmax())
    high = n - 1 - int(counts[: middle - 1 : -1].argmax())
    between = counts[low + 1 : high]
    if not between.size:
        return None
    valley = between.min() if between.size < 8 else _smoothed(between).min()
    return (low, high) if valley < 0.5 * min(counts[low], counts[high]) else None


def _smoothed(counts: NDArray[np.int64]) -> Floats:
    # A single empty bin is no valley.
    return np.convolve(counts, np.full(5, 0.2), mode="valid")


def _state(
    values: Floats, counts: NDArray[np.int64], centre: float, reach: float
) -> tuple[float, int]:
    """Return the mean and the number of the samples near a mode.

    A mode of few samples is itself uncertain: the mean is taken for it, and again.
    """
    total = 0
    for _ in range(_STEPS):
        near = np.abs(values - centre) <= reach
        if not counts[near].any():
            near = np.abs(values - centre) <= 2 * reach
        total = int(counts[near].sum())
        centre = float((values[near] * counts[near]).sum() / total)
    return centre, total


def _levels(
    trace: Trace,
    noise: Noise,
    width: float,
    states: list[tuple[float, int]],
    shapes: list[float],
) -> Levels:
    text = f"modes of the histogram, {noise.text}; {settings_line(trace)}"
    unit = trace.settings.unit
    between = 1 - (states[0][1] + states[1][1]) / (_WITHIN * len(trace))
    rounded = (
        f"{between:.0%} of the samples are in neither state: levels of rounded states "
        "depend on how they are looked for"
        if between > _MOST_BETWEEN
        else ""
    )
    own, found = [], []
    for i, name in enumerate(("low state", "high state")):
        value, count = states[i]
        parts = _own(trace, name, count, noise, width)
        # Edges that creep into a state shift its mean, the more the wider one looks.
        parts += own_part(trace, f"{name} · shape", shapes[i])
        own += parts
        parts = [*level_parts(trace, value, name), *parts]
        said = f"{name}, {count} samples: {text}"
        few = f"only {count} sample{'s' * (count > 1)} in the {name}"
        rare = few if count < LEAST_SAMPLES else ""
        found.append(
            Finding(name, unit, value, merged(parts), said).noted(rounded, rare)
        )
    size = states[1][0] - states[0][0]
    amplitude_parts = merged([*difference_parts(trace, size), *own])
    amplitude = Finding("amplitude", unit, size, amplitude_parts, f"amplitude: {text}")
    notes = dict.fromkeys(note for each in found for note in each.notes)
    lost = coupling_doubt(trace)
    low, high = (each.noted(lost) for each in found)
    return Levels(low, high, amplitude.noted(*notes), noise, rounded)


def _own(trace: Trace, name: str, count: int, noise: Noise, width: float) -> list[Part]:
    parts = own_part(trace, f"{name} · noise", noise.of_mean(count))
    rounding = quantisation_of_mean(trace, noise, count)
    parts += own_part(
        trace, f"{name} · quantisation", rounding / 3**0.5, distribution="rectangular"
    )
    # Where codes are finer than the bins, the mode may be a bin beside.
    if width > 1.5 * quantisation(trace) * 12**0.5:
        parts += own_part(
            trace, f"{name} · histogram", width / 2 / 3**0.5, distribution="rectangular"
        )
    return parts

"""What a plotted record says of its dips: threshold, hysteresis, durations with u."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from benchproof.measuring.captures.dips import Dip, Dips
from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.stated import in_si
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told
from benchproof.showing.captures.axes import Scale, duration_text, stated
from benchproof.showing.captures.curves import Curve, segments
from benchproof.showing.figures.drawing import INK, LIMIT
from benchproof.values.errors import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARKED = 40
"""Dips that are marked, the longest ones; more could not be told apart."""
_SAID = 5
"""Dips that the text alternative describes one by one."""

Level = str | float | None
"""Text with a unit, or SI."""


@dataclass(frozen=True, slots=True)
class Declared:
    """The threshold below or above which a record is looked at.

    Attributes
    ----------
    threshold : float
        In SI.
    back : float or None
        Where a dip or swell ends, in SI; None if no hysteresis is declared.
    sign : {-1, 1}
        Of dips and swells.
    """

    threshold: float
    back: float | None
    sign: int

    def text(self, value: Scale) -> str:
        """Say threshold and hysteresis."""
        said = f"Threshold {exact(value, self.threshold)}"
        if self.back is None:
            return f"{said}, no hysteresis stated"
        way = "up" if self.sign < 0 else "down"
        return f"{said}, hysteresis {way} to {exact(value, self.back)}"


def exact(value: Scale, si: float) -> str:
    """Write a declared number: with its own digits, not those of the axis."""
    return f"{value.factor * (si - value.zero):.6g} {value.symbol}".rstrip()


def declared(
    trace: Trace, threshold: Level, hysteresis: Level, dips: Dips | None
) -> Declared | None:
    """Return what is declared, or what the dips were found with.

    Raises
    ------
    InputError
        If the dips were found with others, or in another record: then the picture
        would show a threshold that made nothing of what is marked.
    """
    if dips is None:
        return _given(trace, threshold, hysteresis, -1)
    sign = 1 if dips.back < dips.threshold else -1
    if not all(_is_at(trace, dips, dip, sign) for dip in dips.dips[:1]):
        raise InputError(
            f"{trace.name}: the {dips.count.name} are those of {dips.record}, where "
            "they lie this record passes no threshold. Give the ones of this record."
        )
    given = _given(trace, threshold, hysteresis, sign)
    if given is not None:
        _require_same(trace, given.threshold, dips.threshold)
        _require_same(trace, given.back, dips.back)
    return Declared(dips.threshold, dips.back, sign)


def _is_at(trace: Trace, dips: Dips, dip: Dip, sign: int) -> bool:
    """Tell whether a record passes the threshold where a dip begins and ends."""
    if not 0 < dip.first < dip.last < len(trace):
        return False
    before, first, last = (
        sign * float(trace.values(k, k + 1)[0])
        for k in (dip.first - 1, dip.first, dip.last)
    )
    begun = before < sign * dips.threshold <= first
    return begun and last <= sign * dips.back


def _require_same(trace: Trace, wanted: float | None, found: float) -> None:
    if wanted is None or math.isclose(wanted, found, rel_tol=1e-6):
        return
    unit = trace.settings.unit
    raise InputError(
        f"{trace.name}: what is marked was found with {told(found, unit)}, the figure "
        f"is to show {told(wanted, unit)}. Leave threshold and hysteresis out, or find "
        "it again with these."
    )


def _given(
    trace: Trace, threshold: Level, hysteresis: Level, sign: int
) -> Declared | None:
    unit, where = trace.settings.unit, f"{trace.name}, threshold"
    if threshold is None:
        if hysteresis is not None:
            raise InputError(
                f"{trace.name}: a hysteresis of {hysteresis} without a threshold. "
                "Give both, or the dips found with them."
            )
        return None
    level = in_si(threshold, unit, where)
    if hysteresis is None:
        return Declared(level, None, sign)
    where = f"{trace.name}, hysteresis"
    width = in_si(hysteresis, unit.difference(), where, difference=True)
    if not width > 0:
        raise InputError(f"{trace.name}: hysteresis {hysteresis}; give one > 0.")
    return Declared(level, level - sign * width, sign)


def in_window(dips: Dips | None, curve: Curve) -> tuple[Dip, ...]:
    """Return the dips that are at least partly drawn."""
    return tuple(
        dip
        for dip in (dips.dips if dips else ())
        if dip.start.value <= curve.end
        and dip.start.value + dip.duration.value >= curve.begin
    )


def mark(axes: Axes, time: Scale, shown: Sequence[Dip], level: float) -> None:
    """Mark durations along the lower edge, with their u around the end and as text.

    Parameters
    ----------
    level : float
        To which thin lines lead up, as shown.
    """
    marked = sorted(shown, key=lambda dip: -dip.duration.value)[:MARKED]
    marked.sort(key=lambda dip: dip.start.value)
    left = np.array([dip.start.value for dip in marked])
    right = left + [dip.duration.value for dip in marked]
    bottom, top = axes.get_ylim()
    foot = bottom + 0.07 * (top - bottom)
    level_at = np.full(left.shape, foot)
    segments(axes, time, left, right, level_at, color=INK, linewidth=1.5)
    _ends(axes, time, np.concatenate([left, right]), foot, level)
    u = np.array([d.duration.standard_uncertainty for d in marked])
    segments(axes, time, right - u, right + u, level_at, color=LIMIT, linewidth=5)
    _write_durations(axes, time, marked, foot)


def _ends(axes: Axes, time: Scale, ends: np.ndarray, foot: float, level: float) -> None:
    """Draw thin lines from the marks up to the threshold."""
    x = np.repeat(time.factor * (ends - time.zero), 3)
    y = np.tile([foot, level, np.nan], ends.size)
    axes.plot(x, y, color=INK, linewidth=0.8, linestyle=":")


def _write_durations(
    axes: Axes, time: Scale, marked: Sequence[Dip], foot: float
) -> None:
    """Write each duration above its mark, where it finds room beside the last one."""
    begin, end = axes.get_xlim()
    free = begin
    for dip in marked:
        text = duration_text(dip.duration.value, dip.duration.standard_uncertainty)
        if len(marked) > 1:
            text = f"{_name(dip)}: {text}"
        # A letter is about a hundredth of the axes wide.
        half = 0.0055 * len(text) * (end - begin)
        middle = dip.start.value + dip.duration.value / 2
        at = time.factor * (middle - time.zero)
        at = min(max(at, begin + half), end - half)
        if at - half < free:
            continue
        free = at + half
        axes.annotate(
            text, (at, foot), xytext=(0, 4), textcoords="offset points", ha="center",
            va="bottom", color=INK, fontsize=9,
            bbox={"facecolor": "white", "linewidth": 0, "alpha": 0.85, "pad": 1},
        )  # fmt: skip


def summary(dips: Dips, shown: Sequence[Dip], value: Scale) -> str:
    """Say how many dips there are, how long in all, and how low the lowest one is."""
    what, count = dips.count.name, dips.count
    if count.cannot_tell:
        return f"{what}: cannot tell: {count.cannot_tell}"
    said = [f"{count.value:.0f} {what if count.value != 1 else what[:-1]}"]
    if count.value:
        said.append(f"in all {_time(dips.total)}")
    if len(shown) < count.value:
        said.append(f"{len(shown)} of them drawn")
    if len(shown) > MARKED:
        said.append(f"the {MARKED} longest are marked")
    known = [dip for dip in shown if not dip.residual.cannot_tell]
    if known:
        sign = 1 if what == "swells" else -1
        worst = max(known, key=lambda dip: sign * dip.residual.value)
        word = "highest" if sign > 0 else "lowest"
        said.append(f"{word} {_residual(worst, value)} ({_name(worst)})")
    return "; ".join([*said, *count.notes])


def described(shown: Sequence[Dip], value: Scale, time: Scale) -> str:
    """Describe the longest dips one by one, in their order."""
    longest = sorted(shown, key=lambda dip: -dip.duration.value)[:_SAID]
    longest.sort(key=lambda dip: dip.start.value)
    said = [
        f"{_name(dip)} from {time.text(dip.start.value)}, duration "
        f"{_time(dip.duration)}, residual {_residual(dip, value)}"
        for dip in longest
    ]
    if len(shown) > len(longest):
        said.append(f"{len(shown) - len(longest)} shorter ones")
    return "; ".join(said)


def _name(dip: Dip) -> str:
    return dip.duration.name.partition(" · ")[0]


def _time(found: Finding) -> str:
    if found.cannot_tell:
        return f"cannot tell: {found.cannot_tell}"
    return duration_text(found.value, found.standard_uncertainty)


def _residual(dip: Dip, value: Scale) -> str:
    found = dip.residual
    if found.cannot_tell:
        return f"cannot tell: {found.cannot_tell}"
    u = value.factor * found.standard_uncertainty
    return stated(value.factor * (found.value - value.zero), u, value.symbol)

"""When to stop drawing: as soon as the digits asked for have settled."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import count

import numpy as np

from benchproof.reasoning.montecarlo.draws import BLOCK
from benchproof.reasoning.montecarlo.intervals import (
    Control,
    Figures,
    Floats,
    Interval,
    numerical_tolerance,
    steadied_figures,
    symmetric_interval,
)
from benchproof.reasoning.montecarlo.propagation import Block
from benchproof.values.inturn import Progress

MOST_DRAWS = 2_000_000
"""Where adaptive stopping gives up and says so."""
LEAST_GAIN = 1.5
"""A control that gains less is left aside."""
_LEAST_IN_TAILS = 40


def told(
    blocks: Iterator[Block], draws: int, progress: Progress | None
) -> Iterator[Block]:
    """Pass blocks on, and tell which fraction of the draws they are."""
    for number, block in enumerate(blocks, 1):
        if progress:
            progress(min(number * BLOCK / draws, 1.0))
        yield block


def draw_fixed(blocks: Iterator[Block], draws: int) -> Block:
    """Return as many draws as asked for, the last block cut where need be."""
    outcome, line = np.empty(draws), None
    for start, (block, model) in zip(range(0, draws, BLOCK), blocks, strict=True):
        outcome[start : start + BLOCK] = block[: draws - start]
        if model is not None:
            line = np.empty(draws) if line is None else line
            line[start : start + BLOCK] = model[: draws - start]
    return outcome, line


def draw_until_settled(
    blocks: Iterator[Block],
    level: float,
    digits: int,
    linear: Interval | None,
    control: Control | None,
) -> tuple[Floats, Floats | None, bool]:
    """Draw until twice the standard deviation of the block averages is small.

    Where the linear result lies so close to the tolerance that chance would decide
    about it, drawing goes on (JCGM 101:2008, 8.2, asks for more draws there).

    Parameters
    ----------
    blocks : iterator of Block
    level : float
        Coverage probability.
    digits : int
        Significant digits of u that are to settle.
    linear : (float, float) or None
        Ends of the linear result's interval, in SI.
    control : Control or None
        The linear model; the blocks decide whether it is of use.

    Returns
    -------
    outcome : ndarray, shape (n,)
        Draws of the target.
    line : ndarray, shape (n,), or None
        Of the linear model, None if it was of no use.
    settled : bool

    References
    ----------
    JCGM 101:2008, 7.9.4.
    """
    kept: list[Block] = []
    rows: list[tuple[float, float, float, float]] = []
    for number in count(1):
        block, line = next(blocks)
        kept.append((block, line))
        found = steadied(block, line, control, shortest=False)
        if found:
            rows.append(_row(found))
        else:  # where one block shows no gain, all are taken plainly
            past = kept if control else kept[-1:]
            rows[len(kept) - len(past) :] = [_row(_plain(b, level)) for b, _ in past]
            control = None
        if number == 1:
            continue
        table = np.array(rows)
        spread = 2 * table.std(axis=0, ddof=1) / math.sqrt(number)
        tolerance = numerical_tolerance(float(table[:, 1].mean()), digits)
        settled = bool(np.all(spread <= tolerance))
        clear = linear is None or _is_clear(table, spread, linear, tolerance)
        if (settled and clear) or number * BLOCK >= MOST_DRAWS:
            break
    outcome = np.concatenate([block for block, _ in kept])
    lines = [line for _, line in kept if line is not None]
    return outcome, np.concatenate(lines) if control else None, settled


def steadied(
    outcome: Floats, line: Floats | None, control: Control | None, shortest: bool = True
) -> Figures | None:
    """Return the figures corrected by the control, or None if it does not gain enough.

    Parameters
    ----------
    outcome : ndarray, shape (n,)
    line : ndarray, shape (n,), or None
        Draws of the linear model.
    control : Control or None
    shortest : bool
        As for `steadied_figures`.
    """
    if control is None or line is None:
        return None
    if (1 - control.level) * outcome.size < _LEAST_IN_TAILS:
        return None
    found = steadied_figures(outcome, line, control, shortest)
    return found if found.gain >= LEAST_GAIN else None


def _row(found: Figures) -> tuple[float, float, float, float]:
    return found.value, found.standard_uncertainty, *found.symmetric


def _plain(block: Floats, level: float) -> Figures:
    ends = symmetric_interval(block, level)
    return Figures(float(block.mean()), float(block.std(ddof=1)), ends, ends)


def _is_clear(
    table: Floats, spread: Floats, linear: Interval, tolerance: float
) -> bool:
    """Tell whether the linear ends are surely within the tolerance, or surely not."""
    ends = table[:, 2:].mean(axis=0)
    gap, noise = float(np.abs(ends - linear).max()), float(spread[2:].max())
    return gap + noise <= tolerance or gap - noise > tolerance

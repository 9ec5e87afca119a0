"""Gaps: the chain of dimensions, its worst case, its spread, its draws.

Lengths in m; any one unit will do, as long as all share it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchproof.measuring.circuits.limits import demand, demand_not_negative
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class ChainLink:
    """One dimension of the chain that leads across a gap.

    Attributes
    ----------
    length : float
        Nominal, m: positive where it opens the gap, negative where it closes it.
    tolerance : float
        ± about the nominal, m, >= 0. Taken as three standard deviations of a normal
        distribution, which is an assumption about the maker's process: say so.
    play : float
        One-sided play that closes the gap by anything from 0 to this, m, >= 0.
        Taken as rectangular.

    Examples
    --------
    >>> ChainLink(1.1e-3, tolerance=0.15e-3).play
    0.0
    """

    length: float
    tolerance: float = 0.0
    play: float = 0.0

    def __post_init__(self) -> None:
        """Refuse lengths that are no numbers and negative tolerances.

        Raises
        ------
        InputError
        """
        finite = math.isfinite(self.length)
        demand(finite, "ChainLink: length", self.length, "give a number")
        demand_not_negative("ChainLink: tolerance", self.tolerance)
        demand_not_negative("ChainLink: play", self.play)


@dataclass(frozen=True, slots=True)
class GapDraws:
    """Gaps of many imagined pieces.

    Attributes
    ----------
    draws : int
    mean, standard_deviation, least : float
        m; of the draws.
    closed : int
        How many have no gap left. None of them is a bound by the draws and by the
        assumed distributions, not a promise.

    Examples
    --------
    >>> GapDraws(1000, 0.9e-3, 0.1e-3, -0.01e-3, closed=2).closed_share
    0.002
    """

    draws: int
    mean: float
    standard_deviation: float
    least: float
    closed: int

    @property
    def closed_share(self) -> float:
        """Share of the pieces without a gap."""
        return self.closed / self.draws


def worst_case_gap(chain: Sequence[ChainLink]) -> float:
    """Gap with every dimension at its worst limit: ``Σ lengths - Σ limits``, m.

    Parameters
    ----------
    chain : sequence of ChainLink

    Raises
    ------
    InputError
        If the chain is empty.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> chain = [ChainLink(1.1e-3, 0.15e-3), ChainLink(0, play=0.35e-3)]
    >>> f"{worst_case_gap(chain) * 1e3:.2f} mm"
    '0.60 mm'
    """
    _demand_links("worst_case_gap", chain)
    nominal = math.fsum(link.length for link in chain)
    return nominal - math.fsum(link.tolerance + link.play for link in chain)


def mean_gap(chain: Sequence[ChainLink]) -> float:
    """Mean gap: the nominal, less half of all one-sided play, m.

    Parameters
    ----------
    chain : sequence of ChainLink

    Raises
    ------
    InputError
        If the chain is empty.

    References
    ----------
    Mean of a rectangular distribution.

    Examples
    --------
    >>> chain = [ChainLink(1.1e-3, 0.15e-3), ChainLink(0, play=0.35e-3)]
    >>> f"{mean_gap(chain) * 1e3:.3f} mm"
    '0.925 mm'
    """
    _demand_links("mean_gap", chain)
    return math.fsum(link.length - link.play / 2 for link in chain)


def gap_deviation(chain: Sequence[ChainLink]) -> float:
    """Return the standard deviation of the gap, by root of sum of squares, m.

    ``√(Σ (t/3)² + Σ play²/12)``, all dimensions independent.

    Parameters
    ----------
    chain : sequence of ChainLink

    Raises
    ------
    InputError
        If the chain is empty.

    References
    ----------
    JCGM 100:2008, 4.3.7 for the play; t = 3σ is declared, not known.

    Examples
    --------
    >>> chain = [ChainLink(1.1e-3, 0.15e-3), ChainLink(0, play=0.35e-3)]
    >>> f"{gap_deviation(chain) * 1e3:.3f} mm"
    '0.113 mm'
    """
    _demand_links("gap_deviation", chain)
    normal = math.fsum((link.tolerance / 3) ** 2 for link in chain)
    return math.sqrt(normal + math.fsum(link.play**2 / 12 for link in chain))


def draw_gaps(chain: Sequence[ChainLink], draws: int, seed: int) -> Any:
    """Draw gaps from the chain's distributions.

    Parameters
    ----------
    chain : sequence of ChainLink
    draws : int
        How many pieces to imagine, >= 1.
    seed : int
        The same seed gives the same draws.

    Returns
    -------
    array of float
        Shape (draws,), m.

    Raises
    ------
    InputError
        If the chain is empty or `draws` is below 1.

    References
    ----------
    JCGM 101:2008, 6.4 (distributions) and 7 (propagation).

    Examples
    --------
    >>> draw_gaps([ChainLink(1e-3, play=0.1e-3)], 1000, seed=1).max() <= 1e-3
    np.True_
    """
    _demand_links("draw_gaps", chain)
    demand(draws >= 1, "draw_gaps: draws", draws, "give 1 or more")
    generator = np.random.Generator(np.random.SFC64(seed))
    gaps = np.full(draws, math.fsum(link.length for link in chain))
    for link in chain:
        if link.tolerance:
            gaps += link.tolerance / 3 * generator.standard_normal(draws)
        if link.play:
            gaps -= link.play * generator.random(draws)
    return gaps


def monte_carlo_gap(chain: Sequence[ChainLink], draws: int, seed: int) -> GapDraws:
    """Summarise drawn gaps: mean, spread, and how many are closed.

    Parameters
    ----------
    chain, draws, seed
        As in `draw_gaps`; two draws at least.

    Raises
    ------
    InputError
        If the chain is empty or `draws` is below 2.

    References
    ----------
    JCGM 101:2008, 7.6.

    Examples
    --------
    >>> chain = [ChainLink(0.2e-3, 0.15e-3), ChainLink(0, play=0.35e-3)]
    >>> f"{monte_carlo_gap(chain, 100_000, seed=1).closed_share:.2f}"
    '0.43'
    """
    demand(draws >= 2, "monte_carlo_gap: draws", draws, "give 2 or more")
    gaps = draw_gaps(chain, draws, seed)
    deviation, least = float(np.std(gaps, ddof=1)), float(np.amin(gaps))
    closed = int(np.sum(gaps <= 0))
    return GapDraws(draws, float(np.mean(gaps)), deviation, least, closed)


def _demand_links(where: str, chain: Sequence[ChainLink]) -> None:
    if not chain:
        raise InputError(f"{where}: the chain is empty; give at least one ChainLink.")

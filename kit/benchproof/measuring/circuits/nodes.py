"""Voltages of several contacts joined by resistors, films and leaks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from benchproof.measuring.circuits.limits import Number, demand_positive
from benchproof.values.errors import InputError

Link = tuple[str, str, Number]
"""Two nodes and the resistance between them, Ω."""


def node_voltages(
    links: Iterable[Link],
    fixed: Mapping[str, Number],
    injected: Mapping[str, Number] | None = None,
) -> dict[str, Number]:
    """Solve a network of resistances for the voltage of each node.

    Parameters
    ----------
    links : iterable of (str, str, number)
        Node, node, resistance between them in Ω, > 0: a pull-up, a film, a meter.
        Two links between the same nodes are in parallel.
    fixed : mapping of str to number
        Nodes whose voltage is known, V: supplies and ground, at least one.
    injected : mapping of str to number, optional
        Current driven into a node, A; a leakage current out of it is negative.

    Returns
    -------
    dict of str to number
        Every node, V, the fixed ones too; each of the shape of the draws.

    Raises
    ------
    InputError
        If a resistance is not > 0, a link joins a node to itself, or a node has no
        path to a fixed one: it floats, and its voltage is nobody's.

    References
    ----------
    Kirchhoff's current law.

    Examples
    --------
    A pulled-up input, its neighbour, and a film of 20 kΩ to ground:

    >>> film = [("rail", "input", 47e3), ("input", "pad", 1e3), ("pad", "ground", 20e3)]
    >>> volts = node_voltages(film, {"rail": 3.3, "ground": 0.0})
    >>> f"{volts['input']:.3f} V, {volts['pad']:.3f} V"
    '1.019 V, 0.971 V'
    """
    listed = list(links)
    currents = dict(injected or {})
    for first, second, resistance in listed:
        demand_positive(f"node_voltages: resistance {first}-{second}", resistance)
        if first == second:
            raise InputError(
                f"node_voltages: a link joins {first!r} to itself; name two nodes."
            )
    names = {name for first, second, _ in listed for name in (first, second)}
    unknown = sorted((names | set(currents)) - set(fixed))
    _demand_grounded(listed, fixed, unknown)
    if not unknown:
        return dict(fixed)
    matrix, flows = _equations(listed, fixed, currents, unknown)
    solved = np.linalg.solve(matrix, flows[..., np.newaxis])[..., 0]
    return dict(fixed) | {name: solved[..., i] for i, name in enumerate(unknown)}


def _equations(
    links: Sequence[Link],
    fixed: Mapping[str, Number],
    injected: Mapping[str, Number],
    unknown: Sequence[str],
) -> tuple[Number, Number]:
    """Conductances (..., n, n) and currents (..., n), draws first."""
    given = [r for *_, r in links] + list(fixed.values()) + list(injected.values())
    draws = np.broadcast_shapes(*(np.shape(value) for value in given))
    kind = np.result_type(float, *(np.asarray(value) for value in given))
    n = len(unknown)
    place = {name: i for i, name in enumerate(unknown)}
    matrix = np.zeros((*draws, n, n), dtype=kind)
    flows = np.zeros((*draws, n), dtype=kind)
    for name, current in injected.items():
        if name in place:
            flows[..., place[name]] += current
    for first, second, resistance in links:
        for here, there in ((first, second), (second, first)):
            if here not in place:
                continue
            matrix[..., place[here], place[here]] += 1 / resistance
            if there in place:
                matrix[..., place[here], place[there]] -= 1 / resistance
            else:
                flows[..., place[here]] += fixed[there] / resistance
    return matrix, flows


def _demand_grounded(
    links: Sequence[Link], fixed: Mapping[str, Number], unknown: Sequence[str]
) -> None:
    reached = set(fixed)
    grown = True
    while grown:
        new = {n for a, b, _ in links if {a, b} & reached for n in (a, b)} - reached
        reached |= new
        grown = bool(new)
    floating = [name for name in unknown if name not in reached]
    if floating:
        raise InputError(
            f"node_voltages: {', '.join(floating)} has no path to a fixed node, so its "
            "voltage is not defined. Add the link that holds it (an input resistance, "
            "a meter of 10 MΩ) or leave it out."
        )

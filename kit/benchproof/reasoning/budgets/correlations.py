"""Correlations that a person declares between two quantities."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from benchproof.values.errors import InputError
from benchproof.values.sources import Estimate, Joint


@dataclass(frozen=True, slots=True)
class Correlation:
    """Two quantities whose errors are related, by how much, and why.

    Attributes
    ----------
    first, second : str
        Inputs: measurands or constants.
    coefficient : float
        From -1 to 1.
    because : str
        Where it comes from.
    of : tuple of str
        Ends of the two sources' names, where a quantity has several of its own.
    """

    first: str
    second: str
    coefficient: float
    because: str
    of: tuple[str, str] = ("", "")

    def __post_init__(self) -> None:
        if not -1 <= self.coefficient <= 1:
            raise InputError(
                f"correlation of {self.first} and {self.second}: {self.coefficient}; "
                "give a coefficient from -1 to 1."
            )
        if self.first == self.second:
            raise InputError(
                f"correlation of {self.first} with itself is 1 already; name two."
            )


def declared_joints(
    inputs: Mapping[str, Estimate],
    correlations: Sequence[Correlation],
    taken: Sequence[Joint] = (),
) -> list[Joint]:
    """Turn declared correlations into groups of correlated sources.

    A coefficient relates what is uncertain in each quantity alone; sources that two
    quantities share correlate them anyhow. In Monte Carlo a group is drawn from a
    multivariate normal distribution, whatever its members' own distributions are.

    Parameters
    ----------
    inputs : mapping
        Estimates; correlations of quantities not among them wait.
    taken : sequence of Joint
        Groups that come from readings taken together.

    Raises
    ------
    InputError
        If a quantity has no source or several of its own, or if the coefficients
        contradict each other; the quantities are named.

    References
    ----------
    JCGM 100:2008, 5.2.2 and F.1.2.
    """
    if not correlations:
        return []
    shared = Counter(s.name for e in inputs.values() for s, _ in e.parts)
    joined = {name for joint in taken for name in joint.names}
    links: dict[str, dict[str, float]] = {}
    for said in correlations:
        if said.first not in inputs or said.second not in inputs:
            continue
        ends = [
            _own_source(name, inputs[name], shared, joined, wanted)
            for name, wanted in zip((said.first, said.second), said.of, strict=True)
        ]
        for one, other in (ends, ends[::-1]):
            links.setdefault(one, {})[other] = said.coefficient
    return [_joint(group, links) for group in _groups(links)]


def _own_source(
    name: str, estimate: Estimate, shared: Counter[str], joined: set[str], wanted: str
) -> str:
    own = [
        s.name
        for s, _ in estimate.parts
        if shared[s.name] == 1 and s.standard_uncertainty and s.name.endswith(wanted)
    ]
    if len(own) != 1:
        listed = ", ".join(own) or "none"
        raise InputError(
            f"correlation with {name}: it needs one source of its own, there are "
            f"{len(own)} ({listed}). Name the end of one, e.g. of=('stated', 'stated')."
        )
    if own[0] in joined:
        raise InputError(
            f"correlation with {name}: {own[0]} is correlated already, by readings "
            "taken together. Name another source, or record them apart."
        )
    return own[0]


def _groups(links: Mapping[str, Mapping[str, float]]) -> list[list[str]]:
    groups: list[list[str]] = []
    seen: set[str] = set()
    for start in links:
        group, waiting = [], [start]
        while waiting:
            name = waiting.pop()
            if name not in seen:
                seen.add(name)
                group.append(name)
                waiting += links[name]
        groups += [sorted(group)] if group else []
    return groups


def _joint(group: Sequence[str], links: Mapping[str, Mapping[str, float]]) -> Joint:
    matrix = tuple(
        tuple(1.0 if a == b else links[a].get(b, 0.0) for b in group) for a in group
    )
    least = float(np.linalg.eigvalsh(np.array(matrix)).min())
    if least < -1e-9:
        owners = ", ".join(name.partition(" · ")[0] for name in group)
        raise InputError(
            f"the correlations declared between {owners} contradict each other (least "
            f"eigenvalue {least:.2g}; pairs not declared count as 0). Declare every "
            "pair, with coefficients that can hold together."
        )
    return Joint(tuple(group), matrix)

"""Timings of the formula sheet: several contacts solved for many draws."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from harness import Line, again, medians

DRAWS = 100_000


def nodes(folder: Path) -> Iterator[Line]:
    import numpy as np

    from benchproof.measuring.circuits import node_voltages

    stream = np.random.default_rng(1)
    films = [3e3 * (1 + 0.1 * stream.standard_normal(DRAWS)) for _ in range(4)]
    pulls = [48e3 * (1 + 0.01 * stream.standard_normal(DRAWS)) for _ in range(2)]
    links = [
        *(("P2", "P3", films[0]), ("P3", "P4", films[1]), ("P4", "P5", films[2])),
        *(("P5", "P6", films[3]), ("P5", "rail", pulls[0]), ("P6", "rail", pulls[1])),
    ]
    fixed = {"rail": 3.3, "P2": 0.0}

    def solved() -> object:
        return node_voltages(links, fixed)["P6"]

    by_hand = partial(_by_hand, films, pulls)
    assert np.allclose(solved(), by_hand())
    floor, seconds = medians(7, again(by_hand), again(solved))
    yield Line("six contacts, 1e5 draws, against matrices by hand", seconds, floor, 2)


def _by_hand(films: list, pulls: list) -> object:
    """Write the same conductances into one stack of matrices and solve it."""
    import numpy as np

    g, h = [1 / r for r in films], [1 / r for r in pulls]
    matrix = np.zeros((DRAWS, 4, 4))
    flows = np.zeros((DRAWS, 4))
    diagonal = (g[0] + g[1], g[1] + g[2], g[2] + g[3] + h[0], g[3] + h[1])
    for i, value in enumerate(diagonal):
        matrix[:, i, i] = value
    for i in range(3):
        matrix[:, i, i + 1] = matrix[:, i + 1, i] = -g[i + 1]
    flows[:, 2], flows[:, 3] = 3.3 * h[0], 3.3 * h[1]
    return np.linalg.solve(matrix, flows[..., np.newaxis])[:, 3, 0]

"""Formulas evaluated on draws, block by block, on one thread or more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import count, islice
from typing import Any

import numpy as np

from benchproof.reasoning.budgets.budget import Budget
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.draws import (
    BLOCK,
    DRAWS,
    DrawMemory,
    Draws,
    Floats,
)
from benchproof.values.errors import FormulaError
from benchproof.values.inturn import in_turn

Block = tuple[Floats, Floats | None]
"""Draws of the target and, where there is a control, of its linear model."""

ALONE_BLOCKS = 10
"""So many blocks are drawn before a second thread pays."""


class Propagation:
    """Draws of a target, and of its linear model on the same draws of the sources.

    Parameters
    ----------
    graph : Graph
    target : str
    seed : int
    linear : Budget or None
        Whose contributions make the linear model; None if it is not wanted.
    memory : DrawMemory
        Where standard draws are kept.
    """

    def __init__(
        self,
        graph: Graph,
        target: str,
        seed: int,
        linear: Budget | None = None,
        memory: DrawMemory = DRAWS,
    ) -> None:
        self._graph, self._target = graph, target
        self._inputs = graph.inputs_of(target)
        self._steps = [graph.formulas[name] for name in graph.order(target)]
        parts = [part for name in self._inputs for part in graph.inputs[name].parts]
        self._draws = Draws({s.name: s for s, _ in parts}, graph.joints, seed, memory)
        self._slopes = (
            {x.source.name: x.contribution for x in linear.lines} if linear else {}
        )

    def block(self, index: int) -> Block:
        """Return draws of the target, shape (BLOCK,), and of the linear model.

        Raises
        ------
        FormulaError
            If a formula does not work element by element or leaves its domain.
        """
        drawn = self._draws.block(index)
        line = None
        for name, slope in self._slopes.items():
            if slope:
                part = slope * self._draws.scales[name] * drawn[name]
                line = part if line is None else np.add(line, part, out=line)
        return self._outcome(drawn), line

    def alone(self, names: tuple[str, ...], draws: int) -> Floats:
        """Return draws of the target while only the sources named vary.

        Returns
        -------
        ndarray, shape (n,)
            Whole blocks, at least `draws`.
        """
        kept = []
        for index in range(-(-draws // BLOCK)):
            drawn = self._draws.block(index)
            kept.append(self._outcome({name: drawn[name] for name in names}))
        return np.concatenate(kept)

    def groups(self) -> list[tuple[str, ...]]:
        """Return the sources, those observed together as one group."""
        return self._draws.groups()

    def blocks(self, number: int | None, threads: int) -> Iterator[Block]:
        """Yield the first `number` blocks in order, without end if None.

        The same blocks whatever the number of threads.
        """
        yield from islice(map(self.block, count()), min(number or 10**9, ALONE_BLOCKS))
        rest = range(ALONE_BLOCKS, number) if number else count(ALONE_BLOCKS)
        enough = number is None or number >= 2 * ALONE_BLOCKS
        yield from in_turn(self.block, rest, threads if enough else 1)

    def _outcome(self, drawn: Mapping[str, Floats]) -> Floats:
        values: dict[str, Any] = {n: self._input(n, drawn) for n in self._inputs}
        for formula in self._steps:
            arguments = [values[name] for name in formula.arguments]
            values[formula.name] = _vector(formula, arguments)
        result = np.broadcast_to(np.asarray(values[self._target], float), (BLOCK,))
        return _finite(self._target, result)

    def _input(self, name: str, drawn: Mapping[str, Floats]) -> Any:
        estimate, scales = self._graph.inputs[name], self._draws.scales
        total: Any = None
        for source, sensitivity in estimate.parts:
            if source.name in drawn:
                step = sensitivity * source.standard_uncertainty * scales[source.name]
                part = step * drawn[source.name]
                total = part if total is None else np.add(total, part, out=total)
        if total is None:
            return estimate.value
        total += estimate.value
        # One formula must not change what another is going to be given.
        total.setflags(write=False)
        return total


def _vector(formula: Formula, arguments: list[Any]) -> Any:
    name = formula.name
    try:
        result = formula(arguments)
    except FormulaError as problem:
        if "read-only" in str(problem.__cause__):
            raise FormulaError(
                f"{name}: the formula changes one of its arguments in place, which "
                "would change it for other formulas too. Write x = x + 1 instead of "
                "x += 1, and copy an array before changing its elements."
            ) from problem
        raise
    array = np.asarray(result) if not isinstance(result, np.ndarray) else result
    if array.dtype.kind not in "fiub":
        raise FormulaError(
            f"{name}: given arrays of draws, the formula returned numbers of type "
            f"{array.dtype}. Return real numbers (np.abs, np.real), element by element."
        )
    if array.shape not in ((), (BLOCK,)):
        raise FormulaError(
            f"{name}: given arrays of {BLOCK} draws, the formula returned shape "
            f"{array.shape}. Write it so that it works element by element (numpy "
            "functions)."
        )
    return result


def _finite(name: str, block: Floats) -> Floats:
    finite = np.isfinite(block)
    if not finite.all():
        bad = BLOCK - int(np.count_nonzero(finite))
        raise FormulaError(
            f"{name}: {bad} of {BLOCK} draws are not finite. The formula leaves its "
            "domain within the uncertainty of its inputs: guard it or measure closer."
        )
    return block

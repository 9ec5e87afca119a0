"""Long records on several workers through dask (extra ``scale``).

A record is cut into the same blocks however many workers there are, each block is
looked at on its own, and the results are joined in their order: one worker and many
give the same digits.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from importlib.util import find_spec
from typing import Any

from benchproof.measuring.captures.crossings import (
    Changes,
    check_thresholds,
    joined_changes,
    runs_in,
)
from benchproof.measuring.captures.histogram import Grid, grid_for
from benchproof.measuring.captures.pyramid import joined_pyramids, pyramid_of
from benchproof.measuring.captures.summary import (
    BLOCK,
    Codes,
    Summary,
    block_summary,
    is_small,
    merged_summary,
)
from benchproof.values.errors import InputError

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
TASK = 32 * BLOCK
"""Samples to a task, so that a task is much longer than handing it out."""


def scaled_summary(codes: Codes, workers: int) -> Summary:
    """Summarise a record on several processes.

    Parameters
    ----------
    codes : array, shape (n,)
        Memory-mapped, so that only its place is sent to a worker.
    workers : int
        Processes, each with one thread for linear algebra.

    Raises
    ------
    InputError
        If dask is not installed.
    """
    grid = Grid(0, 1.0, True)
    with _pool(workers) as run:
        if not is_small(codes):
            parts = [p for task in run(_pyramids, codes, None) for p in task]
            pyramid = joined_pyramids(parts)
            grid = grid_for(codes, pyramid.least, pyramid.greatest)
        return merged_summary(
            [s for task in run(_summaries, codes, grid) for s in task]
        )


def scaled_changes(codes: Codes, low: float, high: float, workers: int) -> Changes:
    """Find every change of state of a record on several processes.

    Parameters
    ----------
    codes, workers
        As for `scaled_summary`.
    low, high : float
        Thresholds in codes.

    Raises
    ------
    InputError
        If dask is not installed, or ``low < high`` does not hold.
    """
    check_thresholds(low, high)
    with _pool(workers) as run:
        found = run(_runs, codes, (low, high))
        return joined_changes((r for task in found for r in task), low, high)


Span = tuple[int, int]


def _blocks(codes: Codes, span: Span) -> Iterator[tuple[int, Codes]]:
    for start in range(*span, BLOCK):
        yield start, codes[start : min(start + BLOCK, span[1])]


def _pyramids(codes: Codes, span: Span, extra: None) -> list[Any]:
    return [pyramid_of(part) for _, part in _blocks(codes, span)]


def _summaries(codes: Codes, span: Span, extra: Grid) -> list[Any]:
    return [block_summary(part, extra) for _, part in _blocks(codes, span)]


def _runs(codes: Codes, span: Span, extra: tuple[float, float]) -> list[Any]:
    return [runs_in(part, *extra, start) for start, part in _blocks(codes, span)]


def _on_place(
    work: Callable[..., list[Any]], place: tuple[Any, ...], span: Span, extra: Any
) -> list[Any]:
    """Open the record again in the worker, then do the work on one task of it."""
    import numpy as np

    path, kind, offset, count, stride = place
    mapped = np.memmap(path, kind, "r", offset, (count * stride - stride + 1,))
    return work(mapped[::stride], span, extra)


def _place(codes: Codes) -> tuple[Any, ...]:
    """Say where a mapped record lies in its file."""
    base: Any = codes
    while getattr(base, "filename", None) is None and base is not None:
        base = base.base
    if base is None:
        raise InputError(
            "a record on several workers is one of a file: open it from captures/."
        )
    root = base
    while getattr(root.base, "filename", None) is not None:
        root = root.base
    start = codes.__array_interface__["data"][0] - root.__array_interface__["data"][0]
    stride = codes.strides[0] // codes.itemsize
    return str(root.filename), codes.dtype, root.offset + start, len(codes), stride


@contextmanager
def _pool(workers: int) -> Iterator[Callable[..., list[list[Any]]]]:
    """Give a function that runs a task for each piece of a record, in order."""
    if not find_spec("dask"):
        raise InputError(
            "several workers need dask: pip install 'benchproof[scale]'. One worker "
            "does without: leave workers out."
        )
    import dask

    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))  # workers take these over
    try:
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(workers, context) as pool:

            def run(
                work: Callable[..., list[Any]], codes: Codes, extra: Any
            ) -> list[list[Any]]:
                task, place = dask.delayed(_on_place, pure=False), _place(codes)
                spans = [
                    (first, min(first + TASK, len(codes)))
                    for first in range(0, len(codes), TASK)
                ]
                graph = [task(work, place, span, extra) for span in spans]
                return list(dask.compute(*graph, scheduler="processes", pool=pool))

            yield run
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value

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
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from typing import Any

import numpy as np

from benchproof.measuring.captures.crossings import (
    Changes,
    Runs,
    check_thresholds,
    joined_changes,
    runs_in,
)
from benchproof.measuring.captures.histogram import Grid
from benchproof.measuring.captures.summary import (
    BLOCK,
    Codes,
    Piece,
    Summary,
    finished,
    grid_between,
    is_small,
    joined,
    limits_of,
    piece_of,
)
from benchproof.values.errors import InputError

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
LEAST_TASK = 32 * BLOCK
"""Samples to a task, so that handing it out is little beside it."""

_TASKS = 4
"""For each worker: the last ones end at about the same time."""

Run = Callable[[Callable[..., Any], Codes], list[Any]]


def scaled_summary(codes: Codes, workers: int) -> Summary:
    """Summarise a record on several processes.

    Parameters
    ----------
    codes : array, shape (n,)
        Memory-mapped, so that only its place is sent to a worker.
    workers : int
        Processes, each with one thread for linear algebra. 0 leaves it to the
        scheduler set for dask, for instance that of a cluster whose machines see
        the file under the same path.

    Raises
    ------
    InputError
        If dask is not installed, or a worker was ended.
    """
    grid = Grid(0, 1.0, True)
    with _pool(workers) as run:
        if not is_small(codes):
            grid = grid_between(codes, run(_limits, codes))
        return finished(joined(run(partial(_piece, grid), codes)))


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
        If dask is not installed, a worker was ended, or ``low < high`` does not
        hold.
    """
    check_thresholds(low, high)
    with _pool(workers) as run:
        found = run(partial(_runs, low, high), codes)
        return joined_changes((part for task in found for part in task), low, high)


def _blocks(codes: Codes) -> Iterator[Codes]:
    for first in range(0, len(codes), BLOCK):
        yield codes[first : first + BLOCK]


def _limits(codes: Codes, first: int) -> tuple[float, float]:
    return limits_of(codes)


def _piece(grid: Grid, codes: Codes, first: int) -> Piece:
    return joined(piece_of(block, grid) for block in _blocks(codes))


def _runs(low: float, high: float, codes: Codes, first: int) -> list[Runs]:
    starts = range(first, first + len(codes), BLOCK)
    blocks = zip(starts, _blocks(codes), strict=True)
    return [runs_in(block, low, high, start) for start, block in blocks]


def _on_place(
    work: Callable[..., Any], place: tuple[Any, ...], first: int, last: int
) -> Any:
    """Open the record again in the worker, then do the work on one task of it."""
    path, kind, offset, count, stride = place
    mapped = np.memmap(path, kind, "r", offset, (count * stride - stride + 1,))
    return work(mapped[::stride][first:last], first)


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


def tasks_of(count: int, workers: int) -> list[tuple[int, int]]:
    """Cut a record into first and last samples of tasks, at borders of blocks."""
    blocks = -(-count // BLOCK)
    each = max(-(-blocks // (_TASKS * max(workers, 1))) * BLOCK, LEAST_TASK)
    return [(first, min(first + each, count)) for first in range(0, count, each)]


@contextmanager
def _pool(workers: int) -> Iterator[Run]:
    """Give a function that runs a task for each piece of a record, in order."""
    if not find_spec("dask"):
        raise InputError(
            "several workers need dask: pip install 'benchproof[scale]'. One worker "
            "does without: leave workers out."
        )
    import dask

    def run(how: dict[str, Any], work: Callable[..., Any], codes: Codes) -> list[Any]:
        task, place = dask.delayed(_on_place, pure=False), _place(codes)
        graph = [task(work, place, *span) for span in tasks_of(len(codes), workers)]
        try:
            return list(dask.compute(*graph, **how))
        except BrokenProcessPool:
            raise InputError(
                "a worker ended before its work. In a program of your own, call this "
                "under: if __name__ == '__main__'. Else take fewer workers: memory may "
                "have been short."
            ) from None

    if not workers:
        yield partial(run, {})
        return
    context = multiprocessing.get_context("spawn")
    with _one_thread_each(), ProcessPoolExecutor(workers, context) as pool:
        yield partial(run, {"scheduler": "processes", "pool": pool})


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Have processes that are started meanwhile use one thread for linear algebra."""
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value

"""A long record on one and on two workers, beside plain processes that do the same.

Two workers against one say little where another program takes the second core, or
both share one memory. Two plain processes, in turn with them, show what the machine
had to give; what is beyond that is the price of dask.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from captures import holes
from harness import Line, again, medians

SAMPLES = 16_000_000_000
"""Of a byte, in a file of holes: each task takes about a second."""

MOST_OF_ONE, MOST_OF_PLAIN = 0.6, 1.1
"""Targets: two workers against one, and against two plain processes."""


def scaling(folder: Path) -> Iterator[Line]:
    """Summarise one record in four ways, linear algebra on one thread each."""
    import numpy as np

    name = f"record of {SAMPLES:.1e} samples"
    if not find_spec("dask"):
        yield Line(f"{name} on 2 workers", note="dask (extra scale) is not installed")
        return
    from benchproof.keeping.captures import scale

    path = holes(folder, SAMPLES, "int8")
    codes = np.load(path, mmap_mode="r")
    found: dict[str, object] = {}
    busy = _load()

    def act(key: str, way: Any, workers: int) -> None:
        found[key] = _told(way(codes, workers))

    ways = {"dask": scale.scaled_summary, "plain": _plain_summary}
    acts = [partial(act, f"{k} {n}", ways[k], n) for k in ways for n in (1, 2)]
    one, two, plain_one, plain_two = medians(3, *map(again, acts))
    tasks = len(scale.tasks_of(len(codes), 2))
    same = "the same" if len(set(found.values())) == 1 else "DIFFER"
    note = f"{tasks} tasks of {2 * two / tasks:.1f} s, results of all four {same}{busy}"
    yield Line(f"{name}, 2 workers, floor: 1", two, one, MOST_OF_ONE, note=note)
    gives = "what the machine gives a second process"
    yield Line("  2 plain processes, floor: 1", plain_two, plain_one, note=gives)
    costs = "what dask costs"
    yield Line("  2 workers, floor: 2 plain processes", two, plain_two, MOST_OF_PLAIN,
               note=costs)  # fmt: skip
    path.unlink()


def _plain_summary(codes: Any, workers: int) -> Any:
    """Do the tasks of `scaled_summary` in processes, without dask.

    Of a record of bytes, whose grid is known without looking.
    """
    from benchproof.keeping.captures import scale
    from benchproof.measuring.captures.histogram import Grid

    spans = scale.tasks_of(len(codes), workers)
    work = partial(scale._piece, Grid(0, 1.0, True))
    task = partial(scale._on_place, work, scale._place(codes))
    context = multiprocessing.get_context("spawn")
    with scale._one_thread_each(), ProcessPoolExecutor(workers, context) as pool:
        pieces = list(pool.map(task, *zip(*spans, strict=True)))
    return scale.finished(scale.joined(pieces))


def _load() -> str:
    """Say how many programs wanted a core before this began."""
    if not hasattr(os, "getloadavg"):
        return ""
    return f"; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores before it"


def _told(found: Any) -> tuple[object, ...]:
    counts, lows = found.histogram.counts.tobytes(), found.pyramid.low.tobytes()
    return repr(found.moments), counts, lows

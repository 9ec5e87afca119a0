"""Timings of trials: many exact limits, a pairwise plan, a ledger opened."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from harness import Line, again, medians
from invented import case_folder

ROWS = 1_000_000


def limits(folder: Path) -> Iterator[Line]:
    import numpy as np

    from benchproof.reasoning.trials import exact_limits_of

    stream = np.random.default_rng(1)
    for most, what in ((1_000, "up to 1000 attempts"), (10**7, "all rows differ")):
        n = stream.integers(1, most, ROWS)
        k = (stream.random(ROWS) * (n + 1)).astype(np.int64)
        floor, seconds = medians(
            5, again(partial(_wilson, k, n)), again(partial(exact_limits_of, k, n))
        )
        yield Line(f"exact limits of 1e6 rows, {what}", seconds, floor, 5)


def _wilson(k: object, n: object, z: float = 1.959964) -> object:
    import numpy as np

    p, square = k / n, z * z / n
    middle = (p + square / 2) / (1 + square)
    half = z / (1 + square) * np.sqrt((p * (1 - p) + square / 4) / n)
    return middle - half, middle + half


def plans(folder: Path) -> Iterator[Line]:
    from benchproof.reasoning.plans import pairwise_levels

    factors = {f"f{i}": ("a", "b", "c") for i in range(20)}
    (seconds,) = medians(9, again(partial(pairwise_levels, factors)))
    plan = pairwise_levels(factors)
    times = plan.candidates.count / plan.least
    word = "met" if seconds <= 0.05 and times <= 1.6 else "missed"
    note = f"{plan.candidates.count} rows, {times:.2f} of the least; target 50 ms, 1.6"
    yield Line("pairwise plan, 20 factors of 3 levels", seconds, note=f"{note}: {word}")


def ledger(folder: Path) -> Iterator[Line]:
    import pandas as pd

    from benchproof import open_case

    made = case_folder(folder, count=0)
    case = open_case(made)
    case.trials.plan(
        "power",
        outcomes=["lost", "kept"],
        factors={"supply": ["brick", "bench"]},
        no_control="invented for timing",
        stop="50000 of each",
        repetitions=50_000,
        seed=1,
    ).record("k k k l k " * 20_000)
    path = made / "trials.csv"
    floor, seconds = medians(
        5,
        again(partial(pd.read_csv, path)),
        again(lambda: open_case(made).trials.ledger.rows),
    )
    yield Line("open a ledger of 1e5 attempts", seconds, floor, 1.5)
    case = open_case(made)
    rates = medians(3, again(lambda: open_case(made).trials["power"].rates()))
    yield Line("  and its rates", rates[0], floor)

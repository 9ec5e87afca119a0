"""Work on a few threads, its results in the order they were asked for."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

Progress = Callable[[float], None]
"""Called with the fraction of the work done, 0 to 1, now and then."""

THREADS = 2
"""numpy and pyarrow leave Python to other threads while they count."""


def in_turn(
    work: Callable[[Item], Result], items: Iterable[Item], threads: int = THREADS
) -> Iterator[Result]:
    """Do work on each item, some of it ahead, and yield the results in order.

    Parameters
    ----------
    work : callable
        Called with one item, in any thread.
    items : iterable
        Taken one by one, `threads` ahead and no more: memory does not grow with
        their number, and there need be no end of them.
    threads : int
        Below 2 the work is done here.

    Raises
    ------
    Exception
        What `work` raises, in its turn.

    Examples
    --------
    >>> list(in_turn(abs, [-3, 1, -2]))
    [3, 1, 2]
    """
    if threads < 2:
        yield from map(work, items)
        return
    waiting: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        try:
            for item in items:
                # A thread has its own settings (np.errstate): it is given ours.
                waiting.append(pool.submit(copy_context().run, work, item))
                if len(waiting) > threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()

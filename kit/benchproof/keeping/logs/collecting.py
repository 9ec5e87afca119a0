"""Many objects at once, without the garbage collector walking through them."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collecting_paused() -> Iterator[None]:
    """Pause the garbage collector while many lasting objects are made.

    It would walk again and again through what is only growing: reading 1e5 rows took
    half as long again.

    Examples
    --------
    >>> with collecting_paused():
    ...     gc.isenabled()
    False
    >>> gc.isenabled()
    True
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()

"""Opening a case folder; a process keeps the cases it opened."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from benchproof.keeping.case import Case
from benchproof.keeping.logs.logbook import Clock
from benchproof.keeping.recorder import utc_now
from benchproof.values.errors import InputError

_opened: dict[Path, Case] = {}
"""The cases of this kernel, for `run`, which asks for its own at the end."""


def open_case(folder: str | os.PathLike[str] = ".", *, clock: Clock = utc_now) -> Case:
    """Open the case whose folder this notebook stands in.

    Parameters
    ----------
    folder : path
        A folder with a case.toml.
    clock : callable
        Gives the time of a recording; UTC-aware.

    Raises
    ------
    FileError
        If case.toml, instruments.toml or readings.csv cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = open_case(new_case("Fan hums", bench))
    ...     print(case.record("V_fan", "12.10(2) V", at="socket"))
    12.100(20) V
    """
    case = Case(Path(folder), clock)
    _opened[case.folder.resolve()] = case
    if "IPython" in sys.modules:
        from benchproof.keeping.entry.completion import offer_names

        offer_names()
    return case


def opened_case(folder: Path) -> Case:
    """Return the case of a folder that this process opened.

    Raises
    ------
    InputError
        If it was not opened.
    """
    here = folder.resolve()
    if here not in _opened:
        # On some systems Pump and pump are one folder.
        here = next((p for p in _opened if _is_one_folder(p, here)), here)
    if here not in _opened:
        raise InputError(
            "no case was opened. Begin the notebook with: case = open_case()."
        )
    return _opened[here]


def _is_one_folder(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one is gone
        return False

"""Opening a case folder; a process keeps the cases it opened."""

from __future__ import annotations

import os
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
    """
    case = Case(Path(folder), clock)
    _opened[case.folder.resolve()] = case
    return case


def opened_case(folder: Path) -> Case:
    """Return the case of a folder that this process opened.

    Raises
    ------
    InputError
        If it was not opened.
    """
    if folder.resolve() not in _opened:
        raise InputError(
            "no case was opened. Begin the notebook with: case = open_case()."
        )
    return _opened[folder.resolve()]

"""Start a case: a folder from the template, never over an existing one."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

from benchproof.values.errors import FileError, InputError

TITLE = "TITLE OF THE CASE"
"""Stands in the template for the title."""


def new_case(title: str, parent: Path | str = ".") -> Path:
    """Make a case folder whose notebook runs with nothing measured.

    Parameters
    ----------
    title : str
        Of the investigation, in words.
    parent : path
        Where the folder is made.

    Returns
    -------
    pathlib.Path
        The new folder, named after the title.

    Raises
    ------
    FileError
        If a folder of that name exists.
    InputError
        If the title has no letter or digit.
    """
    name = folder_name(title)
    target = Path(parent) / name
    _copy(_shipped("templates") / "case", target)
    for file, shown in (
        ("case.toml", json.dumps(title, ensure_ascii=False)[1:-1]),
        ("investigation.ipynb", json.dumps(title)[1:-1]),
    ):
        path = target / file
        text = path.read_text(encoding="utf-8").replace(TITLE, shown)
        path.write_text(text, encoding="utf-8")
    return target


def folder_name(title: str) -> str:
    """Name a folder after a title.

    Examples
    --------
    >>> folder_name("Garden pump trips its socket")
    'garden-pump-trips-its-socket'
    """
    if any("\ud800" <= c <= "\udfff" for c in title):
        raise InputError(f"title {title!r} has a broken character. Type it again.")
    name = re.sub(r"[\W_]+", "-", title.lower()).strip("-")[:60].rstrip("-")
    if not name:
        raise InputError(f"title {title!r} has no letter or digit. Describe the fault.")
    return name


def copy_worked_case(name: str, parent: Path | str) -> Path:
    """Copy a worked case that travels with benchproof; an existing copy is kept.

    Raises
    ------
    FileError
        If there is no worked case of that name.
    """
    target = Path(parent) / name
    if target.exists():
        return target
    source = _shipped("notebooks") / name
    if not source.is_dir():
        raise FileError(f"there is no worked case {name!r} in this benchproof.")
    _copy(source, target)
    return target


def _shipped(folder: str) -> Path:
    """Find a folder that travels in the wheel, or its original in a checkout."""
    package = Path(__file__).parents[1]
    inside = package / folder
    return inside if inside.is_dir() else package.parents[1] / folder


def _copy(source: Path, target: Path) -> None:
    if target.exists():
        raise FileError(
            f"{target.name} exists already. Choose another title, or rename it; "
            "nothing was changed."
        )
    leave = shutil.ignore_patterns("__pycache__", ".*", "write-up", "results.json")
    shutil.copytree(source, target, ignore=leave)

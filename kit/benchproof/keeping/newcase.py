"""Start a case: a folder from the template, never over an existing one."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Mapping
from pathlib import Path

from benchproof.keeping.casefile import read_instruments
from benchproof.keeping.likecase import declared_like
from benchproof.measuring.instruments import Instrument
from benchproof.values.errors import FileError, InputError
from benchproof.values.units import unit_of

TITLE = "TITLE OF THE CASE"
"""Stands in the template for the title."""

BENCH = "BENCHPROOF_INSTRUMENTS"
"""Environment variable that names the bench's own instruments.toml."""

_RESERVED = {"con", "prn", "aux", "nul"} | {
    f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)
}
"""Names that Windows keeps for devices."""


def new_case(
    title: str,
    parent: Path | str = ".",
    *,
    like: Path | str | None = None,
    instruments: Path | str | None = None,
    template: str = "case",
) -> Path:
    """Make a case folder whose notebook runs with nothing measured.

    Parameters
    ----------
    title : str
        Of the investigation, in words.
    parent : path
        Where the folder is made.
    like : path, optional
        A case to start from: its instruments, contacts and the questions it asked
        about differences, hazards and energies; none of its answers or readings.
    instruments : path, optional
        The bench's instruments.toml, which is copied into the case. Without it that
        of `like`, else the file that ``BENCHPROOF_INSTRUMENTS`` names, else an
        invented one to replace.
    template : {"case", "quick"}
        What the notebook asks: everything, or one claim and one rival.

    Returns
    -------
    pathlib.Path
        The new folder, named after the title.

    Raises
    ------
    FileError
        If a folder of that name exists, or a file to start from cannot be read;
        nothing is made then.
    InputError
        If the title has no letter or digit, or there is no such template.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     new_case("Fan hums", bench).name
    'fan-hums'
    """
    templates = _shipped("templates")
    known = sorted(path.parent.name for path in templates.glob("*/case.toml"))
    if template not in known:
        raise InputError(f"template {template!r}: choose one of {', '.join(known)}.")
    texts = _titled(templates / template, title)
    if like is not None:
        texts["case.toml"] = declared_like(texts["case.toml"], Path(like))
    invented = templates / "case" / "instruments.toml"
    chosen = _chosen_instruments(like, instruments, os.environ)
    texts["instruments.toml"], meters = _read_valid(chosen or invented)
    notebook = texts["investigation.ipynb"]
    texts["investigation.ipynb"] = _ASKED.sub(lambda m: _own(m, meters), notebook)
    target = Path(parent) / folder_name(title)
    _copy(templates / template, target)
    for name, text in texts.items():
        (target / name).write_text(text, encoding="utf-8", newline="\n")
    return target


def _titled(template: Path, title: str) -> dict[str, str]:
    folder_name(title)  # refuses a title that names nothing
    shown = {
        "case.toml": json.dumps(title, ensure_ascii=False).replace("\x7f", "\\u007f"),
        "investigation.ipynb": json.dumps(title),
    }
    return {
        name: (template / name).read_text("utf-8").replace(TITLE, quoted[1:-1])
        for name, quoted in shown.items()
    }


def _chosen_instruments(
    like: Path | str | None,
    instruments: Path | str | None,
    environment: Mapping[str, str],
) -> Path | None:
    """Return the file to copy, None if nobody has one."""
    if instruments is not None:
        return Path(instruments)
    own = Path(like) / "instruments.toml" if like is not None else None
    if own is not None and own.exists():
        return own
    named = environment.get(BENCH, "").strip()
    return Path(named).expanduser() if named else None


_ASKED = re.compile(r'\\"\? (?P<unit>[^\\"]+)\\", using=\\"(?P<name>handheld)\\"')
"""A reading still to be taken with the template's invented meter, as JSON has it."""


def _own(asked: re.Match[str], known: Mapping[str, Instrument]) -> str:
    """Name the first instrument of the bench that reads this unit, if one does."""
    wanted = unit_of(asked["unit"]).dimension
    fitting = [
        name
        for name, instrument in known.items()
        if any(unit_of(f.unit).dimension == wanted for f in instrument.functions)
        and re.fullmatch(r"[\w .-]+", name)
    ]
    if asked["name"] in known or not fitting:
        return asked[0]
    return asked[0].replace(asked["name"], fitting[0])


def _read_valid(path: Path) -> tuple[str, dict[str, Instrument]]:
    """Return text and content of an instruments file a case can be opened with."""
    if not path.is_file():
        raise FileError(
            f"{path.name}, the instruments to copy, is not there. Correct the path "
            f"(--instruments or {BENCH}); nothing was made."
        )
    known = read_instruments(path)
    return path.read_text(encoding="utf-8-sig"), known


def folder_name(title: str) -> str:
    """Name a folder after a title.

    Examples
    --------
    >>> folder_name("Garden pump trips its socket"), folder_name("CON")
    ('garden-pump-trips-its-socket', 'con-case')
    """
    if any("\ud800" <= c <= "\udfff" for c in title):
        raise InputError(f"title {title!r} has a broken character. Type it again.")
    name = re.sub(r"[\W_]+", "-", title.lower()).strip("-")[:60].rstrip("-")
    if not name:
        raise InputError(f"title {title!r} has no letter or digit. Describe the fault.")
    return f"{name}-case" if name in _RESERVED else name


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
    leave = shutil.ignore_patterns("__pycache__", ".*", "write-up", "results.json")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.mkdir()  # refuses what exists, another process's too
    except FileExistsError:
        raise FileError(
            f"{target.name} exists already. Choose another title, or rename it; "
            "nothing was changed."
        ) from None
    shutil.copytree(source, target, ignore=leave, dirs_exist_ok=True)

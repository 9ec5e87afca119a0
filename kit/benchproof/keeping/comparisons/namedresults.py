"""Results by the name a person gives: a case, a file, a bundle, a round of one."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePath
from typing import Any

from benchproof.keeping.checking.unpacking import unpack_bundle
from benchproof.keeping.runs.results import NAME, read_results
from benchproof.values.errors import FileError, InputError


def named_results(name: str | os.PathLike[str]) -> Mapping[str, Any]:
    """Read results, or those of one round.

    Parameters
    ----------
    name : str or path
        A case folder, a results file, a bundle (zip); ``@2`` behind it names a round.

    Raises
    ------
    InputError
        If a round does not exist.
    FileError
        If a case has no results yet, or a file is no results.
    """
    path, number = _parted(os.fspath(name))
    results = _read(Path(path))
    if number is None:
        return results
    rounds: list[Mapping[str, Any]] = results["rounds"]
    for entry in rounds:
        if entry["number"] == number:
            return _as_results(entry, results)
    there = ", ".join(str(r["number"]) for r in rounds)
    raise InputError(
        f"{Path(path).name}@{number}: round {number} does not exist; there are {there}."
    )


def _as_results(
    entry: Mapping[str, Any], results: Mapping[str, Any]
) -> Mapping[str, Any]:
    """Return a round as results of its own, with what it does not say again.

    Sources only where every value has its contributions: an earlier benchproof kept
    none for rounds.
    """
    found = {**entry, "invented": results.get("invented")}
    now = results["quantities"]
    found["quantities"] = {
        name: _with_contributions(quantity, now.get(name, {}))
        for name, quantity in entry["quantities"].items()
    }
    whole = all("contributions" in q or "value" not in q
                for q in found["quantities"].values())  # fmt: skip
    if whole and "sources" in results and "joints" in results:
        found |= {"sources": results["sources"], "joints": results["joints"]}
    return found


def _with_contributions(
    then: Mapping[str, Any], now: Mapping[str, Any]
) -> Mapping[str, Any]:
    same = then == {k: v for k, v in now.items() if k != "contributions"}
    if same and "contributions" in now:
        return {**then, "contributions": now["contributions"]}
    return then


def _parted(name: str) -> tuple[str, int | None]:
    path, at, number = name.rpartition("@")
    if at and path and number.isascii() and number.isdigit():
        return path, int(number)
    return name, None


def _read(path: Path) -> dict[str, Any]:
    if path.suffix.lower() != ".zip" or path.is_dir():
        return read_results(path)
    if not path.exists():
        raise FileError(f"{path.name} is not there. Name a case, a file or a bundle.")
    with tempfile.TemporaryDirectory(prefix="benchproof-compare-") as place:
        unpack_bundle(path, Path(place))
        if not (Path(place) / NAME).exists():
            raise FileError(f"{path.name}: holds no {NAME}, so it is no bundle.")
        return read_results(Path(place))


def labels_of(
    first: str | os.PathLike[str], second: str | os.PathLike[str]
) -> tuple[str, str]:
    """Return how to call two results: their names, with folders only if they need them.

    Examples
    --------
    >>> labels_of("work/pump@1", "work/pump@2")
    ('pump@1', 'pump@2')
    >>> labels_of("mine/pump", "yours/pump/results.json")
    ('pump', 'pump/results.json')
    >>> labels_of("mine/pump", "yours/pump")
    ('mine/pump', 'yours/pump')
    """
    a, b = (_parts(os.fspath(name)) for name in (first, second))
    if a == b:
        return a[-1], b[-1]
    length = 1
    while a[-length:] == b[-length:]:
        length += 1
    return _label(a, length), _label(b, length)


def _parts(name: str) -> tuple[str, ...]:
    """Return the parts of a name; of ``.`` those of the folder it stands for."""
    path, number = _parted(name)
    known = PurePath(path)
    parts = known.parts if known.name not in ("", "..") else Path(path).resolve().parts
    at = "" if number is None else f"@{number}"
    return (*parts[:-1], f"{parts[-1]}{at}")


def _label(parts: tuple[str, ...], length: int) -> str:
    """Join the last parts; a results file is called after its folder."""
    if parts[-1].partition("@")[0] == NAME and len(parts) > 1:
        length = max(length, 2)
    return "/".join(p.strip("/\\") for p in parts[-length:])


def names_of(pairs: Iterable[str]) -> dict[str, str]:
    """Read which name of the first results is which of the second.

    Parameters
    ----------
    pairs : iterable of str
        Each ``R_a=R_b``.

    Raises
    ------
    InputError
        If one is no pair, or a name is given twice.

    Examples
    --------
    >>> names_of(["R_a=R_b", "U=V"])
    {'R_a': 'R_b', 'U': 'V'}
    """
    names: dict[str, str] = {}
    for pair in pairs:
        first, equals, second = (part.strip() for part in pair.partition("="))
        if not (first and equals and second):
            raise InputError(
                f"{pair!r} does not say which name is which. Write R_a=R_b: the name "
                "in the first results, then the name in the second."
            )
        if first in names or second in names.values():
            raise InputError(f"{pair!r}: a name is given twice. Give each once.")
        names[first] = second
    return names

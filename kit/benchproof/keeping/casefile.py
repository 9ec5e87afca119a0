"""case.toml and instruments.toml: what a person declares about a case."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchproof.measuring.contacts import SurveyPlan, survey_from
from benchproof.measuring.instruments import Instrument, instrument_from
from benchproof.reasoning.energies import Energy, energy_from
from benchproof.values.errors import FileError, InputError

FORMAT = 1
"""Of the case folder. A newer one is refused."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What was claimed, verbatim, and where it comes from."""

    text: str = ""
    source: str = ""
    date: str = ""
    how_often: str = ""


@dataclass(frozen=True, slots=True)
class Difference:
    """One field in which the tested sample may differ from the reported device.

    `touches` names the rivals whose verdict it bears on; empty where nobody said.
    """

    field: str
    reported: str = ""
    tested: str = ""
    same: str = "unknown"
    touches: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sample:
    """What was tested: how many units, which device, with which firmware."""

    units: int = 1
    device: str = ""
    firmware: str = ""


@dataclass(frozen=True, slots=True)
class Hazard:
    """A kind of hazard and the answer to "does it apply, and what was done?"."""

    kind: str
    answer: str = ""


@dataclass(frozen=True, slots=True)
class CaseFile:
    """The content of case.toml."""

    title: str
    claim: Claim = Claim()
    differences: tuple[Difference, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    does_not_show: tuple[str, ...] = ()
    invented: bool = False
    survey: SurveyPlan = SurveyPlan()
    energies: tuple[Energy, ...] = ()
    captures: tuple[Mapping[str, Any], ...] = ()
    capture_defaults: Mapping[str, Any] = field(default_factory=dict)
    sample: Sample = Sample()


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file of a case.

    Raises
    ------
    FileError
        Naming the file and, where known, the line.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise FileError(
            f"{path.name} is missing from {path.parent.name or 'this folder'}. Open a "
            "case folder, or make one with: benchproof new 'A title'"
        ) from None
    except (ValueError, RecursionError) as problem:
        # Of TOML and of UTF-8, of a number with thousands of digits, or of brackets.
        raise FileError(
            f"{path.name}: {problem}. Correct the file; text goes in quotes."
        ) from None


def read_case_file(path: Path) -> CaseFile:
    """Read case.toml.

    Raises
    ------
    FileError
        If a field is missing, of the wrong kind, or of a newer format.
    """
    data = read_toml(path)
    version = data.get("format", FORMAT)
    if not isinstance(version, int) or version > FORMAT:
        raise FileError(
            f"{path.name}: format {version!r} is newer than this benchproof reads "
            f"({FORMAT}). Install a newer one; nothing was changed."
        )
    hazards = _table(data, "hazards", path)
    return CaseFile(
        str(data.get("title", "")).strip() or "Untitled case",
        Claim(**_texts(data, "claim", Claim, path)),
        tuple(_difference(entry, path) for entry in _tables(data, "difference", path)),
        tuple(Hazard(str(kind), str(said)) for kind, said in hazards.items()),
        _sentences(data, "does_not_show", path),
        bool(data.get("invented", False)),
        _survey(data, path),
        _energies(data, path),
        tuple(_tables(data, "capture", path)),
        _table(data, "capture_defaults", path),
        _sample(data, path),
    )


def _sample(data: Mapping[str, Any], path: Path) -> Sample:
    texts = _texts(data, "sample", Sample, path)
    units = _table(data, "sample", path).get("units", 1)
    if not isinstance(units, int) or isinstance(units, bool) or units < 1:
        raise FileError(
            f"{path.name}, [sample]: units is {units!r}; give the whole number of "
            "units that were tested, at least 1."
        )
    return Sample(units, texts.get("device", ""), texts.get("firmware", ""))


def _survey(data: Mapping[str, Any], path: Path) -> SurveyPlan:
    survey, contacts = _table(data, "survey", path), _tables(data, "contact", path)
    try:
        return survey_from(survey, contacts, path.name)
    except InputError as problem:
        raise FileError(str(problem)) from None


def _energies(data: Mapping[str, Any], path: Path) -> tuple[Energy, ...]:
    entries = _tables(data, "energy", path)
    try:
        found = tuple(energy_from(entry, path.name) for entry in entries)
    except InputError as problem:
        raise FileError(str(problem)) from None
    names = [energy.name for energy in found]
    for name in names:
        if names.count(name) > 1:
            raise FileError(
                f"{path.name}, [[energy]] {name!r} stands there {names.count(name)} "
                "times. Rename one, so that readers can tell them apart."
            )
    return found


def _table(data: Mapping[str, Any], key: str, path: Path) -> Mapping[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, Mapping):
        raise FileError(f"{path.name}: [{key}] must be a table of name = value lines.")
    return value


def _sentences(data: Mapping[str, Any], key: str, path: Path) -> tuple[str, ...]:
    value = data.get(key, [])
    if not (isinstance(value, list) and all(isinstance(v, str) for v in value)):
        raise FileError(f'{path.name}: {key} must be a list of sentences: ["…", "…"].')
    return tuple(value)


def _tables(data: Mapping[str, Any], key: str, path: Path) -> list[Mapping[str, Any]]:
    value = data.get(key, [])
    if not (isinstance(value, list) and all(isinstance(v, Mapping) for v in value)):
        raise FileError(f"{path.name}: write each {key} under its own [[{key}]] line.")
    return value


def _texts(data: Mapping[str, Any], key: str, kind: Any, path: Path) -> dict[str, str]:
    table = _table(data, key, path)
    unknown = sorted(set(table) - set(kind.__dataclass_fields__))
    if unknown:
        known = ", ".join(kind.__dataclass_fields__)
        raise FileError(
            f"{path.name}, [{key}]: {unknown[0]!r} is not one of {known}. "
            "Rename or remove the line."
        )
    return {name: str(value).strip() for name, value in table.items()}


def _difference(entry: Mapping[str, Any], path: Path) -> Difference:
    texts = _texts({"difference": entry}, "difference", Difference, path)
    same = texts.get("same", "unknown")
    if "field" not in texts or same not in ("same", "different", "unknown"):
        raise FileError(
            f"{path.name}, [[difference]] {texts.get('field', '')!r}: give field, "
            "reported, tested, and same = 'same', 'different' or 'unknown'."
        )
    touches = entry.get("touches", [])
    if not (isinstance(touches, list) and all(isinstance(t, str) for t in touches)):
        raise FileError(
            f"{path.name}, [[difference]] {texts['field']!r}: touches is {touches!r}; "
            "give the rivals whose verdict it bears on: touches = ['H1', 'H2']."
        )
    words = {name: text for name, text in texts.items() if name != "touches"}
    return Difference(**words, touches=tuple(touches))


def read_instruments(path: Path) -> dict[str, Instrument]:
    """Read instruments.toml; a missing file means that none is declared.

    Raises
    ------
    FileError
        Naming the instrument and what is wrong with it.
    """
    if not path.exists():
        return {}
    instruments = {}
    for name, table in read_toml(path).items():
        if not isinstance(table, Mapping):
            raise FileError(
                f"{path.name}: {name!r} stands outside an instrument. Put it below "
                "a line such as [handheld]."
            )
        try:
            instruments[name] = instrument_from(name, table, f"{path.name}, {name}")
        except InputError as problem:
            raise FileError(str(problem)) from None
    return instruments

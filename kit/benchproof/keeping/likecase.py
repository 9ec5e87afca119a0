"""Start from an existing case: what it declared and asked, without its answers."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from benchproof.keeping.casefile import read_case_file, read_toml

_DIFFERENCE = re.compile(r"(?m)^\[\[difference\]\]\n(?:.+\n)+")
_HAZARDS = re.compile(r"(?m)^\[hazards\]\n(?:.+\n)+")
_SURVEY = re.compile(r"(?m)^# \[survey\]\n(?:#.*\n?)+")


def declared_like(template: str, folder: Path) -> str:
    """Return the template's case.toml, asking what another case asked.

    Parameters
    ----------
    template : str
        With the title in its place.
    folder : path
        The case to start from. Its contacts, states and forbidden pairs are taken
        over; of differences, hazards and energies only the questions, since an
        answer belongs to the device it was found on. Claim and readings stay behind.

    Raises
    ------
    FileError
        If it is no case that can be read.
    """
    read_case_file(folder / "case.toml")  # refuses what could not be opened
    data = read_toml(folder / "case.toml")
    text = template
    if data.get("difference"):
        blocks = [_asked_difference(entry) for entry in data["difference"]]
        text = _placed(text, _DIFFERENCE, "\n".join(blocks))
    if data.get("hazards"):
        lines = "".join(f'{_key(kind)} = ""\n' for kind in data["hazards"])
        text = _placed(text, _HAZARDS, f"[hazards]\n{lines}")
    found = "\n".join(_survey_blocks(data))
    if found:
        text = _placed(text, _SURVEY, found)
    energies = "\n".join(_asked_energy(entry) for entry in data.get("energy", ()))
    return "\n".join(filter(None, [text.rstrip("\n") + "\n", energies]))


def _placed(text: str, place: re.Pattern[str], blocks: str) -> str:
    """Put blocks in the place of the template's own, or at its end if it has none."""
    if place.search(text):
        return place.sub(lambda _: blocks, text, count=1)
    return f"{text.rstrip()}\n\n{blocks}"


def _asked_difference(entry: Mapping[str, Any]) -> str:
    asked = {"field": entry["field"], "reported": "", "tested": "", "same": "unknown"}
    return _block("[[difference]]", asked)


def _asked_energy(entry: Mapping[str, Any]) -> str:
    """Keep which sources there are; what is known of them is found out anew."""
    asked = {k: entry[k] for k in ("name", "kind", "waveform") if k in entry}
    return _block("[[energy]]", {**asked, "check": "", "when": "", "stop": ""})


def _survey_blocks(data: Mapping[str, Any]) -> list[str]:
    survey = data.get("survey", {})
    blocks = [_block("[survey]", survey)] if survey else []
    return blocks + [_asked_contact(c) for c in data.get("contact", ())]


def _asked_contact(entry: Mapping[str, Any]) -> str:
    """Keep where a contact is; what another device's showed is a guess here."""
    kept = {k: v for k, v in entry.items() if k not in ("evidence", "confidence")}
    sure = {"confidence": "guess"} if entry.get("guess") else {}
    return _block("[[contact]]", kept | sure)


def _block(head: str, entries: Mapping[str, Any]) -> str:
    lines = [f"{_key(key)} = {_value(value)}\n" for key, value in entries.items()]
    return "".join([f"{head}\n", *lines])


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _value(key)


def _value(value: Any) -> str:
    """Write text, a number or a list of them as TOML reads it."""
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, str):
        # JSON's escapes are TOML's, but for the one character TOML bars besides.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value).lower() if isinstance(value, bool) else str(value)

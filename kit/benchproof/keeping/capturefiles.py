"""What an instrument recorded, as files: the bytes it sent and what belongs to them.

``captures/NAME.bin`` holds the data of the block as it came, ``captures/NAME.json``
how it was taken, with the hash of the data. Neither is written twice.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchproof.keeping.logs.durable import sync_folder, write_whole
from benchproof.values.errors import FileError, InputError
from benchproof.values.tables import Table, Tabular, columns

FOLDER = "captures"
FORMAT = 1
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,99}")
_ELSEWHERE = "Choose another name, or move the files away yourself."


@dataclass(frozen=True, slots=True, repr=False)
class CaptureFile(Tabular):
    """One capture on disk.

    Attributes
    ----------
    path : pathlib.Path
        Of the data.
    sha256 : str
        Of the data, in hexadecimal; "" for one that is still to be downloaded.
    size : int
        Of the data, in bytes.
    facts : dict
        What the file beside it says: instrument, identity, channel, query,
        settings, time.
    note : str
        Whether it was downloaded now or before.
    """

    path: Path
    sha256: str
    size: int
    facts: Mapping[str, Any]
    note: str = ""

    @property
    def is_there(self) -> bool:
        """Whether it has been downloaded."""
        return bool(self.sha256)

    def table(self) -> Table:
        """Return what is known about the capture."""
        if not self.is_there:
            rows = (("Capture", f"{FOLDER}/{self.path.name}: not downloaded yet"),)
            return Table("", columns("", " "), rows, (self.note,))
        facts = [
            (key, str(value))
            for key, value in self.facts.items()
            if key not in ("format", "settings", "sha256", "bytes") and value
        ]
        settings = [(f"setting {q}", a) for q, a in self.facts["settings"].items()]
        data = (
            ("Capture", f"{FOLDER}/{self.path.name}"),
            ("Size", f"{self.size} bytes"),
            ("SHA-256", self.sha256),
        )
        notes = (self.note,) if self.note else ()
        return Table("", columns("", " "), (*data, *facts, *settings), notes)


def pending_capture(folder: Path, name: str, note: str) -> CaptureFile:
    """Stand for a capture that has not been downloaded yet."""
    return CaptureFile(_paths(folder, name)[0], "", 0, {}, note)


def require_name(name: str) -> str:
    """Refuse a capture's name that could not be a file's everywhere.

    Raises
    ------
    InputError
        If it holds more than letters, digits, ``_`` and ``-``.

    Examples
    --------
    >>> require_name("rail-at-start")
    'rail-at-start'
    """
    if not _NAME.fullmatch(name):
        raise InputError(
            f"capture {name!r}: name it like 'rail-at-start': letters, digits, '_' and "
            "'-', no folder and no ending."
        )
    return name


def saved_capture(folder: Path, name: str) -> CaptureFile | None:
    """Return a capture that is on disk, None if there is none of that name.

    Parameters
    ----------
    folder : pathlib.Path
        Of the case.

    Raises
    ------
    FileError
        If its files are incomplete, or the data are no longer what was downloaded.
    """
    data, beside = _paths(folder, name)
    if not data.exists() and not beside.exists():
        return None
    for path, other in ((data, beside), (beside, data)):
        if not path.exists():
            raise FileError(
                f"{FOLDER}/{other.name} stands there without {path.name}: its download "
                f"was interrupted, or it came from elsewhere. {_ELSEWHERE}"
            )
    facts = _facts(beside)
    content = data.read_bytes()
    digest = hashlib.sha256(content).hexdigest()
    if digest != facts["sha256"]:
        raise FileError(
            f"{FOLDER}/{data.name} was changed since it was downloaded: its SHA-256 is "
            f"{digest}, {beside.name} says {facts['sha256']}. Put it back from a copy."
        )
    return CaptureFile(data, digest, len(content), facts)


def _facts(path: Path) -> dict[str, Any]:
    try:
        facts = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(facts["sha256"], str) and isinstance(facts["settings"], dict):
            return dict(facts)
    except (ValueError, KeyError, TypeError):
        pass
    raise FileError(
        f"{FOLDER}/{path.name} cannot be understood. Put it back from a copy; it holds "
        "how the capture was taken."
    )


def save_capture(
    folder: Path, name: str, content: bytes, facts: Mapping[str, Any]
) -> CaptureFile:
    """Write a capture and what belongs to it, over no other file.

    Parameters
    ----------
    folder : pathlib.Path
        Of the case.
    content : bytes
        As the instrument sent it, without the block's header.
    facts : mapping
        How it was taken, for the file beside it.

    Raises
    ------
    FileError
        If a file of that name is there already, or cannot be written. Then the
        files that were begun are taken away again.
    """
    data, beside = _paths(folder, require_name(name))
    digest = hashlib.sha256(content).hexdigest()
    whole = {"format": FORMAT, **facts, "sha256": digest, "bytes": len(content)}
    text = json.dumps(whole, indent=2, ensure_ascii=False) + "\n"
    try:
        data.parent.mkdir(exist_ok=True)
        _write_new(data, content)
        try:
            _write_new(beside, text.encode("utf-8"))
        except BaseException:
            data.unlink()
            raise
        sync_folder(data.parent)
    except FileExistsError as problem:
        raise FileError(
            f"{FOLDER}/{Path(problem.filename).name} is there already and was not "
            f"touched. {_ELSEWHERE}"
        ) from None
    except OSError as problem:
        raise FileError(
            f"{FOLDER}/{data.name} could not be written ({problem.strerror}); the "
            "capture was NOT kept. See that the folder is writable and has space."
        ) from None
    return CaptureFile(data, digest, len(content), whole)


def _write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet; whole, or not at all."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, 0o666)
    try:
        write_whole(handle, content)
    except BaseException:
        path.unlink()
        raise
    finally:
        os.close(handle)


def _paths(folder: Path, name: str) -> tuple[Path, Path]:
    place = folder / FOLDER
    return place / f"{name}.bin", place / f"{name}.json"

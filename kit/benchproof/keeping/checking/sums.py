"""SHA256SUMS: the hash of every file, in the form that ``sha256sum -c`` reads."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from unicodedata import normalize

from benchproof.keeping.checking.findings import Finding
from benchproof.values.errors import FileError

NAME = "SHA256SUMS"
_LINE = re.compile(r"([0-9a-f]{64}) [ *](.+)")
_BLOCK = 1 << 20


def sums_text(hashes: Mapping[str, str]) -> str:
    r"""Write hashes so that ``sha256sum -c SHA256SUMS`` accepts them.

    Parameters
    ----------
    hashes : mapping
        File name, with ``/`` between folders, to its SHA-256 in hexadecimal.

    Examples
    --------
    >>> sums_text({"case.toml": "ab" * 32}) == "ab" * 32 + "  case.toml\n"
    True
    """
    return "".join(f"{hashes[name]}  {name}\n" for name in sorted(hashes))


def read_sums(text: str) -> dict[str, str]:
    """Read what `sums_text` writes.

    Raises
    ------
    FileError
        Naming the line that is none, or a name that stands there twice.
    """
    found: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        match = _LINE.fullmatch(line)
        if not match or match[2] in found:
            raise FileError(
                f"{NAME} line {number}: not 'HASH  NAME', or a name for the second "
                "time. Get the bundle again from where it was published."
            )
        found[match[2]] = match[1]
    return found


def file_sha256(path: Path) -> str:
    """Hash a file without holding it whole in memory."""
    digest = hashlib.sha256()
    with path.open("rb") as handle:
        while block := handle.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def check_sums(folder: Path, *, whole: bool) -> list[Finding]:
    """Compare the files of a folder with its SHA256SUMS.

    Parameters
    ----------
    whole : bool
        Whether a file that is not listed is a fault, as in a bundle.
    """
    listed = read_sums((folder / NAME).read_text(encoding="utf-8"))
    there = _files(folder)
    # Some file systems write the accents of a name their own way.
    same = {normalize("NFC", name): name for name in there}
    met = {n: n if n in there else same.get(normalize("NFC", n)) for n in listed}
    found = []
    for name, digest in listed.items():
        if (path := met[name]) is None:
            found.append(Finding("fault", name, "", f"listed in {NAME}, but missing"))
        elif file_sha256(folder / path) != digest:
            said = f"its SHA-256 is not the one in {NAME}: it was changed since"
            found.append(Finding("fault", name, "", said))
    if whole:
        said = f"not listed in {NAME}: it was put in later"
        strangers = sorted(there - {*met.values(), NAME})
        found += [Finding("fault", name, "", said) for name in strangers]
    return found


def _files(folder: Path) -> set[str]:
    """Name the plain files below a folder; links are not followed and not files."""
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and not path.is_symlink()
    }

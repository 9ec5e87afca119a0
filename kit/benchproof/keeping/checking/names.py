"""Names a bundle may hold: the same file on every system, inside its folder."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from benchproof.values.errors import FileError

_LONGEST = 100
_DEEPEST = 4
_DEVICES = re.compile(
    r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[\d¹²³])\s*(\..*)?", re.IGNORECASE
)
_BARRED = frozenset('<>:"|?*\\')


def require_safe_name(name: str) -> str:
    """Refuse a name that could point out of its folder or mean another file.

    Parameters
    ----------
    name : str
        As it stands in an archive, ``/`` between folders.

    Raises
    ------
    FileError
        Saying what is wrong with it.

    Examples
    --------
    >>> require_safe_name("captures/rail.bin")
    'captures/rail.bin'
    """
    parts = name.split("/")
    wrong = next(filter(None, map(_wrong_with, parts)), "")
    if len(parts) > _DEEPEST:
        wrong = "it lies too deep"
    if wrong:
        raise FileError(
            f"{name[:200]!r}: a file of that name is not unpacked: {wrong}. Do not "
            "open this bundle by other means; tell whoever sent it."
        )
    return name


def _wrong_with(part: str) -> str:
    if part in ("", ".", ".."):
        return "it is absolute or leads out of the folder"
    if len(part) > _LONGEST:
        return f"a part of it is longer than {_LONGEST} characters"
    if any(c in _BARRED or unicodedata.category(c)[0] == "C" for c in part):
        return "it holds a character that is no part of a plain name"
    if part[-1] in ". " or part[0] == " ":
        return "a part of it begins or ends with a dot or a space"
    if _DEVICES.fullmatch(part):
        return "some systems take it for a device"
    return ""


def require_distinct(names: Iterable[str]) -> None:
    """Refuse names that would be one file on some system.

    Raises
    ------
    FileError
        If two differ by nothing but case or the way accents are written, or if one
        is a file and the folder of another.

    Examples
    --------
    >>> require_distinct(["case.toml", "captures/a.bin"])
    """
    seen: dict[str, str] = {}
    folders: dict[str, str] = {}
    for name in names:
        key = unicodedata.normalize("NFKC", name).casefold()
        if key in seen:
            raise FileError(f"{name!r} and {seen[key]!r} would be one file. {_AGAIN}")
        seen[key] = name
        for end in (i for i, c in enumerate(key) if c == "/"):
            folders[key[:end]] = name
    for key in seen.keys() & folders.keys():
        raise FileError(
            f"{seen[key]!r} is a file and the folder of {folders[key]!r}. {_AGAIN}"
        )


_AGAIN = "Get the bundle again from where it was published."

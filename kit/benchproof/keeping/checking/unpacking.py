"""Unpack a bundle that someone else made: trusted in nothing, not run.

Everything is refused before the first byte is written: names, kinds of entries,
counts and sizes as declared. While unpacking, no entry may exceed what it declared.
"""

from __future__ import annotations

import errno
import stat
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

from benchproof.keeping.checking.names import require_distinct, require_safe_name
from benchproof.values.errors import FileError

_END = b"PK\x05\x06"
_END_SIZE = 22
_LOCATOR = b"PK\x06\x07"
_LOCATOR_SIZE = 20
_BLOCK = 1 << 16


@dataclass(frozen=True, slots=True)
class Limits:
    """What a bundle may ask for; sizes in bytes.

    Attributes
    ----------
    archive : int
        Of the file itself.
    directory : int
        Of the archive's list of entries.
    entries : int
    entry : int
        Of one file, unpacked.
    total : int
        Of all files, unpacked.
    ratio : float
        Unpacked over packed, for a file above `small`.
    small : int
    """

    archive: int = 1_000_000_000
    directory: int = 1_000_000
    entries: int = 2_000
    entry: int = 500_000_000
    total: int = 1_000_000_000
    ratio: float = 100.0
    small: int = 1_000_000


def unpack_bundle(archive: Path, folder: Path, limits: Limits | None = None) -> None:
    """Write the files of a bundle into an empty folder.

    Parameters
    ----------
    archive : pathlib.Path
        A zip file.
    folder : pathlib.Path
        Exists and is empty.
    limits : Limits, optional

    Raises
    ------
    FileError
        If it is no zip file, damaged, or anything in it is not plain: then nothing
        outside `folder` was touched and nothing was run.
    """
    limits = limits or Limits()
    try:
        _check_directory(archive, limits)
        with zipfile.ZipFile(archive) as opened:
            entries = [i for i in opened.infolist() if not _is_folder(i)]
            _check_entries(entries, limits)
            for entry in entries:
                _unpack(opened, entry, folder)
    except (zipfile.BadZipFile, zlib.error, EOFError, UnicodeDecodeError) as problem:
        raise FileError(f"{archive.name}: damaged ({problem}). {_AGAIN}") from None
    except OSError as problem:
        if problem.errno != errno.EINVAL:  # an entry said to begin before the file
            raise
        raise FileError(f"{archive.name}: damaged ({problem}). {_AGAIN}") from None
    except (NotImplementedError, RuntimeError) as problem:  # zipfile's own words
        raise FileError(f"{archive.name}: refused ({problem}). {_AGAIN}") from None


def _check_directory(archive: Path, limits: Limits) -> None:
    """Look at the last bytes alone: reading a huge directory is an attack already."""
    size = archive.stat().st_size
    if not _END_SIZE <= size <= limits.archive:
        raise FileError(f"{archive.name}: {size} bytes, no bundle. {_AGAIN}")
    with archive.open("rb") as handle:
        handle.seek(-min(size, _END_SIZE + _LOCATOR_SIZE), 2)
        end = handle.read()
    # The large form of a directory would be read instead, whatever the small one says.
    large, end = end[:-_END_SIZE][:4] == _LOCATOR, end[-_END_SIZE:]
    if end[:4] != _END or large:
        raise FileError(
            f"{archive.name}: not a zip file as bundles are (cut off, or something is "
            f"behind its end). {_AGAIN}"
        )
    count = int.from_bytes(end[10:12], "little")
    directory = int.from_bytes(end[12:16], "little")
    if count > limits.entries or directory > limits.directory:
        raise FileError(f"{archive.name}: {count} entries are too many. {_AGAIN}")


def _is_folder(entry: zipfile.ZipInfo) -> bool:
    if not entry.filename.endswith("/"):
        return False
    require_safe_name(entry.filename[:-1])
    return entry.file_size == 0


def _check_entries(entries: list[zipfile.ZipInfo], limits: Limits) -> None:
    if len(entries) > limits.entries:
        raise FileError(f"{len(entries)} files are too many. {_AGAIN}")
    for entry in entries:
        # The name as it was stored: zipfile cuts one at its first NUL.
        require_safe_name(entry.orig_filename)
        _check_kind(entry)
        _check_size(entry, limits)
    require_distinct(e.filename for e in entries)
    total = sum(e.file_size for e in entries)
    if total > limits.total:
        raise FileError(f"{total} bytes unpacked are too many. {_AGAIN}")


def _check_kind(entry: zipfile.ZipInfo) -> None:
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG):
        what = "a link" if kind == stat.S_IFLNK else "no plain file"
        raise FileError(f"{entry.filename}: {what}, which a bundle has not. {_AGAIN}")
    if entry.flag_bits & 0x1:
        raise FileError(f"{entry.filename}: encrypted, so not to be checked. {_AGAIN}")
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise FileError(f"{entry.filename}: packed in an unusual way. {_AGAIN}")


def _check_size(entry: zipfile.ZipInfo, limits: Limits) -> None:
    size, packed = entry.file_size, max(entry.compress_size, 1)
    bomb = size > limits.small and size > limits.ratio * packed
    if size > limits.entry or bomb:
        raise FileError(
            f"{entry.filename}: {size} bytes from {packed} packed ones are refused. "
            f"{_AGAIN}"
        )


def _unpack(opened: zipfile.ZipFile, entry: zipfile.ZipInfo, folder: Path) -> None:
    target = folder / entry.filename
    target.parent.mkdir(parents=True, exist_ok=True)
    written = 0
    with opened.open(entry) as source, target.open("xb") as handle:
        while block := source.read(_BLOCK):
            written += len(block)
            if written > entry.file_size:
                raise FileError(f"{entry.filename}: longer than it says. {_AGAIN}")
            handle.write(block)


_AGAIN = "Nothing of it was run. Get the bundle again from where it was published."

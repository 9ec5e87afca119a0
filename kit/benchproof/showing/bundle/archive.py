"""A zip file that is the same, byte for byte, whenever it is made of the same files."""

from __future__ import annotations

import io
import stat
import zipfile
from collections.abc import Mapping

_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip file can say
_MODE = (stat.S_IFREG | 0o644) << 16
_UNIX = 3
_MOST = 50.0
"""A file that packs better is stored: guards against bombs would refuse it."""


def archive_bytes(files: Mapping[str, bytes]) -> bytes:
    """Pack files in order of name, with one date and one mode for all.

    Parameters
    ----------
    files : mapping
        Name, with ``/`` between folders, to content.

    Examples
    --------
    >>> one = archive_bytes({"b.txt": b"2", "a.txt": b"1"})
    >>> one == archive_bytes({"a.txt": b"1", "b.txt": b"2"})
    True
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _DATE)
            entry.external_attr, entry.create_system = _MODE, _UNIX
            entry.compress_type = _packing(files[name])
            archive.writestr(entry, files[name], compresslevel=6)
    return buffer.getvalue()


def _packing(content: bytes) -> int:
    import zlib

    packed = len(zlib.compress(content, 6))
    worth = packed < len(content) < _MOST * packed
    return zipfile.ZIP_DEFLATED if worth else zipfile.ZIP_STORED

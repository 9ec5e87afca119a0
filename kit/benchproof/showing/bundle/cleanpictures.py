"""Pictures without what a camera or a program wrote beside the picture itself."""

from __future__ import annotations

import base64
import binascii
import struct
from collections.abc import Iterator

PNG = b"\x89PNG\r\n\x1a\n"
# What a viewer needs; texts, times, positions (eXIf) and profiles are left out.
_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"pHYs",
     b"acTL", b"fcTL", b"fdAT"}
)  # fmt: skip
_JPEG_START = b"\xff\xd8"
_START_OF_SCAN = 0xDA
_KEPT_APPLICATION = (0xE0, 0xEE)  # density, and Adobe's note on the colours
_COMMENT = 0xFE
_END_OF_PICTURE = 0xD9


def clean_picture(content: bytes) -> bytes | None:
    """Return a PNG or JPEG with the pixels untouched and nothing else told.

    Parameters
    ----------
    content : bytes
        Of the file.

    Returns
    -------
    bytes or None
        None if it is neither, or damaged: then it cannot be cleaned.

    Examples
    --------
    >>> clean_picture(b"GIF89a") is None
    True
    """
    try:
        if content.startswith(PNG):
            return PNG + b"".join(_png_chunks(content))
        if content.startswith(_JPEG_START):
            return _JPEG_START + b"".join(_jpeg_segments(content))
    except (struct.error, IndexError, ValueError):
        pass
    return None


def _png_chunks(content: bytes) -> Iterator[bytes]:
    at = len(PNG)
    while True:
        (length,) = struct.unpack_from(">I", content, at)
        kind, end = content[at + 4 : at + 8], at + 12 + length
        if end > len(content):
            raise ValueError("cut off")
        if kind in _PNG_KEPT:
            yield content[at:end]
        if kind == b"IEND":
            return  # what follows is no part of the picture
        at = end


def _jpeg_segments(content: bytes) -> Iterator[bytes]:
    at = len(_JPEG_START)
    while True:
        if content[at] != 0xFF:
            raise ValueError("no marker")
        marker = content[at + 1]
        if marker == 0xFF:  # padding
            at += 1
            continue
        (length,) = struct.unpack_from(">H", content, at + 2)
        end = at + 2 + length
        if marker == _START_OF_SCAN:
            yield from _scans(content[at:])
            return
        told = 0xE0 <= marker <= 0xEF and marker not in _KEPT_APPLICATION
        if not told and marker != _COMMENT:
            yield content[at:end]
        at = end


def _scans(rest: bytes) -> Iterator[bytes]:
    """Yield the compressed scans; a segment of text between two of them is dropped."""
    at = 0
    while rest[at + 1] != _END_OF_PICTURE:
        end = at + 2
        while not _is_marker(rest, end):
            end += 1
        told = rest[at + 1] == _COMMENT or 0xE1 <= rest[at + 1] <= 0xED
        if not told:
            yield rest[at:end]
        at = end
    yield rest[at : at + 2]  # a second picture may follow; it is not shown


def _is_marker(rest: bytes, at: int) -> bool:
    """Tell a marker from a stuffed 0xFF and from a restart inside a scan."""
    if rest[at] != 0xFF:
        return False
    following = rest[at + 1]
    return following not in (0x00, 0xFF) and not 0xD0 <= following <= 0xD7


def clean_base64(text: str) -> str | None:
    """Return the picture in a base64 text cleaned, None if it cannot be."""
    try:
        content = base64.b64decode("".join(text.split()), validate=True)
    except (binascii.Error, ValueError):
        return None
    cleaned = clean_picture(content)
    return None if cleaned is None else base64.b64encode(cleaned).decode("ascii")

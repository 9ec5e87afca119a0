"""Photographs of a case: shown upright and small, with nothing else told.

The original stays in the case's folder and is only read. What is shown is a new
picture with the same pixels, fewer of them, and no place, time or camera.
"""

from __future__ import annotations

import base64
import html
import io
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from benchproof.keeping.callouts import Callout, draw_callouts
from benchproof.values.errors import FileError, InputError

if TYPE_CHECKING:
    from PIL.Image import Image

LONGEST_SIDE = 1400
"""Pixels of what is shown: sharp on a page, no more than a page needs."""

_QUALITY = 82
_MOST_PIXELS = 150_000_000
_JFIF = 0xE0
_COMMENT = 0xFE
_START_OF_SCAN = 0xDA


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph as it is shown; shows itself in a notebook and in the write-up.

    Attributes
    ----------
    jpeg : bytes
        Empty where the original is not in this copy of the case.
    name : str
        Of the original, inside the case.
    caption, alt : str
        What the reader is told about it; what is to be seen on it.
    """

    jpeg: bytes
    name: str
    caption: str
    alt: str

    def __repr__(self) -> str:
        if not self.jpeg:
            return f"{self._absent} {self.caption} ({self.alt})"
        return f"Photo: {self.caption} ({self.alt})"

    @property
    def _absent(self) -> str:
        return f"[{self.name} is not in this copy of the case]"

    def _repr_mimebundle_(
        self, include: Any = None, exclude: Any = None
    ) -> tuple[dict[str, str], dict[str, Any]]:
        caption, alt = (html.escape(t) for t in (self.caption, self.alt))
        shown = f"<p>{html.escape(self._absent)} {alt}</p>"
        if self.jpeg:
            code = base64.b64encode(self.jpeg).decode("ascii")
            shown = f'<img alt="{alt}" src="data:image/jpeg;base64,{code}">'
        figure = (
            f'<figure class="bp">{shown}<figcaption>{caption}</figcaption></figure>'
        )
        plain = {"text/plain": repr(self), "text/html": figure.replace("$", "&#36;")}
        return plain, {"text/html": {"alt": self.alt}}


def photo_of(
    folder: Path,
    name: str,
    *,
    caption: str,
    alt: str,
    callouts: Sequence[Callout] = (),
) -> Photo:
    """Return a photograph of a case as it may be shown to strangers.

    Upright, at most 1400 pixels long, encoded anew without position, time, camera,
    colour profile or comment; that is checked on the finished picture.

    Parameters
    ----------
    folder : pathlib.Path
        Of the case.
    name : str
        ``photos/board.jpg``. A file that is not there is said to be missing, so that
        a copy of the case without its originals still runs.
    caption : str
        One or two sentences below it.
    alt : str
        What is to be seen, for a reader who cannot see it.
    callouts : sequence of (float, float, str)
        See `draw_callouts`.

    Raises
    ------
    InputError
        If caption or alt is empty, the name leads out of the case, or a callout does
        not fit.
    FileError
        If the file is no picture, or too large.
    """
    for what, said in (("caption", caption), ("alt", alt)):
        if not said.strip():
            raise InputError(f"{name}: give {what}='…': {_WHY[what]}.")
    parts = PurePosixPath(name.replace("\\", "/"))
    if parts.is_absolute() or ".." in parts.parts:
        raise InputError(f"{name}: name a file inside the case, like photos/board.jpg.")
    try:
        content = (folder / parts).read_bytes()
    except FileNotFoundError:
        return Photo(b"", name, caption.strip(), alt.strip())
    except OSError as problem:
        raise FileError(f"{name}: {problem.strerror}. Name a picture.") from None
    image = _plain_picture(content, name)
    draw_callouts(image, callouts, name)
    return Photo(_encoded(image, name), name, caption.strip(), alt.strip())


_WHY = {
    "caption": "what the reader should know about it",
    "alt": "what is to be seen on it, for a reader who cannot see it",
}


def _plain_picture(content: bytes, name: str) -> Image:
    """Return upright RGB pixels on a new picture, to which nothing is attached."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            # We judge the size ourselves, and a damaged camera tag is no loss.
            warnings.simplefilter("ignore")
            opened = Image.open(io.BytesIO(content))
            if opened.width * opened.height > _MOST_PIXELS:
                raise FileError(
                    f"{name}: {opened.width} x {opened.height} pixels are too many. "
                    "Save it smaller."
                )
            upright = ImageOps.exif_transpose(opened)
            image = _on_white(_in_srgb(upright))
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError,
            SyntaxError) as problem:  # fmt: skip
        raise FileError(
            f"{name}: not a picture that can be read ({type(problem).__name__}). Save "
            "it as JPEG or PNG."
        ) from None
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    fresh = Image.new("RGB", image.size)
    fresh.paste(image)
    return fresh


def _in_srgb(image: Image) -> Image:
    """Return the colours as every screen assumes them, the profile being dropped."""
    from PIL import ImageCms

    profile = image.info.get("icc_profile")
    if not profile or image.mode not in ("RGB", "RGBA"):
        return image
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        seen = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"))
    except ImageCms.PyCMSError:
        return image  # a broken profile: colours a little off, the picture whole
    return image if seen is None else seen


def _on_white(image: Image) -> Image:
    from PIL import Image as Pictures

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        above = image.convert("RGBA")
        ground = Pictures.new("RGBA", image.size, "white")
        return Pictures.alpha_composite(ground, above).convert("RGB")
    if image.mode.startswith("I;16") or image.mode == "I":
        # Sixteen bits a pixel, as some microscopes write: the upper eight are shown.
        return image.point(lambda value: value / 256, "L").convert("RGB")
    return image.convert("RGB")


def _encoded(image: Image, name: str) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=_QUALITY, optimize=True)
    content = buffer.getvalue()
    told = told_beside(content)
    if told:
        raise FileError(
            f"{name}: not shown, for beside the picture it still tells "
            f"{', '.join(told)}. Save it as PNG and try again."
        )
    return content


def told_beside(jpeg: bytes) -> list[str]:
    """Name what a JPEG tells beside its picture; nothing of a photo that is shown.

    Parameters
    ----------
    jpeg : bytes
        Of the file.

    Returns
    -------
    list of str
        Segments for programs (``APP1``: camera, position, editing history; ``APP2``:
        colour profile), comments, and what follows the picture.
    """
    found, at = [], 2
    while jpeg[at + 1] != _START_OF_SCAN:
        marker = jpeg[at + 1]
        if marker == _COMMENT:
            found.append("a comment")
        elif 0xE0 < marker <= 0xEF:
            found.append(f"APP{marker - 0xE0}")
        elif marker == _JFIF and jpeg[at + 4 : at + 9] != b"JFIF\0":
            found.append("APP0")
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    if not jpeg.endswith(b"\xff\xd9"):
        found.append("something after its end")
    return found

"""The pages and the style sheet that come with the package."""

from __future__ import annotations

import re
from importlib.resources import files

__all__ = ["packaged", "style_sheet"]


def packaged(name: str) -> str:
    """Return a page or style sheet that comes with the package."""
    return files("benchproof.showing.page").joinpath(name).read_text(encoding="utf-8")


def style_sheet() -> str:
    """Return the style sheet of our pages without comments and idle spaces."""
    sheet = re.sub(r"/\*.*?\*/", "", packaged("writeup.css"), flags=re.DOTALL)
    sheet = re.sub(r"\s*([{};])\s*", r"\1", re.sub(r"\s+", " ", sheet))
    return re.sub(r"(?<=[:,]) ", "", sheet).replace(";}", "}").strip()

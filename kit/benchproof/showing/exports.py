"""Figures as files of their own, for slides and films: 1920 by 1080 pixels each."""

from __future__ import annotations

import base64
import html
import io
import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from benchproof.showing.figures.drawing import Plot, Size, svg_of, written
from benchproof.showing.figures.ofcase import plot_of_budget
from benchproof.showing.figures.resultplots import plots_of
from benchproof.showing.figures.sheet import Sheet
from benchproof.showing.page.pictures import svg_address
from benchproof.showing.page.summary import plot_of_summary, summary_of, summary_page
from benchproof.values.errors import FileError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["exported_figures"]

WIDTH, HEIGHT = 1920, 1080
_DPI = 180
SIZE: Size = (WIDTH / _DPI, HEIGHT / _DPI)
"""Inches, at which letters of ten points are 25 pixels high."""

_ADDRESS = re.compile(
    r'src="(data:image/(?:png|jpeg|svg\+xml);base64,[A-Za-z0-9+/=]+)"'
)
_MIMES = ("image/png", "image/jpeg", "image/svg+xml")


def exported_figures(results: Mapping[str, Any], notebook: Any) -> dict[str, bytes]:
    """Return every figure of a case by file name, and its summary.

    Parameters
    ----------
    results : mapping
        What a run computed, as results.json has it.
    notebook : nbformat.NotebookNode
        The executed notebook, whose own pictures are exported too: drawings as SVG,
        photographs as PNG.

    Returns
    -------
    dict of str to bytes
        ``trials.png``, ``trials.svg`` and so on; ``summary.html`` beside them.
    """
    files: dict[str, bytes] = {}
    known: set[str] = set()
    for plot in _plots(results):
        known.add(plot.alt)
        if plot.figure is not None:
            files[f"{plot.name}.png"] = _pixels(plot.figure)
            files[f"{plot.name}.svg"] = _sized(svg_of(plot.figure)).encode("utf-8")
    for number, (address, alt) in enumerate(_pictures(notebook), start=1):
        if alt not in known:
            name, content = _framed(f"picture-{number}", address, alt)
            files[name] = content
    files["summary.html"] = summary_page(summary_of(results)).encode("utf-8")
    return files


def _plots(results: Mapping[str, Any]) -> Iterator[Plot]:
    yield plot_of_summary(summary_of(results), SIZE)
    yield from (plot for _, plot in plots_of(results))
    for name, quantity in (results.get("quantities") or {}).items():
        if quantity.get("formula") and quantity.get("contributions"):
            yield plot_of_budget(
                name, quantity["text"], quantity["standard_uncertainty"],
                quantity["unit"], quantity["contributions"], SIZE,
            )  # fmt: skip


def _pixels(figure: Figure | Sheet) -> bytes:
    if isinstance(figure, Sheet):
        return figure.png((WIDTH, HEIGHT))
    return written(figure, "png", _DPI)


def _sized(svg: str) -> str:
    """Give a drawing its size in pixels instead of points."""
    size = f'width="{WIDTH}" height="{HEIGHT}"'
    return re.sub(r'width="[\d.]+pt" height="[\d.]+pt"', size, svg, count=1)


def _pictures(notebook: Any) -> Iterator[tuple[str, str]]:
    """Yield the pictures that cells put out, each with its description."""
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            about = output.get("metadata", {})
            for found in _ADDRESS.findall(_joined(data.get("text/html", ""))):
                yield found, str(about.get("text/html", {}).get("alt", ""))
                break
            else:
                mime = next((m for m in _MIMES if m in data), None)
                if mime is not None:
                    alt = about.get(mime, {}).get("alt") or cell.metadata.get("alt")
                    yield _address(mime, _joined(data[mime])), str(alt or "")


def _joined(value: Any) -> str:
    return "".join(map(str, value)) if isinstance(value, list) else str(value)


def _address(mime: str, text: str) -> str:
    if mime == "image/svg+xml":
        return svg_address(text)
    return f"data:{mime};base64,{''.join(text.split())}"


def _framed(name: str, address: str, alt: str) -> tuple[str, bytes]:
    """Put a picture on a white card of the full size."""
    mime, _, code = address.removeprefix("data:").partition(";base64,")
    if mime != "image/svg+xml":
        return f"{name}.png", _on_card(base64.b64decode(code), name)
    # As an image inside a drawing it can run nothing, whatever it holds.
    card = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}"><title>{html.escape(alt)}</title>'
        '<rect width="100%" height="100%" fill="#fff"/>'
        f'<image width="{WIDTH}" height="{HEIGHT}" href="{address}"/></svg>'
    )
    return f"{name}.svg", card.encode("utf-8")


def _on_card(content: bytes, name: str) -> bytes:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        opened = Image.open(io.BytesIO(content)).convert("RGBA")
    except (UnidentifiedImageError, OSError) as problem:
        raise FileError(
            f"{name}: the notebook holds a picture that cannot be read "
            f"({type(problem).__name__}). Run the case again."
        ) from None
    fitted = ImageOps.contain(opened, (WIDTH, HEIGHT), Image.Resampling.LANCZOS)
    card = Image.new("RGB", (WIDTH, HEIGHT), "white")
    corner = ((WIDTH - fitted.width) // 2, (HEIGHT - fitted.height) // 2)
    card.paste(fitted, corner, fitted)
    buffer = io.BytesIO()
    card.save(buffer, "PNG", optimize=True)
    return buffer.getvalue()

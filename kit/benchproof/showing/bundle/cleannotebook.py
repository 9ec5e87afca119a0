"""A notebook as it is published: its code untouched, its outputs without danger.

Outputs keep text, cleaned HTML and pictures; scripts, widgets, drawings that could
run, and whatever tells of the machine are taken out. Nothing else is changed, so the
hash of the code stays.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Callable, Mapping
from typing import Any

from benchproof.showing.bundle.cleandrawings import clean_drawing
from benchproof.showing.bundle.cleanpictures import clean_base64
from benchproof.showing.bundle.privacy import Privacy, outside_data
from benchproof.showing.page.outputs import plain_text
from benchproof.showing.page.pictures import picture, svg_address
from benchproof.showing.page.safehtml import clean_html

KERNEL = {"display_name": "Python 3", "language": "python", "name": "python3"}
"""Any Python: the name of the author's own environment says where it was."""

_LEFT_OUT = "[an output without a readable version was left out]"
_TAG = re.compile(r"<(?=[A-Za-z/!?])")
_RUNS = re.compile(r"\b(?:javascript|vbscript|data)\s*:(?!image/)", re.IGNORECASE)
_LATEX_REACHES_OUT = re.compile(r"\\(?:href|url|require|html\w*|class|style|input)\b")


def clean_notebook(notebook: Any, privacy: Privacy) -> Any:
    """Return a copy of a notebook fit for strangers.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        Of format 4.
    privacy : Privacy
        What must not be told.

    Returns
    -------
    nbformat.NotebookNode
        The same cells with the same sources.
    """
    import nbformat

    cells = [_cell(c, i, privacy) for i, c in enumerate(notebook.cells, 1)]
    about = {"kernelspec": dict(KERNEL), "language_info": {"name": "python"}}
    return nbformat.from_dict(
        {"cells": cells, "metadata": about, "nbformat": 4, "nbformat_minor": 5}
    )


def _cell(cell: Any, number: int, privacy: Privacy) -> dict[str, Any]:
    kept = {k: cell.metadata[k] for k in ("tags", "alt") if k in cell.metadata}
    clean = {
        "cell_type": cell.cell_type,
        "id": f"cell-{number}",
        "metadata": kept,
        "source": cell.source,
    }
    if cell.cell_type == "code":
        place = f"cell {number}"
        outputs = [_output(o, place, privacy) for o in cell.outputs]
        clean |= {"execution_count": cell.execution_count, "outputs": outputs}
    attached = cell.get("attachments", {})
    if attached:
        clean["attachments"] = {n: _pictures(b) for n, b in attached.items()}
    return clean


def _pictures(bundle: Mapping[str, Any]) -> dict[str, str]:
    found = {
        mime: clean_base64(_joined(text))
        for mime, text in bundle.items()
        if mime in ("image/png", "image/jpeg")
    }
    return {mime: text for mime, text in found.items() if text}


def _output(output: Any, place: str, privacy: Privacy) -> dict[str, Any]:
    kind = output.output_type
    if kind == "stream":
        text = privacy.without(plain_text(_joined(output.text)))
        return {"output_type": kind, "name": output.name, "text": text}
    if kind == "error":
        lines = [privacy.without(plain_text(str(t))) for t in output.traceback]
        said = {k: privacy.without(plain_text(output[k])) for k in ("ename", "evalue")}
        return {"output_type": kind, "traceback": lines, **said}
    about = _about(output, privacy)
    data = _versions(output.data, place, privacy)
    drawing = _joined(output.data.get("image/svg+xml", ""))
    if drawing and "text/html" not in data and "image/png" not in data:
        alt = about.get("alt") or f"Drawing put out by {place}"
        data |= _drawn(drawing, str(alt), privacy)
    data = data or {"text/plain": _LEFT_OUT}
    clean = {"output_type": kind, "data": data, "metadata": about}
    if kind == "execute_result":
        clean["execution_count"] = output.execution_count
    return clean


def _versions(data: Mapping[str, Any], place: str, privacy: Privacy) -> dict[str, str]:
    clean = {}
    for mime, change in CLEANERS.items():
        if mime in data:
            text = change(_joined(data[mime]), place, privacy)
            if text:
                clean[mime] = text
    return clean


def _drawn(drawing: str, alt: str, privacy: Privacy) -> dict[str, str]:
    """Return a drawing as a picture in HTML, where it can run nothing."""
    cleaned = clean_drawing(drawing, privacy)
    return {"text/html": picture(svg_address(cleaned), alt)} if cleaned else {}


def _address(address: str, privacy: Privacy) -> str:
    """Return a ``data:`` address with its picture cleaned; empty if it cannot be."""
    head, _, body = address.partition(",")
    if head in ("data:image/png;base64", "data:image/jpeg;base64"):
        cleaned = clean_base64(body)
        return f"{head},{cleaned}" if cleaned else _NO_PICTURE
    if head != "data:image/svg+xml;base64":
        return _NO_PICTURE
    try:
        drawing = base64.b64decode(body, validate=True).decode("utf-8")
    except (binascii.Error, ValueError):
        return _NO_PICTURE
    drawn = clean_drawing(drawing, privacy)
    return svg_address(drawn) if drawn else _NO_PICTURE


_NO_PICTURE = "data:,"


def _about(output: Any, privacy: Privacy) -> dict[str, Any]:
    """Keep a picture's description and size: a reader who cannot see it needs them."""
    told = {"": output.metadata, **output.metadata}
    found: dict[str, Any] = {}
    for mime, about in told.items():
        if isinstance(about, Mapping) and (not mime or mime in CLEANERS):
            kept = {k: about[k] for k in ("width", "height") if _is_size(about.get(k))}
            if isinstance(about.get("alt"), str):
                kept["alt"] = privacy.without(about["alt"])
            if kept:
                found.update({mime: kept} if mime else kept)
    return found


def _is_size(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _joined(text: Any) -> str:
    return "".join(map(str, text)) if isinstance(text, list) else str(text)


def _as_text(text: str, place: str, privacy: Privacy) -> str:
    return privacy.without(plain_text(text))


def _as_html(text: str, place: str, privacy: Privacy) -> str:
    told = outside_data(text, privacy.without, lambda a: _address(a, privacy))
    cleaned = clean_html(told, place=place)
    is_empty = "<img" not in cleaned and not re.sub(r"<[^>]*>", "", cleaned).strip()
    return "" if is_empty else cleaned


def _as_markdown(text: str, place: str, privacy: Privacy) -> str:
    if _RUNS.search(text):
        return ""
    told = outside_data(text, privacy.without, lambda a: _address(a, privacy))
    return _TAG.sub("&lt;", told)


def _as_latex(text: str, place: str, privacy: Privacy) -> str:
    return "" if _LATEX_REACHES_OUT.search(text) else privacy.without(text)


def _as_picture(text: str, place: str, privacy: Privacy) -> str:
    return clean_base64(text) or ""


CLEANERS: dict[str, Callable[[str, str, Privacy], str]] = {
    "text/plain": _as_text,
    "text/html": _as_html,
    "text/markdown": _as_markdown,
    "text/latex": _as_latex,
    "image/png": _as_picture,
    "image/jpeg": _as_picture,
}
"""What is kept of an output, and how each kind is cleaned; others are left out."""

"""What a code cell put out, as HTML that runs nothing and fetches nothing."""

import html
import re
from collections.abc import Callable, Mapping
from typing import Any

from benchproof.showing.page.maths import formula_to_mathml
from benchproof.showing.page.pictures import picture, svg_address
from benchproof.showing.page.prose import render_prose
from benchproof.showing.page.safehtml import PICTURE_SOURCE, clean_html

__all__ = ["plain_text", "render_output"]

TERMINAL_CODE = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[@-_]"
)
# A progress bar returns to the start of its line and writes over it.
OVERWRITTEN = re.compile(r"[^\n\r]*\r+(?!\n)")
CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
LONE_PICTURE = re.compile(r"\s*<img [^>]*>\s*")
# <Figure size 640x480 with 1 Axes> names an object, not what is to be seen.
OBJECT_NAME = re.compile(r"\s*<.*>\s*\Z", re.DOTALL)


def plain_text(text: str) -> str:
    r"""Return a terminal's text as a reader saw it: no colours, no overwritten lines.

    Examples
    --------
    >>> plain_text("\x1b[31mred\x1b[0m\n10 %\r100 %")
    'red\n100 %'
    """
    text = TERMINAL_CODE.sub("", text).replace("\r\n", "\n")
    return CONTROL.sub("", OVERWRITTEN.sub("", text))


def render_output(output: Mapping[str, Any], *, place: str, alt: str = "") -> str:
    """Return one output of a code cell as HTML; none is dropped silently.

    Parameters
    ----------
    output : mapping
        An output of notebook format 4: ``stream``, ``error``, ``display_data`` or
        ``execute_result``.
    place : str
        Where it stands, as words for labels: ``"code cell 3"``.
    alt : str
        Description of the cell's picture. The output's own metadata comes first.

    Returns
    -------
    str
        The richest version that survives cleaning, inside one ``<div>``.

    Examples
    --------
    >>> stream = {"output_type": "stream", "name": "stdout", "text": "12.1 < 13 V"}
    >>> print(render_output(stream, place="code cell 1"))
    <div class="wu-output"><pre tabindex="0">12.1 &lt; 13 V</pre></div>
    """
    kind = str(output.get("output_type", ""))
    if kind == "stream":
        body = _stream(output)
    elif kind == "error":
        body = _failure(output)
    else:
        body = _richest(output, place, alt)
    return f'<div class="wu-output">{body}</div>'


def _listing(text: str) -> str:
    return f'<pre tabindex="0">{html.escape(plain_text(text), quote=False)}</pre>'


def _joined(value: Any) -> str:
    """Return a text that the notebook format may keep as a list of lines."""
    return "".join(map(str, value)) if isinstance(value, list) else str(value)


def _stream(output: Mapping[str, Any]) -> str:
    listing = _listing(_joined(output.get("text", "")))
    if output.get("name") == "stderr":
        return f'<p class="wu-label">Messages (stderr)</p>{listing}'
    return listing


def _failure(output: Mapping[str, Any]) -> str:
    what = html.escape(plain_text(f"{output.get('ename')}: {output.get('evalue')}"))
    trace = _listing("\n".join(map(str, output.get("traceback", []))))
    return f'<p class="wu-stop"><strong>This cell stopped.</strong> {what}</p>{trace}'


def _richest(output: Mapping[str, Any], place: str, alt: str) -> str:
    """Return the first version, richest first, that has something to show."""
    data = output.get("data", {})
    about = _description(output, place, alt)
    for mime, render in VERSIONS.items():
        if mime in data:
            shown = render(_joined(data[mime]), place, about)
            if shown:
                return shown
    kinds = html.escape(", ".join(sorted(map(str, data))) or "none")
    return f'<p class="wu-label">Output without a readable version (kinds: {kinds})</p>'


def _description(output: Mapping[str, Any], place: str, alt: str) -> str:
    """Return the picture's description: its own, its cell's, else its text."""
    metadata = output.get("metadata", {})
    own = [metadata.get("alt"), *(_alt_of(part) for part in metadata.values()), alt]
    for words in own:
        if isinstance(words, str) and words.strip():
            return words.strip()
    text = plain_text(_joined(output.get("data", {}).get("text/plain", ""))).strip()
    if text and not OBJECT_NAME.match(text):
        return text
    return f"Picture put out by {place}; its author gave no description"


def _alt_of(part: Any) -> Any:
    return part.get("alt") if isinstance(part, Mapping) else None


def _as_html(text: str, place: str, about: str) -> str:
    cleaned = clean_html(text, place=place)
    # Widgets and interactive plots are all script: nothing is left of them, and
    # the next version gets its turn.
    is_empty = "<img" not in cleaned and not re.sub(r"<[^>]*>", "", cleaned).strip()
    if is_empty:
        return ""
    return _in_box(cleaned, about) if LONE_PICTURE.fullmatch(cleaned) else cleaned


def _in_box(image: str, about: str) -> str:
    """Return a picture in a box that scrolls where the picture is too wide."""
    label = html.escape(about[:80])
    box = f'<div class="wu-picture" role="region" tabindex="0" aria-label="{label}">'
    return f"{box}{image}</div>"


def _as_drawing(text: str, place: str, about: str) -> str:
    if "<svg" not in text:
        return ""
    return _in_box(picture(svg_address(text), about), about)


def _photo(mime: str) -> Callable[[str, str, str], str]:
    def render(text: str, place: str, about: str) -> str:
        address = f"data:{mime};base64,{''.join(text.split())}"
        if not PICTURE_SOURCE.match(address):
            return ""
        return _in_box(picture(address, about), about)

    return render


def _as_formula(text: str, place: str, about: str) -> str:
    source = text.strip()
    formula = formula_to_mathml(source.strip("$"), display=source.startswith("$$"))
    return f'<div class="wu-formula-line" tabindex="0">{formula}</div>'


def _as_prose(text: str, place: str, about: str) -> str:
    # Level six: an output's headings stay below every section of the notebook.
    return render_prose(text, shift=5, place=place).html


def _as_text(text: str, place: str, about: str) -> str:
    return _listing(text)


VERSIONS: dict[str, Callable[[str, str, str], str]] = {
    "text/html": _as_html,
    "image/svg+xml": _as_drawing,
    "image/png": _photo("image/png"),
    "image/jpeg": _photo("image/jpeg"),
    "image/gif": _photo("image/gif"),
    "image/webp": _photo("image/webp"),
    "text/latex": _as_formula,
    "text/markdown": _as_prose,
    "text/plain": _as_text,
}

"""Pictures as part of the page: data addresses, each with a description."""

import base64
import binascii
import html
import re

__all__ = ["drawings_as_text", "picture", "svg_address"]

# In a tag only: in text, where no < stands, somebody may have typed the same words.
_PACKED = re.compile(
    r'(<img [^<>]*?src="data:image/svg\+xml);base64,([A-Za-z0-9+/=]+)"'
)
# What an address, and an attribute in double quotes, cannot carry as it is.
_ESCAPED = {ord(c): f"%{ord(c):02X}" for c in '%#"<\t\n\r'} | {ord("&"): "&amp;"}


def picture(address: str, alt: str, *, width: int | None = None) -> str:
    """Return an ``<img>`` for a picture carried in its own address.

    Parameters
    ----------
    address : str
        A ``data:image/…;base64,…`` address.
    alt : str
        What the picture shows, for a reader who cannot see it.
    width : int, optional
        Width in CSS pixels.

    Examples
    --------
    >>> picture("data:image/png;base64,AA==", 'rail < 9 "V"')
    '<img src="data:image/png;base64,AA==" alt="rail &lt; 9 &quot;V&quot;">'
    """
    size = "" if width is None else f' width="{width}"'
    source, words = html.escape(address), html.escape(alt)
    return f'<img src="{source}" alt="{words}"{size}>'


def svg_address(drawing: str) -> str:
    """Return an SVG drawing as an address for ``<img>``, where it can run nothing.

    Parameters
    ----------
    drawing : str
        The SVG document as text. Scripts and links to elsewhere may stand in it:
        a browser ignores both in a drawing shown as a picture.

    Examples
    --------
    >>> svg_address("<svg/>")
    'data:image/svg+xml;base64,PHN2Zy8+'
    """
    packed = base64.b64encode(drawing.encode("utf-8", "replace")).decode("ascii")
    return f"data:image/svg+xml;base64,{packed}"


def drawings_as_text(page: str) -> str:
    """Return a page whose SVG drawings stand in their addresses as text.

    It is a quarter less than base64. What cannot be written so is left as it was.

    Parameters
    ----------
    page : str
        HTML with addresses as `svg_address` makes them, in double quotes.

    References
    ----------
    RFC 2397; URL Standard, 4.4: an opaque path.

    Examples
    --------
    >>> drawings_as_text('<img src="data:image/svg+xml;base64,PHN2Zy8+" alt="">')
    '<img src="data:image/svg+xml,%3Csvg/>" alt="">'
    """
    return _PACKED.sub(_unpacked, page)


def _unpacked(match: re.Match[str]) -> str:
    try:
        drawing = base64.b64decode(match[2], validate=True).decode("utf-8")
    except (binascii.Error, UnicodeDecodeError):
        return match[0]
    if re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", drawing):
        return match[0]
    if "'" not in drawing:  # one byte for a quote instead of three
        drawing = drawing.replace('"', "'")
    return f'{match[1]},{drawing.translate(_ESCAPED)}"'

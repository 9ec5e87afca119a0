"""Pictures as part of the page: data addresses, each with a description."""

import base64
import html

__all__ = ["picture", "svg_address"]


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

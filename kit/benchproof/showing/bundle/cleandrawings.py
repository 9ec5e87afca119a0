"""SVG drawings reduced to marks and words: nothing that runs, fetches or tells."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from benchproof.showing.bundle.cleanpictures import clean_base64
from benchproof.showing.bundle.privacy import Privacy

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
_HREF = ("href", f"{{{XLINK}}}href")
_ELEMENT_NAMES = (
    "svg g defs path rect circle ellipse line polyline polygon text tspan clipPath use"
    " style marker linearGradient radialGradient stop pattern symbol mask image title"
    " desc"
)
_ELEMENTS = frozenset(_ELEMENT_NAMES.split())
_LONGEST = 20_000_000
_PLAIN_DOCTYPE = re.compile(r"<!DOCTYPE[^\[<>]*>", re.IGNORECASE)
_DECLARES = re.compile(r"<!(?:DOCTYPE|ENTITY|ELEMENT|ATTLIST)", re.IGNORECASE)
_REACHES_OUT = re.compile(
    r"url\(\s*['\"]?(?!#)|@import|expression\s*\(|script\s*:|\\", re.IGNORECASE
)

# So that a drawing reads <path>, not <ns0:path>.
ElementTree.register_namespace("", SVG)
ElementTree.register_namespace("xlink", XLINK)


def clean_drawing(drawing: str, privacy: Privacy) -> str | None:
    """Return an SVG drawing with nothing but what is drawn.

    Parameters
    ----------
    drawing : str
        Trusted in nothing. One that declares entities is not parsed.
    privacy : Privacy
        What must not be told, in its words.

    Returns
    -------
    str or None
        None if it cannot be cleaned.

    Examples
    --------
    >>> drawing = f'<svg xmlns="{SVG}"><script>x()</script><path d="M0 0"/></svg>'
    >>> print(clean_drawing(drawing, Privacy()))
    <svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0" /></svg>
    """
    text = _PLAIN_DOCTYPE.sub("", drawing)
    if len(text) > _LONGEST or _DECLARES.search(text):
        return None
    try:
        root = ElementTree.fromstring(text)
        if _name(root) != "svg":
            return None
        _clean(root, privacy)
        return ElementTree.tostring(root, encoding="unicode")
    except (ElementTree.ParseError, ValueError, RecursionError):
        return None


def _name(element: ElementTree.Element) -> str:
    """Return an element's name; "" outside SVG."""
    name = str(element.tag)
    if name.startswith("{"):
        space, _, name = name[1:].partition("}")
        return name if space == SVG else ""
    return name


def _clean(root: ElementTree.Element, privacy: Privacy) -> None:
    waiting = [root]
    while waiting:
        element = waiting.pop()
        _clean_attributes(element, privacy)
        if _name(element) == "style" and _REACHES_OUT.search(element.text or ""):
            element.text = ""
        element.text = privacy.without(element.text or "") or None
        for child in list(element):
            child.tail = privacy.without(child.tail or "") or None
            if _name(child) in _ELEMENTS:
                waiting.append(child)
            else:
                element.remove(child)


def _clean_attributes(element: ElementTree.Element, privacy: Privacy) -> None:
    for name, value in list(element.attrib.items()):
        plain = name.rpartition("}")[2].lower()
        if name in _HREF:
            kept = value if value.startswith("#") else _picture(value)
        elif plain.startswith("on") or _REACHES_OUT.search(value):
            kept = ""
        else:
            kept = privacy.without(value)
        if kept:
            element.set(name, kept)
        else:
            del element.attrib[name]


def _picture(address: str) -> str:
    """Return an embedded picture cleaned, "" for any other address."""
    head, _, body = address.partition(",")
    if head not in ("data:image/png;base64", "data:image/jpeg;base64"):
        return ""
    cleaned = clean_base64(body)
    return f"{head},{cleaned}" if cleaned else ""

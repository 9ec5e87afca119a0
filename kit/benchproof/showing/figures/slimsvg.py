"""Our own drawings made small: the same picture in a third of the text."""

from __future__ import annotations

import re
from collections import Counter
from xml.etree import ElementTree

from benchproof.showing.figures.slimpath import slim_path

__all__ = ["slim_svg"]

SVG = "http://www.w3.org/2000/svg"
LINKED = "{http://www.w3.org/1999/xlink}href"
NUMBER = re.compile(r"-?\d+\.\d{3,}")
REFERENCE = re.compile(r"#([\w.-]+)")
_NO_TURN = re.compile(r"rotate\(-?0(\.0)? [^)]*\)")
_MOVED = re.compile(r"translate\((-?[\d.]+)[ ,](-?[\d.]+)\)")
NUMBER_STARTS = re.compile(r"(?<=[:,])0\.")
_PLACES = frozenset({"x", "y"})


def slim_svg(drawing: str) -> str:
    """Return a drawing with the same marks and less text.

    Places are rounded to a tenth of a point, all other numbers to a hundredth;
    repeated styles become classes, and what nothing refers to goes: names, groups
    without effect, descriptions of the file, values that hold anyway.

    Parameters
    ----------
    drawing : str
        An SVG document of our own making; it is parsed as XML, which hostile text
        could use to exhaust memory.

    Returns
    -------
    str
        The same for the same drawing.

    Examples
    --------
    >>> g = '<g id="a"><path d="M 0.12345 7 L 1 2" style="fill: #fff"/></g>'
    >>> slim_svg(f'<svg xmlns="http://www.w3.org/2000/svg">{g}</svg>')[40:-6]
    '<path d="M.1 7l.9-5" style="fill:#fff"/>'
    """
    root = ElementTree.fromstring(drawing)
    _drop_descriptions(root)
    kept = _referred(root)
    for element in root.iter():
        _slim(element, kept)
    _unwrap(root)
    _join_definitions(root)
    _share_styles(root)
    ElementTree.register_namespace("", SVG)
    root.attrib.pop("version", None)
    text = ElementTree.tostring(root, encoding="unicode")
    # Without an apostrophe the drawing may use it as its quote; see `pictures`.
    return text.replace(" />", "/>").replace("'", "&#39;")


def _drop_descriptions(root: ElementTree.Element) -> None:
    for child in list(root):
        if child.tag == f"{{{SVG}}}metadata":
            root.remove(child)


def _referred(root: ElementTree.Element) -> dict[str, str]:
    """Give every name that something refers to a short one."""
    names: dict[str, str] = {}
    for element in root.iter():
        for value in element.attrib.values():
            if "#" in value and ("url(" in value or value.startswith("#")):
                for name in REFERENCE.findall(value):
                    names.setdefault(name, f"r{len(names)}")
    declared = {e.get("id") for e in root.iter()}
    return {name: short for name, short in names.items() if name in declared}


def _slim(element: ElementTree.Element, kept: dict[str, str]) -> None:
    for space in ("text", "tail"):
        words = getattr(element, space)
        if words is not None and not words.strip():
            setattr(element, space, None)
    name = element.attrib.pop("id", "")
    if name in kept:
        element.set("id", kept[name])
    if LINKED in element.attrib:
        element.set("href", element.attrib.pop(LINKED))
    for key, value in list(element.attrib.items()):
        if key != "d":
            element.set(key, _short(value, kept))
    if path := element.get("d"):
        element.set("d", slim_path(path))
    for key in _PLACES & element.attrib.keys():
        element.set(key, _tenth(element.attrib[key]))
    if moved := _MOVED.fullmatch(element.get("transform", "")):
        del element.attrib["transform"]
        element.attrib |= {"x": _tenth(moved[1]), "y": _tenth(moved[2])}
    if _NO_TURN.fullmatch(element.get("transform", "")):
        del element.attrib["transform"]


def _short(value: str, kept: dict[str, str]) -> str:
    if "scale" not in value and "matrix" not in value:  # there each digit counts
        value = NUMBER.sub(lambda m: _rounded(m.group()), value)
    return REFERENCE.sub(lambda m: f"#{kept.get(m[1], m[1])}", value)


def _tenth(number: str) -> str:
    return re.sub(r"^(-?)0\.", r"\1.", f"{round(float(number), 1):g}")


def _rounded(number: str) -> str:
    """Return a number to a hundredth, without zeros that say nothing.

    >>> _rounded("-0.0012"), _rounded("12.500000"), _rounded("0.31999")
    ('0', '12.5', '.32')
    """
    text = f"{float(number):.2f}".rstrip("0").rstrip(".")
    if text in {"-0", ""}:
        return "0"
    return re.sub(r"^(-?)0\.", r"\1.", text)


def _unwrap(element: ElementTree.Element) -> None:
    """Put the children of a group without attributes in its place."""
    for child in list(element):
        _unwrap(child)
    children: list[ElementTree.Element] = []
    for child in list(element):
        is_idle = child.tag == f"{{{SVG}}}g" and not child.attrib
        children.extend(child if is_idle else [child])
    element[:] = children


def _join_definitions(root: ElementTree.Element) -> None:
    """Put what stands in several lists of definitions into the drawing itself.

    A path that is only referred to must stay in one: elsewhere it would be drawn.
    """
    lists = [(p, e) for p in root.iter() for e in p if e.tag == f"{{{SVG}}}defs"]
    for parent, inner in lists[1:]:
        parent.remove(inner)
        lists[0][1].extend(inner)


def _share_styles(root: ElementTree.Element) -> None:
    """Write a style that comes back once, as a class; a font family at the top."""
    styled = [e for e in root.iter() if e.get("style")]
    family = Counter(f for e in styled for f in _FAMILY.findall(e.attrib["style"]))
    (common, _), *_ = family.most_common(1) or [("", 0)]
    for element in styled:
        element.set("style", _tight(element.attrib["style"].replace(common, "")))
    if common:
        root.set("style", _tight(common))
    styles = Counter(e.attrib["style"] for e in styled)
    shared = {s: f"s{i}" for i, (s, n) in enumerate(styles.items()) if s and n > 1}
    for element in styled:
        if element.attrib["style"] in shared:
            element.set("class", shared[element.attrib["style"]])
        if not element.attrib["style"] or "class" in element.attrib:
            del element.attrib["style"]
    rules = "".join(f".{name}{{{style}}}" for style, name in shared.items())
    sheet = root.find(f".//{{{SVG}}}style")
    if sheet is not None:
        sheet.attrib.clear()
        sheet.text = _tight(sheet.text or "") + rules
    elif rules:
        sheet = ElementTree.Element(f"{{{SVG}}}style")
        sheet.text = rules
        root.insert(0, sheet)


def _tight(style: str) -> str:
    style = re.sub(r"\s*([;:{},])\s*", r"\1", style)
    style = NUMBER_STARTS.sub(".", style)
    style = _DOUBLED.sub(r"#\1\2\3", style)
    return _HOLDS_ANYWAY.sub("", style).replace("'", "").strip(";")


_FAMILY = re.compile(r"font-family:[^;]*;?")
_DOUBLED = re.compile(r"#([0-9a-f])\1([0-9a-f])\2([0-9a-f])\3\b")
_HOLDS_ANYWAY = re.compile(
    r"(?<![\w-])(?:stroke-dashoffset:0|text-anchor:start)(?:;|(?=[}]|$))"
)

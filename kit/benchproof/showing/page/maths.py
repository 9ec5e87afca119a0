"""Formulas typed as LaTeX turned into MathML, which a browser sets by itself."""

import html
import re
from xml.etree import ElementTree

from latex2mathml.converter import convert_to_element

__all__ = ["formula_to_mathml"]

# One word list each: a line of names reads better than a column of literals.
ELEMENT_NAMES = (
    "math menclose mfrac mi mmultiscripts mn mo mover mpadded mphantom mroot mrow"
    " mspace msqrt mstyle msub msubsup msup mtable mtd mtext mtr munder munderover"
    " none mprescripts"
)
ELEMENTS = frozenset(ELEMENT_NAMES.split())
ATTRIBUTE_NAMES = (
    "accent accentunder columnalign columnlines columnspacing depth display"
    " displaystyle fence form height largeop linethickness lspace mathvariant maxsize"
    " minsize movablelimits notation rowlines rowspacing rspace scriptlevel separator"
    " stretchy symmetric voffset width xmlns"
)
ATTRIBUTES = frozenset(ATTRIBUTE_NAMES.split())
# latex2mathml writes an upright letter (\mathrm, \Omega) as a character entity and
# an italic one as itself; MathML would set both in italics.
UPRIGHT = re.compile(
    r"&#x0*(?:4[1-9A-F]|5[0-9A]|6[1-9A-F]|7[0-9A]|39[1-9A-F]|3A[0-9]);"
)


def formula_to_mathml(latex: str, *, display: bool = False) -> str:
    r"""Return a formula as MathML, or its source as code when it has no rendering.

    Parameters
    ----------
    latex : str
        The formula without its dollar signs.
    display : bool
        True for a formula on a line of its own.

    Returns
    -------
    str
        A ``<math>`` element built from an allow-list, or ``<code>`` with the
        escaped source.

    References
    ----------
    MathML Core, W3C.

    Examples
    --------
    >>> formula_to_mathml("R_s")[-53:]
    '<mrow><msub><mi>R</mi><mi>s</mi></msub></mrow></math>'
    >>> formula_to_mathml(r"\nosuchcommand{<b>}")
    '<code class="wu-formula">\\nosuchcommand{&lt;b&gt;}</code>'
    """
    source = latex.strip()
    try:
        root = convert_to_element(source, display="block" if display else "inline")
        for element in root.iter():
            _make_harmless(element)
    # The converter gives up in many ways (its own errors, IndexError, deep
    # recursion); whatever the way, the reader still gets the source.
    except Exception:
        return f'<code class="wu-formula">{html.escape(source)}</code>'
    root.set("alttext", source)
    return ElementTree.tostring(root, encoding="unicode")


def _make_harmless(element: ElementTree.Element) -> None:
    """Keep listed attributes only, and plain text instead of character entities.

    Raises
    ------
    ValueError
        If the element is not on the list or holds a command left unconverted.
    """
    if element.tag not in ELEMENTS:
        raise ValueError(f"element <{element.tag}> is not on the list")
    for name in set(element.attrib) - ATTRIBUTES:
        del element.attrib[name]
    text = element.text or ""
    if element.tag == "mi" and UPRIGHT.fullmatch(text):
        element.set("mathvariant", "normal")
    element.text = html.unescape(text)
    if "\\" in element.text:
        raise ValueError(f"command {element.text} was left unconverted")

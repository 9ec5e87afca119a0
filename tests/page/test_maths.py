from xml.etree import ElementTree

import pytest

from benchproof.showing.page.maths import formula_to_mathml

NAMESPACE = "{http://www.w3.org/1998/Math/MathML}"


def letters(latex):
    root = ElementTree.fromstring(formula_to_mathml(latex))
    return {e.text: e.get("mathvariant") for e in root.iter(f"{NAMESPACE}mi")}


def test_a_formula_becomes_well_formed_mathml():
    root = ElementTree.fromstring(formula_to_mathml(r"\frac{V}{I}", display=True))
    assert root.tag == f"{NAMESPACE}math"
    assert root.get("display") == "block"
    assert root.find(f".//{NAMESPACE}mfrac") is not None


def test_the_source_stays_readable_to_those_who_hear_the_page():
    root = ElementTree.fromstring(formula_to_mathml(r" a < b "))
    assert root.get("alttext") == "a < b"


def test_units_and_labels_stand_upright_and_quantities_in_italics():
    assert letters(r"R_\mathrm{s} = \Omega + \alpha") == {
        "R": None,
        "s": "normal",
        "Ω": "normal",
        "α": None,
    }


@pytest.mark.parametrize(
    "latex",
    [r"\nosuchcommand{x}", "", "{" * 3000, r"\frac"],
)
def test_what_cannot_be_set_is_shown_as_its_source(latex):
    assert formula_to_mathml(latex) == f'<code class="wu-formula">{latex}</code>'


@pytest.mark.parametrize(
    "latex",
    [
        r"\href{javascript:alert(1)}{x}",
        r"\style{background:url(//far.example)}{x}",
        r"\class{wu-skip}{x}",
        r'\text{"><script onload="alert(1)">}',
        r"\text{<img src=x onerror=alert(1)>}",
        r"\nosuch{<script>alert(1)</script>}",
        r"&lt;script&gt;",
    ],
)
def test_a_hostile_formula_brings_no_element_or_address_of_its_own(latex):
    root = ElementTree.fromstring(formula_to_mathml(latex))
    for element in root.iter():
        assert element.tag.startswith((NAMESPACE, "code"))
        assert not set(element.attrib) & {"href", "style", "onload", "onerror"}
        assert element.get("class") in {None, "wu-formula"}

"""A drawing made small keeps its marks and its words."""

import io
import re
from xml.etree import ElementTree

import pytest
from drawn import points
from matplotlib import rc_context
from matplotlib.figure import Figure

from benchproof.showing.figures.slimsvg import slim_svg

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def drawn():
    figure = Figure(figsize=(6, 3))
    axes = figure.add_subplot()
    axes.errorbar([1, 2, 3], [4, 5, 6], yerr=0.5, fmt="o", capsize=3)
    axes.set_xlabel("current in A < 3 & more")
    buffer = io.StringIO()
    with rc_context({"svg.fonttype": "none"}):
        figure.savefig(buffer, format="svg")
    return buffer.getvalue()


def elements(text, *tags):
    root = ElementTree.fromstring(text)
    return [e for e in root.iter() if e.tag in {SVG + tag for tag in tags}]


def test_it_takes_less_than_half_the_text(drawn):
    assert len(slim_svg(drawn)) < len(drawn) / 2


def test_no_mark_is_lost(drawn):
    for tag in ("path", "use", "text", "clipPath"):
        assert len(elements(slim_svg(drawn), tag)) == len(elements(drawn, tag))


def test_marks_stay_in_their_order_and_place(drawn):
    def places(text):
        root = ElementTree.fromstring(text)
        inside = [p for d in root.iter(SVG + "defs") for p in d.iter(SVG + "path")]
        shown = [p for p in root.iter(SVG + "path") if p not in inside]
        return [xy for path in shown for xy in points(path.get("d"))]

    slim, whole = places(slim_svg(drawn)), places(drawn)
    assert len(slim) == len(whole) > 20
    for found, wanted in zip(slim, whole, strict=True):
        assert found == pytest.approx(wanted, abs=0.0501)


def test_every_reference_leads_to_one_name(drawn):
    slim = slim_svg(drawn)
    names = re.findall(r'\bid="([^"]*)"', slim)
    wanted = re.findall(r'(?:href="|url\()#([\w.-]+)', slim)
    assert len(names) == len(set(names))
    assert wanted
    assert set(wanted) == set(names)


def test_a_shared_style_is_found_again_by_its_class(drawn):
    slim = slim_svg(drawn)
    used = set(re.findall(r'class="(\w+)"', slim))
    assert used
    assert used == set(re.findall(r"\.(s\d+)\{", slim))


def test_what_describes_the_file_is_left_out(drawn):
    slim = slim_svg(drawn)
    assert "metadata" not in slim
    assert "<!DOCTYPE" not in slim


def test_making_it_small_again_changes_nothing(drawn):
    once = slim_svg(drawn)
    assert elements(slim_svg(once), "path")
    assert len(slim_svg(once)) <= len(once)


def test_text_with_markup_stays_text():
    text = f'<svg xmlns="{SVG[1:-1]}"><text>a &lt; b &amp; c</text></svg>'
    assert slim_svg(text) == text

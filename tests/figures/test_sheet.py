"""A sheet is written as SVG and painted as PNG, both the same drawing."""

import io
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from benchproof.showing.figures.sheet import Area, Line, Mark, Sheet, Words, lines_of

SVG = "{http://www.w3.org/2000/svg}"
TYPED = "<script>alert('1')</script> & $5 or $6"


def sheet(*parts):
    return Sheet(100.0, 50.0, list(parts))


def root(*parts):
    return ElementTree.fromstring(sheet(*parts).svg())


def pixels(*parts):
    """Return a picture of four pixels to a point, as rows of red, green, blue."""
    picture = Image.open(io.BytesIO(sheet(*parts).png((400, 200))))
    assert picture.size == (400, 200)
    return np.asarray(picture.convert("RGB")).astype(int)


def test_what_a_person_typed_is_text_and_nothing_else():
    (text,) = root(Words(1, 20, TYPED)).iter(SVG + "text")
    assert text.text == TYPED
    assert "'" not in sheet(Words(1, 20, TYPED)).svg()


def test_the_drawing_says_its_size_in_points():
    found = root()
    assert (found.get("width"), found.get("height")) == ("100pt", "50pt")
    assert found.get("viewBox") == "0 0 100 50"


def test_only_what_occurs_has_a_rule():
    style = root(Line(((0, 1), (9, 1)), "limit")).findtext(SVG + "style")
    assert ".limit{" in style
    assert "bar" not in style


def test_every_colour_has_another_on_a_dark_page():
    kinds = ("axis", "grid", "bar", "limit", "open")
    parts = [Line(((0, 1), (9, 1)), kind) for kind in kinds]
    parts += [Area(1, 1, 2, 2, kind) for kind in ("shade", "tone", "covered")]
    parts += [Mark(5, 5, "circle", hollow=True), Mark(5, 5, "cross", ink=True)]
    style = root(*parts).findtext(SVG + "style")
    light, dark = style.split("@media(prefers-color-scheme:dark)")
    coloured = re.compile(r"\.(\w+)\{(fill|stroke):(#\w+)\}")
    pairs = {(name, what): c for name, what, c in coloured.findall(dark)}
    found = {(name, what): c for name, what, c in coloured.findall(light)}
    assert found.keys() == pairs.keys()
    assert not set(found.values()) & set(pairs.values())


def test_words_that_have_no_room_are_seen_to_be_missing():
    assert lines_of("one two three", 20) == ["one two three"]
    assert lines_of("one two three four", 7, most=2) == ["one two", "three …"]


@pytest.mark.parametrize(
    "part",
    [
        Line(((20, 25), (80, 25)), "bar", ends=True),
        Line(((20, 25), (80, 25)), "limit"),
        Line(((20, 25), (80, 25)), "open"),
        Area(20, 10, 60, 30),
        Area(20, 10, 60, 30, "covered"),
        Words(50, 30, "12.1 V", "middle", 20, True),
        *(Mark(50, 25, s) for s in ("circle", "square", "diamond", "cross", "left")),
        Mark(50, 25, "right", ink=True),
    ],
    ids=lambda part: f"{type(part).__name__} {getattr(part, 'kind', '')}",
)
def test_every_part_leaves_its_colour_on_a_picture_and_its_place_in_the_svg(part):
    dark = pixels(part).min(axis=2) < 245
    assert dark.any()
    rows, columns = np.nonzero(dark)
    # In the middle of the sheet, where it was put.
    assert 140 < columns.mean() < 260
    assert 70 < rows.mean() < 130
    assert len(list(root(part))) == 3


def test_a_picture_of_another_shape_has_the_drawing_in_its_middle():
    content = sheet(Mark(50, 25, "square")).png((400, 400))
    picture = np.asarray(Image.open(io.BytesIO(content)).convert("L")).astype(int)
    assert picture.shape == (400, 400)
    rows, columns = np.nonzero(picture < 245)
    assert rows.mean() == pytest.approx(200, abs=3)
    assert columns.mean() == pytest.approx(200, abs=3)


def test_a_hollow_mark_is_white_inside():
    solid, hollow = pixels(Mark(50, 25, "square")), pixels(Mark(50, 25, "square", True))
    assert solid[100, 200].tolist() != [255, 255, 255]
    assert hollow[100, 200].tolist() == [255, 255, 255]


def test_what_comes_later_lies_above():
    covered = pixels(Mark(50, 25, "circle"), Area(40, 15, 20, 20, "tone"))
    assert np.ptp(covered[100, 190:210], axis=0).tolist() == [0, 0, 0]


def test_the_same_drawing_is_the_same_text_and_picture():
    parts = (Words(1, 20, TYPED), Mark(5, 5, "cross"))
    assert sheet(*parts).svg() == sheet(*parts).svg()
    assert sheet(*parts).png((100, 50)) == sheet(*parts).png((100, 50))

import base64
from html.parser import HTMLParser

from benchproof.showing.pictures import picture, svg_address
from benchproof.showing.safehtml import PICTURE_SOURCE


def attributes(html):
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.append((tag, dict(attrs)))
    parser.feed(html)
    return found


def test_a_description_cannot_break_out_of_its_attribute():
    alt = '"><script>alert(1)</script>'
    (image,) = attributes(picture("data:image/png;base64,AA==", alt, width=300))
    assert image == (
        "img",
        {"src": "data:image/png;base64,AA==", "alt": alt, "width": "300"},
    )


def test_a_drawing_travels_whole_inside_its_address():
    drawing = "<svg><text>12 Ω</text></svg>"
    address = svg_address(drawing)
    assert base64.b64decode(address.split(",")[1]).decode() == drawing


def test_an_address_of_a_drawing_passes_the_allow_list():
    assert PICTURE_SOURCE.match(svg_address("<svg/>"))

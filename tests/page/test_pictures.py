import base64
from html.parser import HTMLParser
from urllib.parse import unquote_to_bytes

from benchproof.showing.page.pictures import drawings_as_text, picture, svg_address
from benchproof.showing.page.safehtml import PICTURE_SOURCE


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


def carried(drawing):
    """Return a drawing as a browser reads it from the page's address of it."""
    page = drawings_as_text(picture(svg_address(drawing), "a drawing"))
    assert "<svg" not in page
    ((_, image),) = attributes(page)
    kind, _, content = image["src"].partition(",")
    assert kind == "data:image/svg+xml"
    # A browser drops line ends and tabs from an address, and cuts it at a #.
    assert not set(content) & set('#\t\n\r"')
    return unquote_to_bytes(content.encode()).decode()


def test_a_drawing_as_text_is_what_it_was():
    for text in ["12 Ω &amp; 5 % #1", "a\n\tb", "&lt;script&gt;", "it&#39;s"]:
        drawing = f"<svg id='it'><text class=\"a\">{text}</text></svg>"
        assert carried(drawing) == drawing
        assert carried(drawing.replace("'", '"')) == drawing.replace('"', "'")


def test_as_text_a_drawing_takes_less():
    page = picture(svg_address("<svg><path d='M0 0h12.5'/></svg>" * 20), "")
    assert len(drawings_as_text(page)) < 0.9 * len(page)


def test_what_is_no_utf_8_or_holds_control_characters_stays_packed():
    for content in (b"<svg>\xff</svg>", b"<svg>\x00</svg>"):
        packed = base64.b64encode(content).decode()
        page = f'<img src="data:image/svg+xml;base64,{packed}" alt="">'
        assert drawings_as_text(page) == page


def test_words_that_look_like_an_address_are_left_alone():
    page = '&lt;img src="data:image/svg+xml;base64,PHN2Zy8+"'
    assert drawings_as_text(page) == page

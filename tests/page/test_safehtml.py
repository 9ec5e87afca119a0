import re

import pytest

from benchproof.showing.page.safehtml import clean_html

PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACw="


def clean(html, **options):
    return clean_html(html, place="code cell 2", **options)


@pytest.mark.parametrize(
    "hostile",
    [
        "<script>alert(1)</script>",
        "<ScRiPt\n>alert(1)</sCrIpT >",
        "<script>alert(1)",
        "<style>p{background:url(//far.example)}</style>",
        "<iframe srcdoc='<script>alert(1)</script>'></iframe>",
        "<object data='//far.example'>x</object>",
        "<noscript><p title='</noscript><img src=x onerror=alert(1)>'></noscript>",
        "<!--<img src='--><script>alert(1)</script>'>-->",
    ],
)
def test_scripts_sheets_and_frames_go_with_what_is_inside(hostile):
    cleaned = clean(f"before {hostile}")
    assert cleaned.startswith("before")
    for trace in ("<script", "<style", "<iframe", "<img", "<!--", "far.example"):
        assert trace not in cleaned


@pytest.mark.parametrize(
    "tag",
    [
        "<b onclick='alert(1)'>",
        "<b style='background:url(//far.example)'>",
        "<b id='answer'>",
        "<b class='wu-skip'>",
        "<b data-x='1' tabindex='9' accesskey='x'>",
    ],
)
def test_attributes_off_the_list_go_and_the_text_stays(tag):
    assert clean(f"{tag}12.1 V</b>") == "<b>12.1 V</b>"


@pytest.mark.parametrize(
    "address",
    [
        "javascript:alert(1)",
        "JaVaScRiPt:alert(1)",
        "java\tscript:alert(1)",
        " javascript:alert(1)",
        "&#106;avascript:alert(1)",
        "data:text/html,x",
        "vbscript:x",
        "//far.example",
        "/elsewhere",
        "file:///x",
    ],
)
def test_links_that_run_or_reach_for_files_lose_their_address(address):
    assert clean(f'<a href="{address}">x</a>') == "<a>x</a>"


@pytest.mark.parametrize(
    "source",
    [
        "https://far.example/a.png",
        "//far.example/a.png",
        "a.png",
        "data:text/html;base64,AAAA",
        "data:image/svg+xml,<svg onload='alert(1)'>",
        "javascript:alert(1)",
    ],
)
def test_a_picture_that_would_be_fetched_becomes_words(source):
    cleaned = clean(f'<img src="{source}" alt="the <plug>">')
    assert cleaned == "[picture not embedded: the &lt;plug&gt;]"


def test_an_embedded_picture_stays_and_gets_a_description():
    assert clean(f'<img src="{PIXEL}" onload="x()">') == (
        f'<img src="{PIXEL}" '
        'alt="Picture in code cell 2; its author gave no description">'
    )


def test_classes_stay_so_that_our_tables_keep_their_look():
    assert clean('<p class="bp wu-x n">1</p>') == '<p class="bp n">1</p>'


def test_a_table_gets_a_box_to_scroll_in_and_scopes():
    html = (
        "<table><thead><tr><th>u</th></tr></thead>"
        "<tbody><tr><th>V</th><td>1</td></tr></tbody></table>"
    )
    assert clean(html) == (
        '<div class="wu-scroll" tabindex="0" role="region" '
        'aria-label="Table 1 in code cell 2"><table><thead><tr><th scope="col">u</th>'
        '</tr></thead><tbody><tr><th scope="row">V</th><td>1</td></tr></tbody></table>'
        "</div>"
    )


def test_a_table_inside_a_table_gets_no_second_box():
    inner = "<table><tr><td>1</td></tr></table>"
    html = f"<table><tr><td>{inner}</td></tr></table>{inner}"
    cleaned = clean(html)
    assert cleaned.count("wu-scroll") == cleaned.count("</div>") == 2
    assert "Table 2 in code cell 2" in cleaned


def test_a_heading_of_an_output_stands_below_every_section():
    assert clean('<h1 id="nb-x">A</h1><p>b</p><h2>C</h2>') == (
        "<h6>A</h6><p>b</p><h6>C</h6>"
    )


def test_unclosed_markup_is_closed():
    assert clean("<div><b>12.1 V") == "<div><b>12.1 V</b></div>"
    assert clean("12.1 V</div></main></body>") == "12.1 V"


def test_refused_tags_in_prose_are_shown_as_typed():
    cleaned = clean("<script>x()</script>", show_refused=True)
    assert cleaned == "&lt;script&gt;x()&lt;/script&gt;"


def test_a_silent_tag_named_in_an_attribute_swallows_nothing():
    cleaned = clean('<b title="<style> or <svg">12.1 V</b> kept')
    assert cleaned.endswith(">12.1 V</b> kept")


def test_what_stands_inside_a_drawing_or_formula_goes_with_it():
    drawing = "<svg><g><text>12 V</text><script>y()</script></g><path d='M0'/></svg>"
    formula = "<math><mtext><mglyph><style><img src=x></style></mglyph></mtext></math>"
    assert clean(f"{drawing}kept") == "[inline drawing left out]kept"
    assert clean(f"{formula}kept").startswith("[formula left out]")


def test_a_picture_that_breaks_out_of_a_drawing_is_cleaned_like_any_other():
    # The HTML standard ends foreign content at <img>; what follows is plain HTML.
    cleaned = clean("<svg><style><img src=x onerror=alert(1)></style></svg>kept")
    assert cleaned == (
        "[inline drawing left out][picture not embedded: no description]kept"
    )


def test_an_inline_drawing_leaves_a_note():
    cleaned = clean("<p>a<svg onload=x()><script>y()</script></svg>b</p>")
    assert cleaned == "<p>a[inline drawing left out]b</p>"


@pytest.mark.parametrize("inside", ["", " ", "\n "])
def test_a_header_cell_without_words_heads_nothing(inside):
    row = f'<tr><th scope="col">V</th><th scope="col">{inside}</th></tr>'
    cleaned = clean_html(f"<table><thead>{row}</thead></table>", place="cell 1")
    assert cleaned.count("<th ") == 1
    assert re.search(r"<td>\s*</td>", cleaned)

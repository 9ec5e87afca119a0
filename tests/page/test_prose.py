import re
from collections import Counter
from html.parser import HTMLParser

import pytest

from benchproof.showing.page.prose import Heading, heading_levels, render_prose


def attribute_names(html):
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.extend(dict(attrs))
    parser.feed(html)
    return found


def html(text, **options):
    return render_prose(text, **options).html.strip()


def test_money_is_not_mathematics():
    assert html("$5 and $6, or \\$7") == "<p>$5 and $6, or $7</p>"


@pytest.mark.parametrize("text", ["`$x$`", "    $x$\n", "```\n$x$\n```"])
def test_dollars_inside_code_stay_dollars(text):
    assert "<math" not in html(text)
    assert "$x$" in html(text)


@pytest.mark.parametrize(
    "text",
    [
        "$$x = 1$$",
        "$$\nx\n= 1\n$$",
        "\\begin{align}\nx &= 1\n\\end{align}",
        "so $$x = 1$$ here",
    ],
)
def test_displayed_formulas_stand_on_their_own_line(text):
    assert html(text).count('display="block"') == 1


def test_stars_and_underscores_in_a_formula_are_not_emphasis():
    assert "<em>" not in html("$a_1 * b_1$ and $a_2 * b_2$")
    assert html("$a_1$ and $a_2$").count("<math") == 2


def test_a_formula_inside_an_attribute_takes_the_attribute_away():
    hostile = '<b title="\n\n$$x \\text{" onmouseover="alert(1)}$$\n\n">y</b>'
    assert "onmouseover" not in attribute_names(html(hostile))
    assert "onmouseover" not in attribute_names(html(f"<div>\n{hostile}\n\n</div>"))
    closed = html('<div title="\n\n$$x$$\n\n">y</div>\n\n<p title="z">w</p>')
    assert "\ue000" not in closed
    assert "<math" not in "".join(re.findall('title="[^"]*"', closed))


def test_marks_for_held_fragments_cannot_be_typed():
    assert html("a \ue0000\ue001 $x$").count("<math") == 1


def test_headings_move_down_and_are_listed():
    prose = render_prose("# A $x$\n\n## B & [c](#d)", shift=2, anchors=Counter())
    assert [(h.level, h.anchor) for h in prose.headings] == [
        (3, "nb-A-x"),
        (4, "nb-B-&-c"),
    ]
    assert prose.headings[1].html == "B &amp; c"
    assert prose.headings[0].html.startswith("A <math")
    assert 'id="nb-B-&amp;-c"' in prose.html


def test_no_heading_falls_below_the_sixth_level():
    prose = render_prose("##### A", shift=4, anchors=Counter())
    assert prose.headings == (Heading(6, "nb-A", "A"),)


def test_a_heading_cannot_smuggle_markup_into_the_contents():
    prose = render_prose("## <script>x()</script> &lt;b&gt;", anchors=Counter())
    assert "<" not in prose.headings[0].html


def test_only_the_first_level_heading_with_the_title_is_left_out():
    assert heading_levels("# T\n\n## T\n\n# Other", omit_title="T") == [2, 1]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("[a](readings.csv)", "<p>a (<code>readings.csv</code>)</p>"),
        ("[a](//far.example)", "<p>a (<code>//far.example</code>)</p>"),
        ("[a](#Two-words)", '<p><a href="#nb-Two-words">a</a></p>'),
        (
            "[a](https://far.example/?a=1&b=2)",
            '<p><a href="https://far.example/?a=1&amp;b=2" '
            'rel="noopener noreferrer">a</a></p>',
        ),
        (
            "[a](javascript:alert(1))",
            "<p>a (<code>javascript:alert(1)</code>)</p>",
        ),
    ],
)
def test_links_lead_into_the_page_or_openly_out_of_it(text, expected):
    assert html(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("![the plug](photos/plug.jpg)", "the plug (photos/plug.jpg)]"),
        ("![](data:text/html;base64,AAAA)", "no description]"),
        ("![lost](attachment:gone.png)", "lost]"),
    ],
)
def test_pictures_that_cannot_travel_are_named(text, expected):
    assert html(text) == f"<p>[picture not embedded: {expected}</p>"


def test_a_picture_on_the_net_becomes_a_link():
    shown = html("![the plug](https://far.example/p.png)")
    assert "<img" not in shown
    assert ">picture not embedded: the plug</a>" in shown


def test_an_attached_picture_is_embedded_with_its_description():
    attachments = {"p.png": {"image/png": "AA\nAA"}}
    shown = html('![a "$x$" <b>](attachment:p.png)', attachments=attachments)
    assert '<img src="data:image/png;base64,AAAA" alt="a &quot;x&quot;' in shown


def test_an_attachment_that_is_no_picture_is_not_embedded():
    attachments = {"p.png": {"text/html": "AAAA"}}
    assert "AAAA" not in html("![p](attachment:p.png)", attachments=attachments)


def test_right_aligned_columns_are_marked_as_numbers():
    shown = html("| a | b |\n|---|--:|\n| x | 1 |")
    assert '<th class="n" scope="col">b</th>' in shown
    assert '<td class="n">1</td>' in shown

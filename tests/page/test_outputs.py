import pytest

from benchproof.showing.page.outputs import plain_text, render_output


def shown(data, metadata=None, **options):
    output = {
        "output_type": "execute_result",
        "data": data,
        "metadata": metadata or {},
    }
    return render_output(output, place="code cell 4", **options)


@pytest.mark.parametrize(
    ("raw", "seen"),
    [
        ("\x1b[1;31mred\x1b[0m", "red"),
        ("\x1b]8;;https://far.example\x07link\x1b]8;;\x07", "link"),
        ("10 %\r 50 %\r100 %\n", "100 %\n"),
        ("two\r\nlines", "two\nlines"),
        ("bell\x07 and null\x00", "bell and null"),
    ],
)
def test_terminal_text_is_shown_as_it_was_seen(raw, seen):
    assert plain_text(raw) == seen


def test_the_richest_version_is_shown():
    assert "<b>1</b>" in shown({"text/plain": "1", "text/html": "<b>1</b>"})
    assert "<math" in shown({"text/plain": "1", "text/latex": "$1$"})


def test_an_html_version_of_which_nothing_is_left_gives_way_to_the_next():
    data = {"text/html": "<div><script>draw()</script></div>", "text/plain": "a plot"}
    assert "a plot" in shown(data)


def test_a_picture_that_is_no_base64_gives_way_to_the_next():
    assert "a plot" in shown({"image/png": '"><script>', "text/plain": "a plot"})


def test_an_output_without_a_readable_version_says_so():
    assert "no readable" not in shown({"text/plain": "1"})
    html = shown({"application/x<b>": "1"})
    assert "Output without a readable version (kinds: application/x&lt;b&gt;)" in html


@pytest.mark.parametrize(
    ("metadata", "cell", "text", "alt"),
    [
        ({"alt": "own"}, "the cell's", "plain", "own"),
        ({"image/png": {"alt": "own", "width": 9}}, "the cell's", "plain", "own"),
        ({}, "the cell's", "plain", "the cell&#x27;s"),
        ({}, "", "plain", "plain"),
        (
            {},
            "",
            "<Figure size 640x480 with 1 Axes>",
            "Picture put out by code cell 4; its author gave no description",
        ),
    ],
)
def test_a_picture_takes_the_nearest_description(metadata, cell, text, alt):
    data = {"image/png": "AAAA\n", "text/plain": text}
    assert f'alt="{alt}"' in shown(data, metadata, alt=cell)


def test_a_drawing_is_shown_as_a_picture_that_cannot_run():
    html = shown({"image/svg+xml": ["<svg>", "<script>x()</script></svg>"]})
    assert '<img src="data:image/svg+xml;base64,' in html
    assert "<svg" not in html
    assert "<script" not in html


def test_messages_are_told_apart_from_results():
    stream = {"output_type": "stream", "name": "stderr", "text": "late <b>"}
    html = render_output(stream, place="code cell 4")
    assert "Messages (stderr)" in html
    assert "late &lt;b&gt;" in html


def test_a_failure_is_shown_with_its_traceback():
    error = {
        "output_type": "error",
        "ename": "ValueError",
        "evalue": "<b>",
        "traceback": ["\x1b[31mline 1\x1b[0m", "line 2"],
    }
    html = render_output(error, place="code cell 4")
    assert "<strong>This cell stopped.</strong> ValueError: &lt;b&gt;" in html
    assert "line 1\nline 2" in html


def test_a_heading_in_a_markdown_output_gets_no_anchor():
    assert "<h6>A</h6>" in shown({"text/markdown": "# A"})

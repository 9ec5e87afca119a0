"""On paper folds are open, pages numbered, formulas drawn, and no code by default."""

import importlib.util
import re
import sys
from html.parser import HTMLParser

import pytest
from nbformat import v4
from pages import sample_notebook, sample_results
from PIL import ImageFile

from benchproof.showing.page.prose import render_prose
from benchproof.showing.page.writeup import render_writeup
from benchproof.showing.pdf import paper_page, pdf_of
from benchproof.values.errors import RunError

has_weasyprint = importlib.util.find_spec("weasyprint") is not None
needs_weasyprint = pytest.mark.skipif(
    not has_weasyprint, reason="WeasyPrint is not installed: pip install '.[pdf]'"
)


def images(page):
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.append((tag, dict(attrs)))
    parser.feed(page)
    return [attrs for tag, attrs in found if tag == "img"]


def formula(latex):
    return paper_page(render_prose(f"It is ${latex}$ here.").html)


def test_every_fold_is_open():
    page = paper_page(render_writeup(sample_notebook(), sample_results()))
    assert page.count("<details") >= 2
    assert all("open" in fold for fold in re.findall(r"<details[^>]*>", page))


def test_a_typed_tag_stays_text():
    cells = [v4.new_markdown_cell("A `<details>` is a tag, `<math>` another.")]
    page = render_writeup(v4.new_notebook(cells=cells), {})
    text = paper_page(page)
    assert "&lt;details&gt;" in text
    assert "&lt;math&gt;" in text


def test_a_formula_becomes_a_drawing_with_its_source_as_description():
    (image,) = images(formula(r"R_\mathrm{s} = \frac{V_1 - V_2}{I}"))
    assert image["alt"] == r"R_\mathrm{s} = \frac{V_1 - V_2}{I}"
    assert image["src"].startswith("data:image/svg+xml;base64,")


def test_a_fraction_stands_higher_and_hangs_lower_than_a_letter():
    def size(latex):
        (image,) = images(formula(latex))
        return [float(n) for n in re.findall(r"(-?[\d.]+)em", image["style"])]

    (letter, letter_depth), (fraction, depth) = size("x"), size(r"\frac{a}{b}")
    assert 0.3 < letter < 1
    assert fraction > 1.5
    assert depth < letter_depth - 0.3


def test_a_formula_beyond_the_drawing_is_given_as_its_source():
    page = formula(r"\begin{matrix} a & b \end{matrix}")
    assert images(page) == []
    assert '<code class="wu-formula">\\begin{matrix} a &amp; b' in page


def test_no_formula_is_left_for_a_printer_that_cannot_set_it():
    page = paper_page(render_writeup(sample_notebook(), sample_results()))
    assert "<math" not in page
    assert len(images(page)) > 4


@needs_weasyprint
def test_a_picture_that_was_cut_off_is_still_refused_afterwards(monkeypatch):
    monkeypatch.delitem(sys.modules, "weasyprint.images", raising=False)
    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    pdf_of(render_writeup(sample_notebook(), sample_results()))
    assert ImageFile.LOAD_TRUNCATED_IMAGES is False


@pytest.mark.skipif(has_weasyprint, reason="WeasyPrint is installed here")
def test_without_weasyprint_the_way_to_a_pdf_is_told():
    with pytest.raises(RunError, match=r"pip install 'benchproof\[pdf\]'"):
        pdf_of("<p>12.1 V</p>")


@needs_weasyprint
def test_a_pdf_is_written_and_the_same_page_is_as_long():
    page = render_writeup(sample_notebook(), sample_results(), code="hidden")
    first, second = pdf_of(page), pdf_of(page)
    assert first.startswith(b"%PDF-")
    assert first.count(b"/Type /Page") == second.count(b"/Type /Page")


@needs_weasyprint
def test_nothing_is_fetched_for_a_pdf(monkeypatch):
    from weasyprint.urls import URLFetcher

    asked = []
    opened = URLFetcher.open
    monkeypatch.setattr(
        URLFetcher, "open",
        lambda self, url, *a, **k: asked.append(url.full_url) or opened(self, url),
    )  # fmt: skip
    pdf_of(
        '<img src="https://far.example/a.png"><img src="data:image/gif;base64,AA==">'
    )
    assert all(url.startswith("data:") for url in asked)

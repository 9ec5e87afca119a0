"""The write-up on paper: the same page unfolded, numbered, its formulas drawn."""

from __future__ import annotations

import html
import io
import re
from typing import Any

from benchproof.showing.figures.slimsvg import slim_svg
from benchproof.showing.page.pictures import svg_address
from benchproof.values.errors import RunError

__all__ = ["paper_page", "pdf_of"]

# The alternative text of a formula is its source; see `maths`.
FORMULA = re.compile(r"<math\b[^>]*>.*?</math>", re.DOTALL)
SOURCE = re.compile(r'\balttext="([^"]*)"')
_EM = 100
"""Size at which formulas are set; the reader's lengths are given in its parts."""

# After the page's own sheet, so that it has the last word. Boxes stand one below the
# other: WeasyPrint loses what a grid has to break over two pages.
PAPER = """
@page { size: A4; margin: 18mm 16mm 20mm;
  @bottom-left { content: string(title); font: 8pt sans-serif; color: #444; }
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif;
    color: #444; } }
h1 { font-size: 24pt; string-set: title content(); }
.wu-pair, .wu-claim dl, .wu-claim dl div { display: block; }
.wu-claim dt, .wu-claim dd { display: inline; }
.wu-claim dt::after { content: ": "; }
.wu-pair > section { padding: 8pt 12pt; margin: 0 0 12pt; }
.wu-fold caption { display: none; }
.wu-fold > summary { font-weight: 600; }
.wu-figure { break-inside: avoid; }
"""


def pdf_of(page: str, *, sheet: str = PAPER) -> bytes:
    """Return a write-up, or another page of ours, as PDF.

    Parameters
    ----------
    page : str
        As `render_writeup` returns it, best with ``code="hidden"``.
    sheet : str
        Rules added to those of the page.

    Raises
    ------
    RunError
        If WeasyPrint is not installed.
    """
    from PIL import ImageFile

    cut_off = ImageFile.LOAD_TRUNCATED_IMAGES
    try:
        import weasyprint
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError) as problem:  # OSError: its system libraries
        raise RunError(
            f"a PDF needs WeasyPrint, which cannot be loaded here "
            f"({type(problem).__name__}). Install it: pip install 'benchproof[pdf]', "
            "or print the HTML write-up from a browser."
        ) from None
    # It lets Pillow take every cut-off picture for whole, in all of this process.
    ImageFile.LOAD_TRUNCATED_IMAGES = cut_off
    # Only addresses that carry their own content; the page has no others.
    fetcher = URLFetcher(allowed_protocols=["data"])
    document: Any = weasyprint.HTML(string=paper_page(page, sheet), url_fetcher=fetcher)
    pdf: bytes = document.write_pdf()
    return pdf


def paper_page(page: str, sheet: str = PAPER) -> str:
    """Return a write-up as paper needs it: folds open, formulas as drawings.

    Parameters
    ----------
    page : str
        As `render_writeup` returns it.
    sheet : str
        Rules added to those of the page.

    Examples
    --------
    >>> paper_page("<details><summary>Budget</summary>12.1 V</details>")
    '<details open=""><summary>Budget</summary>12.1 V</details>'
    """
    # Tags only: in text a reader may have typed the same words, escaped.
    opened = re.sub(r"<details(?![^>]*\bopen\b)", '<details open=""', page)
    styled = opened.replace("</head>", f"<style>{sheet}</style></head>", 1)
    return FORMULA.sub(lambda match: _set(match.group()), styled)


def _set(formula: str) -> str:
    """Return a formula as a drawing; where that fails, its source as code."""
    found = SOURCE.search(formula)
    source = html.unescape(found[1]) if found else ""
    try:
        drawing, depth, height = _drawn(source)
    except ValueError:  # beyond what mathtext knows
        return f'<code class="wu-formula">{html.escape(source)}</code>'
    size = f"height:{height / _EM:.3f}em;vertical-align:{-depth / _EM:.3f}em"
    alt = html.escape(source)
    return f'<img style="{size}" src="{svg_address(drawing)}" alt="{alt}">'


def _drawn(source: str) -> tuple[str, float, float]:
    """Draw a formula; return it with its depth below the line and its height."""
    from matplotlib import rc_context
    from matplotlib.font_manager import FontProperties
    from matplotlib.mathtext import math_to_image

    buffer = io.BytesIO()
    settings: Any = {
        "svg.fonttype": "path",
        "svg.hashsalt": "benchproof",
        "mathtext.fontset": "stix",
    }
    # Wide fractions as in a line of its own; mathtext has no such switch.
    text = source.replace(r"\frac", r"\dfrac") if "\n" not in source else source
    with rc_context(settings):
        depth = math_to_image(
            f"${text}$", buffer, prop=FontProperties(size=_EM), format="svg"
        )
    drawing = slim_svg(buffer.getvalue().decode("utf-8"))
    height = re.search(r'\bheight="([\d.]+)pt"', drawing)
    return drawing, float(depth), float(height[1]) if height else _EM

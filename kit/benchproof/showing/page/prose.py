"""Markdown cells turned into HTML: headings, formulas, pictures, links.

Raw HTML in a cell goes through the same allow-list as a cell's output. Finished
fragments (formulas, embedded pictures) are held aside behind private-use
characters while the rest is cleaned, then put back into text, and into text only.
"""

import html as stdhtml
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import mistune

from benchproof.showing.page.maths import formula_to_mathml
from benchproof.showing.page.pictures import picture
from benchproof.showing.page.safehtml import (
    HELD_MARKS,
    LINK,
    PICTURE_SOURCE,
    clean_html,
)

__all__ = ["Heading", "Prose", "heading_levels", "render_prose"]

DISPLAYED = (
    r"^ {0,3}(?:\$\$(?P<bp_block>[\s\S]+?)\$\$"
    r"|(?P<bp_environment>\\begin\{(?P<bp_name>[a-z]+\*?)\}[\s\S]+?"
    r"\\end\{(?P=bp_name)\}))[ \t]*(?:\n|$)"
)
# As typesetters read dollars: no space inside the signs, no digit after the last,
# no code between them, so "$5 and $6" stays money.
INLINE = (
    r"\$\$(?P<bp_display>(?:[^$\\]|\\.)+?)\$\$"
    r"|\$(?![\s$])(?P<bp_inline>(?:[^$`\\]|\\.)+?)(?<!\s)\$(?!\d)"
)
HELD = re.compile("\ue000(\\d+)\ue001")
ATTACHMENT = "attachment:"


@dataclass(frozen=True)
class Heading:
    """A heading as the contents list needs it: level on the page, anchor, markup."""

    level: int
    anchor: str
    html: str


@dataclass(frozen=True)
class Prose:
    """A markdown cell as HTML, with its headings in order."""

    html: str
    headings: tuple[Heading, ...]


@dataclass
class _Page:
    """What the renderer collects while one cell is turned into HTML."""

    shift: int
    omit_title: str
    place: str
    attachments: Mapping[str, Mapping[str, str]]
    anchors: Counter[str] | None
    held: list[tuple[str, str]] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)

    def hold(self, html: str, words: str) -> str:
        """Put a finished fragment aside; return the mark that stands for it."""
        self.held.append((html, words))
        return f"\ue000{len(self.held) - 1}\ue001"

    def restore(self, text: str) -> str:
        """Put the fragments back as markup."""
        return HELD.sub(lambda mark: self.held[int(mark[1])][0], text)

    def in_words(self, text: str) -> str:
        """Return rendered inline markup as plain text, fragments as their source."""
        return HELD.sub(lambda mark: self.held[int(mark[1])][1], _bare(text))


def heading_levels(text: str, *, omit_title: str = "") -> list[int]:
    r"""List the levels of a markdown cell's headings, 1 to 6, in order.

    Parameters
    ----------
    text : str
        The cell's source.
    omit_title : str
        A level-one heading with exactly this text is not counted.

    Examples
    --------
    >>> heading_levels("# Rail dip\n\n## Method", omit_title="Rail dip")
    [2]
    """
    return [h.level for h in render_prose(text, omit_title=omit_title).headings]


def render_prose(
    text: str,
    *,
    shift: int = 0,
    omit_title: str = "",
    place: str = "the notebook",
    attachments: Mapping[str, Mapping[str, str]] | None = None,
    anchors: Counter[str] | None = None,
) -> Prose:
    """Return a markdown cell as harmless HTML.

    Parameters
    ----------
    text : str
        Markdown with ``$…$`` and ``$$…$$`` formulas.
    shift : int
        Added to every heading level, kept between 1 and 6.
    omit_title : str
        A level-one heading with exactly this text is left out, because the page
        already opens with it.
    place : str
        Where the cell stands, as words for labels.
    attachments : mapping, optional
        The cell's attached pictures: file name to MIME type to base64 text.
    anchors : collections.Counter, optional
        Anchors given so far on the page; counted up in place, so that two cells
        with the same heading get different anchors. Without it headings get none
        and stand at the lowest level, as in a cell's output.

    Returns
    -------
    Prose
        The markup and its headings.

    Examples
    --------
    >>> text = "## Method *and* limits"
    >>> render_prose(text, shift=1, anchors=Counter()).html.strip()
    '<h3 id="nb-Method-and-limits">Method <em>and</em> limits</h3>'
    """
    page = _Page(
        shift=shift,
        omit_title=omit_title.strip(),
        place=place,
        attachments=attachments or {},
        anchors=anchors,
    )
    markup = str(_reader(page)(HELD_MARKS.sub("", text)))
    cleaned = clean_html(markup, place=place, show_refused=True)
    return Prose(page.restore(cleaned), tuple(page.headings))


def _reader(page: _Page) -> Any:
    """Return a markdown reader that writes into `page`."""
    renderer = mistune.HTMLRenderer(escape=False)
    reader = mistune.create_markdown(
        renderer=renderer, plugins=["table", "strikethrough", "url"]
    )
    reader.block.register("bp_line", DISPLAYED, _parse_displayed, before="list")
    reader.inline.register("bp_formula", INLINE, _parse_inline, before="codespan")
    for name, write in WRITERS.items():
        # `renderer.register` would lose to the renderer's own method of that name.
        setattr(renderer, name, partial(write, page))
    return reader


def _parse_displayed(_block: Any, match: re.Match[str], state: Any) -> int:
    source = match["bp_block"] or match["bp_environment"]
    state.append_token({"type": "formula_block", "raw": source})
    return match.end()


def _parse_inline(_inline: Any, match: re.Match[str], state: Any) -> int:
    kind = "formula_display" if match["bp_display"] else "formula_inline"
    source = match["bp_display"] or match["bp_inline"]
    state.append_token({"type": kind, "raw": source})
    return match.end()


def _write_block(page: _Page, source: str) -> str:
    formula = formula_to_mathml(source, display=True)
    box = f'<div class="wu-formula-line" tabindex="0">{formula}</div>'
    return page.hold(box, source.strip()) + "\n"


def _write_display(page: _Page, source: str) -> str:
    return page.hold(formula_to_mathml(source, display=True), source.strip())


def _write_inline(page: _Page, source: str) -> str:
    return page.hold(formula_to_mathml(source), source.strip())


def _write_heading(page: _Page, text: str, level: int, **_: Any) -> str:
    words = page.in_words(text)
    if level == 1 and page.omit_title and words.strip() == page.omit_title:
        return ""
    name = _anchor(words, page.anchors)
    shown = min(max(level + page.shift, 1), 6)
    # A link inside the contents list's link would be invalid: words only there,
    # except formulas.
    entry = page.restore(stdhtml.escape(_bare(text), quote=False))
    page.headings.append(Heading(shown, name, entry))
    mark = f' id="{stdhtml.escape(name)}"' if name else ""
    return f"<h{shown}{mark}>{text}</h{shown}>\n"


def _anchor(words: str, anchors: Counter[str] | None) -> str:
    """Return an anchor not given before, or none where nothing keeps count."""
    if anchors is None:
        return ""
    name = "nb-" + ("-".join(words.split()) or "section")
    anchors[name] += 1
    return name if anchors[name] == 1 else f"{name}-{anchors[name]}"


def _bare(text: str) -> str:
    """Return inline markup as text, with the marks of held fragments kept."""
    return stdhtml.unescape(re.sub(r"<[^>]*>", "", text))


def _write_link(page: _Page, text: str, url: str, title: str | None = None) -> str:
    if url.startswith("#"):
        return f'<a href="#nb-{stdhtml.escape(url[1:])}">{text}</a>'
    if LINK.match(url):
        return f'<a href="{stdhtml.escape(url)}">{text}</a>'
    # A file of the case or a scheme we do not follow: named, not linked.
    return f"{text} (<code>{stdhtml.escape(url)}</code>)"


def _write_image(page: _Page, text: str, url: str, title: str | None = None) -> str:
    words = page.in_words(text).strip()
    if url.startswith(ATTACHMENT):
        url = _attached(page.attachments.get(url.removeprefix(ATTACHMENT), {}))
    if PICTURE_SOURCE.match(url):
        alt = words or f"Picture in {page.place}; its author gave no description"
        return page.hold(picture(url, alt), words)
    label = f"picture not embedded: {words or 'no description'}"
    if re.match(r"https?://", url, re.IGNORECASE) and LINK.match(url):
        target = stdhtml.escape(url)
        return f'[<a href="{target}">{stdhtml.escape(label)}</a>]'
    where = f" ({url})" if url and not url.startswith("data:") else ""
    return f"[{stdhtml.escape(label + where)}]"


def _attached(versions: Mapping[str, str]) -> str:
    """Return the first attached version as an address, or an empty one."""
    for mime, data in versions.items():
        return f"data:{mime};base64,{''.join(str(data).split())}"
    return ""


def _write_cell(
    page: _Page, text: str, align: str | None = None, head: bool = False
) -> str:
    tag = "th" if head else "td"
    kind = ' class="n"' if align == "right" else ""
    return f"<{tag}{kind}>{text}</{tag}>\n"


WRITERS: dict[str, Callable[..., str]] = {
    "formula_block": _write_block,
    "formula_display": _write_display,
    "formula_inline": _write_inline,
    "heading": _write_heading,
    "image": _write_image,
    "link": _write_link,
    "table_cell": _write_cell,
}

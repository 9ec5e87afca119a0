"""A comparison as one HTML page that opens offline and looks like the write-up."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from benchproof.keeping.comparisons.compare import Comparison
from benchproof.showing.page.ownfiles import packaged, style_sheet
from benchproof.showing.page.writeup import UNPRINTABLE
from benchproof.values.errors import FileError, InputError

__all__ = ["comparison_page", "write_comparison"]


def comparison_page(comparison: Comparison) -> str:
    """Return a comparison as one self-contained HTML page.

    Parameters
    ----------
    comparison : Comparison
        As `benchproof.compare_results` returns it.

    Returns
    -------
    str
        HTML without script, style attribute or address that a browser would fetch.

    Examples
    --------
    >>> page = comparison_page(Comparison("pump@1", "pump@2", (), (), 3))
    >>> "<h1>pump@1 and pump@2 compared</h1>" in page, "<script" in page
    (True, False)
    """
    page = _template().render(
        style=Markup(style_sheet()),  # our own file
        title=f"{comparison.before} and {comparison.after} compared",
        summary=_summary(comparison),
        invented=comparison.invented,
        tables=comparison.tables(),
    )
    # A blank line less for each macro of the template.
    return UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", page.lstrip())


def write_comparison(
    comparison: Comparison, file: Path | str | os.PathLike[str]
) -> Path:
    """Write a comparison's page.

    Parameters
    ----------
    comparison : Comparison
    file : path
        Its name ends in .html; an earlier page there is replaced.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    InputError
        If the name does not end in .html: it may be a file of the case.
    FileError
        If its folder is not there.
    """
    path = Path(file)
    if path.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"{path.name}: a page's name ends in .html. Name it so.")
    if not path.parent.is_dir():
        raise FileError(f"{path.parent} is no folder. Make it, or name another.")
    path.write_text(comparison_page(comparison), encoding="utf-8")
    return path


def _summary(comparison: Comparison) -> str:
    moved, flipped = len(comparison.moves), len(comparison.flips)
    count = moved + comparison.unchanged
    return (
        f"{flipped} {'verdict' if flipped == 1 else 'verdicts'} changed, {moved} of "
        f"{count} {'quantity' if count == 1 else 'quantities'} moved."
    )


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.from_string(packaged("comparison.html"))

"""The finished write-up: one HTML file that opens offline and runs nothing.

Its order is that of a careful report: the short answer beside what it does not
show, then sample, hazards, rivals, instruments, readings, derivation, the notebook
cell by cell, and how to run it again.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args

import nbformat
from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from benchproof.showing.outputs import render_output
from benchproof.showing.prose import Heading, heading_levels, render_prose
from benchproof.values.errors import FileError, InputError

__all__ = ["render_writeup"]

CodeView = Literal["folded", "hidden", "shown"]

# (id, heading, what to say when a case has none; None leaves the section out)
SECTIONS: tuple[tuple[str, str, str | None], ...] = (
    (
        "sample",
        "Reported device and tested sample",
        "No comparison of the reported device with the tested sample was recorded.",
    ),
    (
        "hazards",
        "Hazards and what was left undone",
        "No hazard was recorded. That is an omission, not a finding.",
    ),
    ("rivals", "Rivals and their predictions", None),
    ("instruments", "Instruments", "No instrument was recorded."),
    ("contacts", "Contacts", None),
    ("readings", "Readings", "No reading was recorded."),
    ("captures", "Captures", None),
    ("derived", "Derived quantities", None),
    ("budgets", "Uncertainty budgets", None),
    ("trials", "Trials", None),
    ("next", "Next measurements", None),
    ("rounds", "Rounds and changes", None),
    ("other", "Further tables", None),
)
# Shape first, colour not at all: the word beside it carries the meaning.
GLYPHS = (
    ("contradicted", "×"),
    ("not reproduced", "○"),
    ("compatible", "≈"),
    ("sufficient", "●"),
    ("not tested", "–"),
    ("not measured", "–"),
    ("met", "✓"),
)
# What HTML or UTF-8 cannot carry.
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


@dataclass(frozen=True)
class _Row:
    """A table row as the page shows it."""

    cells: tuple[str, ...]
    state: str


@dataclass(frozen=True)
class _Table:
    """A table of results, checked: every row has as many cells as columns."""

    id: str
    section: str
    title: str
    columns: tuple[Mapping[str, Any], ...]
    rows: tuple[_Row, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Cell:
    """A notebook cell as the page shows it."""

    number: int
    kind: str
    body: Markup
    source: str
    has_run: bool
    outputs: tuple[Markup, ...]


def render_writeup(
    notebook: nbformat.NotebookNode,
    results: dict[str, Any],
    *,
    code: CodeView = "folded",
) -> str:
    """Return a case's write-up as one self-contained HTML page.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        The executed notebook, format 4.
    results : dict
        What the run computed, all of it formatted text: ``title``, ``claim``,
        ``ran_at``, ``verdicts``, ``does_not_show``, ``tables``, ``rerun``,
        ``readings_hash``. What is missing is shown as missing.
    code : {"folded", "hidden", "shown"}
        How the page shows the source of code cells. Outputs are always shown.

    Returns
    -------
    str
        HTML without script, style attribute or address that a browser would fetch.

    Raises
    ------
    InputError
        If `code` is none of the three words.
    FileError
        If a table of `results` has a row that does not fit its columns.

    Examples
    --------
    >>> import nbformat.v4 as v4
    >>> notebook = v4.new_notebook(cells=[v4.new_markdown_cell("## Method")])
    >>> page = render_writeup(notebook, {"title": "Rail dip (invented)"})
    >>> "<h1>Rail dip (invented)</h1>" in page and "<script" not in page
    True
    """
    if code not in get_args(CodeView):
        words = ", ".join(get_args(CodeView))
        raise InputError(f"code is {code!r}. Give one of: {words}.")
    title = _text(results.get("title")) or "Untitled case"
    tables = [_checked(table) for table in results.get("tables") or ()]
    cells, headings = _cells(notebook, title)
    page = _template().render(
        style=Markup(_resource("writeup.css")),  # our own file
        title=title,
        invented=bool(results.get("invented")),
        claim=_fields(results.get("claim"), "text", "source", "date", "how_often"),
        ran_at=_moment(_text(results.get("ran_at"))),
        verdicts=[_rival(raw) for raw in results.get("verdicts") or ()],
        limits=[_text(line) for line in results.get("does_not_show") or ()],
        sections=_sections(tables, bool(results.get("verdicts"))),
        versions=[table for table in tables if table.section == "versions"],
        cells=cells,
        headings=_nested(headings),
        faults=_faults(notebook),
        code=code,
        rerun=[_text(line) for line in results.get("rerun") or ()],
        readings_hash=_text(results.get("readings_hash")),
    )
    return UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", page)


def _text(value: Any) -> str:
    """Return a value as stripped text, nothing as the empty text.

    A percent sign stays on the line of its number.
    """
    text = "" if value is None else str(value).strip()
    return re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)


def _fields(raw: Mapping[str, Any] | None, *names: str) -> dict[str, str]:
    """Return the named fields as text; one that is missing is the empty text."""
    return {name: _text((raw or {}).get(name)) for name in names}


def _rival(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return a rival explanation with its predictions, every field present."""
    predictions = [
        _fields(prediction, "text", "role", "criterion", "verdict", "detail")
        for prediction in raw.get("predictions") or ()
    ]
    fields = _fields(raw, "name", "statement", "verdict", "reason")
    return fields | {"predictions": predictions}


def _resource(name: str) -> str:
    return files("benchproof.showing").joinpath(name).read_text(encoding="utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["glyph"] = _glyph
    return environment.from_string(_resource("writeup.html"))


def _glyph(verdict: str) -> str:
    """Return the mark that stands before a verdict's words."""
    return next((g for start, g in GLYPHS if verdict.startswith(start)), "?")


def _moment(written: str) -> dict[str, str]:
    """Return a time as it is shown and as machines read it.

    What is not an ISO time is shown as it was written.
    """
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        return {"shown": written, "machine": ""}
    if moment.tzinfo is None:
        return {"shown": f"{moment:%Y-%m-%d %H:%M}", "machine": ""}
    utc = moment.astimezone(UTC)
    return {"shown": f"{utc:%Y-%m-%d %H:%M} UTC", "machine": f"{utc:%Y-%m-%dT%H:%MZ}"}


def _checked(table: Mapping[str, Any]) -> _Table:
    """Return a table of results in the page's form, every row fitting.

    Raises
    ------
    FileError
        If a row has more or fewer cells than the table has columns.
    """
    name = _text(table.get("id")) or _text(table.get("title"))
    columns = tuple(
        {"title": _text(column.get("title")), "numeric": bool(column.get("numeric"))}
        for column in table.get("columns") or ()
    )
    rows = []
    for number, raw in enumerate(table.get("rows") or (), start=1):
        row = raw if isinstance(raw, Mapping) else {"cells": raw}
        cells = tuple(_text(cell) for cell in row["cells"])
        if len(cells) != len(columns):
            raise FileError(
                f"results, table '{name}', row {number}: {len(cells)} cells for "
                f"{len(columns)} columns. Run the case again to write its results anew."
            )
        rows.append(_Row(cells, _text(row.get("state"))))
    return _Table(
        id=re.sub(r"\W+", "-", name) or "table",
        section=_text(table.get("section")),
        title=_text(table.get("title")),
        columns=columns,
        rows=tuple(rows),
        notes=tuple(_text(note) for note in table.get("notes") or ()),
    )


def _sections(tables: list[_Table], has_verdicts: bool) -> list[dict[str, Any]]:
    """Group the tables in the page's order; a section not on the list comes last."""
    known = {name for name, _, _ in SECTIONS} | {"versions"}
    groups: dict[str, list[_Table]] = {name: [] for name, _, _ in SECTIONS}
    for table in tables:
        if table.section != "versions":
            groups[table.section if table.section in known else "other"].append(table)
    return [
        {"id": name, "heading": heading, "tables": groups[name], "when_empty": empty}
        for name, heading, empty in SECTIONS
        if groups[name] or empty or (name == "rivals" and has_verdicts)
    ]


def _cells(
    notebook: nbformat.NotebookNode, title: str
) -> tuple[list[_Cell], list[Heading]]:
    """Return the notebook's cells as HTML and its headings, in order."""
    # The page's h1 is its title and h2 its sections: the notebook starts at h3.
    shift = 3 - min(_levels(notebook, title), default=3)
    anchors: Counter[str] = Counter()
    cells: list[_Cell] = []
    headings: list[Heading] = []
    count = 0
    for number, cell in enumerate(notebook.cells, start=1):
        if cell.cell_type == "markdown":
            prose = render_prose(
                cell.source,
                shift=shift,
                omit_title=title,
                place=f"cell {number}",
                attachments=cell.get("attachments"),
                anchors=anchors,
            )
            headings += prose.headings
            body = Markup(prose.html)  # cleaned by render_prose
            cells.append(_Cell(number, "prose", body, "", True, ()))
        elif cell.cell_type == "code" and (cell.source.strip() or cell.outputs):
            count += 1
            cells.append(_code_cell(count, cell))
        elif cell.cell_type == "raw" and cell.source.strip():
            cells.append(_Cell(number, "raw", Markup(), cell.source, True, ()))
    return cells, headings


def _levels(notebook: nbformat.NotebookNode, title: str) -> Iterable[int]:
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            yield from heading_levels(cell.source, omit_title=title)


def _code_cell(number: int, cell: nbformat.NotebookNode) -> _Cell:
    place = f"code cell {number}"
    alt = _text(cell.metadata.get("alt"))
    outputs = tuple(
        Markup(render_output(output, place=place, alt=alt))  # cleaned
        for output in cell.outputs
    )
    has_run = cell.execution_count is not None
    return _Cell(number, "code", Markup(), cell.source.rstrip(), has_run, outputs)


def _nested(headings: list[Heading]) -> list[dict[str, Any]]:
    """Return the headings of the two highest levels, the lower inside the higher."""
    entries: list[dict[str, Any]] = []
    for heading in headings:
        entry = {
            "anchor": heading.anchor,
            "html": Markup(heading.html),  # cleaned by render_prose
            "inside": [],
        }
        if heading.level == 4 and entries:
            entries[-1]["inside"].append(entry)
        elif heading.level <= 4:
            entries.append(entry)
    return entries


def _faults(notebook: nbformat.NotebookNode) -> list[str]:
    """Say in sentences what a reader must know before trusting the notebook."""
    cells = [c for c in notebook.cells if c.cell_type == "code" and c.source.strip()]
    stopped = sum(any(o.output_type == "error" for o in c.outputs) for c in cells)
    unrun = sum(c.execution_count is None for c in cells)
    faults = []
    if stopped:
        faults.append(f"{_counted(stopped, 'code cell')} ended in an error.")
    if unrun:
        faults.append(f"{_counted(unrun, 'code cell')} had not run.")
    return faults


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")

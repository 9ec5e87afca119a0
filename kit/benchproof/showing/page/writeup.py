"""The finished write-up: one HTML file that opens offline and runs nothing.

Its order is that of a careful report: the short answer beside what it does not
show, then sample, hazards, rivals, instruments, readings, derivation, the notebook
cell by cell, and how to run it again.
"""

import html
import itertools
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal, get_args

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from benchproof.reasoning.verdicts import RULES
from benchproof.showing.figures.resultplots import plots_of
from benchproof.showing.page.benchtables import table_of
from benchproof.showing.page.chains import linked, place_of
from benchproof.showing.page.condensed import condensed
from benchproof.showing.page.leancolumns import lean_columns
from benchproof.showing.page.leantables import lean_tables
from benchproof.showing.page.outputs import render_output
from benchproof.showing.page.ownfiles import packaged, style_sheet
from benchproof.showing.page.pagetables import PageTable, checked_tables, text_of
from benchproof.showing.page.pictures import drawings_as_text, svg_address
from benchproof.showing.page.prose import Heading, heading_levels, render_prose
from benchproof.showing.page.saidonce import said_once
from benchproof.showing.page.sections import LONGEST, as_shown, sections_of, shortened
from benchproof.showing.page.shownabove import (
    RULE_NOTES,
    Elsewhere,
    Place,
    elsewhere_of,
    link_instead,
)
from benchproof.showing.verdictmarks import glyph_of, moment_of
from benchproof.values.errors import InputError

__all__ = ["render_writeup"]

_LINE, _START = 88, 56
"""Letters of a line of code, and of the first line of a fold."""
_SEVERAL = 2

CodeView = Literal["folded", "hidden", "shown"]

# What HTML or UTF-8 cannot carry.
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


@dataclass(frozen=True)
class _Cell:
    """A notebook cell as the page shows it."""

    number: int
    kind: str
    body: Markup
    source: str
    has_run: bool
    outputs: tuple[Markup | PageTable, ...]

    @property
    def first_line(self) -> str:
        """The first line of its code, cut unless it is all of it."""
        line = self.source.lstrip().partition("\n")[0]
        if self.is_one_line or len(line) <= _START:
            return line
        return f"{line[: _START - 1]}…"

    @property
    def is_one_line(self) -> bool:
        """Whether that is all of it, and short enough to stand unfolded."""
        return "\n" not in self.source.strip() and len(self.source.strip()) <= _LINE


def render_writeup(
    notebook: Any,
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
        ``ran_at``, ``verdicts``, ``does_not_show``, ``tables``, ``quantities``,
        ``rounds``, ``rerun``, ``readings_hash``. What is missing is shown as missing.
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
    title = text_of(results.get("title")) or "Untitled case"
    judged = {
        str(prediction.get("quantity", ""))
        for raw in results.get("verdicts") or ()
        for prediction in raw.get("predictions") or ()
    }
    tables, notes = shortened(checked_tables(results.get("tables") or ()), judged)
    rivals = [
        _rival(raw) | {"earlier": _earlier(raw, results.get("rounds") or ())}
        for raw in results.get("verdicts") or ()
    ]
    rivals = [rival | {"anchor": str(i)} for i, rival in enumerate(rivals, start=1)]
    figures = _figures(results)
    shown = {
        f["alt"]: Place(f"figure-{f['name']}", f["title"])
        for drawn in figures.values()
        for f in drawn
    }
    limits = [text_of(line) for line in results.get("does_not_show") or ()]
    whole = [table for table in tables if len(table.rows) <= LONGEST]
    elsewhere = elsewhere_of(whole, rivals, shown, limits)
    tables, places = linked([as_shown(table) for table in said_once(tables)], judged)
    tables = list(map(lean_columns, tables))
    _lead_back(rivals, places, {table.id for table in tables})
    cells, headings = _cells(notebook, title, elsewhere)
    formulas = _formulas(results, cells if code != "hidden" else [])
    others = {*figures, *(["rivals", "evidence"] if rivals else [])}
    others |= {"derived"} if formulas else set()
    page = _template().render(
        style=Markup(style_sheet()),  # our own file
        title=title,
        invented=bool(results.get("invented")),
        claim=_fields(results.get("claim"), "text", "source", "date", "how_often"),
        ran_at=moment_of(str(results.get("ran_at") or "").strip()),
        verdicts=rivals,
        figures=figures,
        formulas=formulas,
        limits=limits,
        sections=sections_of(tables, others, notes),
        rules=RULES if any(rival["predictions"] for rival in rivals) else (),
        written=_written([p["written"] for r in rivals for p in r["predictions"]]),
        versions=[
            f"{text_of(name)} {text_of(version)}"
            for name, version in (results.get("versions") or {}).items()
        ],
        cells=cells,
        headings=_nested(headings),
        faults=_faults(notebook),
        code=code,
        rerun=[text_of(line) for line in results.get("rerun") or ()],
        readings_hash=text_of(results.get("readings_hash")),
    )
    printable = UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", page.lstrip())
    return drawings_as_text(lean_tables(printable))


def _lead_back(
    rivals: list[dict[str, Any]], places: frozenset[str], tables: set[str]
) -> None:
    """Let what was found of each prediction lead to where it comes from."""
    for prediction in (p for rival in rivals for p in rival["predictions"]):
        name = prediction["quantity"]
        prediction["link"] = place_of(name) if name in places else ""
        if not prediction["link"] and ": " in name and "rates" in tables:
            prediction["link"] = "table-rates"


def _fields(raw: Mapping[str, Any] | None, *names: str) -> dict[str, str]:
    """Return the named fields as text; one that is missing is the empty text."""
    return {name: text_of((raw or {}).get(name)) for name in names}


def _rival(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return a rival explanation with its predictions, every field present."""
    names = (
        "text", "role", "criterion", "quantity", "verdict", "detail", "flips",
        "written",
    )  # fmt: skip
    predictions = [_fields(p, *names) for p in raw.get("predictions") or ()]
    fields = _fields(raw, "name", "statement", "verdict", "reason", "mechanism")
    return fields | {
        "predictions": predictions,
        "written": _written([p["written"] for p in predictions]),
        "may_flip": any(p["flips"] for p in predictions),
    }


def _earlier(raw: Mapping[str, Any], rounds: Sequence[Mapping[str, Any]]) -> list[str]:
    """Say which other verdicts a rival had, and up to which round."""
    words = [
        {v.get("name"): text_of(v.get("verdict")) for v in r.get("verdicts") or ()}
        for r in rounds
    ]
    had = [
        (r.get("number"), w.get(raw.get("name")))
        for r, w in zip(rounds, words, strict=True)
    ]
    return [
        f"until round {number}: {word}"
        for (_, word), (number, after) in itertools.pairwise(had)
        if word and word != after
    ]


def _written(said: Sequence[str]) -> str:
    """Say when several predictions were written, "" where it differs or is unknown."""
    if len(said) < _SEVERAL or "" in said:
        return ""
    words = [s.partition(", ") for s in said]
    if len({before for before, _, _ in words}) > 1:
        return ""
    times = sorted({time for _, _, time in words})
    if len(times) < _SEVERAL:
        return said[0]
    return f"{words[0][0]}, from {times[0]} to {times[-1]}"


def _figures(results: Mapping[str, Any]) -> dict[str, list[dict[str, str]]]:
    """Draw what the results have figures for, by section."""
    figures: dict[str, list[dict[str, str]]] = {}
    for section, plot in plots_of(results):
        if plot.figure is not None:
            said = plot.alt.partition(". ")[0]
            figure = {
                "name": re.sub(r"\W+", "-", plot.name),
                "title": plot.title,
                "alt": plot.alt,
                # What it says at length stands in the tables right below it.
                "said": f"{said}. The tables below say the same.",
                "source": svg_address(plot.drawing().svg),
            }
            figures.setdefault(section, []).append(figure)
    return figures


@dataclass(frozen=True)
class _Formula:
    """A formula by its name: the code cell that holds it, or its text."""

    name: str
    text: str
    cell: int | None


def _formulas(results: Mapping[str, Any], cells: list[_Cell]) -> list[_Formula]:
    """Return every formula; one that a shown cell holds is not shown again."""
    found = []
    for name, quantity in (results.get("quantities") or {}).items():
        text = text_of(quantity.get("formula"))
        holding = (c.number for c in cells if c.kind == "code" and text in c.source)
        if text:
            found.append(_Formula(str(name), text, next(holding, None)))
    return found


def _in_text(words: str) -> Markup:
    """Escape code for text: a quote needs it in attributes only."""
    return Markup(html.escape(words, quote=False))  # escaped here


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["glyph"] = glyph_of
    environment.filters["in_text"] = _in_text
    return environment.from_string(packaged("writeup.html"))


def _cells(
    notebook: Any, title: str, elsewhere: Elsewhere
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
            cells.append(_code_cell(count, cell, elsewhere))
        elif cell.cell_type == "raw" and cell.source.strip():
            cells.append(_Cell(number, "raw", Markup(), cell.source, True, ()))
    return cells, headings


def _levels(notebook: Any, title: str) -> Iterable[int]:
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            yield from heading_levels(cell.source, omit_title=title)


def _code_cell(number: int, cell: Any, elsewhere: Elsewhere) -> _Cell:
    place = f"code cell {number}"
    alt = text_of(cell.metadata.get("alt"))
    outputs = tuple(_output(output, place, alt, elsewhere) for output in cell.outputs)
    has_run = cell.execution_count is not None
    return _Cell(number, "code", Markup(), cell.source.rstrip(), has_run, outputs)


def _output(
    output: Mapping[str, Any], place: str, alt: str, elsewhere: Elsewhere
) -> Markup | PageTable:
    """Return an output, or a link to the section that shows the same."""
    link = link_instead(output, elsewhere)
    if link:
        return Markup(f'<div class="wu-output">{link}</div>')  # escaped there
    elsewhere.remember(output, Place(place.replace(" ", "-"), place))
    table = table_of(output)
    if table is not None and table.columns:
        notes = tuple(note for note in table.notes if note not in RULE_NOTES)
        return lean_columns(condensed(replace(table, notes=notes)))
    return Markup(render_output(output, place=place, alt=alt))  # cleaned there


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


def _faults(notebook: Any) -> list[str]:
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

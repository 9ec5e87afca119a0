"""The handbook's pages: what each must hold, mostly checked without running them.

That they run, and that their asserts hold, is checked by nbval.
"""

import ast
import contextlib
import io
import itertools
import re
import shlex
from pathlib import Path

import nbformat
import pytest

import benchproof
from benchproof import cli

FOLDER = Path(__file__).parents[1] / "notebooks" / "handbook"
INDEX = FOLDER / "index.ipynb"
PAGES = sorted(p for p in FOLDER.glob("*.ipynb") if p != INDEX)
GUIDES = [
    FOLDER / f"{name}.ipynb"
    for name in (
        "first-case", "recording", "captures", "hypotheses", "trials", "sharing",
        "cautions", "troubleshooting", "names",
    )
]  # fmt: skip
METHODS = [p for p in PAGES if p not in GUIDES]
TROUBLE = FOLDER / "troubleshooting.ipynb"
CLAUSE = re.compile(r"\*\*(Clause|Source)\.\*\* .*(JCGM \d{3}:\d{4}|Phys)")
LONGEST_OUTPUT = 8_000
"""Characters of one version of an output: about a screen and a half of a table. What
pictures weigh counts in the size of the page."""
NETWORK = {"http", "requests", "socket", "ssl", "urllib", "httpx", "aiohttp", "ftplib"}
LINK = re.compile(r"\]\(([^)]+)\)")


def page(path):
    return nbformat.read(path, as_version=4)


def prose(path):
    return "\n\n".join(c.source for c in page(path).cells if c.cell_type == "markdown")


def code_cells(path):
    return [c for c in page(path).cells if c.cell_type == "code"]


def imported(source):
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield (node.module or "").partition(".")[0]


def asserts(cell):
    return [n for n in ast.walk(ast.parse(cell.source)) if isinstance(n, ast.Assert)]


def checks_of(path):
    return [c for c in code_cells(path) if "check" in c.metadata.get("tags", [])]


def outputs(path):
    for cell in code_cells(path):
        for output in cell.outputs:
            if output.output_type == "stream":
                yield cell, output.text
            else:
                shown = output.get("data", {}).values()
                yield from ((cell, text) for text in shown if "<img" not in text)


every_page = pytest.mark.parametrize("path", PAGES, ids=lambda p: p.stem)
every_method = pytest.mark.parametrize("path", METHODS, ids=lambda p: p.stem)
every_notebook = pytest.mark.parametrize("path", [INDEX, *PAGES], ids=lambda p: p.stem)


def test_there_is_a_page_for_each_method_and_each_step():
    methods = {p.stem for p in METHODS}
    assert methods == {
        "accuracy-lines",
        "budget",
        "censored-readings",
        "combining",
        "correlation",
        "decisions",
        "influences",
        "monte-carlo",
        "repeats",
        "straight-lines",
    }
    assert [p for p in GUIDES if not p.exists()] == []


def test_the_index_lists_every_page_once_in_its_table():
    rows = re.findall(r"^\| \[[^]]+\]\(([^)]+)\)", prose(INDEX), re.MULTILINE)
    assert sorted(rows) == [p.name for p in PAGES]


@every_method
def test_a_page_names_its_clause_and_gives_an_equation(path):
    text = prose(path)
    assert CLAUSE.search(text)
    assert re.search(r"\$\$[^$]+=[^$]+\$\$", text)
    assert text.count("$$") % 2 == 0


@every_method
def test_a_page_says_when_not_to_use_the_method(path):
    assert "**Do not use it when**" in prose(path)


@every_page
def test_a_page_says_that_its_readings_are_invented(path):
    assert "invented" in page(path).cells[0].source


@every_method
def test_a_page_asserts_numbers_that_its_text_derives(path):
    assert len(checks_of(path)) >= 2
    assert "By hand:" in prose(path) or "By hand," in prose(path)


@every_page
def test_a_page_checks_itself(path):
    assert checks_of(path)
    assert all(asserts(cell) for cell in checks_of(path))


@every_page
def test_every_assert_of_a_page_asks_something_of_what_was_computed(path):
    for cell in code_cells(path):
        for statement in asserts(cell):
            names = {n.id for n in ast.walk(statement) if isinstance(n, ast.Name)}
            assert names - {"abs", "all", "round"}, ast.unparse(statement)


@every_page
def test_a_page_was_run_from_top_to_bottom_in_a_fresh_kernel(path):
    counts = [c.execution_count for c in code_cells(path)]
    assert counts == list(range(1, len(counts) + 1))
    kinds = {o.output_type for c in code_cells(path) for o in c.outputs}
    assert kinds <= {"stream", "execute_result", "display_data"}
    streams = {o.get("name") for c in code_cells(path) for o in c.outputs}
    assert "stderr" not in streams


@every_page
def test_no_output_of_a_page_is_longer_than_a_screen_and_a_half(path):
    too_long = [(c.id, len(t)) for c, t in outputs(path) if len(t) > LONGEST_OUTPUT]
    assert too_long == []


@every_notebook
def test_a_page_stays_small_and_keeps_no_trace_of_a_machine(path):
    raw = path.read_text(encoding="utf-8")
    assert len(raw.encode()) < 60_000
    assert re.findall(r"/(?:tmp|home|root|work|Users)\b|127\.0\.0\.1", raw) == []
    assert set(page(path).metadata) == {"kernelspec"}
    extra = {key for c in page(path).cells for key in c.metadata}
    assert extra <= {"tags"}


@every_page
def test_a_page_opens_no_network(path):
    for cell in code_cells(path):
        assert NETWORK.isdisjoint(imported(cell.source))
        assert "://" not in cell.source
        assert not cell.source.lstrip().startswith(("!", "%"))


@every_notebook
def test_the_links_of_a_page_lead_to_pages(path):
    targets = LINK.findall(prose(path))
    assert targets
    assert [t for t in targets if not (FOLDER / t).is_file()] == []


@every_notebook
def test_a_page_claims_no_more_than_measurements_can(path):
    words = r"\b(never|proved|proven|confirmed|impossible|ruled out)\b"
    assert re.findall(words, prose(path), re.IGNORECASE) == []


@every_notebook
def test_the_commands_a_page_tells_are_commands(path):
    blocks = re.findall(r"^```\n(.*?)^```", prose(path), re.MULTILINE | re.DOTALL)
    told = [c for block in blocks for c in block.splitlines()]
    for command in (shlex.split(c) for c in told if c.startswith("benchproof ")):
        assert cli._parser().parse_args(command[1:]).command


# Troubleshooting ----------------------------------------------------------------


def quoted_messages():
    """Return the words a heading quotes, and the cell that makes them happen."""
    for text, cell in itertools.pairwise(page(TROUBLE).cells):
        if heading := re.search(r"^### (.+)$", text.source, re.MULTILINE):
            yield heading[1], cell


def stored(cell):
    return "".join(o.text for o in cell.outputs if o.output_type == "stream")


def run_here(path):
    """Run a page's cells in this process, and return what each prints."""
    space, said = {"__name__": "__main__"}, {}
    for cell in code_cells(path):
        heard = io.StringIO()
        with contextlib.redirect_stdout(heard):
            exec(compile(cell.source, cell.id, "exec"), space)
        said[cell.id] = heard.getvalue()
    return said


def test_every_message_that_is_quoted_is_the_one_that_is_raised():
    said = run_here(TROUBLE)
    quoted = list(quoted_messages())
    assert len(quoted) >= 20
    for words, cell in quoted:
        assert "with refused():" in cell.source
        assert said[cell.id] == stored(cell)
        spoken = ".*".join(re.escape(w.strip()) for w in words.split("…"))
        assert re.search(spoken, stored(cell)), words


# Names --------------------------------------------------------------------------


def names_used():
    """Return the public names that the page of names uses, with their room."""
    for cell in code_cells(FOLDER / "names.ipynb"):
        for node in ast.walk(ast.parse(cell.source)):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                yield f"{node.value.id}.{node.attr}"


def public_names():
    rooms = dict.fromkeys(benchproof._ROOMS, "")
    yield from (f"benchproof.{n}" for n in benchproof.__all__ if n not in rooms)
    for room in rooms:
        yield from (f"{room}.{n}" for n in getattr(benchproof, room).__all__)


def test_every_public_name_has_an_example_that_runs():
    assert set(public_names()) - set(names_used()) == set()

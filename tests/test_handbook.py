"""The handbook's pages: what each must hold, checked without running them.

That they run, and that their asserts hold, is checked by nbval.
"""

import ast
import re
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).parents[1] / "notebooks" / "handbook"
INDEX = FOLDER / "index.ipynb"
PAGES = sorted(p for p in FOLDER.glob("*.ipynb") if p != INDEX)
CLAUSE = re.compile(r"\*\*(Clause|Source)\.\*\* .*(JCGM \d{3}:\d{4}|Phys)")
LONGEST_OUTPUT = 8_000
"""Characters of one version of an output: about a screen and a half of a table."""
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


def outputs(path):
    for cell in code_cells(path):
        for output in cell.outputs:
            if output.output_type == "stream":
                yield cell, output.text
            else:
                yield from ((cell, text) for text in output.get("data", {}).values())


every_page = pytest.mark.parametrize("path", PAGES, ids=lambda p: p.stem)
every_notebook = pytest.mark.parametrize("path", [INDEX, *PAGES], ids=lambda p: p.stem)


def test_there_is_a_page_for_each_method():
    assert {p.stem for p in PAGES} == {
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


def test_the_index_lists_every_page_once_in_its_table():
    rows = re.findall(r"^\| \[[^]]+\]\(([^)]+)\)", prose(INDEX), re.MULTILINE)
    assert sorted(rows) == [p.name for p in PAGES]


@every_page
def test_a_page_names_its_clause_and_gives_an_equation(path):
    text = prose(path)
    assert CLAUSE.search(text)
    assert re.search(r"\$\$[^$]+=[^$]+\$\$", text)
    assert text.count("$$") % 2 == 0


@every_page
def test_a_page_says_when_not_to_use_the_method(path):
    assert "**Do not use it when**" in prose(path)


@every_page
def test_a_page_says_that_its_readings_are_invented(path):
    assert "invented" in page(path).cells[0].source


@every_page
def test_a_page_asserts_numbers_that_its_text_derives(path):
    checks = [c for c in code_cells(path) if "check" in c.metadata.get("tags", [])]
    assert len(checks) >= 2
    assert all(asserts(cell) for cell in checks)
    assert "By hand:" in prose(path) or "By hand," in prose(path)


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

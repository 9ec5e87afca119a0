"""Publishing: one offline file, and only of what was run."""

import importlib.util
import re
import shutil
from html.parser import HTMLParser

import nbformat
import pytest

from benchproof import new_case, open_case, publish_case
from benchproof.keeping.runs.rerun import notebook_code_hash, read_notebook
from benchproof.keeping.runs.results import save_results
from benchproof.showing.publish import publish_figures, publish_pdf
from benchproof.values.errors import FileError, RunError

HOSTILE = "<script>alert(1)</script><img src=https://far.example/x.png>"


def save(folder):
    """Leave what a run leaves, without a kernel: results of the case as it is."""
    case = open_case(folder)
    case.record("V_min", "7.50 7.51 V", using="handheld", at=HOSTILE)
    rival = case.hypothesis("H1", "It sags " + HOSTILE)
    rival.predicts("it goes low", case["V_min"].below("8.80 V"))
    notebook = read_notebook(folder / "investigation.ipynb")
    save_results(str(folder), "2026-01-31T12:00:00Z", notebook_code_hash(notebook))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = new_case("Pump trips", tmp_path_factory.mktemp("publish"))
    save(folder)
    return folder


@pytest.fixture
def folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / made.name)


def change_cell(folder, kind, text):
    path = folder / "investigation.ipynb"
    notebook = read_notebook(path)
    cell = next(c for c in notebook.cells if c.cell_type == kind)
    cell.source += text
    nbformat.write(notebook, path)


def test_a_write_up_is_one_file_named_after_its_case(folder):
    path = publish_case(folder)
    assert path == folder.resolve() / "write-up" / "pump-trips.html"
    assert [p.name for p in path.parent.iterdir()] == ["pump-trips.html"]


class Tags(HTMLParser):
    """Every start tag with its attributes."""

    def __init__(self, html):
        super().__init__()
        self.found = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


def test_a_write_up_has_no_script_and_fetches_nothing(folder):
    html = publish_case(folder).read_text(encoding="utf-8")
    tags = Tags(html).found
    assert "&lt;script&gt;" in html
    barred = {"script", "link", "iframe", "object", "embed", "base", "form"}
    assert not barred & {tag for tag, _ in tags}
    assert not [n for _, attrs in tags for n in attrs if n.startswith("on")]
    for name in ("src", "srcset", "data", "poster", "background", "xlink:href"):
        used = [attrs[name] for _, attrs in tags if name in attrs]
        assert all(value.startswith("data:image/") for value in used)
    assert not re.search(r"url\(\s*['\"]?(?!data:|#)|@import", html)


def test_a_write_up_shows_values_verdicts_and_how_to_run_it_again(folder):
    html = publish_case(folder).read_text(encoding="utf-8")
    assert str(open_case(folder)["V_min"]) in html
    assert "compatible" in html
    assert "benchproof run pump-trips" in html
    assert open_case(folder).book.fingerprint()[1] in html


def test_publishing_twice_writes_the_same_bytes(folder):
    first = publish_case(folder).read_bytes()
    assert publish_case(folder).read_bytes() == first


def test_readings_added_since_the_run_are_refused(folder):
    open_case(folder).record("V_idle", "12.1 V", using="handheld")
    with pytest.raises(RunError, match="readings.csv changed since the last run"):
        publish_case(folder)
    assert not (folder / "write-up").exists()


def test_readings_edited_since_the_run_are_refused(folder):
    path = folder / "readings.csv"
    path.write_text(
        path.read_text("utf-8").replace(",7.51,", ",7.41,"), encoding="utf-8"
    )
    with pytest.raises(RunError, match="readings.csv changed"):
        publish_case(folder)


def test_code_edited_since_the_run_is_refused_and_the_old_write_up_stays(folder):
    old = publish_case(folder).read_bytes()
    change_cell(folder, "code", "\nx = 1")
    with pytest.raises(RunError, match="the notebook's code changed"):
        publish_case(folder)
    assert (folder / "write-up" / "pump-trips.html").read_bytes() == old


def test_prose_may_be_edited_after_the_run(folder):
    change_cell(folder, "markdown", "\n\nAn afterthought.")
    assert "An afterthought." in publish_case(folder).read_text(encoding="utf-8")


def test_an_accuracy_line_edited_since_the_run_is_refused(folder):
    path = folder / "instruments.toml"
    path.write_text(
        path.read_text("utf-8").replace("0.5 % + 3", "5 % + 3"), encoding="utf-8"
    )
    with pytest.raises(RunError, match="instruments.toml"):
        publish_case(folder)


def test_a_case_that_was_not_run_is_refused(tmp_path):
    with pytest.raises(FileError, match="benchproof run"):
        publish_case(new_case("Pump trips", tmp_path))


def test_figures_are_written_into_a_folder_of_their_own(folder):
    paths = publish_figures(folder)
    assert {p.parent.name for p in paths} == {"figures"}
    names = {p.name for p in paths}
    assert {"predictions.png", "predictions.svg", "summary.html"} <= names
    assert all(p.stat().st_size > 500 for p in paths)


def test_figures_of_a_case_that_changed_are_refused(folder):
    change_cell(folder, "code", "\nx = 1")
    with pytest.raises(RunError, match="the notebook's code changed"):
        publish_figures(folder)


def test_a_pdf_of_a_case_that_changed_is_refused(folder):
    change_cell(folder, "code", "\nx = 1")
    with pytest.raises(RunError, match="the notebook's code changed"):
        publish_pdf(folder)


@pytest.mark.skipif(
    importlib.util.find_spec("weasyprint") is None,
    reason="WeasyPrint is not installed: pip install '.[pdf]'",
)
def test_a_pdf_stands_beside_the_page(folder):
    path = publish_pdf(folder)
    assert path == folder.resolve() / "write-up" / "pump-trips.pdf"
    assert path.read_bytes().startswith(b"%PDF-")

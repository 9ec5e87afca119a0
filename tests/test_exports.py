"""Figures leave one by one, 1920 by 1080, as pictures that run nothing."""

import io
from xml.etree import ElementTree

import pytest
from drawn import COUNT, LOST, VALUE
from nbformat import v4
from pages import HOSTILE_SVG, ONE_PIXEL, sample_results
from PIL import Image

from benchproof.showing.exports import exported_figures
from benchproof.showing.figures.evidence import plot_of_predictions
from benchproof.values.errors import FileError


def results():
    rival = {"name": "H1", "statement": "It sags", "verdict": "compatible"}
    counted = {k: v for k, v in LOST.items() if k != "name"}
    return sample_results() | {
        "verdicts": [rival | {"predictions": [VALUE, COUNT]}],
        "rounds": [{"number": 1, "quantities": {"lost": {"counted": counted}}}],
        "quantities": {
            "R": {
                "text": "0.585(12) Ω", "formula": "def R(V, I): return V / I",
                "unit": "Ω", "standard_uncertainty": 0.012,
                "contributions": {"clamp · gain": 0.010, "handheld · gain": -0.0066},
            }
        },
    }  # fmt: skip


def notebook(*outputs):
    cell = v4.new_code_cell("draw()", outputs=list(outputs), execution_count=1)
    return v4.new_notebook(cells=[v4.new_markdown_cell("x"), cell])


def output(data, **metadata):
    return v4.new_output("display_data", data=data, metadata=metadata)


@pytest.fixture(scope="module")
def files():
    drawn = plot_of_predictions(results()["verdicts"]).drawing()
    data, metadata = drawn._repr_mimebundle_()
    return exported_figures(
        results(),
        notebook(
            output({"image/png": ONE_PIXEL}),
            output({"image/svg+xml": HOSTILE_SVG}, **{"image/svg+xml": {"alt": "<i>"}}),
            output(data, **metadata),
        ),
    )


def test_every_figure_comes_as_png_and_as_svg(files):
    for name in ("summary", "predictions", "trials", "budget-R"):
        assert {f"{name}.png", f"{name}.svg"} <= set(files)
    assert "summary.html" in files


def test_every_picture_has_the_size_of_a_slide(files):
    for name, content in files.items():
        if name.endswith(".png"):
            assert Image.open(io.BytesIO(content)).size == (1920, 1080), name
        elif name.endswith(".svg"):
            root = ElementTree.fromstring(content)
            assert (root.get("width"), root.get("height")) == ("1920", "1080"), name


def test_a_figure_that_the_write_up_draws_itself_is_not_exported_twice(files):
    assert {n for n in files if n.startswith("picture")} == {
        "picture-1.png", "picture-2.svg",
    }  # fmt: skip


def test_a_drawing_of_another_hand_is_an_image_inside_that_can_run_nothing(files):
    root = ElementTree.fromstring(files["picture-2.svg"])
    tags = {e.tag.rpartition("}")[2] for e in root.iter()}
    assert tags == {"svg", "title", "rect", "image"}
    assert root.findtext("{http://www.w3.org/2000/svg}title") == "<i>"


def test_no_picture_tells_what_made_it_or_when(files):
    for name, content in files.items():
        if name.endswith(".png"):
            assert set(Image.open(io.BytesIO(content)).info) <= {"dpi"}, name
        else:
            assert b"matplotlib" not in content.lower(), name


def test_the_same_case_gives_the_same_files(files):
    again = exported_figures(results(), notebook())
    for name, content in again.items():
        assert files[name] == content, name


def test_a_case_without_numbers_has_a_summary_only():
    files = exported_figures({}, v4.new_notebook())
    assert set(files) == {"summary.png", "summary.svg", "summary.html"}


def test_a_picture_that_cannot_be_read_is_named():
    broken = notebook(output({"image/png": "AAAA"}))
    with pytest.raises(FileError, match=r"picture-1: .* Run the case again"):
        exported_figures({}, broken)

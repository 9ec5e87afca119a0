"""The pages against WCAG 2.2 A and AA, by axe-core in a browser, light and dark.

Needs node, a Chromium, and a folder with axe-core and playwright-core in it:
    npm install axe-core playwright-core
    BENCHPROOF_AXE=that-folder/node_modules pytest tests/test_accessibility.py
"""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from pages import found, sample_notebook, sample_results

from benchproof.showing.page.comparison import comparison_page
from benchproof.showing.page.summary import summary_of, summary_page
from benchproof.showing.page.writeup import render_writeup

CHECK = Path(__file__).with_name("axe.mjs")
NODE = shutil.which("node")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MODULES = os.environ.get("BENCHPROOF_AXE", "")

needs_axe = pytest.mark.skipif(
    not (NODE and CHROMIUM and Path(MODULES, "axe-core").is_dir()),
    reason="needs node, chromium, and axe-core in the folder named by BENCHPROOF_AXE",
)


def examined(html, folder):
    page = folder / "page.html"
    page.write_text(html, encoding="utf-8")
    done = subprocess.run(
        [NODE, str(CHECK), str(Path(MODULES).resolve()), CHROMIUM, str(page)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def assert_nothing_found(runs, *wanted):
    assert len(runs) == 4
    for run in runs:
        assert set(wanted) <= set(run["checked"])
        assert run["violations"] == [], run["where"]
        assert run["fetched"] == []


@needs_axe
@pytest.mark.parametrize("code", ["folded", "shown", "hidden"])
def test_a_write_up_is_accessible_and_fetches_nothing(tmp_path, code):
    html = render_writeup(sample_notebook(), sample_results(), code=code)
    checks = ["color-contrast", "image-alt", "heading-order", "landmark-unique"]
    assert_nothing_found(examined(html, tmp_path), *checks)


@needs_axe
def test_a_summary_is_accessible_and_fetches_nothing(tmp_path):
    html = summary_page(summary_of(sample_results()))
    assert_nothing_found(examined(html, tmp_path), "color-contrast", "heading-order")


@needs_axe
def test_a_comparison_is_accessible_and_fetches_nothing(tmp_path):
    html = comparison_page(found())
    assert_nothing_found(examined(html, tmp_path), "color-contrast", "heading-order")


@needs_axe
def test_the_check_itself_finds_what_is_wrong(tmp_path):
    html = render_writeup(sample_notebook(), sample_results())
    pale = html.replace("--ink:#1c1d20", "--ink:#bbbbbb").replace(' alt="', ' title="')
    found = {v["id"] for run in examined(pale, tmp_path) for v in run["violations"]}
    assert "color-contrast" in found

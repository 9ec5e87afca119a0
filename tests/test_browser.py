"""JupyterLab driven as a newcomer would, from the card to a verdict that flips.

Needs node, a Chromium, the extra ``entry``, and a folder with playwright-core in it:
    npm install axe-core playwright-core
    BENCHPROOF_AXE=that-folder/node_modules pytest tests/test_browser.py
With BENCHPROOF_PICTURES set to a folder, screenshots in light and dark are kept there.
"""

import importlib.util
import json
import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

import benchproof

ROOT = Path(benchproof.__file__).parents[2]
DRIVE = Path(__file__).with_name("bench.mjs")
MODULES = os.environ.get("BENCHPROOF_AXE", "")
NODE = shutil.which("node")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

pytestmark = pytest.mark.skipif(
    not (
        NODE
        and CHROMIUM
        and MODULES
        and Path(MODULES, "playwright-core").is_dir()
        and importlib.util.find_spec("anywidget")
    ),
    reason="needs node, chromium, benchproof[entry], and playwright-core in the folder "
    "named by BENCHPROOF_AXE",
)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Start a JupyterLab that finds the card as after an installation."""
    home, root = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("root")
    shutil.copytree(
        ROOT / "kit" / "labextension", home / "share" / "labextensions" / "benchproof"
    )
    config = home / "etc" / "jupyter_server_config.d"
    shutil.copytree(ROOT / "kit" / "labextension" / "config", config)
    token, port = secrets.token_hex(16), _free_port()
    places = {
        "JUPYTER_PATH": home / "share",
        "JUPYTER_CONFIG_PATH": home / "etc",
        "JUPYTER_CONFIG_DIR": home / "config",
        "JUPYTER_DATA_DIR": home / "data",
        "JUPYTER_RUNTIME_DIR": home / "runtime",
    }
    environment = {**os.environ, **{k: str(v) for k, v in places.items()}}
    environment.pop("BENCHPROOF_INSTRUMENTS", None)
    with (home / "server.log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root",
             "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}",
             "--ServerApp.port_retries=0", f"--IdentityProvider.token={token}",
             "--LabApp.expose_app_in_browser=True",
             "--LabApp.extension_manager=readonly", f"--ServerApp.root_dir={root}"],
            env=environment, stdout=log, stderr=log, cwd=root,
        )  # fmt: skip
        try:
            _wait_for(f"http://127.0.0.1:{port}/api?token={token}", server, log.name)
            yield f"http://127.0.0.1:{port}/lab?token={token}", root
        finally:
            server.terminate()
            server.wait(20)


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _wait_for(address, server, log, seconds=30):
    for _ in range(seconds * 5):
        assert server.poll() is None, Path(log).read_text(encoding="utf-8")
        try:
            urllib.request.urlopen(address, timeout=2).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError(Path(log).read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def seen(lab):
    address, root = lab
    pictures = list(filter(None, [os.environ.get("BENCHPROOF_PICTURES")]))
    done = subprocess.run(
        [NODE, DRIVE, Path(MODULES).resolve(), CHROMIUM, address, root, *pictures],
        capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    folder = root / "garden-pump-trips"
    log = (folder / "readings.csv").read_text(encoding="utf-8")
    return {**json.loads(done.stdout), "log": log.splitlines(), "folder": folder}


def test_the_card_makes_a_case_and_opens_its_notebook(seen):
    assert seen["opened"] == "garden-pump-trips/investigation.ipynb"
    assert "Garden pump trips" in (seen["folder"] / "case.toml").read_text("utf-8")


def test_a_quick_check_has_a_card_of_its_own(seen):
    assert {"Investigation", "Quick Check"} <= set(seen["cards"])


def test_a_second_case_of_that_title_is_refused_with_its_reason(seen):
    assert "garden-pump-trips exists already" in seen["refused"]


@pytest.mark.parametrize("when", ["problems", "later", "objected", "remeasured"])
def test_the_notebook_runs_from_top_to_bottom_at_every_stage(seen, when):
    assert seen[when] == []


def test_what_was_typed_is_in_the_log(seen):
    rows = [line.split(",") for line in seen["log"][1:]]
    assert [(r[1], r[3], r[4]) for r in rows if r[1] != "round"] == [
        ("reading", "V_idle", "12.10"),
        ("reading", "V_idle", "12.09"),
        ("reading", "V_idle", "1.209"),
        ("strike", "V_idle", "r-0003"),
        ("reading", "V_load", "11.39"),
        ("reading", "V_min", "8.41"),
        ("reading", "V_min", "8.43"),
        ("reading", "V_min", "9.02"),
        ("reading", "V_min", "9.03"),
    ]


def test_the_verdict_flips_when_it_is_measured_again(seen):
    assert "H1" in seen["verdicts"]
    first, second = seen["flipped"].split("objection by a reader")
    assert "H1 compatible" in first
    assert "H1 contradicted" in second


def test_both_write_ups_say_what_held_when_they_were_published(seen):
    first, second = seen["published"], seen["republished"]
    assert "the probe picked up the pump" not in first["text"]
    assert "the probe picked up the pump" in second["text"]
    assert "8.42" in first["text"]
    assert "9.025" in second["text"]


def test_publishing_says_what_moved_since_the_run_before(seen):
    assert "nothing to compare with" in seen["published"]["said"]
    moved = seen["republished"]["said"].partition("What moved")[2]
    assert re.search(r"H1 .* compatible .* contradicted", moved)
    assert re.search(r"V_min .* 8\.42.* 9\.02", moved)


def test_the_field_is_emptied_and_keeps_the_focus_after_enter(seen):
    assert (seen["emptied"], seen["focused"], seen["back"]) == ("", True, True)


def test_what_is_refused_stays_in_the_field(seen):
    assert seen["kept"] == "12,08"


def test_a_slip_is_flagged_beside_the_field(seen):
    assert "10 times smaller" in seen["flags"][0]


def test_keys_pressed_faster_than_they_are_answered_are_all_recorded_in_order(seen):
    rows = [line.split() for line in reversed(seen["attempts"])]
    assert [(row[0], row[1], row[-2]) for row in rows] == [
        ("1", "1", "lost"),
        ("2", "2", "kept"),
        ("3", "3", "kept"),
        ("4", "4", "kept"),
    ]


def test_letters_typed_into_the_panel_are_no_shortcuts_of_the_notebook(seen):
    assert seen["cells"] == seen["cells_before"]


def test_the_table_below_is_kept_up_to_date_and_saved(seen):
    assert "11.39 V" in seen["table"]
    saved = (seen["folder"] / "investigation.ipynb").read_text(encoding="utf-8")
    assert "the point was left out" in saved


def test_nothing_was_asked_of_another_machine(seen):
    assert seen["elsewhere"] == []

"""The launcher card: its files fit each other, and a wheel carries them all."""

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from types import MappingProxyType, SimpleNamespace

import pytest

import benchproof
from benchproof.showing import labserver

ROOT = Path(benchproof.__file__).parents[2]
SOURCE = ROOT / "kit" / "labextension"
SCRIPT = (SOURCE / "static" / "remoteEntry.js").read_text(encoding="utf-8")
PACKAGE = json.loads((SOURCE / "package.json").read_text(encoding="utf-8"))
CONFIG = json.loads((SOURCE / "config" / "benchproof.json").read_text("utf-8"))
NODE = shutil.which("node")


def test_the_package_names_a_script_that_is_there():
    built = PACKAGE["jupyterlab"]["_build"]
    assert (SOURCE / built["load"]).is_file()
    assert f'module !== "{built["extension"]}"' in SCRIPT
    assert f"window._JUPYTERLAB.{PACKAGE['name']} =" in SCRIPT


def test_the_package_has_the_version_of_benchproof():
    assert PACKAGE["version"] == benchproof.__version__


def test_the_server_is_told_of_a_module_that_answers():
    (name,) = CONFIG["ServerApp"]["jpserver_extensions"]
    module = __import__(name, fromlist=["_"])
    assert callable(module._load_jupyter_server_extension)


def test_script_and_server_speak_of_the_same_addresses():
    asked = set(re.findall(r'asked\("(\w+)"', SCRIPT))
    app = SimpleNamespace(web_app=WebApp())
    labserver._load_jupyter_server_extension(app)
    assert asked == {"new", "publish"}
    assert set(app.web_app.addresses) == {f"/here/benchproof/{a}" for a in asked}


class WebApp:
    settings = MappingProxyType({"base_url": "/here/"})

    def add_handlers(self, hosts, handlers):
        self.addresses = [address for address, _ in handlers]


def test_the_script_fetches_nothing_from_elsewhere():
    addresses = set(re.findall(r"https?://[^\"'`\s]+", SCRIPT))
    assert addresses == {"http://www.w3.org/2000/svg"}  # a name, which nobody fetches


@pytest.mark.skipif(not NODE, reason="needs node, to parse the scripts")
@pytest.mark.parametrize(
    "path",
    [SOURCE / "static/remoteEntry.js", ROOT / "kit/benchproof/keeping/entry/panel.js"],
    ids=lambda path: path.name,
)
def test_a_script_can_be_parsed(path, tmp_path):
    copy = shutil.copy(path, tmp_path / "script.mjs")
    done = subprocess.run([NODE, "--check", copy], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Build from a copy, so that nothing is left in the checkout; offline."""
    pytest.importorskip("setuptools", minversion="77", reason="needs setuptools 77")
    copy, out = tmp_path_factory.mktemp("tree"), tmp_path_factory.mktemp("wheel")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy)
    leave = shutil.ignore_patterns("__pycache__", "write-up", "*.egg-info")
    for name in ("kit", "templates", "notebooks"):
        shutil.copytree(ROOT / name, copy / name, ignore=leave)
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index",
         "--no-build-isolation", "--disable-pip-version-check", "-w", out, copy],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return next(out.glob("*.whl"))


def test_a_wheel_carries_the_extension_the_panel_and_the_template(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    data = [n.partition(".data/data/")[2] for n in names if ".data/data/" in n]
    assert sorted(data) == [
        "etc/jupyter/jupyter_server_config.d/benchproof.json",
        "share/jupyter/labextensions/benchproof/install.json",
        "share/jupyter/labextensions/benchproof/package.json",
        "share/jupyter/labextensions/benchproof/static/remoteEntry.js",
    ]
    for name in ("keeping/entry/panel.js", "keeping/entry/panel.css",
                 "keeping/entry/desk.py", "templates/case/case.toml"):  # fmt: skip
        assert f"benchproof/{name}" in names


def test_installed_from_a_wheel_a_case_can_be_made_and_lab_finds_the_card(
    wheel, tmp_path
):
    home = tmp_path / "empty"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", home], check=True)
    inside = home / ("Scripts" if os.name == "nt" else "bin") / "python"
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", inside, "install", "--quiet",
         "--no-deps", "--no-index", "--disable-pip-version-check", wheel],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    card = home / "share" / "jupyter" / "labextensions" / "benchproof"
    assert (card / PACKAGE["jupyterlab"]["_build"]["load"]).is_file()
    # The packages benchproof needs are lent by this environment, benchproof is not.
    lent = os.pathsep.join(p for p in sys.path if p.endswith("site-packages"))
    script = (
        f"import sys; sys.path += {lent.split(os.pathsep)!r}\n"
        "import benchproof; print(benchproof.__file__)\n"
        "print(benchproof.new_case('Pump trips', sys.argv[1]))\n"
    )
    done = subprocess.run(
        [inside, "-I", "-c", script, tmp_path],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.splitlines()[0]).is_relative_to(home)
    assert (tmp_path / "pump-trips" / "investigation.ipynb").is_file()

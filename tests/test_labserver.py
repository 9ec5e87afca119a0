"""The request behind the launcher card: a case below the server's root."""

import pytest

from benchproof.keeping.runs.rerun import read_notebook
from benchproof.showing import labserver
from benchproof.showing.labserver import made_under, published_under
from benchproof.values.errors import FileError, InputError, RunError


def test_the_new_notebook_is_named_as_the_file_browser_names_it(tmp_path):
    (tmp_path / "bench" / "2026").mkdir(parents=True)
    assert (
        made_under(tmp_path, "", "Pump trips", "case")
        == "pump-trips/investigation.ipynb"
    )
    made = made_under(tmp_path, "bench/2026", "Pump trips", "case")
    assert made == "bench/2026/pump-trips/investigation.ipynb"
    assert (tmp_path / made).is_file()


def test_a_quick_check_asks_less_than_a_whole_case(tmp_path):
    asked = {}
    for template in ("case", "quick"):
        made = made_under(tmp_path, "", f"Pump {template}", template)
        asked[template] = len(read_notebook(tmp_path / made).cells)
    assert 0 < asked["quick"] < asked["case"] / 2


@pytest.mark.parametrize("template", ["", "..", "../notebooks", "case/..", "none"])
def test_a_template_that_is_not_there_is_refused(tmp_path, template):
    with pytest.raises(InputError, match="choose one of case, quick"):
        made_under(tmp_path, "", "Pump trips", template)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_case_is_left_alone(tmp_path):
    made_under(tmp_path, "", "Pump trips", "case")
    (tmp_path / "pump-trips" / "case.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match="exists already"):
        made_under(tmp_path, "", "Pump trips!", "case")
    assert (tmp_path / "pump-trips" / "case.toml").read_text("utf-8") == "mine"


@pytest.mark.parametrize("where", ["..", "a/../..", "/..", "nowhere", "file"])
def test_a_folder_outside_the_root_or_not_there_is_refused(tmp_path, where):
    root = tmp_path / "root"
    (root / "a").mkdir(parents=True)
    (root / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="no folder of this JupyterLab"):
        made_under(root, where, "Pump trips", "case")
    assert [p.name for p in tmp_path.iterdir()] == ["root"]


def test_a_link_that_leads_out_of_the_root_is_refused(tmp_path):
    root = tmp_path / "root"
    root.mkdir()
    (root / "out").symlink_to(tmp_path, target_is_directory=True)
    with pytest.raises(InputError, match="no folder"):
        made_under(root, "out", "Pump trips", "case")


def test_a_case_is_run_and_published_and_what_the_run_found_comes_back(tmp_path):
    made = made_under(tmp_path, "", "Pump trips", "quick")
    page, said = published_under(tmp_path, made)
    assert page == "pump-trips/write-up/pump-trips.html"
    assert "Pump trips" in (tmp_path / page).read_text(encoding="utf-8")
    assert said.startswith("Pump trips")
    assert "not tested" in said


def test_a_run_that_stops_says_where(tmp_path):
    made = made_under(tmp_path, "", "Pump trips", "quick")
    notebook = (tmp_path / made).read_text(encoding="utf-8")
    (tmp_path / made).write_text(
        notebook.replace("case.verdicts()", "case.verdict()"), encoding="utf-8"
    )
    with pytest.raises(RunError, match=r"case\.verdict\(\)"):
        published_under(tmp_path, made)
    assert not (tmp_path / "pump-trips" / "write-up").exists()


def test_a_notebook_outside_the_root_is_not_run(tmp_path):
    root = tmp_path / "root"
    root.mkdir()
    made_under(tmp_path, "", "Pump trips", "quick")
    with pytest.raises(InputError, match="no folder of this JupyterLab"):
        published_under(root, "../pump-trips/investigation.ipynb")


def test_the_server_is_told_where_the_extension_is():
    assert labserver._jupyter_server_extension_points() == [
        {"module": "benchproof.showing.labserver"}
    ]

"""The request behind the launcher card: a case below the server's root."""

import pytest

from benchproof.showing import labserver
from benchproof.showing.labserver import made_under
from benchproof.values.errors import FileError, InputError


def test_the_new_notebook_is_named_as_the_file_browser_names_it(tmp_path):
    (tmp_path / "bench" / "2026").mkdir(parents=True)
    assert made_under(tmp_path, "", "Pump trips") == "pump-trips/investigation.ipynb"
    made = made_under(tmp_path, "bench/2026", "Pump trips")
    assert made == "bench/2026/pump-trips/investigation.ipynb"
    assert (tmp_path / made).is_file()


def test_an_existing_case_is_left_alone(tmp_path):
    made_under(tmp_path, "", "Pump trips")
    (tmp_path / "pump-trips" / "case.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match="exists already"):
        made_under(tmp_path, "", "Pump trips!")
    assert (tmp_path / "pump-trips" / "case.toml").read_text("utf-8") == "mine"


@pytest.mark.parametrize("where", ["..", "a/../..", "/..", "nowhere", "file"])
def test_a_folder_outside_the_root_or_not_there_is_refused(tmp_path, where):
    root = tmp_path / "root"
    (root / "a").mkdir(parents=True)
    (root / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="no folder of this JupyterLab"):
        made_under(root, where, "Pump trips")
    assert [p.name for p in tmp_path.iterdir()] == ["root"]


def test_a_link_that_leads_out_of_the_root_is_refused(tmp_path):
    root = tmp_path / "root"
    root.mkdir()
    (root / "out").symlink_to(tmp_path, target_is_directory=True)
    with pytest.raises(InputError, match="no folder"):
        made_under(root, "out", "Pump trips")


def test_the_server_is_told_where_the_extension_is():
    assert labserver._jupyter_server_extension_points() == [
        {"module": "benchproof.showing.labserver"}
    ]

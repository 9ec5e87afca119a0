"""Captures on disk: written once, checked whenever they are looked at."""

import hashlib
import json

import pytest

from benchproof.keeping import capturefiles
from benchproof.keeping.capturefiles import (
    pending_capture,
    require_name,
    save_capture,
    saved_capture,
)
from benchproof.values.errors import FileError, InputError

FACTS = {"instrument": "scope", "channel": "CH1", "settings": {"HOR:SCA?": "1E-3"}}


def test_a_capture_is_kept_byte_for_byte_with_its_settings_beside_it(tmp_path):
    saved = save_capture(tmp_path, "rail", b"\r\n\x00\n", FACTS)
    assert saved.path.read_bytes() == b"\r\n\x00\n"
    assert saved.sha256 == hashlib.sha256(b"\r\n\x00\n").hexdigest()
    beside = json.loads((tmp_path / "captures" / "rail.json").read_text("utf-8"))
    assert beside["settings"] == {"HOR:SCA?": "1E-3"}
    assert (beside["sha256"], beside["bytes"], beside["format"]) == (saved.sha256, 4, 1)
    assert saved_capture(tmp_path, "rail") == saved


def test_what_was_not_captured_is_shown_as_missing(tmp_path):
    assert saved_capture(tmp_path, "rail") is None
    missing = pending_capture(tmp_path, "rail", "not asked")
    assert not missing.is_there
    assert "not downloaded yet" in str(missing.table())


def test_a_capture_is_not_written_over(tmp_path):
    save_capture(tmp_path, "rail", b"first", FACTS)
    with pytest.raises(FileError, match=r"rail.bin is there already"):
        save_capture(tmp_path, "rail", b"second", FACTS)
    assert (tmp_path / "captures" / "rail.bin").read_bytes() == b"first"


def test_a_settings_file_of_that_name_is_not_written_over(tmp_path):
    (tmp_path / "captures").mkdir()
    (tmp_path / "captures" / "rail.json").write_text("mine")
    with pytest.raises(FileError, match=r"rail.json is there already"):
        save_capture(tmp_path, "rail", b"second", FACTS)
    assert [p.name for p in (tmp_path / "captures").iterdir()] == ["rail.json"]


def test_a_full_disk_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(handle, payload):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(capturefiles, "write_whole", full)
    with pytest.raises(FileError, match="No space left .* NOT kept"):
        save_capture(tmp_path, "rail", b"data", FACTS)
    assert list((tmp_path / "captures").iterdir()) == []


def test_changed_data_are_noticed(tmp_path):
    saved = save_capture(tmp_path, "rail", b"data", FACTS)
    saved.path.write_bytes(b"Data")
    with pytest.raises(FileError, match="was changed since it was downloaded"):
        saved_capture(tmp_path, "rail")


@pytest.mark.parametrize(("lost", "left"), [("bin", "json"), ("json", "bin")])
def test_half_a_capture_is_said_to_be_half(tmp_path, lost, left):
    save_capture(tmp_path, "rail", b"data", FACTS)
    (tmp_path / "captures" / f"rail.{lost}").unlink()
    with pytest.raises(
        FileError, match=f"rail.{left} stands there without rail.{lost}"
    ):
        saved_capture(tmp_path, "rail")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"sha256": 1, "settings": {}}'])
def test_a_broken_settings_file_is_named(tmp_path, text):
    save_capture(tmp_path, "rail", b"data", FACTS)
    (tmp_path / "captures" / "rail.json").write_text(text)
    with pytest.raises(FileError, match=r"rail.json cannot be understood"):
        saved_capture(tmp_path, "rail")


@pytest.mark.parametrize("name", ["", "a b", "../rail", "rail.bin", "-x", "é", "a/b"])
def test_a_name_that_is_no_plain_file_name_is_refused(name):
    with pytest.raises(InputError, match="name it like"):
        require_name(name)

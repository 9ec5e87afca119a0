"""Files of a folder against its list of hashes."""

import hashlib

import pytest

from benchproof.keeping.checking.sums import check_sums, read_sums, sums_text
from benchproof.values.errors import FileError

COMPOSED, DECOMPOSED = "caf\u00e9.csv", "cafe\u0301.csv"


@pytest.fixture
def folder(tmp_path):
    """Make a folder of three files; one has an accent in its name."""
    files = {"case.toml": b"1", "photos.txt": b"2", COMPOSED: b"3"}
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    hashes = {n: hashlib.sha256(c).hexdigest() for n, c in files.items()}
    (tmp_path / "SHA256SUMS").write_text(sums_text(hashes), encoding="utf-8")
    return tmp_path


def found(folder, whole=True):
    said = check_sums(folder, whole=whole)
    return [(f.file, f.statement.partition(",")[0]) for f in said]


def test_hashes_are_read_back_as_they_were_written():
    hashes = {"a b.txt": "0" * 64, "captures/rail.csv": "ab" * 32}
    assert read_sums(sums_text(hashes)) == hashes


def test_a_folder_as_it_was_listed_has_no_findings(folder):
    assert found(folder) == []


def test_a_name_whose_accent_is_stored_another_way_is_the_same_file(folder):
    (folder / COMPOSED).rename(folder / DECOMPOSED)
    assert found(folder) == []
    (folder / DECOMPOSED).write_bytes(b"4")
    assert [file for file, _ in found(folder)] == [COMPOSED]


def test_a_second_file_that_differs_by_its_accent_was_put_in_later(folder):
    (folder / DECOMPOSED).write_bytes(b"3")
    assert found(folder) == [
        (DECOMPOSED, "not listed in SHA256SUMS: it was put in later")
    ]


def test_a_missing_file_and_a_stranger_are_told_of_a_whole_bundle(folder):
    (folder / "case.toml").rename(folder / "new.toml")
    assert found(folder) == [
        ("case.toml", "listed in SHA256SUMS"),
        ("new.toml", "not listed in SHA256SUMS: it was put in later"),
    ]
    assert found(folder, whole=False) == [("case.toml", "listed in SHA256SUMS")]


@pytest.mark.parametrize("line", ["", "0  a", f"{'0' * 64}  a\n{'0' * 64}  a"])
def test_a_line_that_is_none_or_a_name_twice_is_refused(line):
    with pytest.raises(FileError, match="SHA256SUMS line"):
        read_sums(f"{'0' * 64}  b\n{line}\n")

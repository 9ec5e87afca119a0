"""The index: made once, thrown away at will, made again when the raw file differs."""

import os
import shutil

import numpy as np
import pytest

from benchproof.keeping.captures import csvfile, index
from benchproof.keeping.captures.index import indexed, known_hash, sha256_of
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.values.errors import FileError

SETTINGS = CaptureSettings(file="rail.csv")


@pytest.fixture
def raw(tmp_path):
    rows = "\n".join(f"{i},{5 + i % 3 / 4}" for i in range(2000))
    path = tmp_path / "rail.csv"
    path.write_text(f"Time (ms),U (V)\n{rows}\n", encoding="utf-8")
    return path


def shape(found):
    (channel,) = found.channels
    return channel.codes.tolist(), channel.step, channel.parts, channel.resolution


def test_the_second_opening_reads_no_text(raw, monkeypatch):
    first = indexed(raw, SETTINGS)
    monkeypatch.setattr(index, "read_csv", None)
    second = indexed(raw, SETTINGS)
    assert (first.fresh, second.fresh) == (True, False)
    assert shape(first) == shape(second)
    one, two = first.channels[0].summary, second.channels[0].summary
    assert one.moments == two.moments
    assert np.array_equal(one.histogram.counts, two.histogram.counts)
    assert np.array_equal(one.pyramid.high, two.pyramid.high)


def test_the_raw_file_is_never_changed(raw):
    before = raw.read_bytes(), raw.stat().st_mtime_ns
    indexed(raw, SETTINGS)
    known_hash(raw)
    assert (raw.read_bytes(), raw.stat().st_mtime_ns) == before
    assert sorted(p.name for p in raw.parent.iterdir()) == [".index", "rail.csv"]


def test_a_file_of_other_content_is_read_again(raw):
    indexed(raw, SETTINGS)
    raw.write_text(raw.read_text().replace("0,5.0", "0,9.0", 1))
    os.utime(raw, ns=(1, 1))
    found = indexed(raw, SETTINGS)
    assert found.fresh
    assert found.channels[0].codes[0] * found.channels[0].step == 9.0


def test_a_copy_with_another_time_is_known_by_its_hash(raw):
    indexed(raw, SETTINGS)
    digest = known_hash(raw)
    os.utime(raw, ns=(5, 5))
    assert not indexed(raw, SETTINGS).fresh
    assert known_hash(raw) == digest == sha256_of(raw)


def test_a_change_that_keeps_size_and_time_is_found_by_reading_again(raw):
    indexed(raw, SETTINGS)
    before = known_hash(raw)
    stat = raw.stat()
    raw.write_bytes(raw.read_bytes().replace(b"0,5.0", b"0,9.0", 1))
    os.utime(raw, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert known_hash(raw) == before
    assert known_hash(raw, again=True) != before
    assert indexed(raw, SETTINGS).fresh


def test_another_way_of_reading_makes_another_index(raw):
    indexed(raw, SETTINGS)
    assert indexed(raw, CaptureSettings(file="rail.csv", interval=0.001)).fresh


@pytest.mark.parametrize("victim", ["0.npy", "index.json", "0.summary.npz"])
@pytest.mark.parametrize("harm", ["remove", "spoil"])
def test_a_damaged_index_is_made_again(raw, victim, harm):
    expected = shape(indexed(raw, SETTINGS))
    path = raw.parent / ".index" / "rail.csv" / victim
    path.unlink() if harm == "remove" else path.write_bytes(b"PK\x03\x04 no")
    found = indexed(raw, SETTINGS)
    assert shape(found) == expected
    assert found.channels[0].summary is not None


def test_an_index_may_be_deleted(raw):
    expected = shape(indexed(raw, SETTINGS))
    shutil.rmtree(raw.parent / ".index")
    assert shape(indexed(raw, SETTINGS)) == expected


def test_a_file_that_is_not_understood_leaves_no_index(raw):
    raw.write_text("Time (s),U (V)\n0,1\n1,2\n0.5,3\n2,4\n")
    with pytest.raises(FileError, match="line 4"):
        indexed(raw, SETTINGS)
    assert list((raw.parent / ".index").iterdir()) == []


def test_a_file_that_grows_while_it_is_read_is_refused(raw, monkeypatch):
    def growing(path, *rest):
        with path.open("a") as file:
            file.write("2000,5.0\n")
        return csvfile.read_csv(path, *rest)

    monkeypatch.setattr(index, "read_csv", growing)
    with pytest.raises(FileError, match="changed while it was read"):
        indexed(raw, SETTINGS)


def test_a_folder_that_cannot_be_written_is_read_all_the_same(raw):
    (raw.parent / ".index").write_text("a file stands in the way")
    found = indexed(raw, SETTINGS)
    assert len(found.channels[0].codes) == 2000


def test_a_missing_file_says_where_to_put_it(tmp_path):
    with pytest.raises(FileError, match="captures/gone.csv is not there"):
        indexed(tmp_path / "gone.csv", SETTINGS)


def test_progress_never_falls_and_ends_at_one(raw):
    seen = []
    indexed(raw, SETTINGS, seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == pytest.approx(1)

import errno
import importlib.util
import os
import sys
import threading
from types import SimpleNamespace

import pytest

from benchproof.keeping.logs import durable
from benchproof.keeping.logs.durable import (
    file_mark,
    is_still_at,
    locked,
    read_from,
    sync_folder,
    write_whole,
)


def test_a_file_that_stays_empty_is_not_left_behind(tmp_path):
    with locked(tmp_path / "log.csv", write=True):
        assert (tmp_path / "log.csv").exists()
    assert not (tmp_path / "log.csv").exists()


def test_an_empty_file_that_was_there_before_stays(tmp_path):
    (tmp_path / "log.csv").touch()
    with locked(tmp_path / "log.csv", write=True):
        pass
    assert (tmp_path / "log.csv").exists()


def test_a_second_writer_waits_for_the_first(tmp_path):
    order = []
    entered = threading.Event()

    def second():
        entered.set()
        with locked(tmp_path / "log.csv", write=True):
            order.append("second")

    with locked(tmp_path / "log.csv", write=True):
        thread = threading.Thread(target=second)
        thread.start()
        entered.wait()
        thread.join(timeout=0.2)
        order.append("first")
    thread.join()
    assert order == ["first", "second"]


def test_readers_do_not_wait_for_each_other(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"row")
    with locked(path, write=False) as one, locked(path, write=False) as two:
        assert read_from(one, 0) == read_from(two, 0) == b"row"


def test_the_lock_is_given_back_when_the_work_raises(tmp_path):
    with pytest.raises(KeyError), locked(tmp_path / "log.csv", write=True):
        raise KeyError
    with locked(tmp_path / "log.csv", write=True) as handle:
        write_whole(handle, b"row")
    assert (tmp_path / "log.csv").read_bytes() == b"row"


def test_a_waiting_writer_takes_the_file_that_replaced_the_one_it_waited_for(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"old")
    ready = threading.Event()

    def second():
        ready.set()
        with locked(path, write=True) as handle:
            write_whole(handle, b"+")

    with locked(path, write=True) as handle:
        thread = threading.Thread(target=second)
        thread.start()
        ready.wait()
        thread.join(timeout=0.2)
        (tmp_path / "new.csv").write_bytes(b"new")
        (tmp_path / "new.csv").replace(path)
        assert not is_still_at(handle, path)
    thread.join()
    assert path.read_bytes() == b"new+"


def test_a_file_that_was_removed_is_no_longer_at_its_path(tmp_path):
    path = tmp_path / "log.csv"
    with locked(path, write=True) as handle:
        path.unlink()
        assert not is_still_at(handle, path)


def test_writing_goes_to_the_end_whatever_was_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"one,")
    with locked(path, write=True) as handle:
        assert read_from(handle, 1) == b"ne,"
        read_from(handle, 0)
        write_whole(handle, b"two")
    assert path.read_bytes() == b"one,two"


def test_a_mark_tells_a_longer_file_and_a_replaced_one(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"one")
    with locked(path, write=True) as handle:
        before = file_mark(handle)
        write_whole(handle, b"two")
        assert file_mark(handle) != before
        assert file_mark(handle)[0] == before[0]
        (tmp_path / "new.csv").write_bytes(b"onetwo")
    with locked(tmp_path / "new.csv", write=False) as handle:
        assert file_mark(handle)[0] != before[0]


def test_a_folder_that_is_not_there_cannot_be_synced(tmp_path):
    with pytest.raises(FileNotFoundError):
        sync_folder(tmp_path / "nowhere")


class ByteLocks:
    """Stands for the locks of Windows: of bytes, of whole files open once more."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self):
        self.held, self.asked = {}, []

    def locking(self, handle, mode, count):
        file, place = os.fstat(handle).st_ino, os.lseek(handle, 0, os.SEEK_CUR)
        self.asked.append((mode, place, count))
        if mode == self.LK_UNLCK:
            assert self.held.pop((file, place)) == handle
        elif (file, place) in self.held:
            raise PermissionError(errno.EACCES, "locked")
        else:
            self.held[file, place] = handle


@pytest.fixture
def on_windows(monkeypatch):
    """The module as Windows would load it, and the locks it takes there."""
    locks = ByteLocks()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setitem(sys.modules, "msvcrt", locks)
    spec = importlib.util.spec_from_file_location("durable_there", durable.__file__)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return SimpleNamespace(durable=module, locks=locks)


def test_on_windows_a_byte_far_behind_every_row_is_locked_and_given_back(
    on_windows, tmp_path
):
    path = tmp_path / "log.csv"
    with on_windows.durable.locked(path, write=True) as handle:
        assert len(on_windows.locks.held) == 1
        on_windows.durable.write_whole(handle, b"row,time\r\n")
    with on_windows.durable.locked(path, write=False) as handle:
        assert on_windows.durable.read_from(handle, 4) == b"time\r\n"
    assert on_windows.locks.held == {}
    assert {place for _, place, _ in on_windows.locks.asked} == {0x7FFF0000}
    assert path.stat().st_size == 10


def test_on_windows_the_lock_is_given_back_when_the_work_raises(on_windows, tmp_path):
    with (
        pytest.raises(KeyError),
        on_windows.durable.locked(tmp_path / "log.csv", write=True),
    ):
        raise KeyError
    assert on_windows.locks.held == {}


def test_on_windows_a_lock_that_is_never_given_back_is_told(
    on_windows, tmp_path, monkeypatch
):
    monkeypatch.setattr(on_windows.durable, "PATIENCE", 0.01)
    path = tmp_path / "log.csv"
    with (
        on_windows.durable.locked(path, write=True),
        pytest.raises(TimeoutError, match="another program"),
        on_windows.durable.locked(path, write=False),
    ):
        pass
    assert on_windows.locks.held == {}


def test_on_windows_no_folder_is_synced(monkeypatch):
    monkeypatch.setattr(sys, "platform", "win32")
    sync_folder("there is no such folder")

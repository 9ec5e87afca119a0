"""Files that hold what was written: a lock, whole writes, and a sync after them."""

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    # Windows locks bytes and bars others from reading them, so lock one that
    # lies far behind any row.
    _LOCKED_BYTE = 0x7FFF0000

    def _try_lock(handle: int, exclusive: bool) -> bool:
        os.lseek(handle, _LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True

    def _unlock(handle: int) -> None:
        # Windows gives back the lock of a closed file, but not at once.
        os.lseek(handle, _LOCKED_BYTE, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _try_lock(handle: int, exclusive: bool) -> bool:
        kind = fcntl.LOCK_EX if exclusive else fcntl.LOCK_SH
        try:
            fcntl.flock(handle, kind | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as problem:
            # Some network folders have no locks: good enough to read from.
            if exclusive:
                said = "this folder's file system has no locks; move the case to a disk"
                raise OSError(problem.errno, f"{said} of this computer") from problem
        return True

    def _unlock(handle: int) -> None:
        """Leave it to closing the file, which gives its lock back at once."""


PATIENCE = 10.0
"""Seconds to wait for a lock. Others hold it for milliseconds; one that is held for
longer belongs to a program that was stopped, and could be waited for without end."""


def _lock(handle: int, exclusive: bool) -> None:
    pause, deadline = 0.0005, time.monotonic() + PATIENCE
    while not _try_lock(handle, exclusive):
        if time.monotonic() > deadline:
            raise TimeoutError(
                errno.ETIMEDOUT,
                f"another program has kept it locked for {PATIENCE:g} s; end that "
                "program, perhaps a kernel that hangs",
            )
        time.sleep(pause)
        pause = min(2 * pause, 0.01)


@contextmanager
def locked(path: Path, *, write: bool) -> Iterator[int]:
    """Open a file under a lock, which closing it gives back.

    Parameters
    ----------
    path : pathlib.Path
        The file; to write, it is created where there is none, and taken away
        again if it is still empty at the end.
    write : bool
        True for a lock that nobody shares and a file opened for appending, False
        for one that readers share and a file opened for reading.

    Yields
    ------
    int
        Descriptor of the open file.

    Raises
    ------
    OSError
        If the file cannot be opened, if another program keeps it locked for
        `PATIENCE`, or, to write, if the file system has no locks.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with locked(Path(folder, "demo.csv"), write=True) as handle:
    ...         write_whole(handle, b"row,time")
    ...     Path(folder, "demo.csv").read_text()
    'row,time'
    """
    while True:
        handle, is_new = _opened(path, write)
        try:
            _lock(handle, exclusive=write)
            try:
                # Programs that save by replacing the file leave us the old one.
                if not is_still_at(handle, path):
                    continue
                try:
                    yield handle
                finally:
                    if is_new and not file_mark(handle)[1]:
                        with suppress(OSError):
                            path.unlink()
            finally:
                _unlock(handle)
            return
        finally:
            os.close(handle)


def _opened(path: Path, write: bool) -> tuple[int, bool]:
    """Open the file, and say whether it had to be created."""
    binary = getattr(os, "O_BINARY", 0)  # Windows would translate line ends.
    if not write:
        return os.open(path, os.O_RDONLY | binary), False
    flags = os.O_RDWR | os.O_APPEND | binary
    try:
        return os.open(path, flags), False
    except FileNotFoundError:
        return os.open(path, flags | os.O_CREAT, 0o666), True


def is_still_at(handle: int, path: Path) -> bool:
    """Whether the path still names this open file.

    Parameters
    ----------
    handle : int
        Descriptor of the open file.
    path : pathlib.Path
        The path it was opened by.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with locked(Path(folder, "demo.csv"), write=True) as handle:
    ...         is_still_at(handle, Path(folder, "demo.csv"))
    True
    """
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def file_mark(handle: int) -> tuple[int, int, int]:
    """Tell one state of a file from another.

    Parameters
    ----------
    handle : int
        Descriptor of the open file.

    Returns
    -------
    tuple of int
        Identity on its disk, length in bytes, time of change in nanoseconds.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryFile() as file:
    ...     file_mark(file.fileno())[1]
    0
    """
    stat = os.fstat(handle)
    return stat.st_ino, stat.st_size, stat.st_mtime_ns


def read_from(handle: int, offset: int) -> bytes:
    """Read all bytes from an offset to the end.

    Parameters
    ----------
    handle : int
        Descriptor of a file open for reading.
    offset : int
        Number of bytes to pass over.

    Raises
    ------
    OSError
        If the disk fails.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryFile() as file:
    ...     write_whole(file.fileno(), b"12.1 V")
    ...     read_from(file.fileno(), 5)
    b'V'
    """
    with open(handle, "rb", buffering=0, closefd=False) as file:
        file.seek(offset)
        return file.read()


def write_whole(handle: int, payload: bytes) -> None:
    """Write all bytes, in one call where the system takes them, and sync.

    Parameters
    ----------
    handle : int
        Descriptor of a file open for writing.
    payload : bytes
        What to write.

    Raises
    ------
    OSError
        If the disk is full or failing; part of the bytes may then be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryFile() as file:
    ...     write_whole(file.fileno(), b"12.1 V")
    ...     file.seek(0), file.read()
    (0, b'12.1 V')
    """
    view = memoryview(payload)
    while view:
        view = view[os.write(handle, view) :]
    os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Make a new file's name durable, where the system can.

    Raises
    ------
    OSError
        If the disk fails.

    Examples
    --------
    >>> sync_folder(Path())
    """
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network folders cannot be synced; the file itself was.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)

"""The append-only CSV log: the single truth of a case.

A row is on the disk before `AppendLog.append` returns, and once there it is left
alone. Everything here serves that: one lock, one write and one sync per entry, and
a refusal, with the line named, of any file in which recorded rows have changed.
"""

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import NoReturn

from benchproof.keeping.logs.cutting import LogRows, cut_rows
from benchproof.keeping.logs.durable import (
    file_mark,
    is_still_at,
    locked,
    read_from,
    sync_folder,
    write_whole,
)
from benchproof.keeping.logs.rowformat import PUT_BACK, Row, RowFormat
from benchproof.values.errors import FileError

Decide = Callable[[Sequence[Row]], list[dict[str, str]]]

# Bytes from which on finding all cells at once is quicker than reading row by row.
_MANY = 50_000
# Enough to notice that something was put in or taken out further up.
_TAIL_BYTES = 256
_NOT_RECORDED = (
    "could not be written ({}); the entry was NOT recorded. See that the folder "
    "exists, is writable and has free space, then record again."
)
_NOT_READ = "could not be read ({}). See that it is a file and that you may read it."


class AppendLog:
    """An append-only CSV file: one durable write per entry, under a lock.

    Rows already read are guarded: each call compares the file's identity, length,
    time of change and last bytes with what was read, and hashes all of it again
    only where these leave a doubt (rewritten in place, replaced, shrunk). An edit
    that keeps the length, made between two calls in which another program also
    appended, escapes this; `prefix_sha256` shows it.

    Parameters
    ----------
    path : pathlib.Path
        The CSV file; it is created, with its header, by the first entry.
    columns : tuple of str
        Column names. The first holds the row id, which the log gives; the last
        holds the time, ISO 8601 in UTC to the second (``2026-11-25T11:20:31Z``).
    prefix : str
        What row ids start with: ``r`` gives ``r-0001``, ``r-0002``, …

    Attributes
    ----------
    recovered : list of str
        A message for each torn row met since opening, for the caller to show.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.TemporaryDirectory()
    >>> log = AppendLog(Path(folder.name, "demo.csv"), ("row", "value", "time"))
    >>> log.rows()
    []
    >>> entry = {"value": "12.1", "time": "2026-11-25T11:20:31Z"}
    >>> [row["row"] for row in log.append(lambda rows: [] if rows else [entry])]
    ['r-0001']
    >>> log.append(lambda rows: [] if rows else [entry])
    []
    >>> folder.cleanup()
    """

    recovered: list[str]

    def __init__(self, path: Path, columns: tuple[str, ...], prefix: str = "r") -> None:
        self.recovered = []
        self._path = path
        self._format = RowFormat(path.name, columns, prefix)
        self._mutex = threading.RLock()
        self._deciding = False
        self._folder_synced = False
        self._told = b""
        self._forget()

    def _forget(self) -> None:
        self._rows: list[Row] | LogRows = []
        self._offset = 0  # bytes understood so far
        self._lines = 0  # lines ended by a newline among them
        self._unended = False
        self._fragment = b""
        self._newline = b"\n"
        self._tail = b""
        self._digest = hashlib.sha256()
        self._mark: tuple[int, int, int] | None = None

    def rows(self, start: int = 0) -> Sequence[Row]:
        """All rows so far; only what is new since the last call is read.

        Nothing is written: a torn last row is left out, left where it is, and
        told in `recovered`.

        Parameters
        ----------
        start : int
            How many of the first rows to leave out, for who has them already.

        Returns
        -------
        sequence of Row
            In the order of the file; empty while there is no file. A `LogRows` if
            they are many and all of them: they are then cut when asked for.

        Raises
        ------
        FileError
            If the file cannot be read or understood, or if rows that were
            already read have changed.

        Examples
        --------
        >>> AppendLog(Path("no-such-file.csv"), ("row", "time")).rows()
        []
        """
        with self._mutex:
            # Inside `decide` the lock is already ours; asking again would hang.
            if not self._deciding:
                self._read_new()
            if isinstance(self._rows, LogRows) and start == 0:
                return LogRows(self._rows.cut, self._rows.later[:])
            return self._rows[start:]

    def append(self, decide: Decide) -> list[Row]:
        """Write one entry, decided under the lock from all rows so far.

        Parameters
        ----------
        decide : callable
            Takes all rows (the log's own list, to look at and not to change),
            returns the entry: for each new row its cells by column name, without
            the row id; absent cells are written empty. An empty list writes
            nothing. If it raises, nothing is written.

        Returns
        -------
        list of Row
            The new rows, as they are read from the bytes written.

        Raises
        ------
        InputError
            If a cell cannot be kept (NUL, half a character, no such column, too
            long), or the time is not a complete stamp.
        FileError
            If the entry could not be written, or for the reasons of `rows`. The
            entry is then not recorded and the file is cut back to its rows.

        Examples
        --------
        >>> log = AppendLog(Path("no-such-file.csv"), ("row", "value", "time"))
        >>> log.append(lambda rows: [{"value": "1.2", "time": "noon"}])
        Traceback (most recent call last):
        ...
        benchproof.values.errors.InputError: no-such-file.csv, column 'time': 'noon'
        is not a complete UTC time. Give it as 2026-11-25T11:20:31Z.
        """
        with self._mutex, ExitStack() as stack:
            if self._deciding:
                raise RuntimeError("append was called from inside decide.")
            with self._trouble(_NOT_RECORDED):
                handle = stack.enter_context(locked(self._path, write=True))
                self._refresh(handle)
            count = len(self._rows)
            entry = self._decided(decide)
            payload = self._format.encoded(entry, count + 1, self._newline)
            if payload:
                with self._trouble(_NOT_RECORDED):
                    self._write(handle, payload)
            return self._rows[count:]

    def prefix_sha256(self, count: int) -> str:
        r"""Hash the header and the first `count` rows, byte for byte.

        It stays the same as long as these rows do, however many follow.

        Parameters
        ----------
        count : int
            Number of rows, 0 to all of them.

        Returns
        -------
        str
            SHA-256 in hexadecimal. Where the file does not exist yet it is that
            of the header to come; a missing last newline counts as present.

        Raises
        ------
        FileError
            If the file holds fewer rows, and for the reasons of `rows`.

        Examples
        --------
        >>> log = AppendLog(Path("no-such-file.csv"), ("row", "time"))
        >>> log.prefix_sha256(0) == hashlib.sha256(b"row,time\n").hexdigest()
        True
        """
        rows = self.rows()
        if not 0 <= count <= len(rows):
            raise FileError(
                f"{self._path.name}: {count} rows were asked for, it holds "
                f"{len(rows)}. If rows were taken out: {PUT_BACK.lower()}."
            )
        if not self._has_header():
            return hashlib.sha256(self._format.header()).hexdigest()
        end = 1
        if count:
            last = rows[count - 1]
            end = last.line + sum(cell.count("\n") for cell in last.cells)
        with self._trouble(_NOT_READ):
            lines = self._path.read_bytes().split(b"\n", end)
        ending = b"\n" if len(lines) > end else self._newline
        return hashlib.sha256(b"\n".join(lines[:end]) + ending).hexdigest()

    def _has_header(self) -> bool:
        return self._lines > 0 or self._unended

    def _read_new(self) -> None:
        try:
            with self._trouble(_NOT_READ), locked(self._path, write=False) as handle:
                self._refresh(handle)
        except FileNotFoundError:
            if self._rows:
                raise FileError(
                    f"{self._path.name} is gone, and {len(self._rows)} recorded rows "
                    f"with it. {PUT_BACK}."
                ) from None
            self._forget()
        if self._fragment and self._fragment != self._told:
            self._told = self._fragment
            self.recovered.append(
                f"{self._torn()} It is left out; the next recording moves it to "
                f"{self._path.name}.torn. Record again what it stood for."
            )

    def _refresh(self, handle: int) -> None:
        """Take in what the file holds beyond what was read before."""
        mark = file_mark(handle)
        if mark == self._mark:
            return
        if not self._rows:
            self._forget()
        data = read_from(handle, self._offset - len(self._tail))
        tail, new = data[: len(self._tail)], data[len(self._tail) :]
        if self._mark and (
            mark[0] != self._mark[0] or mark[1] <= self._mark[1] or tail != self._tail
        ):
            self._compare_all(handle)
        if self._unended and new and new[:1] not in b"\r\n":
            self._say_what_changed(handle)
        self._take(new)
        self._mark = mark

    def _take(self, new: bytes) -> None:
        at_start = self._offset == 0
        size, lines, count = 0, self._lines, len(self._rows)
        cut = None
        if at_start and len(new) >= _MANY:
            cut = cut_rows(new, self._format.places, self._format.prefix)
        if cut is not None:
            size, lines, count = cut.size, cut.newlines, len(cut)
        part = self._format.read(
            new[size:], lines, count, at_start=at_start and cut is None
        )
        if at_start:
            is_crlf = new.partition(b"\n")[0].endswith(b"\r")
            self._newline = b"\r\n" if is_crlf else b"\n"
        if cut is not None:
            self._rows = LogRows(cut, [])
        taken = new[: size + part.size]
        self._rows.extend(part.rows)
        self._offset += len(taken)
        self._lines = lines + part.lines
        self._unended = part.unended or (self._unended and not taken)
        self._fragment = part.fragment
        self._tail = (self._tail + taken[-_TAIL_BYTES:])[-_TAIL_BYTES:]
        self._digest.update(taken)

    def _compare_all(self, handle: int) -> None:
        data = read_from(handle, 0)[: self._offset]
        if hashlib.sha256(data).digest() != self._digest.digest():
            self._say_what_changed(handle)

    def _say_what_changed(self, handle: int) -> NoReturn:
        """Raise with the first recorded row that differs now."""
        now = self._format.read(read_from(handle, 0), 0, 0, at_start=True).rows
        name = self._path.name
        remedy = f"{PUT_BACK}, then record the correction as a new row."
        for old, new in zip(self._rows, now, strict=False):
            for column, was, is_now in zip(
                old.columns, old.cells, new.cells, strict=True
            ):
                if was != is_now:
                    raise FileError(
                        f"{name} line {new.line}, column '{column}': someone edited "
                        f"recorded rows; {was!r} now reads {is_now!r}. {remedy}"
                    )
        if len(now) < len(self._rows):
            raise FileError(
                f"{name} line {self._rows[len(now)].line}: someone edited recorded "
                f"rows; {len(self._rows)} were read, {len(now)} are left. {remedy}"
            )
        raise FileError(
            f"{name}: someone edited recorded rows; the cells are the same but not "
            "the bytes (line ends, quotes or empty lines, as when a spreadsheet "
            f"saves a file). {PUT_BACK}, or restart the kernel to go on with it."
        )

    def _decided(self, decide: Decide) -> list[dict[str, str]]:
        self._deciding = True
        try:
            # Not a copy: copying 100 000 rows takes longer than the write.
            return decide(self._rows)
        finally:
            self._deciding = False

    def _write(self, handle: int, payload: bytes) -> None:
        # An editor asks for no lock, so it may have saved while `decide` ran.
        if file_mark(handle) != self._mark or not is_still_at(handle, self._path):
            raise FileError(
                f"{self._path.name} was changed by another program while recording; "
                "the entry was NOT recorded. Close that program and record again."
            )
        if self._fragment:
            self._set_aside(handle)
        if not self._has_header():
            payload = self._format.header() + payload
        elif self._unended:
            payload = self._newline + payload
        try:
            write_whole(handle, payload)
            # Once a session, not only when creating: whoever created the file
            # may have died before the folder was synced.
            if not self._folder_synced:
                sync_folder(self._path.parent)
        except BaseException:
            # Also for an interrupted kernel: what is not acknowledged is not kept.
            with suppress(OSError):
                os.ftruncate(handle, self._offset)
                os.fsync(handle)
            raise
        self._folder_synced = True
        self._take(payload)
        self._mark = file_mark(handle)

    def _set_aside(self, handle: int) -> None:
        """Move the torn row beside the log; it is kept there before it is cut."""
        torn = self._path.with_name(self._path.name + ".torn")
        with open(torn, "ab", buffering=0) as beside:
            write_whole(beside.fileno(), self._fragment + b"\n")
        sync_folder(torn.parent)
        os.ftruncate(handle, self._offset)
        self.recovered.append(
            f"{self._torn()} It was moved to {torn.name}. Record again what it stood "
            "for."
        )

    def _torn(self) -> str:
        return (
            f"{self._path.name} line {self._lines + 1}: the last row is torn, as when "
            "a program or the power stops while writing: "
            f"{self._fragment.decode('utf-8', 'backslashreplace')!r}."
        )

    @contextmanager
    def _trouble(self, text: str) -> Iterator[None]:
        try:
            yield
        except FileNotFoundError:
            if text is _NOT_READ:
                raise
            raise FileError(
                f"{self._path.name} {text.format('there is no such folder')}"
            ) from None
        except OSError as error:
            raise FileError(
                f"{self._path.name} {text.format(error.strerror)}"
            ) from error

"""Rows of an append-only CSV file: how they are written, read, and refused.

Works on bytes and text only; `log` holds the file.
"""

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NoReturn

from benchproof.keeping.logs.collecting import collecting_paused
from benchproof.values.errors import FileError, InputError

PUT_BACK = "Put the file back as it was (from git or a backup)"
_BOM = b"\xef\xbb\xbf"
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_NEEDS_QUOTES = re.compile(r'[",\r\n]')
# NUL, and the halves of a surrogate pair, which UTF-8 cannot hold.
_NOT_TEXT = re.compile("[\0\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a log: text cells by column name, and where it stands.

    Parameters
    ----------
    line : int
        Line of the file on which the row starts; the header is line 1.
    cells : tuple of str
        The cells, in the order of the columns.
    columns : mapping of str to int
        Place of each column, shared by all rows of a log.

    Examples
    --------
    >>> row = Row(2, ("r-0001", "12.1"), {"row": 0, "value": 1})
    >>> row["value"]
    '12.1'
    """

    line: int
    cells: tuple[str, ...]
    columns: Mapping[str, int] = field(repr=False, compare=False)

    def __getitem__(self, column: str) -> str:
        return self.cells[self.columns[column]]


@dataclass(frozen=True, slots=True)
class Part:
    """What was understood of a run of bytes that starts where a row may start.

    Parameters
    ----------
    rows : list of Row
        The whole rows.
    size : int
        Number of bytes understood.
    lines : int
        Number of lines, ended by a newline, among them.
    unended : bool
        Whether the last row is whole but its newline is missing.
    fragment : bytes
        A torn row that follows; empty if there is none.
    """

    rows: list[Row]
    size: int
    lines: int
    unended: bool
    fragment: bytes


@dataclass(frozen=True)
class RowFormat:
    r"""The rows of one log.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    columns : tuple of str
        Column names; the first holds the row id, the last the time.
    prefix : str
        What row ids start with.

    Examples
    --------
    >>> rows = RowFormat("demo.csv", ("row", "value", "time"), "r")
    >>> entry = [{"value": "12.1", "time": "2026-11-25T11:20:31Z"}]
    >>> rows.encoded(entry, number=7, newline=b"\n")
    b'r-0007,12.1,2026-11-25T11:20:31Z\n'
    >>> rows.read(b"row,value,time\nr-0001,12", 0, 0, at_start=True).fragment
    b'r-0001,12'
    """

    name: str
    columns: tuple[str, ...]
    prefix: str

    @cached_property
    def places(self) -> dict[str, int]:
        """Place of each column."""
        return {name: place for place, name in enumerate(self.columns)}

    def header(self) -> bytes:
        r"""Return the first line of the file.

        Examples
        --------
        >>> RowFormat("demo.csv", ("row", "time"), "r").header()
        b'row,time\n'
        """
        return ",".join(self.columns).encode() + b"\n"

    def encoded(
        self, entry: list[dict[str, str]], number: int, newline: bytes
    ) -> bytes:
        """Return the bytes of new rows.

        Parameters
        ----------
        entry : list of dict
            Cells by column name, without the row id; absent ones become empty.
        number : int
            Number of the first row, from 1.
        newline : bytes
            What ends each row.

        Raises
        ------
        InputError
            If a column does not exist, a cell cannot be kept, or the time is not
            a complete stamp.

        Examples
        --------
        >>> RowFormat("demo.csv", ("row", "time"), "r").encoded([], 1, b"")
        b''
        """
        lines = []
        for place, cells in enumerate(entry, number):
            self._check_cells(cells)
            row = [f"{self.prefix}-{place:04d}"]
            for column in self.columns[1:]:
                cell = cells.get(column, "")
                # csv.writer quotes a lone carriage return only for some line ends.
                if _NEEDS_QUOTES.search(cell):
                    cell = '"' + cell.replace('"', '""') + '"'
                row.append(cell)
            lines.append(",".join(row).encode() + newline)
        return b"".join(lines)

    def _check_cells(self, cells: dict[str, str]) -> None:
        for column, text in cells.items():
            if column not in self.columns[1:]:
                self._refuse_cell(
                    column, f"there is no such cell. Use {', '.join(self.columns[1:])}."
                )
            if _NOT_TEXT.search(text):
                self._refuse_cell(
                    column,
                    f"{text!r} holds a NUL or half a character, which a CSV file "
                    "cannot keep. Type it again without it.",
                )
            if len(text) > csv.field_size_limit():
                self._refuse_cell(
                    column,
                    f"{len(text)} characters are more than can be read back "
                    f"({csv.field_size_limit()}). Keep them in a file of their own "
                    "and name that file here.",
                )
        time = cells.get(self.columns[-1], "")
        # A torn row is told from a whole one by its time, so it must be whole.
        if not _TIME.fullmatch(time):
            self._refuse_cell(
                self.columns[-1],
                f"{time!r} is not a complete UTC time. Give it as "
                "2026-11-25T11:20:31Z.",
            )

    def _refuse_cell(self, column: str, text: str) -> NoReturn:
        raise InputError(f"{self.name}, column '{column}': {text}")

    def read(self, data: bytes, line: int, count: int, *, at_start: bool) -> Part:
        """Understand the bytes that follow what was read before.

        Parameters
        ----------
        data : bytes
            The bytes, to the end of the file.
        line : int
            Number of lines before them.
        count : int
            Number of rows before them.
        at_start : bool
            Whether the file begins here, with its header.

        Raises
        ------
        FileError
            If the bytes are neither rows of this log nor rows and a torn one.

        Examples
        --------
        >>> RowFormat("demo.csv", ("row", "time"), "r").read(
        ...     b"row;time", 0, 0, at_start=True
        ... )
        Traceback (most recent call last):
        ...
        benchproof.values.errors.FileError: demo.csv line 1: cells are separated by
        semicolons, as some spreadsheets do. Put the file back as it was (from git or
        a backup), or save it again as CSV with commas.
        """
        body = data.removeprefix(_BOM) if at_start else data
        if not body:
            return Part([], 0, 0, unended=False, fragment=data)
        ended = body.rfind(b"\n") + 1
        text = self._decoded(body[:ended], line)
        # A torn row may end inside a character: that is judged later.
        text += body[ended:].decode("utf-8", "surrogateescape")
        rows, lines, torn = self._split(text, line)
        unended = ended < len(body) and torn is None
        # A lone carriage return is an empty line for the csv module: no row.
        if unended and body[ended:].strip(b"\r") and self._is_torn(rows, at_start):
            torn, unended = rows.pop().line - line - 1, False
        if unended:
            self._decoded(body, line)
        if at_start and text and torn != 0:
            self._check_header(rows.pop(0) if rows else None)
        self._check_rows(rows, count)
        fragment = b""
        if torn is not None:
            rest = "".join(_lines(text)[torn:])
            fragment, lines = rest.encode("utf-8", "surrogateescape"), torn
        if at_start and torn == 0:
            fragment = data  # with its byte order mark, if it has one
        size = len(data) - len(fragment)
        return Part(rows, size, lines - unended, unended, fragment)

    def _decoded(self, body: bytes, line: int) -> str:
        try:
            text = body.decode()
            bad = body.find(b"\0")
        except UnicodeDecodeError as error:
            text, bad = "", error.start
        if bad >= 0:
            place = line + body[:bad].count(b"\n") + 1
            raise FileError(
                f"{self.name} line {place}: byte {body[bad]:#04x} is not UTF-8 text. "
                f"{PUT_BACK}, or save it again as CSV in UTF-8."
            )
        return text

    def _split(self, text: str, line: int) -> tuple[list[Row], int, int | None]:
        """Rows (the header too), number of lines, lines before a torn row."""
        places = self.places
        rows = []
        start = 0
        # Not splitlines(), which also splits at characters that cells may hold.
        reader = csv.reader(io.StringIO(text, newline="\n"), strict=True)
        try:
            with collecting_paused():
                for cells in reader:
                    if cells:
                        rows.append(Row(line + start + 1, tuple(cells), places))
                    start = reader.line_num
        except csv.Error as error:
            lines = _lines(text)
            at_end = reader.line_num == len(lines)
            if at_end and self._is_cut_in_quotes("".join(lines[start:])):
                return rows, len(lines), start
            raise FileError(
                f"{self.name} line {line + start + 1}: the row that starts here cannot "
                f"be split into cells ({error}); a quote or a line end is astray. "
                f"{PUT_BACK}."
            ) from error
        return rows, reader.line_num, None

    def _is_cut_in_quotes(self, rest: str) -> bool:
        """Tell a row cut inside a quoted cell from a stray quote in an old row.

        A stray quote swallows the rows after it, or a complete time at its end.
        """
        swallowed = re.search(rf"\n{re.escape(self.prefix)}-\d{{4,}},", rest)
        complete = re.search(rf',{_TIME.pattern}"?\s*\Z', rest)
        return rest.count('"') % 2 == 1 and not swallowed and not complete

    def _is_torn(self, rows: list[Row], at_start: bool) -> bool:
        """Whether the last row, which has no newline, is only a part."""
        cells = rows[-1].cells
        if at_start and len(rows) == 1:
            text = ",".join(cells).encode("utf-8", "surrogateescape") + b"\n"
            return text != self.header() and self.header().startswith(text[:-1])
        return len(cells) != len(self.columns) or not _TIME.fullmatch(cells[-1])

    def _check_header(self, header: Row | None) -> None:
        cells = header.cells if header and header.line == 1 else ()
        if cells == self.columns:
            return
        where = f"{self.name} line 1:"
        for mark, spoken in ((";", "semicolons"), ("\t", "tabs")):
            if len(cells) == 1 and mark in cells[0]:
                raise FileError(
                    f"{where} cells are separated by {spoken}, as some spreadsheets "
                    f"do. {PUT_BACK}, or save it again as CSV with commas."
                )
        missing = [repr(name) for name in self.columns if name not in cells]
        unknown = [repr(name) for name in cells if name not in self.columns]
        raise FileError(
            f"{where} the header should read {','.join(self.columns)!r} "
            f"(missing: {', '.join(missing) or 'none'}; not expected: "
            f"{', '.join(unknown) or 'none'}). {PUT_BACK}, or mend line 1."
        )

    def _check_rows(self, rows: list[Row], count: int) -> None:
        width = len(self.columns)
        prefix = self.prefix
        for number, row in enumerate(rows, count + 1):
            cells = row.cells
            if len(cells) != width or cells[0] != f"{prefix}-{number:04d}":
                self._refuse_row(row, number)

    def _refuse_row(self, row: Row, number: int) -> NoReturn:
        cells = row.cells
        if len(cells) != len(self.columns):
            raise FileError(
                f"{self.name} line {row.line}: {len(cells)} cells instead of "
                f"{len(self.columns)}. {PUT_BACK}."
            )
        # Rows before this one are numbered 1 to number - 1, or we had stopped.
        before = {f"{self.prefix}-{earlier:04d}" for earlier in range(1, number)}
        wrong = "is there twice" if cells[0] in before else "is out of order"
        raise FileError(
            f"{self.name} line {row.line}, column '{self.columns[0]}': {cells[0]!r} "
            f"{wrong}; '{self.prefix}-{number:04d}' belongs here. {PUT_BACK}; rows "
            "are neither taken out, doubled nor sorted."
        )


def _lines(text: str) -> list[str]:
    return list(io.StringIO(text, newline="\n"))
